// Saving as one types: one request at a time, the newest answer about a trait in place of older
// ones, nothing forgotten before the bench has said that it is on disk.
import { bare, parsed, post } from "./wire.js";

const RETRY = 1500;

/** Return whether two readings say the same, whatever the order of their parts. */
export function same(one, other) {
  const flat = (value) =>
    JSON.stringify(value ?? null, (_, part) =>
      part && typeof part === "object" && !Array.isArray(part)
        ? Object.fromEntries(Object.entries(part).sort(([a], [b]) => (a < b ? -1 : 1)))
        : part,
    );
  return flat(one) === flat(other);
}

export class Queue {
  /** *state* is what the bench last said; *on* is told of what happens. */
  constructor(draft, state, on) {
    this.draft = draft;
    this.version = state.version;
    this.known = bare(state.readings);
    this.on = on;
    this.store = `claywit-unsaved-${draft}`;
    this.waiting = new Map();
    this.busy = false;
    this.channel = new BroadcastChannel(`claywit-${draft}`);
    this.channel.onmessage = () => this.catchUp();
    document.addEventListener("visibilitychange", () => document.hidden || this.catchUp());
    addEventListener("pagehide", () => this.keep());
  }

  get isSaved() {
    return !this.busy && this.waiting.size === 0;
  }

  /** Return whether an answer about *node* is on its way, or waits. */
  holds(node) {
    return this.waiting.has(node) || this.sending?.[0] === node;
  }

  /** Take up what an earlier page of this draft could not save. */
  resume() {
    let left = {};
    try {
      left = parsed(localStorage.getItem(this.store) || "{}");
    } catch {
      left = {};
    }
    for (const [node, entry] of Object.entries(left)) this.waiting.set(node, entry);
    this.pump();
    return Object.entries(left);
  }

  /** Save *reading* of *node*; null takes the answer away. */
  put(node, reading, part = "") {
    const earlier = this.waiting.get(node);
    const base = earlier ? earlier.base : (this.known[node] ?? null);
    this.waiting.set(node, { reading, part, base });
    this.keep();
    return this.pump();
  }

  /** Keep what is not saved yet where a crash does not reach it. */
  keep() {
    const left = Object.fromEntries(this.sending ? [this.sending, ...this.waiting] : this.waiting);
    if (Object.keys(left).length) localStorage.setItem(this.store, JSON.stringify(left));
    else localStorage.removeItem(this.store);
  }

  async pump() {
    if (this.busy || this.waiting.size === 0) return;
    this.busy = true;
    const [node, entry] = this.waiting.entries().next().value;
    this.waiting.delete(node);
    this.sending = [node, entry];
    this.on.saving();
    let again = 0;
    let isKept = true;
    try {
      this.took(await post(`/piece/${this.draft}/answer`, { version: this.version, node, ...entry, ...this.asking() }));
      this.channel.postMessage("saved");
    } catch (wrong) {
      again = await this.failed(wrong, node, entry);
      isKept = again > 0 || wrong.status === 409;
    }
    this.sending = null;
    this.busy = false;
    this.keep();
    // After a refusal "Not saved" stays, and why.
    if (this.waiting.size === 0) isKept && this.on.saved();
    else if (again) setTimeout(() => this.pump(), again);
    else await this.pump();
  }

  /** Undo or redo. */
  async step(which) {
    await this.drained();
    try {
      const state = await post(`/piece/${this.draft}/${which}`, { version: this.version, ...this.asking() });
      this.took(state);
      this.channel.postMessage("saved");
      this.on.refreshed(state, state.node);
    } catch (wrong) {
      if (wrong.status === 409) await this.catchUp();
      this.on.failed(wrong.message);
    }
  }

  /** Return what else to ask with the last of several saves: the opinion, where it shows. */
  asking() {
    return this.waiting.size === 0 ? this.on.asking() : {};
  }

  async drained() {
    while (!this.isSaved) await new Promise((done) => setTimeout(done, 20));
  }

  took(state) {
    this.version = state.version;
    this.known = bare(state.readings);
    this.on.state(state);
  }

  /** Return after how many milliseconds to try again; 0 for at once or never. */
  async failed(wrong, node, entry) {
    if (wrong.status === 409) return this.merge(node, entry);
    // No answer, a fault, a full disk, a page of an earlier run: nothing is wrong with the answer itself.
    if (wrong.status === 0 || wrong.status === 403 || wrong.status === 408 || wrong.status >= 500) {
      if (!this.waiting.has(node)) this.waiting.set(node, entry);
      this.on.failed(`${wrong.message} What you enter is kept here, and saved once that is put right.`);
      return RETRY;
    }
    this.on.refused(node, wrong.message);
    return 0;
  }

  /** Another tab saved first: answers about other traits go on top, one about this trait is asked. */
  async merge(node, entry) {
    const state = await this.fetched();
    if (!state) {
      if (!this.waiting.has(node)) this.waiting.set(node, entry);
      return RETRY;
    }
    this.took(state);
    this.on.refreshed(state, null); // so that nobody answers over what does not show
    const newest = this.waiting.get(node) ?? entry;
    const theirs = state.readings[node] ?? null;
    if (same(theirs, newest.reading)) {
      this.waiting.delete(node);
    } else if (same(theirs, entry.base) || (await this.on.clash(node, newest.reading, theirs))) {
      this.waiting.set(node, { ...(this.waiting.get(node) ?? entry), base: theirs });
    } else {
      this.waiting.delete(node);
      this.sending = null;
      this.on.refreshed(state, node);
    }
    return 0;
  }

  async fetched() {
    try {
      const response = await fetch(`/piece/${this.draft}/state`);
      if (!response.ok) return null;
      return parsed(await response.text());
    } catch {
      return null;
    }
  }

  /** Another tab has saved: show what stands there now, unless this page has said something newer meanwhile. */
  async catchUp() {
    if (!this.isSaved) return;
    const state = await this.fetched();
    if (!state || !this.isSaved || state.version <= this.version) return;
    this.took(state);
    this.on.refreshed(state, null);
  }
}
