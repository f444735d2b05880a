// Asking the service, and what both pages say in the same words.

export const SERVICE = "http://localhost:8080";
/** Longer documents are sent in the body of a QUERY, as links have a limit. */
const LONGEST_LINK = 16_000;
const TIMEOUT_MS = 15_000;

async function pack(text) {
  const stream = new Blob([text]).stream().pipeThrough(new CompressionStream("deflate"));
  const bytes = new Uint8Array(await new Response(stream).arrayBuffer());
  let binary = "";
  for (const byte of bytes) binary += String.fromCharCode(byte);
  return btoa(binary).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

/**
 * Asks the whole plan of a document: `{ answer, tag }`, `{ unchanged: true }` where `tag` still stands (304), or
 * `{ problem }` where the document cannot be read. Throws where there is no service, or it has no time.
 */
export async function ask(service, text, tag) {
  const headers = tag ? { "If-None-Match": tag } : {};
  // GET and QUERY are safe methods, to which an unchanged answer is a 304; to POST it would be a 412.
  const packed = await pack(text);
  const request = packed.length <= LONGEST_LINK
    ? [`${service}/v1/plan.json?z=${packed}`, { headers }]
    : [`${service}/v1/plan.json`, { method: "QUERY", headers: { ...headers, "Content-Type": "application/json" }, body: text }];
  // The tag is ours to send and the 304 ours to see, so the browser's own cache stays out of it.
  const response = await fetch(request[0], { ...request[1], cache: "no-store", signal: AbortSignal.timeout(TIMEOUT_MS) });
  if (response.status === 304) return { unchanged: true };
  if (response.ok) return { answer: await response.json(), tag: response.headers.get("ETag") };
  const problem = await response.json();
  // Too much to do, or out of order: not the document's doing, so it is worth asking again.
  if (response.status >= 500 || response.status === 429) throw new Error(problem.title ?? `status ${response.status}`);
  return { problem };
}

/** An example plan of the service by its name, or any document by its address. */
export async function fetchPlan(service, plan) {
  const address = /^[\w-]+$/.test(plan) ? `${service}/examples/${plan}.json` : new URL(plan, location.href).href;
  const response = await fetch(address, { signal: AbortSignal.timeout(TIMEOUT_MS) });
  if (!response.ok) throw new Error(`${address}: ${response.status}`);
  return response.text();
}

/** What waits between two tries: twice as long each time, up to a minute, and somewhere within, so that many do not come at once. */
export function backOff(failures, period) {
  const most = Math.min(60_000, period * 2 ** Math.min(failures, 6));
  return most / 2 + Math.random() * (most / 2);
}

export const VERDICTS = { "holds": "Holds", "holds-with-cautions": "Holds with cautions", "fails": "Fails" };

/** The line of an answer, without the verdict that stands before it. */
export const saying = (answer) => answer.say.replace(/^(Holds|Fails): /, "");

/** h:mm:ss, or m:ss. */
export function clock(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const two = (number) => String(number).padStart(2, "0");
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return h > 0 ? `${h}:${two(m)}:${two(s)}` : `${m}:${two(s)}`;
}

/** An amount with three figures and a prefix: `amount(1234, "W")` is "1.23 kW". */
export function amount(value, unit) {
  const size = Math.abs(value);
  const [by, prefix] = [[1e9, "G"], [1e6, "M"], [1e3, "k"], [1, ""]].find(([least]) => size >= least) ?? [1, ""];
  const shown = Number((value / by).toPrecision(3));
  return `${String(shown).replace("-", "−")} ${unit === "kg" && by >= 1e3 ? "t" : prefix + unit}`;
}

/** An element with attributes and children; texts stay texts, whoever wrote them. */
export function el(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) if (value !== null && value !== undefined) element.setAttribute(name, value);
  element.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return element;
}

const SHAPES = {
  "holds": ["M2 10a8 8 0 1 0 16 0a8 8 0 1 0-16 0z", "M6 10.5l3 3 5.5-6.5"],
  "holds-with-cautions": ["M10 1.5L19 18H1z", "M10 7v5M10 14.2v1.6"],
  "fails": ["M2.5 2.5h15v15h-15z", "M6.5 6.5l7 7M13.5 6.5l-7 7"],
};

/** A mark told apart by its shape: a disc with a tick, a triangle, a square with a cross. */
export function mark(verdict) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", "0 0 20 20");
  svg.setAttribute("class", `mark ${verdict}`);
  svg.setAttribute("aria-hidden", "true");
  for (const [at, d] of SHAPES[verdict].entries()) {
    const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
    path.setAttribute("class", at === 0 ? "shape" : "sign");
    path.setAttribute("d", d);
    svg.append(path);
  }
  return svg;
}
