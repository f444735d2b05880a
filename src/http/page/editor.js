// A text with the numbers of its lines, and notes beside the lines that they are about.

import { el, mark } from "./show.js";
import { lineOf } from "./document.js";

/** From this width on, notes stand beside their lines; on narrower screens above the text, in the same order. */
const WIDE = matchMedia("(min-width: 68rem)");
const GAP = 8;

export class Editor {
  /** Into `root`; `changed` is called as the text changes. */
  constructor(root, labelledBy, changed) {
    this.text = el("textarea", { "aria-labelledby": labelledBy, "aria-describedby": "notes-count", wrap: "off", spellcheck: "false", autocapitalize: "off", autocomplete: "off" });
    this.gutter = el("div", { class: "gutter", "aria-hidden": "true" });
    this.strips = el("div", { class: "strips", "aria-hidden": "true" });
    this.notes = el("ol", { class: "notes", "aria-label": "Findings, each with its place in the document" });
    this.count = el("p", { class: "hint", id: "notes-count", role: "status" });
    this.body = el("div", { class: "lines" }, this.gutter, el("div", { class: "text" }, this.strips, this.text), this.notes);
    // Notes come first where they are read one after another.
    this.body.prepend(this.notes);
    root.replaceChildren(this.count, this.body);
    this.marked = [];
    this.before = [];
    this.text.addEventListener("input", () => { this.number(); changed(); });
    this.changed = changed;
    WIDE.addEventListener("change", () => this.place());
    new ResizeObserver(() => this.place()).observe(this.body);
  }

  get value() { return this.text.value; }

  /** Another text, by `undo` given back again. */
  replace(value) {
    if (this.text.value !== "") this.before.push(this.text.value);
    this.text.value = value;
    this.number();
    this.changed();
  }

  /** What a person sees change, and can take back with the keyboard: only what differs is written. */
  edit(value) {
    const old = this.text.value;
    this.before.push(old);
    this.write(value);
  }

  undo() {
    if (this.before.length > 0) this.write(this.before.pop());
  }

  write(value) {
    const old = this.text.value;
    if (old === value) return;
    const least = Math.min(old.length, value.length);
    let begin = 0;
    while (begin < least && old[begin] === value[begin]) begin += 1;
    let end = 0;
    while (end < least - begin && old.at(-1 - end) === value.at(-1 - end)) end += 1;
    const middle = value.slice(begin, value.length - end);
    this.text.focus({ preventScroll: true });
    this.text.setSelectionRange(begin, old.length - end);
    // The one way to write into a field that keeps its own history; where it is gone, the text still changes.
    const done = document.execCommand(middle === "" ? "delete" : "insertText", false, middle);
    if (!done || this.text.value !== value) {
      this.text.value = value;
      this.number();
      this.changed();
    }
    this.select(begin, begin + middle.length);
  }

  /** Selects a part of the text and brings it into view. */
  select(from, to) {
    this.text.focus({ preventScroll: true });
    this.text.setSelectionRange(from, to);
    // A letter of the fixed pitch is about three fifths of its size wide.
    const column = from - (this.value.lastIndexOf("\n", from - 1) + 1);
    this.text.scrollLeft = Math.max(0, column * 0.6 * Number.parseFloat(getComputedStyle(this.text).fontSize) - this.text.clientWidth / 3);
    const top = this.text.getBoundingClientRect().top + scrollY + lineOf(this.value, from) * this.lineHeight();
    scrollTo({ top: Math.max(0, top - innerHeight / 3), behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
  }

  lineHeight() {
    return Number.parseFloat(getComputedStyle(this.text).lineHeight);
  }

  /** Numbers the lines anew. */
  number() {
    const count = this.value.split("\n").length;
    this.text.rows = count + 1;
    if (this.gutter.childElementCount === count) return;
    this.gutter.replaceChildren(...Array.from({ length: count }, (_, index) => el("div", {}, String(index + 1))));
  }

  /**
   * Notes beside lines: each `{ from, to, kind, body }`, where `body` is the element that says it; `said` is how many there are, in
   * words.
   */
  annotate(notes, said) {
    this.number();
    const sorted = notes.map((note, index) => ({ ...note, index, line: lineOf(this.value, note.from) }));
    sorted.sort((a, b) => a.line - b.line || a.index - b.index);
    this.marked = sorted.map((note) => {
      const item = el("li", { class: `note ${note.kind}` }, el("span", { class: "place" }, mark(note.kind), `Line ${note.line + 1}`), note.body);
      const strip = el("div", { class: `strip ${note.kind}` });
      const on = (lit) => strip.classList.toggle("lit", lit);
      item.addEventListener("pointerenter", () => on(true));
      item.addEventListener("pointerleave", () => on(false));
      item.addEventListener("focusin", () => on(true));
      item.addEventListener("focusout", () => on(false));
      item.addEventListener("toggle", () => this.place(), true);
      return { ...note, item, strip };
    });
    this.notes.replaceChildren(...this.marked.map(({ item }) => item));
    this.strips.replaceChildren(...this.marked.map(({ strip }) => strip));
    for (const line of this.gutter.children) line.removeAttribute("class");
    for (const { line, kind } of [...this.marked].reverse()) this.gutter.children[line]?.setAttribute("class", kind);
    this.count.textContent = said;
    this.place();
  }

  /** Puts each note beside its line, or below the note before where that reaches down so far. */
  place() {
    const height = this.lineHeight();
    let free = 0;
    for (const { item, strip, line } of this.marked) {
      strip.style.top = `${line * height}px`;
      if (!WIDE.matches) {
        item.style.top = "";
        continue;
      }
      const top = Math.max(line * height, free);
      item.style.top = `${top}px`;
      free = top + item.offsetHeight + GAP;
    }
    this.notes.style.minHeight = WIDE.matches && free > 0 ? `${free}px` : "";
  }
}
