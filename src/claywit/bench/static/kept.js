// Forms with data-kept: what is typed into them is kept until it is sent, or taken back.
import { AGAIN, Typed } from "./typed.js";
import { bare, say, sends } from "./wire.js";

const FIELDS = "textarea, select, input:not([type=hidden], [type=password], [type=file], [type=radio], [type=checkbox])";
const TICKS = "input[type=checkbox]";

/** Return the fields of a form that are kept: no secret, and no tick that does something which cannot be undone. */
function fieldsOf(form) {
  const wanted = form.dataset.keptTicks ? `${FIELDS}, ${TICKS}` : FIELDS;
  return [...form.querySelectorAll(wanted)].filter((field) => field.name);
}

const now = (field) => (field.matches(TICKS) && !field.checked ? "" : field.value);

/** Return what stood in a field before somebody typed into it sooner than this script was there. */
function before(field) {
  if (!field.dataset.early) return now(field);
  if (field.matches(TICKS)) return field.defaultChecked ? field.value : "";
  if (field.matches("select")) return ([...field.options].find((one) => one.defaultSelected) ?? field.options[0]).value;
  return field.defaultValue;
}

function said(form, of = now) {
  const found = bare();
  for (const field of fieldsOf(form)) (found[field.name] ??= []).push(of(field));
  return found;
}

function put(form, part) {
  for (const [name, values] of Object.entries(part)) {
    const places = fieldsOf(form).filter((field) => field.name === name);
    places.forEach((field, at) => {
      if (field.matches(TICKS)) field.checked = (values ?? []).includes(field.value);
      else field.value = values?.[at] ?? "";
    });
  }
}

const forms = new WeakMap();

/** Hold *form* until what was typed before stands in it; it goes out then by itself, unless something came back that nobody saw. */
function holdUntil(ready, form) {
  let isReady = false;
  let pressed;
  form.addEventListener("submit", (event) => {
    if (isReady) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    pressed = { by: event.submitter, said: JSON.stringify(said(form)) };
  });
  ready.finally(() => {
    isReady = true;
    if (pressed?.said === JSON.stringify(said(form))) form.requestSubmit(pressed.by);
  });
}

/** Keep what is typed into *form*, with a button to take it back; its event `typed` follows each change. */
function wireTyped(form) {
  const back = document.createElement("button");
  back.type = "button";
  back.className = "back";
  back.textContent = "Take back what I typed";
  back.hidden = true;
  sends(form).after(" ", back);
  const typed = new Typed(form.dataset.kept, {
    base: form.dataset.keptWith ?? "",
    fields: () => said(form),
    stood: () => said(form, before),
    put: (part) => put(form, part),
    told: () => {
      back.hidden = !typed.isNew;
      form.dispatchEvent(new Event("typed"));
    },
    back: () => {
      const closed = form.closest("details:not([open])");
      if (closed) closed.open = true;
      say(AGAIN);
    },
  });
  forms.set(form, typed);
  holdUntil(typed.ready, form);
  form.addEventListener("input", () => typed.changed());
  back.addEventListener("click", () => {
    put(form, typed.own);
    typed.forget();
    (form.querySelector(FIELDS) ?? form.querySelector(TICKS))?.focus();
    say("What you typed is taken back.");
  });
  // A form that is asked in the address goes there by itself, as does a link that leaves it as it was.
  if (form.dataset.keptTicks) {
    form.addEventListener("submit", () => typed.forget());
    for (const link of form.querySelectorAll("a[href^='?']")) link.addEventListener("click", () => typed.forget());
  }
}

/** What was typed into *form* was sent: nobody has to keep it any longer. */
export async function sent(form) {
  await forms.get(form)?.forget();
}

for (const form of document.querySelectorAll("form[data-kept]")) wireTyped(form);
