// The outline of the traits, on the left of the examiner's page.

import { brief, mark } from "./reading.js";

/** Say beside a trait, and in its section, what was answered, what is wrong, what is known already. */
export function outlined(section, link, reading, { problem, implied }) {
  const known = reading?.way ? "" : (implied ?? "");
  write(link.querySelector(".mark"), known && !problem ? "◇" : mark(reading, problem));
  write(link.querySelector(".said-of"), known || brief(section, reading));
  tell(section.querySelector(".implied"), known && `Known already: ${known}.`);
  tell(section.querySelector(".problem"), problem);
}

function tell(line, text) {
  line.hidden = !text;
  write(line, text);
}

/** Change a text only where it changes: each change is laid out and painted anew. */
function write(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** Scroll the outline alone, never the page. */
export function bringIntoOutline(link) {
  const box = document.querySelector(".outline");
  const [inner, outer] = [link.getBoundingClientRect(), box.getBoundingClientRect()];
  if (inner.top < outer.top) box.scrollTop -= outer.top - inner.top + 40;
  const floor = Math.min(outer.bottom, window.innerHeight);
  if (inner.bottom > floor) box.scrollTop += inner.bottom - floor + 40;
}
