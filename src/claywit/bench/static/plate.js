// A photograph with what is marked in it, and the cross that marks by keyboard.
const SVG = "http://www.w3.org/2000/svg";
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** Return a shape with its values. */
export function drawn(name, values) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
  return made;
}

/** Show *photo*, its *marks* by their number, the ends of its scale and its cross. */
export function show(plate, photo, marks) {
  const size = Math.max(photo.width, photo.height) / 60;
  plate.setAttribute("viewBox", `0 0 ${photo.width} ${photo.height}`);
  plate.replaceChildren();
  if (photo.address) plate.append(drawn("image", { href: photo.address, width: photo.width, height: photo.height }));
  marks.forEach((mark, i) => mark && plate.append(...point(mark, size, String(i + 1))));
  photo.ends.forEach((end, at) => plate.append(...point(end, size, at ? "" : "mm"))); // twice would overlap on a short scale
  if (photo.cross) {
    const [x, y] = photo.cross;
    plate.append(drawn("path", { class: "cross", d: `M${x - 2 * size} ${y}h${4 * size}M${x} ${y - 2 * size}v${4 * size}` }));
  }
}

function point([x, y], size, text) {
  const label = drawn("text", { x: x + size * 0.8, y: y - size * 0.6, class: "name", "font-size": size * 1.8 });
  label.textContent = text;
  return [drawn("circle", { cx: x, cy: y, r: size * 0.7, class: "ring" }), drawn("circle", { cx: x, cy: y, r: size * 0.15, class: "dot" }), label];
}

/** Return where an arrow takes the cross: a step, with Shift a tenfold one, with Control a single pixel; null for another key. */
export function moved({ cross, width, height }, { key, shiftKey, ctrlKey }) {
  const arrow = ARROWS[key];
  if (!arrow) return null;
  const step = Math.max(Math.max(width, height) / 200, 1);
  const far = ctrlKey ? 1 : shiftKey ? 10 * step : step;
  return [width, height].map((most, k) => Math.min(Math.max(cross[k] + far * arrow[k], 0), most));
}
