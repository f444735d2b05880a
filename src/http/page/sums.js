// Every single sum as a small live form, made from the list that the service gives.

import { answerLinks, linkRows } from "./links.js";
import { ask, el, figures, large, mark, verdict, working } from "./show.js";

const WAIT_MS = 180;

const plainNumber = (value) => (Math.abs(value) >= 1e6 || (value !== 0 && Math.abs(value) < 1e-3) ? value.toExponential().replace("e+", "e") : String(value));

/** What may be written into a field: its unit of measure, bounds and default. */
function hint(parameter) {
  const parts = [parameter.says];
  if (parameter.list) parts.push("items apart by commas");
  if (parameter.unit) parts.push(`a bare number is in ${parameter.unit}`);
  if (parameter.least !== undefined && parameter.most !== undefined) {
    parts.push(`${plainNumber(parameter.least)} to ${plainNumber(parameter.most)}`);
  }
  if (parameter.default !== undefined) parts.push(`left out, it is ${parameter.default}`);
  return `${parts.join("; ")}.`;
}

function input(parameter, id) {
  const shared = { id, name: parameter.name, "aria-describedby": `${id}-hint ${id}-fault` };
  const words = parameter.choices ?? (parameter.kind === "flag" ? ["yes", "no"] : null);
  if (words) {
    const none = parameter.required ? "choose" : `left out${parameter.default ? `: ${parameter.default}` : ""}`;
    return el("select", shared, el("option", { value: "" }, none), words.map((word) => el("option", { value: word }, word)));
  }
  return el("input", { ...shared, type: "text", autocomplete: "off", spellcheck: "false",
    placeholder: parameter.required ? parameter.example : parameter.default ?? `such as ${parameter.example}` });
}

function field(sum, parameter) {
  const id = `${sum.name}-${parameter.name}`;
  return el("p", { class: "field" },
    el("label", { for: id }, parameter.name.replaceAll("_", " "), parameter.required ? null : el("span", { class: "optional" }, " optional")),
    input(parameter, id),
    el("span", { class: "fault", id: `${id}-fault` }),
    el("span", { class: "hint", id: `${id}-hint` }, hint(parameter)));
}

/** One sum: its form and its answer, asked again as fields change. */
class Sum {
  constructor(sum) {
    this.sum = sum;
    this.built = false;
    this.details = el("details", { class: "sum", id: `sum-${sum.name}` },
      el("summary", {}, el("span", { class: "title" }, sum.title), el("span", { class: "says" }, sum.says)));
    this.details.addEventListener("toggle", () => { if (this.details.open) this.open(); });
  }

  /** Builds the form, with the example of the list or what a link says. */
  open(query) {
    if (!this.built) {
      this.built = true;
      this.build();
      this.fill(query ?? this.sum.example);
    } else if (query !== undefined) {
      this.fill(query);
    }
  }

