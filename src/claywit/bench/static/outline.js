// The outline of the traits, on the left of the examiner's page.

/** Scroll the outline alone, never the page. */
export function bringIntoOutline(link) {
  const box = document.querySelector(".outline");
  const [inner, outer] = [link.getBoundingClientRect(), box.getBoundingClientRect()];
  if (inner.top < outer.top) box.scrollTop -= outer.top - inner.top + 40;
  const floor = Math.min(outer.bottom, window.innerHeight);
  if (inner.bottom > floor) box.scrollTop += inner.bottom - floor + 40;
}
