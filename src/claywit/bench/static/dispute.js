// The other side's file goes to the bench as it is; what is wrong with it is said at once.
import { say, upload, wireForms } from "./wire.js";

wireForms();
const form = document.getElementById("load");
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button");
  button.disabled = true;
  say("Reading…");
  try {
    const answer = await upload(`/piece/${form.dataset.draft}/dispute`, form.elements.theirs.files[0]);
    window.location.assign(answer.go);
  } catch (wrong) {
    say(wrong.message, true);
  } finally {
    button.disabled = false;
  }
});
