// The outline of the traits, on the left of the examiner's page.

import { brief, mark } from "./reading.js";

export class Outline {
  constructor(sections) {
    this.sections = sections;
    this.links = new Map([...document.querySelectorAll(".outline [data-go]")].map((link) => [link.dataset.go, link]));
    this.drawn = new Map(); // what it says of each trait
  }

  /** Draw anew the traits of which something changed; return how many are answered. */
  draw(entered, { problems, implied }, current) {
    let count = 0;
    for (const name of this.sections.keys()) {
      const reading = entered[name] ?? null;
      const problem = problems[name] ?? "";
      const known = reading?.way ? "" : (implied[name] ?? "");
      if ((reading?.way || known) && !problem) count += 1;
      const says = [reading, problem, known, name === current];
      if (this.drawn.get(name)?.every((part, at) => part === says[at])) continue;
      this.drawn.set(name, says);
      this.trait(name, ...says);
    }
    return count;
  }

  /** Say beside a trait, and in its section, what was answered, what is wrong, what is known already. */
  trait(name, reading, problem, known, isCurrent) {
    const section = this.sections.get(name);
    const link = this.links.get(name);
    write(link.querySelector(".mark"), known && !problem ? "◇" : mark(reading, problem));
    write(link.querySelector(".said-of"), known || brief(section, reading));
    if (isCurrent) link.setAttribute("aria-current", "step");
    else link.removeAttribute("aria-current");
    tell(section.querySelector(".implied"), known && `Known already: ${known}.`);
    tell(section.querySelector(".problem"), problem);
  }

  /** Scroll the outline alone, never the page. */
  bring(name) {
    const box = document.querySelector(".outline");
    const [inner, outer] = [this.links.get(name).getBoundingClientRect(), box.getBoundingClientRect()];
    if (inner.top < outer.top) box.scrollTop -= outer.top - inner.top + 40;
    const floor = Math.min(outer.bottom, window.innerHeight);
    if (inner.bottom > floor) box.scrollTop += inner.bottom - floor + 40;
  }
}

function tell(line, text) {
  line.hidden = !text;
  write(line, text);
}

/** Change a text only where it changes: each change is laid out and painted anew. */
export function write(element, text) {
  if (element.textContent !== text) element.textContent = text;
}
