// A certificate is sent as the very bytes of its file: one changed byte must stay changed.
import { onSubmit, post, say } from "./wire.js";

function encoded(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length; at += 32768) text += String.fromCharCode(...bytes.subarray(at, at + 32768));
  return btoa(text);
}

async function bytesOf(file) {
  return file && file.size ? encoded(new Uint8Array(await file.arrayBuffer())) : "";
}

const form = document.getElementById("check");
onSubmit(form, async () => {
  const { certificate, text, signer, since, recompute } = form.elements;
  const files = [...form.querySelectorAll("input[type=file]")].filter((field) => field !== certificate);
  say("Checking…");
  const pasted = encoded(new TextEncoder().encode(text.value.trim()));
  const held = await Promise.all(files.map(async (field) => [field.name, await bytesOf(field.files[0])]));
  const answer = await post("/verify", {
    ...Object.fromEntries(held),
    certificate: (await bytesOf(certificate.files[0])) || pasted,
    signer: signer.value,
    since: since.value,
    recompute: recompute.checked,
  });
  window.location.assign(answer.go);
});
