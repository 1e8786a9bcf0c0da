// A certificate is sent as the very bytes of its file: one changed byte must stay changed.
import { post, say } from "./wire.js";

function encoded(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length; at += 32768) text += String.fromCharCode(...bytes.subarray(at, at + 32768));
  return btoa(text);
}

async function bytesOf(file) {
  return file && file.size ? encoded(new Uint8Array(await file.arrayBuffer())) : "";
}

const form = document.getElementById("check");
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button");
  const { certificate, status, text, signer, recompute } = form.elements;
  button.disabled = true;
  say("Checking…");
  try {
    const pasted = encoded(new TextEncoder().encode(text.value.trim()));
    const answer = await post("/verify", {
      certificate: (await bytesOf(certificate.files[0])) || pasted,
      status: await bytesOf(status.files[0]),
      signer: signer.value,
      recompute: recompute.checked,
    });
    window.location.assign(answer.go);
  } catch (wrong) {
    say(wrong.message, true);
  } finally {
    button.disabled = false;
  }
});
