// How a page speaks with the bench: JSON out, JSON or a piece of page back.
const key = document.querySelector('meta[name="claywit-page"]').content;

// The one place where text becomes a page: what the bench itself rendered, every value escaped.
const policy = window.trustedTypes
  ? window.trustedTypes.createPolicy("claywit", { createHTML: (text) => text })
  : { createHTML: (text) => text };

/** Return *value* without names of its kind: a trait may be called `constructor`, and is not answered by that. */
export const bare = (value = {}) => Object.assign(Object.create(null), value);

/** Return what JSON says, its objects bare. */
export function parsed(text) {
  return JSON.parse(text, (_, value) => (value && typeof value === "object" && !Array.isArray(value) ? bare(value) : value));
}

export class Answer extends Error {
  constructor(status, data) {
    super(data.error || "The bench did not answer.");
    this.status = status;
    this.data = data;
  }
}

async function ask(address, options) {
  let response;
  try {
    response = await fetch(address, { credentials: "same-origin", ...options });
  } catch {
    throw new Answer(0, { error: `The bench does not answer. If it has ended, start it with \`--port ${window.location.port}\`, so that it finds this page again.` });
  }
  if (response.ok) return response;
  let data = {};
  try {
    data = await response.json();
  } catch {
    data = { error: "Refused. Load the page again; if that does not help, start the bench again." };
  }
  throw new Answer(response.status, data);
}

/** Send *data* as JSON, and return the JSON that comes back. */
export async function post(address, data, options = {}) {
  const response = await ask(address, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-Claywit-Page": key },
    body: JSON.stringify(data),
    ...options,
  });
  return parsed(await response.text());
}

/** Send a file as it is, and return the JSON that comes back. */
export async function upload(address, file) {
  const response = await ask(address, {
    method: "POST",
    headers: { "Content-Type": "application/octet-stream", "X-Claywit-Page": key },
    body: file,
  });
  return response.json();
}

/** Ask for a piece of page, and put it in place of what *element* holds. */
export async function fill(element, address, options = {}) {
  const response = await ask(address, options);
  put(element, await response.text());
  return response;
}

/** Put a piece of page that the bench rendered in place of what *element* holds. */
export function put(element, text) {
  element.innerHTML = policy.createHTML(text);
}

const FADES = 12000; // milliseconds for which a plain message stays; what is wrong stays until it is right
let fading;

/** Say something to the reader, and to a screen reader. */
export function say(text, isWrong = false) {
  const said = document.getElementById("said");
  said.textContent = text;
  said.classList.toggle("wrong", isWrong);
  clearTimeout(fading);
  if (!isWrong) fading = setTimeout(() => (said.textContent = ""), FADES);
}

/** Do what takes a while for the form of *button*; say what is wrong, and give the focus back. */
async function during(button, action, finished = () => {}) {
  const held = document.activeElement === button;
  button.disabled = true;
  try {
    await action();
  } catch (wrong) {
    say(wrong.message, true);
  } finally {
    finished();
    button.disabled = false;
    if (held) button.focus();
  }
}

/** Return the button that sends a form. */
export const sends = (form) => form.querySelector("button:not([type=button])");

/** Do *action* whenever *form* is sent, and at once if it was sent before this page could do it. */
export function onSubmit(form, action, finished) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    during(sends(form), action, finished);
  });
  form.dataset.wired = "yes";
  if (form.dataset.early) form.requestSubmit();
}

const DONE = "claywit-done"; // what was done outlives the page that did it: the next one says so

/** Go where the answer says, or load the page again, and say there what was done. */
export function goOn({ go, said }) {
  if (said) sessionStorage.setItem(DONE, said);
  if (go) window.location.assign(go);
  else window.location.reload();
}

/** Say what the page before did. */
function sayWhatWasDone() {
  const text = sessionStorage.getItem(DONE);
  sessionStorage.removeItem(DONE);
  if (text) say(text);
}

sayWhatWasDone();
