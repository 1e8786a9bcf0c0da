// Landmarks in two photographs: marked by mouse or keyboard, typed, nudged; fitted by the bench.
import { drawn, moved, show } from "./plate.js";
import { Typed } from "./typed.js";
import { parsed, post, say, upload } from "./wire.js";

const OWN = /^\/(photograph|overlay)\/[0-9a-f]{64}$/; // where a photograph lies
const SIDES = ["first", "second"];
const root = document.getElementById("overlay");
const rows = document.getElementById("rows");
const result = document.getElementById("result");
const laid = result.querySelector("svg");
const mirrored = document.getElementById("mirrored");
const state = {
  marks: [],
  mirrored: false,
  photos: Object.fromEntries(
    SIDES.map((side) => [side, { address: "", width: 400, height: 300, cross: null, ends: [], mm: "", marking: false }]),
  ),
};
const box = (side) => root.querySelector(`[data-side=${side}]`);
const typed = new Typed("overlay", {
  base: `/piece/${root.dataset.draft}`,
  fields: () => ({ marks: [JSON.stringify(lasting())] }),
  put: ({ marks }) => marks && recall(parsed(marks[0])),
  back: () => say("What was marked before stands here again."),
});

/** Return what is marked, without what only shows where the keyboard is. */
function lasting() {
  const photos = SIDES.map((side) => {
    const { address, width, height, ends, mm } = state.photos[side];
    return [side, { address, width, height, ends, mm }];
  });
  return { marks: state.marks, mirrored: state.mirrored, photos: Object.fromEntries(photos) };
}

function keep() {
  typed.changed();
}

function recall(held) {
  Object.assign(state, { marks: held.marks, mirrored: held.mirrored });
  mirrored.checked = state.mirrored;
  for (const side of SIDES) {
    const photo = Object.assign(state.photos[side], held.photos[side], { marking: false });
    if (!OWN.test(photo.address)) photo.address = "";
    box(side).querySelector(".mm").value = photo.mm;
    if (!photo.address) continue;
    const choice = box(side).querySelector(".choice");
    if (![...choice.options].some((one) => one.value === photo.address)) choice.add(new Option("as before", photo.address));
    choice.value = photo.address;
    load(side, photo.address);
  }
  changed();
}

function draw(side) {
  const photo = state.photos[side];
  show(box(side).querySelector("svg"), photo, state.marks.map((mark) => mark[side]));
  box(side).querySelector(".upcoming").textContent = upcoming(side);
}

/** Return what is marked next in a photograph. */
function upcoming(side) {
  const photo = state.photos[side];
  const open = state.marks.findIndex((mark) => !mark[side]);
  return photo.marking ? `end ${photo.ends.length + 1} of the scale` : `landmark ${(open < 0 ? state.marks.length : open) + 1}`;
}

function mark(side, at) {
  const photo = state.photos[side];
  const where = at.map((value) => Math.round(value * 10) / 10);
  if (photo.marking) {
    photo.ends.push(where);
    photo.marking = photo.ends.length < 2;
  } else {
    let open = state.marks.find((one) => !one[side]);
    if (!open) state.marks.push((open = { name: "" }));
    open[side] = where;
  }
  photo.cross = where;
  changed();
}

function cell(input, label) {
  const made = document.createElement("td");
  input.setAttribute("aria-label", label);
  made.append(input);
  return made;
}

function table() {
  const focus = document.activeElement?.dataset?.at;
  rows.replaceChildren();
  state.marks.forEach((one, i) => {
    const line = document.createElement("tr");
    const name = document.createElement("input");
    name.value = one.name;
    name.maxLength = 80;
    name.dir = "auto";
    name.dataset.at = `${i}-name`;
    name.addEventListener("change", () => ((one.name = name.value), keep(), fit()));
    line.append(cell(name, `Name of landmark ${i + 1}`));
    for (const side of SIDES) {
      for (const axis of [0, 1]) {
        const typed = document.createElement("input");
        typed.type = "number";
        typed.step = "0.5";
        typed.value = one[side] ? one[side][axis] : "";
        typed.dataset.at = `${i}-${side}-${axis}`;
        typed.addEventListener("change", () => {
          const held = one[side] ?? [0, 0];
          if (typed.value !== "") one[side] = held.map((v, k) => (k === axis ? Number(typed.value) : v));
          changed();
        });
        line.append(cell(typed, `${axis ? "y" : "x"} of landmark ${i + 1} in the ${side}`));
      }
    }
    const left = document.createElement("td");
    left.dataset.left = i;
    const remove = document.createElement("button");
    remove.type = "button";
    remove.textContent = "Remove";
    remove.addEventListener("click", () => (state.marks.splice(i, 1), changed()));
    line.append(left, cell(remove, `Remove landmark ${i + 1}`));
    rows.append(line);
  });
  if (focus) rows.querySelector(`[data-at="${focus}"]`)?.focus();
}

function scaleOf(side) {
  const { ends, mm } = state.photos[side];
  const length = Number(mm.replace(",", "."));
  return ends.length === 2 && length > 0 ? { one: ends[0], other: ends[1], mm: length } : null;
}