  build() {
    const { sum } = this;
    this.form = el("form", { novalidate: "", "aria-label": sum.title }, sum.parameters.map((parameter) => field(sum, parameter)));
    this.line = el("p", { class: "line", role: "status", "aria-live": "polite" });
    this.rest = el("div", { class: "rest" });
    const reset = el("button", { type: "button" }, "Example again");
    reset.addEventListener("click", () => this.fill(sum.example));
    this.form.append(el("p", { class: "tools" }, reset));
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.reckon(); });
    this.form.addEventListener("input", () => { clearTimeout(this.timer); this.timer = setTimeout(() => this.reckon(), WAIT_MS); });
    this.details.append(el("div", { class: "sheet" },
      el("div", { class: "asks" }, el("p", { class: "formula" }, el("span", {}, "Formula "), el("span", { class: "written" }, sum.formula)), this.form),
      el("div", { class: "answers" }, this.line, this.rest)));
  }

  fill(query) {
    const values = new URLSearchParams(query);
    for (const { name } of this.sum.parameters) this.form.elements.namedItem(name).value = values.get(name) ?? "";
    this.reckon();
  }

  /** The query of what stands in the form; empty fields are left out. */
  query() {
    const filled = this.sum.parameters
      .map(({ name }) => [name, this.form.elements.namedItem(name).value.trim()])
      .filter(([, value]) => value !== "");
    return filled.map(([name, value]) => `${name}=${encodeURIComponent(value)}`).join("&");
  }

  async reckon() {
    clearTimeout(this.timer);
    this.running?.abort();
    const running = (this.running = new AbortController());
    const query = this.query();
    try {
      const { answer, problem } = await ask(`/v1/sums/${this.sum.name}?${query}`, { signal: running.signal });
      if (running.signal.aborted) return;
      this.faults(problem?.faults ?? []);
      if (answer) this.show(answer, query);
      else this.refuse(problem);
    } catch (error) {
      if (error.name !== "AbortError") this.refuse({ detail: "The service cannot be reached." });
    }
  }

  /** Faults beside the fields they are of. */
  faults(faults) {
    for (const { name } of this.sum.parameters) {
      const control = this.form.elements.namedItem(name);
      const found = faults.filter((fault) => fault.parameter === name);
      control.setAttribute("aria-invalid", String(found.length > 0));
      this.form.querySelector(`[id="${control.id}-fault"]`).textContent =
        found.map((fault) => `Found ${fault.found}; expected ${fault.expected}.`).join(" ");
    }
  }

  refuse(problem) {
    const count = problem.faults_total ?? 0;
    const what = count > 0 ? `${count === 1 ? "One field needs" : `${count} fields need`} another look.` : problem.detail ?? problem.title;
    this.line.replaceChildren(el("span", { class: "verdict note" }, mark("note"), "No answer"), el("span", { class: "say" }, what));
    this.rest.classList.add("stale");
  }

  show(answer, query) {
    const { sum } = this;
    this.line.replaceChildren(verdict(answer.verdict, answer.say), el("span", { class: "say" }, answer.say));
    const picture = el("img", { class: "picture", src: `/v1/sums/${sum.name}.svg?${query}`, alt: answer.say, width: "800", height: "600", loading: "lazy" });
    const open = this.rest.querySelector("details.links")?.open ?? false;
    const opened = this.rest.querySelector("details.shows")?.open ?? false;
    this.rest.classList.remove("stale");
    this.rest.replaceChildren(
      ...(answer.findings ?? []).map((finding) => el("p", { class: "found" }, finding.say, finding.remedy ? `; ${finding.remedy.say}` : "", ".")),
      working(answer.working),
      ...[figures(answer.figures, "Figures")].filter(Boolean),
      el("details", { class: "shows", ...(opened ? { open: "" } : {}) }, el("summary", {}, "Picture"), picture, el("p", { class: "hint" }, large(picture))),
      linkRows("Links to copy", answerLinks(`/v1/sums/${sum.name}`, query, answer.say, `#sums/${sum.name}?${query}`), open));
  }
}

/** All sums of the list, and the field that finds among them. */
export async function sums() {
  const { answer } = await ask("/v1/sums");
  const all = answer.sums.map((sum) => new Sum(sum));
  const byName = new Map(all.map((one) => [one.sum.name, one]));
  document.getElementById("sums").replaceChildren(...all.map((one) => one.details));
  const find = document.getElementById("find");
  const found = document.getElementById("found");
  const filter = () => {
    const words = find.value.toLowerCase().split(/\s+/).filter(Boolean);
    let count = 0;
    for (const { sum, details } of all) {
      const text = `${sum.name} ${sum.title} ${sum.says}`.toLowerCase();
      details.hidden = !words.every((word) => text.includes(word));
      if (!details.hidden) count += 1;
    }
    found.textContent = words.length === 0 ? `${all.length} sums` : `${count} of ${all.length} sums`;
  };
  find.addEventListener("input", filter);
  filter();
  return {
    /** Opens a sum, with the fields of a link where it has any. */
    open(name, query) {
      const one = byName.get(name);
      if (!one) return;
      find.value = "";
      filter();
      one.details.open = true;
      one.open(query || undefined);
      one.details.scrollIntoView({ block: "start" });
      one.details.querySelector("summary").focus({ preventScroll: true });
    },
  };
}
