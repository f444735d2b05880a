// The plan: a document, the question asked of it, the answer beside its places.

import { Editor } from "./editor.js";
import { nearest, patched, places, pointerOf, names } from "./document.js";
import { answerLinks, linkRows, pack, unpack } from "./links.js";
import { ask, el, figures, large, mark, markOf, remedyNote, tell, verdict, working } from "./show.js";

const WAIT_MS = 350;
/** Longer links are cut by many programs. */
const LONG_LINK = 8000;

const QUESTIONS = { "plan": "the whole plan", "flow-balance": "the flow balance", "fill-level": "the fill level", "heat-budget": "the heat budget" };

const capital = (text) => text[0].toUpperCase() + text.slice(1);
const plural = (count, one) => `${count} ${one}${count === 1 ? "" : "s"}`;

/** What the document's state is, in words: how many findings of which weight. */
function counted(findings) {
  const of = (weight) => findings.filter((finding) => finding.weight === weight).length;
  const words = [["failure", "failure"], ["caution", "caution"], ["note", "note"]]
    .map(([weight, word]) => [of(weight), word]).filter(([count]) => count > 0).map(([count, word]) => plural(count, word));
  return words.length === 0 ? "No findings." : `Findings: ${words.join(", ")}.`;
}

class PlanView {
  constructor(examples) {
    this.root = document.getElementById("answer");
    this.more = document.getElementById("plan-more");
    this.question = document.getElementById("question");
    this.example = document.getElementById("example");
    this.undo = document.getElementById("undo");
    this.line = el("p", { class: "line", role: "status", "aria-live": "polite" });
    this.left = el("div", { class: "rest" });
    this.figure = el("figure", { class: "shown" });
    this.root.replaceChildren(this.line, el("div", { class: "sheet" }, this.left, this.figure));
    this.editor = new Editor(document.getElementById("editor"), "document-title", () => this.later());
    this.example.replaceChildren(el("option", { value: "" }, "A document of your own"),
      ...examples.map(({ title, link }) => el("option", { value: link }, title.replace(/, an invented world\b/, "").replace(/: an invented world$/, ""))));
    this.example.addEventListener("change", () => this.load(this.example.value));
    this.question.addEventListener("change", () => this.now());
    this.undo.addEventListener("click", () => this.editor.undo());
    this.urls = [];
  }

  async load(link) {
    if (link === "") return this.editor.text.focus();
    const response = await fetch(link);
    if (!response.ok) return tell("The example cannot be read.");
    this.editor.replace(await response.text());
    this.now();
  }

  /** What a link says, or the first example. */
  async open(query) {
    if (query.get("ask") in QUESTIONS) this.question.value = query.get("ask");
    if (query.has("z")) {
      try {
        const text = await unpack(query.get("z"));
        if (text !== this.editor.value) this.editor.replace(text);
        this.example.value = "";
        return this.now();
      } catch {
        tell("The document in the link is damaged.");
      }
    }
    if (this.editor.value === "") {
      this.example.selectedIndex = Math.min(1, this.example.options.length - 1);
      await this.load(this.example.value);
    }
  }