let asked = 0;
async function fit() {
  const whole = state.marks.filter((one) => one.first && one.second);
  const turn = ++asked;
  for (const left of rows.querySelectorAll("[data-left]")) left.textContent = "";
  result.hidden = whole.length < 3;
  if (whole.length < 3) return;
  try {
    const found = await post(`/piece/${root.dataset.draft}/overlay/fit`, {
      names: whole.map((one) => one.name),
      first: whole.map((one) => one.first),
      second: whole.map((one) => one.second),
      mirrored: state.mirrored,
      scales: SIDES.map(scaleOf),
    });
    if (turn !== asked) return;
    fitted(found, whole);
    say("");
  } catch (wrong) {
    result.hidden = true;
    say(wrong.message, true);
  }
}

function list(id, sentences) {
  document.getElementById(id).replaceChildren(
    ...sentences.map((sentence) => {
      const item = document.createElement("li");
      item.textContent = sentence;
      return item;
    }),
  );
}

function fitted(found, whole) {
  whole.forEach((one, i) => {
    rows.querySelector(`[data-left="${state.marks.indexOf(one)}"]`).textContent = found.residuals[i];
  });
  list("residual", found.residual);
  list("factor", found.scale);
  list("mind", found.mind);
  const { first, second } = state.photos;
  laid.setAttribute("viewBox", `0 0 ${first.width} ${first.height}`);
  laid.replaceChildren();
  if (first.address) laid.append(drawn("image", { href: first.address, width: first.width, height: first.height }));
  const over = drawn("image", { width: second.width, height: second.height, transform: `matrix(${found.matrix.join(" ")})`, class: "over" });
  if (second.address) over.setAttribute("href", second.address);
  laid.append(over);
  blend();
}

function blend() {
  laid.querySelector(".over")?.setAttribute("opacity", document.getElementById("blend").value / 100);
}

function changed() {
  keep();
  SIDES.forEach(draw);
  table();
  fit();
}

function load(side, address) {
  const photo = state.photos[side];
  if (!address) {
    photo.address = "";
    changed();
    return;
  }
  const image = new Image();
  image.addEventListener("load", () => {
    const size = { address, width: image.naturalWidth, height: image.naturalHeight };
    if (photo.address && photo.address !== address) {
      for (const one of state.marks) delete one[side];
      photo.ends = [];
    }
    Object.assign(photo, size, { cross: [size.width / 2, size.height / 2] });
    changed();
  });
  image.addEventListener("error", () => say("That photograph is no longer at hand; send it again.", true));
  image.src = address;
}

/** Move the cross of a photograph, or mark where it stands. */
function pressed(side, event) {
  const photo = state.photos[side];
  const to = moved(photo, event);
  if (!to && event.key !== "Enter") return;
  event.preventDefault();
  if (to) {
    photo.cross = to;
    draw(side);
    told(side, "Cross at");
  } else {
    const what = upcoming(side);
    mark(side, photo.cross);
    told(side, `Marked ${what} at`);
  }
}

/** Say where the cross stands, for whoever does not see it. */
function told(side, what) {
  const [x, y] = state.photos[side].cross.map(Math.round);
  box(side).querySelector(".at").textContent = `${what} ${x} across, ${y} down.`;
}

function wire(side) {
  const photo = state.photos[side];
  const plate = box(side).querySelector("svg");
  const choice = box(side).querySelector(".choice");
  const mm = box(side).querySelector(".mm");
  plate.addEventListener("click", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(plate.getScreenCTM().inverse());
    if (photo.address) mark(side, [at.x, at.y]);
  });
  plate.addEventListener("keydown", (event) => photo.address && pressed(side, event));
  choice.addEventListener("change", () => load(side, choice.value));
  box(side).querySelector(".send").addEventListener("change", async (event) => {
    if (!event.target.files[0]) return;
    try {
      say("Coding the photograph anew…");
      const sent = await upload(`/piece/${root.dataset.draft}/overlay/picture`, event.target.files[0]);
      for (const each of SIDES) {
        const list = box(each).querySelector(".choice");
        if (![...list.options].some((one) => one.value === sent.address)) list.add(new Option(sent.label, sent.address));
      }
      choice.value = sent.address;
      load(side, sent.address);
      say("");
    } catch (wrong) {
      say(wrong.message, true);
    }
  });
  mm.addEventListener("input", () => ((photo.mm = mm.value), keep(), fit()));
  box(side).querySelector(".mark-scale").addEventListener("click", () => {
    Object.assign(photo, { ends: [], marking: true });
    changed();
    plate.focus();
  });
}

SIDES.forEach(wire);
mirrored.addEventListener("change", () => ((state.mirrored = mirrored.checked), changed()));
document.getElementById("add").addEventListener("click", () => (state.marks.push({ name: "" }), changed()));
document.getElementById("clear").addEventListener("click", () => {
  state.marks = [];
  for (const side of SIDES) state.photos[side].ends = [];
  changed();
});
document.getElementById("blend").addEventListener("input", blend);
changed();
root.inert = false; // what was entered sooner would be shown and not known
