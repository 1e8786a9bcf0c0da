// Landmarks in two photographs: marked by mouse or keyboard, typed, nudged; fitted by the bench.
import { post, say, upload } from "./wire.js";

const SVG = "http://www.w3.org/2000/svg";
const SIDES = ["first", "second"];
const root = document.getElementById("overlay");
const rows = document.getElementById("rows");
const result = document.getElementById("result");
const laid = result.querySelector("svg");
const storage = `claywit-overlay-${root.dataset.draft}`;
const state = {
  marks: [],
  mirrored: false,
  photos: Object.fromEntries(
    SIDES.map((side) => [side, { address: "", width: 400, height: 300, cross: null, ends: [], mm: "", marking: false }]),
  ),
};
const box = (side) => root.querySelector(`[data-side=${side}]`);
const drawn = (name, values) => {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
  return made;
};

function keep() {
  try {
    window.sessionStorage.setItem(storage, JSON.stringify(state));
  } catch {
    // Full or forbidden: the marks stay on the page.
  }
}

function recall() {
  try {
    const held = JSON.parse(window.sessionStorage.getItem(storage));
    if (!held) return;
    state.marks = held.marks;
    state.mirrored = held.mirrored;
    for (const side of SIDES) Object.assign(state.photos[side], held.photos[side], { marking: false });
  } catch {
    window.sessionStorage.removeItem(storage);
  }
}

function draw(side) {
  const photo = state.photos[side];
  const plate = box(side).querySelector("svg");
  const size = Math.max(photo.width, photo.height) / 60;
  plate.setAttribute("viewBox", `0 0 ${photo.width} ${photo.height}`);
  plate.replaceChildren();
  if (photo.address) plate.append(drawn("image", { href: photo.address, width: photo.width, height: photo.height }));
  state.marks.forEach((mark, i) => {
    if (mark[side]) plate.append(...point(mark[side], size, String(i + 1)));
  });
  photo.ends.forEach((end, at) => plate.append(...point(end, size, at ? "" : "mm"))); // twice would overlap on a short scale
  if (photo.cross) {
    const [x, y] = photo.cross;
    plate.append(drawn("path", { class: "cross", d: `M${x - 2 * size} ${y}h${4 * size}M${x} ${y - 2 * size}v${4 * size}` }));
  }
  const open = state.marks.findIndex((mark) => !mark[side]);
  const next = photo.marking ? `end ${photo.ends.length + 1} of the scale` : `landmark ${(open < 0 ? state.marks.length : open) + 1}`;
  box(side).querySelector(".upcoming").textContent = next;
}

function point([x, y], size, text) {
  const label = drawn("text", { x: x + size * 0.8, y: y - size * 0.6, class: "name", "font-size": size * 1.8 });
  label.textContent = text;
  return [drawn("circle", { cx: x, cy: y, r: size * 0.7, class: "ring" }), drawn("circle", { cx: x, cy: y, r: size * 0.15, class: "dot" }), label];
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
    show(found, whole);
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

function show(found, whole) {
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

function wire(side) {
  const photo = state.photos[side];
  const plate = box(side).querySelector("svg");
  const choice = box(side).querySelector(".choice");
  const mm = box(side).querySelector(".mm");
  plate.addEventListener("click", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(plate.getScreenCTM().inverse());
    if (photo.address) mark(side, [at.x, at.y]);
  });
  plate.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!photo.address || !(step || event.key === "Enter")) return;
    event.preventDefault();
    photo.cross ??= [photo.width / 2, photo.height / 2];
    if (!step) mark(side, photo.cross);
    else {
      const far = event.shiftKey ? Math.max(photo.width, photo.height) / 20 : 1;
      photo.cross = [0, 1].map((k) => Math.min(Math.max(photo.cross[k] + far * step[k], 0), k ? photo.height : photo.width));
      draw(side);
    }
  });
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
  mm.value = photo.mm;
  mm.addEventListener("input", () => ((photo.mm = mm.value), keep(), fit()));
  box(side).querySelector(".mark-scale").addEventListener("click", () => {
    Object.assign(photo, { ends: [], marking: true });
    changed();
    plate.focus();
  });
  if (photo.address) {
    if (![...choice.options].some((one) => one.value === photo.address)) choice.add(new Option("as before", photo.address));
    choice.value = photo.address;
  }
}

recall();
SIDES.forEach(wire);
const mirrored = document.getElementById("mirrored");
mirrored.checked = state.mirrored;
mirrored.addEventListener("change", () => ((state.mirrored = mirrored.checked), changed()));
document.getElementById("add").addEventListener("click", () => (state.marks.push({ name: "" }), changed()));
document.getElementById("clear").addEventListener("click", () => {
  state.marks = [];
  for (const side of SIDES) state.photos[side].ends = [];
  changed();
});
document.getElementById("blend").addEventListener("input", blend);
changed();
