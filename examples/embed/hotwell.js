// Two elements for any page: a single sum as a small calculator, and a plan with its verdict.
//
//   <hotwell-sum name="units-needed" flow="2.5 kg/s" each="300 g/s" service="https://…"><a href="…">…</a></hotwell-sum>
//   <hotwell-plan src="plan.json" service="https://…"><a href="…">…</a></hotwell-plan>
//
// The link inside is what a reader has without the script, and while there is no answer.

(() => {
  "use strict";
  const script = document.currentScript;
  const WAIT_MS = 300;
  const TIMEOUT_MS = 15_000;
  const VERDICTS = { "holds": "✓ Holds", "holds-with-cautions": "! Holds with cautions", "fails": "✕ Fails" };

  const STYLE = `
    :host { display: block; max-width: 44rem; container-type: inline-size; line-height: 1.4;
      font-family: var(--hotwell-font, inherit); color: var(--_ink);
      --_ink: var(--hotwell-ink, #17232b); --_soft: var(--hotwell-soft, #4a5a64); --_ground: var(--hotwell-ground, #fff);
      --_sunk: var(--hotwell-sunk, #f3f6f7); --_edge: var(--hotwell-edge, #73838c); --_accent: var(--hotwell-accent, #0f5566);
      --_good: var(--hotwell-good, #00664a); --_warn: var(--hotwell-warn, #8a5200); --_bad: var(--hotwell-bad, #a8320a); }
    @media (prefers-color-scheme: dark) { :host {
      --_ink: var(--hotwell-ink, #e6edf0); --_soft: var(--hotwell-soft, #a9b8c0); --_ground: var(--hotwell-ground, #18232a);
      --_sunk: var(--hotwell-sunk, #121b21); --_edge: var(--hotwell-edge, #7f8f99); --_accent: var(--hotwell-accent, #6fc3d6);
      --_good: var(--hotwell-good, #4fc79b); --_warn: var(--hotwell-warn, #f0b44c); --_bad: var(--hotwell-bad, #ff8f66); } }
    :host([hidden]), [hidden] { display: none !important; }
    * { box-sizing: border-box; }
    .box { background: var(--_ground); border: 1px solid var(--_edge); border-radius: var(--hotwell-radius, 6px); padding: 0.8em; display: grid; gap: 0.6em; }
    .title { margin: 0; font-weight: 700; }
    form { display: grid; gap: 0.6em; grid-template-columns: repeat(auto-fill, minmax(min(100%, 11em), 1fr)); }
    label { display: block; font-size: 0.9em; font-weight: 600; }
    input, select { font: inherit; color: inherit; width: 100%; min-height: 2.3em; padding: 0.2em 0.5em; background: var(--_sunk); border: 1px solid var(--_edge); border-radius: 4px; }
    input::placeholder { color: var(--_soft); opacity: 1; }
    :focus-visible { outline: 3px solid var(--_accent); outline-offset: 2px; }
    [aria-invalid=true] { border: 2px solid var(--_bad); }
    .fault { color: var(--_bad); font-size: 0.85em; font-weight: 600; overflow-wrap: anywhere; }
    .line { margin: 0; background: var(--_sunk); border-left: 4px solid var(--_edge); padding: 0.5em 0.7em; overflow-wrap: anywhere; font-variant-numeric: tabular-nums; }
    .word { font-weight: 700; margin-right: 0.5em; }
    .holds { color: var(--_good); } .holds-with-cautions { color: var(--_warn); } .fails { color: var(--_bad); }
    ol, ul { margin: 0; padding-left: 1.6em; font-size: 0.92em; color: var(--_soft); }
    img { display: block; width: 100%; height: auto; background: #10202b; border-radius: 4px; }
    summary { cursor: pointer; font-weight: 600; }
    a { color: var(--_accent); }
    .stale { opacity: 0.75; font-style: italic; }`;

  const sheet = new CSSStyleSheet();
  sheet.replaceSync(STYLE);

  /** An element of texts alone: what others wrote is never read as markup. */
  const el = (tag, attributes = {}, ...children) => {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) if (value !== undefined && value !== null) element.setAttribute(name, value);
    element.append(...children.flat().filter((child) => child !== null && child !== undefined));
    return element;
  };

  const lists = new Map();
  /** The list of sums of a service, asked once for all elements. */
  const listOf = (service) => {
    if (!lists.has(service)) {
      const list = getJson(`${service}/v1/sums`).then(({ answer }) => answer.sums);
      // What failed once may be asked again.
      list.catch(() => lists.delete(service));
      lists.set(service, list);
    }
    return lists.get(service);
  };

  const getJson = async (address, options = {}) => {
    const signals = [AbortSignal.timeout(TIMEOUT_MS), options.signal].filter(Boolean);
    const response = await fetch(address, { headers: { Accept: "application/json" }, ...options, signal: AbortSignal.any(signals) });
    const body = await response.json();
    if (response.status >= 500 || response.status === 404) throw new Error(body.title ?? String(response.status));
    return response.ok ? { answer: body } : { problem: body };
  };

  class Hotwell extends HTMLElement {
    connectedCallback() {
      if (!this.shadowRoot) {
        this.attachShadow({ mode: "open" }).adoptedStyleSheets = [sheet];
        this.box = el("div", { class: "box", part: "box" });
        this.box.hidden = true;
        this.link = el("slot");
        this.note = el("p", { class: "fault", role: "status" });
        this.shadowRoot.append(this.box, this.link, this.note);
      }
      this.begin();
    }

    disconnectedCallback() {
      clearTimeout(this.timer);
      this.running?.abort();
    }

    attributeChangedCallback(_name, before, after) {
      if (this.isConnected && this.shadowRoot && before !== after) this.begin();
    }

    /** The address of the service: said here, at the script, or by the link inside. */
    get service() {
      const said = this.getAttribute("service") ?? script?.dataset.service ?? this.querySelector("a")?.origin ?? location.origin;
      return said.replace(/\/$/, "");
    }

    async begin() {
      this.running?.abort();
      const running = (this.running = new AbortController());
      try {
        await this.reckon(running.signal);
        if (!running.signal.aborted) this.tell("");
      } catch {
        if (!running.signal.aborted) this.tell("The calculation cannot be reached.");
      }
    }

    /** What went wrong, beside the link; what was shown before stays, and is seen to be of before. */
    tell(text) {
      this.note.textContent = text;
      this.link.hidden = text === "" && !this.box.hidden;
      this.line?.classList.toggle("stale", text !== "");
    }

    show(...children) {
      this.box.replaceChildren(...children.filter(Boolean));
      this.box.hidden = false;
      this.link.hidden = true;
    }

    lineOf(answer) {
      const word = el("span", { class: `word ${answer.verdict}` }, VERDICTS[answer.verdict] ?? answer.verdict);
      return [word, answer.say.replace(/^(Holds|Fails): /, "")];
    }
  }

  class HotwellSum extends Hotwell {
    static observedAttributes = ["name", "service"];

    async reckon(signal) {
      const link = this.querySelector("a[href]");
      const name = this.getAttribute("name") ?? link?.pathname.split("/").at(-1).replace(/\.\w+$/, "");
      const sum = (await listOf(this.service)).find((one) => one.name === name);
      if (signal.aborted) return;
      if (!sum) throw new Error(`no sum ${name}`);
      if (this.sum !== sum) this.build(sum, new URLSearchParams(link?.search));
      await this.ask(signal);
    }

    /** Fields with what the attributes say, or the link, or the example. */
    build(sum, linked) {
      this.sum = sum;
      const example = new URLSearchParams(sum.example);
      const own = sum.parameters.some(({ name }) => this.hasAttribute(name) || linked.has(name));
      const fields = sum.parameters.map((parameter) => {
        const { name, choices, kind, required } = parameter;
        const words = choices ?? (kind === "flag" ? ["yes", "no"] : null);
        const common = { id: name, name, "aria-describedby": `${name}-fault`, title: parameter.says };
        const input = words
          ? el("select", common, ["", ...words].map((word) => el("option", { value: word }, word || "left out")))
          : el("input", { ...common, autocomplete: "off", spellcheck: "false", placeholder: required ? parameter.example : parameter.default ?? "left out" });
        input.value = this.getAttribute(name) ?? linked.get(name) ?? (own ? "" : example.get(name) ?? "");
        if (this.hasAttribute("readonly")) input.disabled = true;
        return el("div", {}, el("label", { for: name }, name.replaceAll("_", " ")), input, el("span", { class: "fault", id: `${name}-fault` }));
      });
      this.form = el("form", { part: "form", novalidate: "" }, fields);
      this.line = el("p", { class: "line", part: "line", role: "status" });
      this.working = el("ol", { part: "working" });
      this.form.addEventListener("submit", (event) => event.preventDefault());
      this.form.addEventListener("input", () => {
        clearTimeout(this.timer);
        this.timer = setTimeout(() => this.begin(), WAIT_MS);
      });
      this.built = [el("p", { class: "title", part: "title" }, this.getAttribute("heading") ?? sum.title), this.form, this.line, this.working];
    }

    async ask(signal) {
      const filled = [...this.form.elements].filter(({ value }) => value.trim() !== "");
      const query = new URLSearchParams(filled.map(({ name, value }) => [name, value.trim()]));
      const { answer, problem } = await getJson(`${this.service}/v1/sums/${this.sum.name}?${query}`, { signal });
      if (signal.aborted) return;
      for (const input of this.form.elements) {
        const faults = (problem?.faults ?? []).filter(({ parameter }) => parameter === input.name);
        input.setAttribute("aria-invalid", String(faults.length > 0));
        this.form.querySelector(`[id="${input.id}-fault"]`).textContent = faults.map(({ found, expected }) => `Found ${found}; expected ${expected}.`).join(" ");
      }
      if (answer) {
        this.line.replaceChildren(...this.lineOf(answer));
        this.working.replaceChildren(...answer.working.map((line) => el("li", {}, line)));
      } else {
        this.line.textContent = problem.faults ? "A field needs another look." : problem.detail ?? problem.title;
        this.working.replaceChildren();
      }
      if (this.box.hidden || !this.form.isConnected) this.show(...this.built);
    }
  }

  class HotwellPlan extends Hotwell {
    static observedAttributes = ["src", "question", "service"];

    async reckon(signal) {
      const src = this.getAttribute("src");
      if (!src) throw new Error("no src");
      const question = this.getAttribute("question") ?? "plan";
      const response = await fetch(new URL(src, document.baseURI), { signal });
      if (!response.ok) throw new Error(String(response.status));
      const body = await response.text();
      const post = { method: "POST", headers: { "Content-Type": "application/json" }, body, signal };
      const { answer, problem } = await getJson(`${this.service}/v1/${encodeURIComponent(question)}.json`, post);
      if (signal.aborted) return;
      this.line = el("p", { class: "line", part: "line", role: "status" });
      if (problem) {
        const fault = problem.faults?.[0];
        this.line.append(fault ? `${fault.pointer}: found ${fault.found}, expected ${fault.expected}.` : problem.detail ?? problem.title);
        return this.show(this.line);
      }
      this.line.append(...this.lineOf(answer));
      const found = (answer.findings ?? []).filter(({ weight }) => weight !== "note").slice(0, 8);
      const findings = found.length > 0 ? el("ul", { part: "findings" }, found.map(({ say, remedy }) => el("li", {}, say, remedy ? `; ${remedy.say}` : "", "."))) : null;
      const picture = this.hasAttribute("no-picture") ? null : await this.picture(question, post, answer.say);
      if (signal.aborted) return;
      this.show(el("p", { class: "title", part: "title" }, this.getAttribute("heading") ?? answer.title ?? "Plan"), this.line, findings, picture);
    }

    /** The picture as a picture, which can run nothing. */
    async picture(question, post, alt) {
      const response = await fetch(`${this.service}/v1/${encodeURIComponent(question)}.svg`, post);
      if (!response.ok) return null;
      const address = URL.createObjectURL(await response.blob());
      const image = el("img", { src: address, alt, part: "picture" });
      image.addEventListener("load", () => URL.revokeObjectURL(address), { once: true });
      image.addEventListener("error", () => image.remove(), { once: true });
      return image;
    }
  }

  customElements.define("hotwell-sum", HotwellSum);
  customElements.define("hotwell-plan", HotwellPlan);
})();
