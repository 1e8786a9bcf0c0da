// The examiner's page: one trait at a time, by key or by hand, saved as it is entered.
import { Amending } from "./amending.js";
import { Beside } from "./beside.js";
import { choice } from "./clash.js";
import { wireKeys } from "./keys.js";
import { wireLocking } from "./locking.js";
import { Outline, write } from "./outline.js";
import { Queue, same } from "./queue.js";
import { blank, brief, face, percent, read, show } from "./reading.js";
import { wireSame } from "./same.js";
import { keepScales } from "./scales.js";
import { bare, parsed, post, say, upload } from "./wire.js";

const TYPING = 150; // milliseconds without a key before a field is saved
const work = document.getElementById("work");
const draft = work.dataset.draft;
const sections = new Map([...document.querySelectorAll(".trait")].map((s) => [s.dataset.trait, s]));
const order = [...sections.keys()];
let state = parsed(work.dataset.state);
const entered = bare(state.readings); // what stands on the page, saved or not
const list = new Outline(sections);
let current = order[0];
let typing = null;

const beside = new Beside(work);
const queue = new Queue(draft, state, {
  state: took,
  asking: () => beside.asking(),
  saving: () => tell("Saving …"),
  saved: () => tell("Saved"),
  failed: (text) => {
    tell("Not saved yet");
    say(text, true);
  },
  refused: (node, text) => {
    tell("Not saved");
    say(`${sections.get(node).dataset.label}: ${text}`, true);
    beside.refresh();
  },
  refreshed: (fresh, node) => {
    for (const name of order) {
      if (amending.isOpen(name) || queue.holds(name) || typing?.name === name) continue; // what is being entered stays
      entered[name] = fresh.readings[name] ?? null;
      show(sections.get(name), entered[name]);
    }
    if (node) {
      go(node);
      const section = sections.get(node);
      say(`${section.dataset.label}: ${brief(section, entered[node]) || "no answer"}`);
    }
    outline();
  },
  clash: (name, mine, theirs) => choice(sections.get(name), mine, theirs),
});

function tell(text) {
  const saved = document.getElementById("saved");
  saved.textContent = text;
  saved.classList.toggle("wrong", text.startsWith("Not"));
  if (text === "Saved" && document.getElementById("said").classList.contains("wrong")) say("");
}

/** Take up what the bench says after a save; the opinion comes with the last of several. */
function took(fresh) {
  state = fresh;
  if (queue.waiting.size === 0) beside.refresh(fresh.opinion);
  outline();
}

function outline() {
  write(document.getElementById("count"), `${list.draw(entered, state, current)}`);
  beside.without(answered);
  const wrong = document.getElementById("terms-wrong");
  wrong.hidden = !state.problems.terms;
  wrong.textContent = state.problems.terms ? `Question and terms: ${state.problems.terms}` : "";
  document.getElementById("undo").disabled = !state.can_undo;
  document.getElementById("redo").disabled = !state.can_redo;
}

/** Show one trait. */
function go(name, { focus = true } = {}) {
  if (!sections.has(name)) return;
  flush();
  current = name;
  for (const [other, section] of sections) section.hidden = other !== name;
  history.replaceState(null, "", `#${name}`);
  outline();
  const section = sections.get(name);
  list.bring(name);
  if (focus) face(section.querySelector("h2"));
}

function move(by) {
  const at = order.indexOf(current) + by;
  if (at < 0) say("This is the first trait.");
  else if (at < order.length) go(order[at]);
  else say(`That was the last trait.${order.every(answered) ? "" : " F goes to the next one that is not answered."}`);
}

function answered(name) {
  return Boolean(entered[name]?.way || state.implied[name]);
}

function unanswered() {
  const from = order.indexOf(current) + 1;
  const next = [...order.slice(from), ...order.slice(0, from)].find((name) => !answered(name));
  if (next) go(next);
  else say("Every trait is answered.");
}

/** Keep what the fields of a trait say now, and save it. */
function enter(name, part = "") {
  const section = sections.get(name);
  const reading = read(section, entered[name]);
  if (same(reading, entered[name])) return;
  entered[name] = reading;
  if (state.locked) amending.changed(name);
  else queue.put(name, reading, part); // first: the bench works while the page is drawn
  show(section, reading);
  outline();
}

function later(name, part) {
  clearTimeout(typing?.timer);
  if (typing && typing.name !== name) flush();
  typing = { name, part, timer: setTimeout(flush, TYPING) };
}

function flush() {
  if (!typing) return;
  clearTimeout(typing.timer);
  const { name, part } = typing;
  typing = null;
  enter(name, part);
}

function choose(name, way) {
  const input = sections.get(name).querySelector(`.ways input[value="${way}"]`);
  if (!input || input.closest("fieldset:disabled")) return false;
  input.checked = true;
  return true;
}

function take(name, way) {
  if (!choose(name, way)) return;
  enter(name);
  const section = sections.get(name);
  // What is chosen has the focus, so that a screen reader says it.
  if (["seen", "half", "nothing"].includes(way)) section.querySelector(`.ways input[value="${way}"]`).focus();
  if (way === "hidden" || way === "unexamined") section.querySelector(".reason input").focus();
  if (way === "likelihood") section.querySelector("[data-likelihood]").focus();
  if (way === "measured") section.querySelector("[data-part=value]").select();
}

