// What is typed into a form and not sent yet outlives a reload, a closed tab and a crash: the bench
// keeps it, and the browser keeps what the bench has not got yet.
import { bare, parsed, post, say } from "./wire.js";

const PAUSE = 200; // milliseconds without a key before it goes to the bench
const RETRY = 1500;
export const AGAIN = "What you typed before stands here again. It is not sent yet.";
const ELSEWHERE = "This was sent, or taken back, in another tab. Load the page again to see how it stands.";

const alike = (one, other) => JSON.stringify(one ?? null) === JSON.stringify(other ?? null);

/** What was typed into a form, by field: a list of texts, or null where it says nothing of its own. */
export class Typed {
  /**
   * *fields* returns what the form says now, *stood* what it said before anybody typed; *put* writes a part of that into it;
   * *told* is called after each change, *back* once something that was typed before stands there again.
   */
  constructor(name, { base = "", fields, stood = fields, put, told = () => {}, back = () => say(AGAIN) }) {
    Object.assign(this, { name, fields, put, told, back });
    this.address = `${base}/typed`;
    this.store = `claywit-typed${base}/${name}`;
    this.before = this.left(); // at once: a page that draws itself says that it changed
    this.begin(stood());
    this.channel = new BroadcastChannel(this.store);
    this.channel.onmessage = ({ data }) => this.heard(data);
    this.ready = this.bring();
  }

  /** What the form says now, or *stood* in it, is its own; what is typed beyond that is kept. */
  begin(stood = this.fields()) {
    this.own = stood;
    this.kept = bare(this.own);
  }

  /** Return the fields that say something else than in *known*. */
  since(known) {
    return bare(Object.fromEntries(Object.entries(this.fields()).filter(([name, said]) => !alike(said, known[name]))));
  }

  get isNew() {
    return Object.keys(this.since(this.own)).length > 0;
  }

  /** Keep what changed: here at once, at the bench after a pause. */
  changed() {
    this.hold();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.send(), PAUSE);
    this.told();
  }

  /** Keep what the bench has not got yet where a crash does not reach it. */
  hold() {
    const left = { ...this.before, ...this.since(this.kept) };
    if (Object.keys(left).length) localStorage.setItem(this.store, JSON.stringify(left));
    else localStorage.removeItem(this.store);
  }

  send() {
    const part = this.since(this.kept);
    if (this.sending || Object.keys(part).length === 0) return;
    this.sending = this.deliver(part).then((again) => {
      this.sending = null;
      this.hold();
      if (again !== null) this.timer = setTimeout(() => this.send(), again);
    });
  }

  /** Send a part; return after how many milliseconds to go on, null for not before the next letter. */
  async deliver(part) {
    const fields = Object.fromEntries(Object.entries(part).map(([name, said]) => [name, alike(said, this.own[name]) ? null : said]));
    try {
      await post(this.address, { form: this.name, fields });
    } catch (wrong) {
      if (wrong.status === 0 || wrong.status === 403 || wrong.status === 408 || wrong.status >= 500) return RETRY;
      say(`${wrong.message} What you type is kept by this browser alone.`, true);
      return null;
    }
    Object.assign(this.kept, part);
    this.channel.postMessage(part);
    return 0;
  }

  /** Write what was typed before into the form, but not over what was typed meanwhile. */
  async bring() {
    const { fields: held = {}, hidden } = await this.held();
    const part = hidden ? bare() : bare({ ...held, ...this.before }); // what this browser kept is hidden too
    for (const name of Object.keys(this.since(this.own))) delete part[name];
    for (const [name, said] of Object.entries(held)) if (name in this.own) this.kept[name] = said;
    if (hidden) say(hidden);
    else this.before = {};
    this.put(part);
    this.hold();
    if (this.isNew) this.back(part);
    this.send();
    this.told();
  }

  /** Return what the bench kept, or why it is hidden. */
  async held() {
    try {
      const response = await fetch(`${this.address}?form=${encodeURIComponent(this.name)}`);
      const told = parsed(await response.text());
      return response.ok ? told : {};
    } catch {
      return {};
    }
  }

  /** Return what an earlier page could not send to the bench. */
  left() {
    try {
      return parsed(localStorage.getItem(this.store) || "{}");
    } catch {
      return {};
    }
  }

  /** Return once the bench has what the form says now. */
  async settle() {
    clearTimeout(this.timer);
    await this.sending;
    this.send();
    await this.sending;
  }

  /** Another tab typed into the same form, or sent it. */
  heard(part) {
    if (!part) {
      say(ELSEWHERE);
      return;
    }
    Object.assign(this.kept, part);
    this.put(part);
    this.told();
  }

  /** It was sent, or is taken back. */
  async forget() {
    clearTimeout(this.timer);
    await this.sending;
    this.before = {};
    this.begin();
    this.hold();
    this.told();
    await post(this.address, { form: this.name, fields: null }, { keepalive: true }).catch(() => {}); // brought back, it can be taken back again
    this.channel.postMessage(null);
  }
}
