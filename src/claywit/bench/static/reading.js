// One trait's section as a reading, and a reading shown in it.
import { bare } from "./wire.js";

const TEXTS = ["why", "where", "method", "note"];

export const percent = (share) => `${Math.round(share * 100)}%`;

/** Return what the fields of a trait's section say; null where nothing was answered. */
export function read(section, held) {
  const way = section.querySelector(".ways input:checked")?.value ?? "";
  const state = section.querySelector(".states input:checked")?.value ?? "";
  const measures = bare();
  for (const field of section.querySelectorAll("[data-measure]")) {
    (measures[field.dataset.measure] ??= {})[field.dataset.part] = field.value;
  }
  for (const [name, one] of Object.entries(measures)) if (!one.value && !one.u && !one.upper) delete measures[name];
  const likelihood = bare();
  for (const field of section.querySelectorAll("[data-likelihood]")) {
    if (field.value) likelihood[field.dataset.likelihood] = field.value;
  }
  const reading = { ...(held ?? {}), way, state: "", sure: null, matrix: "", likelihood: bare(), measures: bare() };
  if (way === "seen" || way === "half") reading.state = state;
  if (way === "half") reading.matrix = section.querySelector("[data-matrix]")?.value ?? "";
  if (way === "half" && !reading.matrix) reading.sure = Number(section.querySelector(".sure input").value);
  if (way === "likelihood") reading.likelihood = likelihood;
  if (way === "measured") reading.measures = measures;
  for (const name of TEXTS) reading[name] = section.querySelector(`[data-text="${name}"]`).value;
  if (way !== "hidden" && way !== "unexamined") reading.why = "";
  reading.photographs = held?.photographs ?? [];
  reading.copied_from = held?.copied_from ?? "";
  const said = way || reading.photographs.length || TEXTS.some((name) => reading[name]);
  return said ? reading : null;
}

/** Show *reading* in a trait's section, but leave the field alone in which somebody types. */
export function show(section, reading) {
  for (const input of section.querySelectorAll(".ways input")) input.checked = input.value === reading?.way;
  for (const input of section.querySelectorAll(".states input")) input.checked = input.value === reading?.state;
  for (const field of section.querySelectorAll("[data-measure]")) {
    const one = reading?.measures?.[field.dataset.measure];
    if (field === document.activeElement) continue;
    if (field.dataset.part === "unit") field.value = one?.unit || field.querySelector("option").value;
    else field.value = one?.[field.dataset.part] ?? "";
  }
  for (const measure of section.querySelectorAll(".measure")) bounded(measure);
  for (const field of section.querySelectorAll("[data-likelihood]")) {
    if (field !== document.activeElement) field.value = reading?.likelihood?.[field.dataset.likelihood] ?? "";
  }
  weighed(section, reading);
  for (const name of TEXTS) {
    const field = section.querySelector(`[data-text="${name}"]`);
    if (field !== document.activeElement) field.value = reading?.[name] ?? "";
  }
  const sure = section.querySelector(".sure");
  if (sure) {
    if (reading?.sure != null) sure.querySelector("input").value = reading.sure;
    sure.querySelector("output").textContent = percent(sure.querySelector("input").value);
    sure.hidden = reading?.way !== "half" || Boolean(reading.matrix);
  }
  section.querySelector(".reason").hidden = !["hidden", "unexamined"].includes(reading?.way);
  pictures(section, reading?.photographs ?? []);
}

/** Show of one measure the fields that go with what its value is. */
function bounded(measure) {
  const limit = measure.querySelector("[data-part=limit]").value;
  measure.querySelector(".u").hidden = Boolean(limit);
  measure.querySelector(".upper").hidden = limit !== "between";
}

/** Show the fields of a state that was weighed, or read by a reading matrix. */
function weighed(section, reading) {
  const weights = section.querySelector(".weights");
  if (weights) weights.hidden = reading?.way !== "likelihood";
  const matrix = section.querySelector(".matrix");
  if (!matrix) return;
  matrix.hidden = reading?.way !== "half";
  matrix.querySelector("select").value = reading?.matrix ?? "";
}

/** Return a reading that says nothing yet. */
export function blank() {
  return { way: "", state: "", sure: null, matrix: "", likelihood: bare(), why: "", measures: bare(), method: "", where: "", note: "", photographs: [], copied_from: "" };
}

function pictures(section, digests) {
  const box = section.querySelector(".pictures");
  box.hidden = digests.length === 0;
  box.replaceChildren(
    ...digests.map((digest, at) => {
      const image = document.createElement("img");
      image.src = `/photograph/${digest}`;
      image.alt = `Photograph ${at + 1} of ${section.dataset.label.toLowerCase()}`;
      image.loading = "lazy";
      return image;
    }),
  );
}

function size(one) {
  if (one.limit === "between") return `between ${one.value} and ${one.upper || "…"} ${one.unit}`;
  return `${one.limit ?? ""} ${one.value} ${one.unit}`.trim();
}

/** Return a reading in a few words, for the outline. */
export function brief(section, reading) {
  if (!reading) return "";
  const chosen = [...section.querySelectorAll(".state")].find((l) => l.querySelector("input").value === reading.state);
  const label = chosen?.querySelector(".text").firstChild.textContent.trim() ?? reading.state;
  if (reading.way === "hidden") return "not visible";
  if (reading.way === "unexamined") return "not examined";
  if (reading.way === "nothing") return "nothing to read";
  if (reading.way === "likelihood") return Object.keys(reading.likelihood ?? {}).length ? "weighed by state" : "…";
  if (reading.way === "half" && reading.matrix) return label ? `${label}, by ${reading.matrix}` : "…";
  if (reading.way === "half") return label ? `${label}, ${percent(reading.sure)} sure` : "…";
  if (reading.way === "measured") {
    const values = Object.values(reading.measures).filter((one) => one.value);
    return values.map(size).join(", ") || "…";
  }
  return label || "…";
}

/** Return which mark stands before a trait: a shape, so that no colour is needed. */
export function mark(reading, problem) {
  if (problem) return "!";
  return { seen: "●", half: "◐", measured: "●", hidden: "⊘", unexamined: "–" }[reading?.way] ?? "○";
}

/** Give a title the focus, and scroll the page only where it cannot be seen. */
export function face(title) {
  title.focus({ preventScroll: true });
  const { top, bottom } = title.getBoundingClientRect();
  const bar = document.querySelector(".bar").getBoundingClientRect();
  if (top < Math.max(bar.bottom, 0) || bottom > window.innerHeight) title.scrollIntoView();
}
