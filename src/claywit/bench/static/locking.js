// Locking, and the seal on story and price.

import { goOn } from "./wire.js";

export function wireLocking(page) {
  wireLock(page);
  wireSeal(page);
  for (const button of document.querySelectorAll("[data-close]")) {
    button.addEventListener("click", () => button.closest("dialog").close());
  }
}

async function tried(page, action) {
  try {
    return await action();
  } catch (wrong) {
    page.say(wrong.message, true);
    return null;
  }
}

function wireLock(page) {
  const { draft, post, sections, queue, flush, state, answered } = page;
  const dialog = document.getElementById("lock-dialog");
  document.getElementById("lock")?.addEventListener("click", async () => {
    flush();
    await queue.drained();
    const open = [...sections.keys()].filter((name) => !answered(name));
    const problems = Object.entries(state().problems);
    document.getElementById("lock-open").textContent = open.length
      ? `${open.length} traits are not answered; they will be recorded as not mentioned.`
      : "Every trait is answered.";
    document.getElementById("lock-problems").replaceChildren(
      ...problems.map(([name, text]) => {
        const item = document.createElement("li");
        const place = document.createElement("a");
        place.href = sections.has(name) ? `#${name}` : `/piece/${draft}/terms`;
        place.textContent = sections.get(name)?.dataset.label ?? "Question and terms";
        item.append(place, `: ${text}`);
        return item;
      }),
    );
    const button = dialog.querySelector("#lock-form button:not([type])");
    button.disabled = problems.length > 0;
    dialog.showModal();
    (problems.length ? dialog.querySelector("[data-close]") : button).focus();
    await lacking(draft);
  });
  document.getElementById("lock-problems").addEventListener("click", (event) => {
    const place = event.target.closest("a[href^='#']");
    if (!place) return;
    event.preventDefault();
    dialog.close();
    page.go(place.hash.slice(1));
  });
  document.getElementById("lock-form").addEventListener("submit", async (event) => {
    event.preventDefault();
    const button = event.target.querySelector("button:not([type])");
    button.disabled = true;
    const done = await tried(page, () => post(`/piece/${draft}/lock`, { version: queue.version }));
    button.disabled = false;
    if (!done) {
      button.focus();
      return;
    }
    goOn({ said: "The readings are locked. The opinion stands beside them." });
  });
}

/** Say what a certificate would lack, while it can still be added. */
async function lacking(draft) {
  const line = document.getElementById("lock-lacks");
  line.hidden = true;
  const response = await fetch(`/piece/${draft}/lacks`);
  const { lacks = [] } = response.ok ? await response.json() : {};
  line.hidden = lacks.length === 0;
  line.textContent =
    `A certificate would lack: ${lacks.join("; ")}. What is added to question and terms (T) after the lock` +
    " is an amendment, and printed as one.";
}

function wireSeal(page) {
  document.getElementById("unmask")?.addEventListener("click", async () => {
    const told = await tried(page, () => page.post(`/piece/${page.draft}/unmask`, {}));
    if (!told) return;
    document.getElementById("stories").replaceChildren(
      ...told.stories.map(([what, text]) => {
        const line = document.createElement("p");
        line.dir = "auto";
        line.textContent = `${what}: ${text}`;
        return line;
      }),
    );
  });
}
