// Single keys for the whole examination; a reader who dictates can turn them off.
const STORE = "claywit-single-keys";

/** Call the action of a key in *actions*, unless somebody types, chooses in a list, or looks at a dialog. */
export function wireKeys(actions) {
  const box = document.getElementById("single-keys");
  box.checked = localStorage.getItem(STORE) !== "off";
  box.addEventListener("change", () => localStorage.setItem(STORE, box.checked ? "on" : "off"));
  document.addEventListener("keydown", (event) => {
    if (event.isComposing || document.querySelector("dialog[open]")) return;
    const field = event.target.closest("input:not([type=radio], [type=checkbox], [type=range], [type=file]), textarea, select");
    if (field) return inField(event, field, actions);
    if (event.ctrlKey || event.metaKey) return withControl(event, actions);
    if (event.altKey || !box.checked) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const action = /^[1-9]$/.test(key) ? () => actions.digit(key) : actions[key];
    if (!action) return;
    event.preventDefault();
    action();
  });
}

function inField(event, field, actions) {
  if (event.key === "Escape") {
    field.blur();
    actions.rest();
    event.preventDefault();
  } else if (event.key === "Enter" && field.closest(".trait .answers") && field.tagName === "INPUT") {
    event.preventDefault();
    actions.onward(field);
  }
}

function withControl(event, actions) {
  const key = event.key.toLowerCase();
  if (key === "z" || key === "y") {
    event.preventDefault();
    (key === "y" || event.shiftKey ? actions.r : actions.u)();
  }
}
