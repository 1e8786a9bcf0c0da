// Signing and making keys: a passphrase leaves the field as soon as it was used.
import { wireUploads } from "./forms.js";
import { sent } from "./kept.js";
import { during, goOn, post, say, sends } from "./wire.js";

wireUploads();

for (const form of document.querySelectorAll("form[data-send]")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const data = Object.fromEntries(new FormData(form));
    say("Working…");
    const send = async () => {
      const answer = await post(form.dataset.send, data);
      await sent(form);
      goOn(answer);
    };
    during(sends(form), send, () => {
      for (const secret of form.querySelectorAll("input[type=password]")) secret.value = "";
    });
  });
}
