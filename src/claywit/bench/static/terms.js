// The terms of the work, kept as a whole.
import { sent } from "./kept.js";
import { onSubmit, post, say } from "./wire.js";

const form = document.getElementById("terms");
const { draft } = form.dataset;

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

/** Say what the shares of a prior add up to, while they are typed. */
function sums() {
  for (const line of form.querySelectorAll("[data-sum]")) {
    const values = [...line.closest("fieldset").querySelectorAll("input")].map((field) => field.value.replace("%", "").trim());
    const sum = values.reduce((all, one) => all + Number(one), 0);
    const said = values.some(Boolean) && !Number.isNaN(sum) ? `Together ${Number(sum.toFixed(6))}%; they must make 100%.` : "";
    if (line.textContent !== said) line.textContent = said;
  }
}

form.addEventListener("typed", sums);
onSubmit(form, async () => {
  const answer = await post(`/piece/${draft}/terms`, { ...fields(), seen: form.dataset.seen });
  form.dataset.seen = answer.seen;
  if (form.elements.reason) form.elements.reason.value = "";
  await sent(form);
  say(answer.said);
  new BroadcastChannel(`claywit-${draft}`).postMessage("saved");
});
sums();
