// Signing and making keys: a passphrase leaves the field as soon as it was used.
import { during, goOn, post, say, sends, wireUploads } from "./wire.js";

wireUploads();

for (const form of document.querySelectorAll("form[data-send]")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const data = Object.fromEntries(new FormData(form));
    say("Working…");
    const send = async () => goOn(await post(form.dataset.send, data));
    during(sends(form), send, () => {
      for (const secret of form.querySelectorAll("input[type=password]")) secret.value = "";
    });
  });
}
