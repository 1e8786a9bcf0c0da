// Two tabs answered one trait: the examiner says which answer is to stand.
import { brief } from "./reading.js";

/** Ask which of two answers about one trait is to stand; true for the one on this page. */
export function choice(section, mine, theirs) {
  const box = document.getElementById("clash");
  document.getElementById("clash-text").textContent =
    `${section.dataset.label} was answered in another tab too. Here: ${brief(section, mine) || "nothing"}. There: ${brief(section, theirs) || "nothing"}.`;
  box.hidden = false;
  document.getElementById("clash-mine").focus();
  return new Promise((decide) => {
    const end = (isMine) => () => {
      box.hidden = true;
      decide(isMine);
    };
    document.getElementById("clash-mine").onclick = end(true);
    document.getElementById("clash-theirs").onclick = end(false);
  });
}
