// Signing and making keys: a passphrase leaves the field as soon as it was used.
import { wireUploads } from "./forms.js";
import { sent } from "./kept.js";
import { goOn, onSubmit, post, say } from "./wire.js";

wireUploads();

for (const form of document.querySelectorAll("form[data-send]")) {
  const send = async () => {
    say("Working…");
    const answer = await post(form.dataset.send, Object.fromEntries(new FormData(form)));
    await sent(form);
    goOn(answer);
  };
  onSubmit(form, send, () => {
    for (const secret of form.querySelectorAll("input[type=password]")) secret.value = "";
  });
}