  later() {
    this.undo.disabled = this.editor.before.length === 0;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.now(), WAIT_MS);
  }

  async now() {
    clearTimeout(this.timer);
    this.undo.disabled = this.editor.before.length === 0;
    this.running?.abort();
    const running = (this.running = new AbortController());
    const [text, question] = [this.editor.value, this.question.value];
    this.root.setAttribute("aria-busy", "true");
    try {
      const { answer, problem } = await this.asked(question, text, running.signal);
      if (running.signal.aborted) return;
      if (problem) this.refuse(problem, text);
      else await this.show(answer, question, text, running.signal);
    } catch (error) {
      if (error.name !== "AbortError") this.refuse({ detail: "The service cannot be reached." }, text);
    } finally {
      if (this.running === running) this.root.removeAttribute("aria-busy");
    }
  }

  asked(question, text, signal) {
    return ask(`/v1/${question}`, { method: "POST", body: text, headers: { "Content-Type": "application/json" }, signal });
  }

  /** A picture of the answer: made by the service, shown as a picture that can run nothing. */
  async picture(question, text, signal, alt) {
    const response = await fetch(`/v1/${question}.svg`, { method: "POST", body: text, headers: { "Content-Type": "application/json" }, signal });
    if (!response.ok) return el("p", { class: "hint" }, "There is no picture of this.");
    const url = URL.createObjectURL(await response.blob());
    this.urls.push(url);
    return el("img", { class: "picture", src: url, alt, width: "800", height: "600" });
  }

  async show(answer, question, text, signal) {
    const alt = `Picture of ${QUESTIONS[question]}: ${answer.say}`;
    const [picture, packed] = await Promise.all([this.picture(question, text, signal, alt), pack(text)]);
    if (signal.aborted) return;
    const fresh = picture.src;
    for (const url of this.urls) if (url !== fresh) URL.revokeObjectURL(url);
    this.urls = this.urls.filter((url) => url === fresh);
    this.left.classList.remove("stale");
    this.figure.classList.remove("stale");
    this.more.classList.remove("stale");
    this.line.replaceChildren(verdict(answer.verdict, answer.say), el("span", { class: "say" }, answer.say));
    this.left.replaceChildren(working(answer.working, true));
    this.figure.replaceChildren(picture, el("figcaption", { class: "hint" }, `${capital(QUESTIONS[question])}, as an overlay or a page gets it. `, large(picture)));
    const found = places(text);
    const notes = answer.findings.map((finding) => this.findingNote(finding, found, text));
    this.editor.annotate(notes, counted(answer.findings));
    this.below(answer, question, text, packed);
  }

  /** What stands below the document: figures, further pictures, links, the whole answer. */
  below(answer, question, text, packed) {
    const opened = new Set([...this.more.querySelectorAll("details[open]")].map((one) => one.dataset.part));
    const part = (name, details) => {
      details.dataset.part = name;
      if (opened.has(name)) details.open = true;
      return details;
    };
    const query = `z=${packed}`;
    const links = answerLinks(`/v1/${question}`, query, answer.say, `#plan?${query}&ask=${question}`);
    const rows = part("links", linkRows("Links to copy", links));
    const long = links[0].text.length;
    if (long > LONG_LINK) rows.append(el("p", { class: "hint" }, `These links are ${long} letters long; many programs cut them. Send the document by POST instead.`));
    const further = el("details", { class: "shows" }, el("summary", {}, "Pictures of the other questions"));
    const fill = async () => {
      if (!further.open || further.dataset.filled) return;
      further.dataset.filled = "yes";
      const others = Object.keys(QUESTIONS).filter((other) => other !== question);
      const pictures = await Promise.all(others.map((other) => this.picture(other, text, undefined, `Picture of ${QUESTIONS[other]}`)));
      further.append(el("div", { class: "pictures" }, pictures.map((picture, index) =>
        el("figure", {}, picture, el("figcaption", { class: "hint" }, `${capital(QUESTIONS[others[index]])}. `, large(picture))))));
    };
    further.addEventListener("toggle", fill);
    const whole = el("details", { class: "whole" }, el("summary", {}, "The whole answer as JSON"),
      el("pre", { tabindex: "0", role: "region", "aria-label": "The whole answer as JSON" }, JSON.stringify(answer, null, 2)));
    const key = answer.key_figures ? figures(answer.key_figures, "Key figures") : null;
    this.more.replaceChildren(...[key && part("figures", key), part("pictures", further), rows, part("whole", whole)].filter(Boolean));
    fill();
  }

  go(pointer, found) {
    const place = nearest(found, pointer);
    return () => this.editor.select(place.key, place.to);
  }

  goButton(where, found) {
    const button = el("button", { type: "button", class: "go" }, where === "" ? "the document" : where);
    button.setAttribute("aria-label", `Go to ${where === "" ? "the document" : where}`);
    button.addEventListener("click", this.go(where, found));
    return button;
  }

  findingNote(finding, found, text) {
    const place = nearest(found, finding.where ?? "");
    const body = el("div", {}, el("p", {}, el("strong", {}, `${capital(finding.weight)}: `), finding.say, "."),
      el("p", { class: "code" }, this.goButton(finding.where ?? "", found), " ", el("code", {}, finding.code)));
    if (finding.remedy) body.append(this.remedy(finding.remedy, text));
    if (finding.also?.length > 0) {
      body.append(el("details", {}, el("summary", {}, `${plural(finding.also.length, "finding")} of the same cause`),
        el("ul", {}, finding.also.map((one) => el("li", {}, one.say, ". ", this.goButton(one.where ?? "", found))))));
    }
    return { from: place.key, to: place.to, kind: markOf(finding.weight), body };
  }

  remedy(remedy, text) {
    const said = remedyNote(remedy);
    const box = el("div", { class: "remedy" }, el("p", {}, "Remedy: ", remedy.say, "."), said ? el("p", { class: "hint" }, said) : null);
    if (remedy.patch) {
      const button = el("button", { type: "button", "aria-label": `Apply: ${remedy.say}` }, "Apply");
      button.addEventListener("click", () => {
        if (this.editor.value !== text) return tell("The document has changed since.");
        this.editor.edit(patched(text, remedy.patch));
        tell(`Applied: ${remedy.say}.`);
      });
      box.append(button);
    }
    return box;
  }

  refuse(problem, text) {
    const faults = problem.faults ?? [];
    const many = problem.faults_total ?? 0;
    const say = many > 0 ? `${plural(many, "fault")} in the document; the first: ${this.faultText(faults[0])}` : `${problem.title ?? "No answer"}: ${problem.detail}.`;
    this.line.replaceChildren(el("span", { class: "verdict fails" }, mark("fails"), many > 0 || problem.line ? "Cannot be read" : "No answer"), el("span", { class: "say" }, say));
    for (const part of [this.left, this.figure, this.more]) part.classList.add("stale");
    const found = places(text);
    const notes = faults.map((fault) => this.faultNote(fault, found, text));
    if (problem.line) {
      const from = text.split("\n").slice(0, problem.line - 1).reduce((sum, line) => sum + line.length + 1, 0) + problem.column - 1;
      const at = Math.max(0, Math.min(from, text.length));
      const button = el("button", { type: "button", class: "go" }, `line ${problem.line}, column ${problem.column}`);
      button.addEventListener("click", () => this.editor.select(at, Math.min(at + 1, text.length)));
      notes.push({ from: at, to: at, kind: "fails", body: el("div", {}, el("p", {}, el("strong", {}, "Not JSON: "), problem.detail, "."), el("p", { class: "code" }, button)) });
    }
    this.editor.annotate(notes, many > notes.length ? `${plural(many, "fault")}, of which ${notes.length} are listed.` : plural(Math.max(many, notes.length), "fault"));
  }

  faultText(fault) {
    return `found ${fault.found}, expected ${fault.expected}${fault.near ? `; did you mean “${fault.near}”?` : "."}`;
  }

  faultNote(fault, found, text) {
    const pointer = fault.pointer ?? "";
    const place = nearest(found, pointer);
    const body = el("div", {}, el("p", {}, el("strong", {}, "Fault: "), this.faultText(fault)),
      el("p", { class: "code" }, this.goButton(pointer, found), " ", el("code", {}, fault.code)));
    const exact = found.get(pointer);
    if (fault.near && fault.code === "unknown-field" && exact && exact.key < exact.from) {
      const name = JSON.stringify(names(pointer).at(-1));
      const spelt = text.slice(exact.key, exact.from).startsWith(name);
      const taken = found.has(pointerOf([...names(pointer).slice(0, -1), fault.near]));
      if (spelt && !taken) {
        const button = el("button", { type: "button" }, `Write “${fault.near}”`);
        button.addEventListener("click", () => {
          if (this.editor.value !== text) return tell("The document has changed since.");
          this.editor.edit(text.slice(0, exact.key) + JSON.stringify(fault.near) + text.slice(exact.key + name.length));
        });
        body.append(button);
      }
    }
    return { from: place.key, to: place.to, kind: "fails", body };
  }
}

/** The view of a plan, with the example plans of the service. */
export async function plan() {
  const { answer } = await ask("/examples");
  return new PlanView(answer.examples);
}
