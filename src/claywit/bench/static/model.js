// Choosing a node shows its table beside the graph, without losing one's place in the drawing.
import { fill, say } from "./wire.js";

const mapped = document.getElementById("mapped");
const panel = document.getElementById("node");
const piece = mapped.dataset.piece;

function mark(name) {
  for (const box of mapped.querySelectorAll(".box")) {
    if (box.dataset.node === name) box.setAttribute("aria-current", "true");
    else box.removeAttribute("aria-current");
  }
}

async function show(name, address) {
  try {
    await fill(panel, `/model/node?node=${encodeURIComponent(name)}&piece=${encodeURIComponent(piece)}`);
    mark(name);
    document.querySelector("select[name=node]").value = name;
    if (address) window.history.pushState({ name }, "", address);
    const title = document.getElementById("node-title");
    title.focus({ preventScroll: true });
    title.scrollIntoView({ block: "nearest" });
  } catch (wrong) {
    say(wrong.message, true);
  }
}

mapped.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-node]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  show(link.dataset.node, link.getAttribute("href"));
});

window.addEventListener("popstate", () => {
  const name = new URL(window.location).searchParams.get("node");
  if (name) show(name, "");
});
