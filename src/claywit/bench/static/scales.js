// The scale in a photograph: what was typed of it stays, for the next one of the same trait.
import { Typed } from "./typed.js";

/** Keep what was typed of the scales. */
export function keepScales(draft, sections) {
  const fields = new Map([...sections].map(([name, section]) => [name, section.querySelector("[data-scale]")]).filter(([, field]) => field));
  if (fields.size === 0) return;
  const typed = new Typed("scale", {
    base: `/piece/${draft}`,
    fields: () => Object.fromEntries([...fields].map(([name, { value }]) => [name, value ? [value] : null])),
    put: (part) => Object.entries(part).forEach(([name, said]) => fields.has(name) && (fields.get(name).value = said?.[0] ?? "")),
    back: () => {},
  });
  for (const field of fields.values()) field.addEventListener("input", () => typed.changed());
}
