// How things are shown: elements made of text alone, verdicts, findings, the worked sum.

/** An element with attributes and children; texts stay texts, and null is left out. */
export function el(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return element;
}

/** Opens a picture by itself, as wide as it is drawn: beside others it may be shown so small that it is a card. */
export function large(picture) {
  if (!picture.src) return null;
  const address = picture.src.startsWith("blob:") ? picture.src : `${picture.src}&picture=sheet`;
  return el("a", { href: address, target: "_blank", rel: "noopener" }, "Open it large");
}

/** Says something to who looks and to who listens. */
export function tell(text) {
  const told = document.getElementById("told");
  told.textContent = text;
  told.classList.add("shown");
  clearTimeout(tell.timer);
  tell.timer = setTimeout(() => told.classList.remove("shown"), 2500);
}

const VERDICTS = {
  "holds": ["holds", "Holds"],
  "holds-with-cautions": ["cautions", "Holds with cautions"],
  "fails": ["fails", "Fails"],
};

const SHAPES = {
  holds: ["M2 10a8 8 0 1 0 16 0a8 8 0 1 0-16 0z", "M6 10.5l3 3 5.5-6.5"],
  cautions: ["M10 1.5L19 18H1z", "M10 7v5M10 14.2v1.6"],
  fails: ["M2.5 2.5h15v15h-15z", "M6.5 6.5l7 7M13.5 6.5l-7 7"],
  note: ["M2 10a8 8 0 1 0 16 0a8 8 0 1 0-16 0z", "M10 9v5.5M10 5.6v1.6"],
};

/** A mark told apart by its shape: a disc with a tick, a triangle, a square with a cross, a disc with an i. */
export function mark(kind) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", "0 0 20 20");
  svg.setAttribute("class", `mark ${kind}`);
  svg.setAttribute("aria-hidden", "true");
  SHAPES[kind].forEach((d, index) => {
    const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
    path.setAttribute("d", d);
    path.setAttribute("class", index === 0 ? "shape" : "sign");
    svg.append(path);
  });
  return svg;
}

/** A verdict: its mark, and its word where the line does not begin with it. */
export function verdict(name, say) {
  const [kind, word] = VERDICTS[name] ?? ["note", name];
  return el("span", { class: `verdict ${kind}` }, mark(kind), say.startsWith(`${word}:`) ? null : word);
}

const WEIGHTS = { failure: "fails", caution: "cautions", note: "note" };

/** Which mark a finding carries. */
export const markOf = (weight) => WEIGHTS[weight] ?? "note";

/** The worked sum: its lines in order; a long one may be scrolled, by the keyboard too. */
export function working(lines, scrolls = false) {
  const region = scrolls ? { tabindex: "0", "aria-label": "Worked sum" } : {};
  return el("div", { class: "working" }, el("h3", {}, "Worked sum"), el("ol", region, lines.map((line) => el("li", {}, line))));
}

const number = (value) => {
  if (value === null) return "never";
  if (typeof value !== "number") return String(value);
  return Number.isInteger(value) && Math.abs(value) < 1e15 ? String(value) : String(Number(value.toPrecision(6)));
};

/** Figures with plain values, as a table; what is deeper is in the JSON. */
export function figures(values, caption) {
  const plain = Object.entries(values).filter(([, value]) => typeof value !== "object" || value === null);
  if (plain.length === 0) return null;
  const body = plain.map(([name, value]) => el("tr", {}, el("th", { scope: "row" }, name), el("td", {}, number(value))));
  return el("details", { class: "figures" }, el("summary", {}, caption),
    el("table", {}, el("caption", {}, `${caption}, in SI; the end of a name is its unit of measure`), el("tbody", {}, body)));
}

/** What a remedy says beyond its amount: whether trying it out helped. */
export function remedyNote(remedy) {
  if (remedy.verified === true) return "Tried out: it mends this.";
  if (remedy.verified === false) return remedy.remains ? `Tried out; ${remedy.remains}.` : "Tried out; it does not mend all of it.";
  return null;
}

/** Asks the service; an answer, or what is wrong with the asking. Throws when it is out of reach. */
export async function ask(path, options = {}) {
  const response = await fetch(path, { ...options, headers: { Accept: "application/json", ...options.headers } });
  const body = await response.json();
  return response.ok ? { answer: body } : { problem: body };
}
