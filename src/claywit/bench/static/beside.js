// What stands beside the examination: the opinion where it may be shown, else only names.
import { fill, put, say } from "./wire.js";

const PAUSE = 80; // milliseconds without a key before the slower parts are asked for

export class Beside {
  constructor(work) {
    this.draft = work.dataset.draft;
    this.shows = Boolean(work.dataset.shows);
    this.question = document.getElementById("question");
    this.question?.addEventListener("change", () => this.refresh());
    document.querySelector(".beside").addEventListener("click", (event) => this.asked(event));
  }

  get query() {
    return `?q=${encodeURIComponent(this.question?.value ?? "")}`;
  }

  /** Return what is asked with a save, so that the opinion comes with its answer. */
  asking() {
    return this.shows ? { about: this.question?.value ?? "" } : {};
  }

  /** Show what came with the answer to a save, else ask anew; the slower parts follow. */
  refresh(told = null) {
    this.quick?.abort();
    this.slow?.abort();
    clearTimeout(this.timer);
    if (this.shows) this.opinion(told);
    this.timer = setTimeout(() => (this.shows ? this.judged() : this.next()), PAUSE);
  }

  async opinion(told) {
    document.getElementById("computing").hidden = false;
    this.heard("Computing …");
    document.getElementById("judged").classList.add("stale");
    if (told && told.about === this.question?.value) {
      put(document.getElementById("opinion"), told.page);
      return;
    }
    this.quick = new AbortController();
    await this.into("opinion", `/piece/${this.draft}/opinion${this.query}`, this.quick);
  }

  /** Tell a screen reader, once and not for every key. */
  heard(text) {
    const line = document.getElementById("heard");
    if (line.textContent !== text) line.textContent = text;
  }

  async judged() {
    this.slow = new AbortController();
    const done = await this.into("judged", `/piece/${this.draft}/judged${this.query}`, this.slow);
    if (!done) return;
    document.getElementById("computing").hidden = true;
    document.getElementById("judged").classList.remove("stale");
    this.heard(`Ready. ${document.querySelector("#opinion .answer")?.textContent ?? ""}`);
  }

  async next() {
    this.slow = new AbortController();
    await this.into("next", `/piece/${this.draft}/next`, this.slow);
  }

  /** Take from the list what has been answered since it was made. */
  without(isAnswered) {
    for (const link of document.querySelectorAll("#next [data-trait]")) {
      if (isAnswered(link.dataset.trait)) link.closest("li").remove();
    }
  }

  async into(id, address, control) {
    const element = document.getElementById(id);
    try {
      await fill(element, address, { signal: control.signal });
      return true;
    } catch (wrong) {
      if (control.signal.aborted) return false;
      const line = document.createElement("p");
      line.className = "wrong";
      line.dir = "auto";
      line.textContent = wrong.message;
      element.replaceChildren(line);
      document.getElementById("computing")?.setAttribute("hidden", "");
      return false;
    }
  }

  async asked(event) {
    const button = event.target.closest("[data-why]");
    if (!button) return;
    const dialog = document.getElementById("why-dialog");
    const content = dialog.querySelector(".content");
    try {
      await fill(content, `/piece/${this.draft}/why/${button.dataset.why}${this.query}`);
      dialog.showModal();
      content.focus({ preventScroll: true });
      dialog.scrollTop = 0;
    } catch (wrong) {
      say(wrong.message, true);
    }
  }
}
