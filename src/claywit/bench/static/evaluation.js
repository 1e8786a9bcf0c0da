// The figures of a test go to the bench as they are; what is wrong with them is said at once.
import { say, upload } from "./wire.js";

const form = document.getElementById("figures");
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button");
  button.disabled = true;
  try {
    const answer = await upload("/evaluation", form.elements.file.files[0]);
    window.location.assign(answer.go);
  } catch (wrong) {
    say(wrong.message, true);
  } finally {
    button.disabled = false;
  }
});
