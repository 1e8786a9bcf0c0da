// A form that is sent before the page's own script is there waits for it; by itself it goes nowhere, its method is dialog.
document.addEventListener("submit", ({ target }) => {
  if (target.method === "dialog" && !target.dataset.wired) target.dataset.early = "yes";
});
// What is typed sooner than that is no text of the page's own.
document.addEventListener("input", ({ target }) => (target.dataset.early = "yes"));