function changed(event) {
  const section = event.target.closest(".trait");
  if (!section) return;
  const name = section.dataset.trait;
  if (event.target.closest(".states") && section.querySelector(".ways input:checked")?.value !== "half") choose(name, "seen");
  if (event.target.closest(".measures") && event.target.dataset.part !== "unit") choose(name, "measured");
  if (event.target.closest(".weights")) choose(name, "likelihood");
  if (event.target.closest(".states, .ways, .matrix, select[data-part=limit]")) enter(name);
  else if (event.target.closest(".sure")) {
    section.querySelector(".sure output").textContent = percent(event.target.value);
    later(name, "sure");
  } else if (event.target.closest(".answers")) later(name, event.target.dataset.text ?? (event.target.dataset.likelihood ? "likelihood" : "measures"));
}

function surer(by) {
  const range = sections.get(current).querySelector(".sure input");
  if (!range || range.closest("[hidden], fieldset:disabled")) return;
  range.value = Number(range.value) + by;
  range.dispatchEvent(new Event("input", { bubbles: true }));
  say(`How sure: ${percent(range.value)}`);
}

function focusOn(selector) {
  sections.get(current).querySelector(selector)?.focus();
}

function clear() {
  if (state.locked || !entered[current]) return;
  entered[current] = null;
  show(sections.get(current), null);
  outline();
  queue.put(current, null);
  say("The answer is taken away. Undo brings it back.");
}

async function photograph(name, file) {
  try {
    const section = sections.get(name);
    const told = await upload(`/piece/${draft}/photograph?node=${name}&scale=${encodeURIComponent(section.querySelector("[data-scale]").value)}`, file);
    const held = read(section, entered[name]) ?? blank();
    entered[name] = { ...held, photographs: [...new Set([...held.photographs, told.photograph])] };
    show(section, entered[name]);
    queue.put(name, entered[name]);
    say("The photograph is kept, without its position.");
  } catch (wrong) {
    say(wrong.message, true);
  }
}

const press = (id) => () => document.getElementById(id)?.click();
const actions = {
  digit: (key) => {
    const input = sections.get(current).querySelectorAll(".states input")[Number(key) - 1];
    if (!input || input.matches(":disabled")) return;
    input.click(); // first: the focus has the page laid out
    input.focus();
  },
  s: () => take(current, "seen"),
  h: () => take(current, "half"),
  n: () => take(current, "hidden"),
  v: () => take(current, "likelihood"),
  e: () => take(current, "nothing"),
  x: () => take(current, "unexamined"),
  m: () => take(current, "measured"),
  "-": () => surer(-0.05),
  "+": () => surer(0.05),
  "=": () => surer(0.05),
  w: () => focusOn('[data-text="where"]'),
  b: () => focusOn('[data-text="method"]'),
  o: () => focusOn('[data-text="note"]'),
  j: () => move(1),
  k: () => move(-1),
  f: unanswered,
  u: () => flushed(() => queue.step("undo")),
  r: () => flushed(() => queue.step("redo")),
  Delete: clear,
  p: () => sections.get(current).querySelector(".picture input")?.click(),
  a: () => sections.get(current).querySelector('[data-do="amend"]')?.click(),
  c: press("same"),
  t: press("terms"),
  l: press("lock"),
  "?": press("keys"),
  rest: () => sections.get(current).querySelector("h2").focus(),
  onward: (field) => {
    const numbers = "[data-part=value], :not([hidden]) > [data-part=upper], [data-likelihood]";
    const box = field.closest(".measures, .weights");
    const after = box && [...box.querySelectorAll(numbers)].find((one) => one.compareDocumentPosition(field) & Node.DOCUMENT_POSITION_PRECEDING);
    if (after) after.focus();
    else move(1);
  },
};

function flushed(action) {
  flush();
  action();
}

function wireButtons() {
  document.getElementById("undo").addEventListener("click", actions.u);
  document.getElementById("redo").addEventListener("click", actions.r);
  document.getElementById("keys").addEventListener("click", () => document.getElementById("keys-dialog").showModal());
  work.addEventListener("click", (event) => {
    const link = event.target.closest("[data-go], .looks [data-trait]");
    if (link) {
      event.preventDefault();
      go(link.dataset.go ?? link.dataset.trait);
    }
    const action = event.target.closest("[data-do]")?.dataset.do;
    ({ on: () => move(1), back: () => move(-1), clear })[action]?.();
  });
  work.addEventListener("input", changed);
  work.addEventListener("change", (event) => {
    const file = event.target.closest(".picture input")?.files[0];
    if (file) photograph(event.target.closest(".trait").dataset.trait, file);
    else flush();
  });
  work.addEventListener("focusout", flush);
  addEventListener("pagehide", flush);
  addEventListener("hashchange", () => go(location.hash.slice(1)));
}

for (const [name, section] of sections) show(section, entered[name]);
wireButtons();
wireKeys(actions);
wireSame({ draft, sections, current: () => current, put: (name, reading) => {
  entered[name] = reading;
  show(sections.get(name), reading);
  outline();
  queue.put(name, reading);
}, entered });
wireLocking({ draft, post, say, sections, queue, flush, state: () => state, answered, go });
const amending = new Amending({ draft, sections, entered, state: () => state, version: () => queue.version });
keepScales(draft, sections);
for (const [name, entry] of queue.resume()) {
  entered[name] = entry.reading;
  show(sections.get(name), entry.reading);
}
go(sections.has(location.hash.slice(1)) ? location.hash.slice(1) : order[0], { focus: false });
beside.refresh();
queue.catchUp(); // what an earlier page saved while this one was on its way
document.querySelector(".traits").inert = false; // what was entered sooner would be thrown away
work.dataset.ready = "yes";
