// Signing and making keys: a passphrase leaves the field as soon as it was used.
import { post, say, wireUploads } from "./wire.js";

wireUploads();

for (const form of document.querySelectorAll("form[data-send]")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const button = form.querySelector("button");
    const data = Object.fromEntries(new FormData(form));
    button.disabled = true;
    say("Working…");
    try {
      const answer = await post(form.dataset.send, data);
      if (answer.go) window.location.assign(answer.go);
      else window.location.reload();
    } catch (wrong) {
      say(wrong.message, true);
    } finally {
      for (const secret of form.querySelectorAll("input[type=password]")) secret.value = "";
      button.disabled = false;
    }
  });
}
