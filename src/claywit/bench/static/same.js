// "Same as piece …": the readings of another piece, each confirmed by itself or left.
import { brief } from "./reading.js";
import { parsed, say } from "./wire.js";

export function wireSame({ draft, sections, put, entered }) {
  const dialog = document.getElementById("same-dialog");
  const select = document.getElementById("same-as");
  const box = document.getElementById("same-one");
  let others = [];

  document.getElementById("same").addEventListener("click", async () => {
    const response = await fetch(`/piece/${draft}/others`);
    if (!response.ok) return say("The other pieces cannot be read.", true);
    others = parsed(await response.text());
    select.replaceChildren(...others.map((one) => new Option(one.name, one.id)));
    dialog.showModal();
    begin();
  });
  select.addEventListener("change", begin);

  function begin() {
    const other = others.find((one) => one.id === select.value);
    if (!other) return box.replaceChildren(line("There is no other piece with readings."));
    const left = Object.entries(other.readings).filter(([name]) => sections.has(name) && !entered[name]?.way);
    offer(other, left);
  }

  function offer(other, left) {
    if (left.length === 0) return box.replaceChildren(line("Nothing more to copy: each trait is answered, or was not answered there."));
    const [[name, reading], ...rest] = left;
    const section = sections.get(name);
    const yes = button("Same here", () => {
      put(name, { ...reading, photographs: [], copied_from: other.name });
      offer(other, rest);
    });
    const no = button("Not the same", () => offer(other, rest));
    const question = line(`${section.dataset.label}: ${brief(section, reading)}`);
    question.className = "same-trait";
    box.replaceChildren(question, line(`Look at this piece: is it the same here? ${left.length} to go.`), yes, no);
    yes.focus();
  }

  function line(text) {
    const element = document.createElement("p");
    element.dir = "auto";
    element.textContent = text;
    return element;
  }

  function button(text, action) {
    const element = document.createElement("button");
    element.type = "button";
    element.textContent = text;
    element.addEventListener("click", action);
    return element;
  }
}
