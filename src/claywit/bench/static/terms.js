// The terms of the work: kept as a whole; what is typed and not kept yet outlives a reload.
import { during, post, say } from "./wire.js";

const form = document.getElementById("terms");
const { draft } = form.dataset;
const store = `claywit-terms-${draft}`;
const back = document.getElementById("back");
let kept = JSON.stringify(fields());

/** Return the fields by name; those that stand there several times as a list. */
function fields() {
  const data = new FormData(form);
  const several = new Set(["under", "over"]);
  const said = {};
  for (const name of new Set(data.keys())) {
    const values = data.getAll(name);
    said[name] = values.length > 1 || several.has(name) ? values : values[0];
  }
  return said;
}

function put(said) {
  for (const [name, value] of Object.entries(said)) {
    const places = [...form.elements].filter((field) => field.name === name);
    [value].flat().forEach((one, at) => places[at] && (places[at].value = one));
  }
}

function typed() {
  const now = JSON.stringify(fields());
  back.hidden = now === kept;
  if (now === kept) localStorage.removeItem(store);
  else localStorage.setItem(store, now);
  sums();
}

/** Say what the shares of a prior add up to, while they are typed. */
function sums() {
  for (const line of form.querySelectorAll("[data-sum]")) {
    const values = [...line.closest("fieldset").querySelectorAll("input")].map((field) => field.value.replace("%", "").trim());
    const sum = values.reduce((all, one) => all + Number(one), 0);
    const said = values.some(Boolean) && !Number.isNaN(sum) ? `Together ${Number(sum.toFixed(6))}%; they must make 100%.` : "";
    if (line.textContent !== said) line.textContent = said;
  }
}

form.addEventListener("input", typed);
back.addEventListener("click", () => {
  put(JSON.parse(kept));
  typed();
  say("What was kept last stands here again.");
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  during(form.querySelector("button.first"), async () => {
    const answer = await post(`/piece/${draft}/terms`, { ...fields(), seen: form.dataset.seen });
    form.dataset.seen = answer.seen;
    if (form.elements.reason) form.elements.reason.value = "";
    kept = JSON.stringify(fields());
    typed();
    say(answer.said);
    new BroadcastChannel(`claywit-${draft}`).postMessage("saved");
  });
});

const left = localStorage.getItem(store);
if (left) {
  put(JSON.parse(left));
  typed();
  say("What you typed before stands here again. It is not kept yet.");
}
sums();
