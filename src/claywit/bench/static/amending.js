// Amending a locked reading: what is typed of it outlives the page until it is recorded, or left.
import { same } from "./queue.js";
import { read, show } from "./reading.js";
import { Typed } from "./typed.js";
import { goOn, onSubmit, parsed, post, say } from "./wire.js";

export class Amending {
  constructor({ draft, sections, entered, state, version }) {
    Object.assign(this, { draft, sections, entered, state, version });
    this.forms = new Map([...sections].map(([name, section]) => [name, section.querySelector(".amending")]).filter(([, form]) => form));
    if (this.forms.size === 0) return;
    this.typed = new Typed("amend", {
      base: `/piece/${draft}`,
      fields: () => Object.fromEntries([...this.forms.keys()].map((name) => [name, this.said(name)])),
      put: (part) => Object.entries(part).forEach(([name, said]) => this.put(name, said)),
      back: (part) => this.back(Object.keys(part)),
    });
    for (const name of this.forms.keys()) this.wire(name);
  }

  /** Return whether a reading stands open to be changed. */
  isOpen(name) {
    return this.forms.get(name)?.hidden === false;
  }

  locked(name) {
    return this.state().readings[name] ?? null;
  }

  /** Return the reading and the reason as they are typed, where they say something new. */
  said(name) {
    if (!this.isOpen(name)) return null;
    const reading = read(this.sections.get(name), this.locked(name));
    const reason = this.forms.get(name).elements.reason.value;
    return reason || !same(reading, this.locked(name)) ? [JSON.stringify(reading), reason] : null;
  }

  put(name, said) {
    if (!said && !this.isOpen(name)) return;
    this.open(name, Boolean(said));
    this.entered[name] = said ? parsed(said[0]) : this.locked(name);
    show(this.sections.get(name), this.entered[name]);
    this.forms.get(name).elements.reason.value = said?.[1] ?? "";
  }

  back(names) {
    const labels = names.map((name) => this.sections.get(name).dataset.label).join(", ");
    say(`Typed before, and not recorded yet: ${labels}.`);
  }

  /** Something of an open reading was entered. */
  changed(name) {
    if (this.isOpen(name)) this.typed.changed();
  }

  open(name, isOpen) {
    this.sections.get(name).querySelector(".answers").disabled = !isOpen;
    this.forms.get(name).hidden = !isOpen;
  }

  wire(name) {
    const section = this.sections.get(name);
    const form = this.forms.get(name);
    const begins = section.querySelector('[data-do="amend"]');
    begins.addEventListener("click", () => {
      this.open(name, true);
      form.scrollIntoView({ block: "nearest" });
      const fields = section.querySelector(".answers");
      (fields.querySelector("input:checked") ?? fields.querySelector("input")).focus(); // last: it stays in sight
    });
    form.elements.reason.addEventListener("input", () => this.changed(name));
    form.querySelector('[data-do="leave"]').addEventListener("click", () => {
      this.put(name, null);
      this.typed.changed();
      begins.focus();
    });
    onSubmit(form, () => this.record(name));
  }

  async record(name) {
    const reading = read(this.sections.get(name), this.locked(name));
    const reason = this.forms.get(name).elements.reason.value;
    say("Recording …");
    await post(`/piece/${this.draft}/amend`, { version: this.version(), node: name, reading, reason });
    this.open(name, false);
    await this.typed.settle();
    goOn({ said: "The amendment is recorded, with its reason." });
  }
}
