// The dock: picks the plan, takes readings as they are typed, and hands both to the overlay of the same browser.

import { SERVICE, VERDICTS, ask, el, fetchPlan, saying } from "./service.js";

const query = new URLSearchParams(location.search);
const CHANNEL = query.get("channel") ?? "hotwell";
const KEPT = `dock ${CHANNEL}`;
const OWN = "own";
const channel = new BroadcastChannel(CHANNEL);
const at = (id) => document.getElementById(id);

/** The plan that was picked, and what was last handed over. */
let plan = null;
let handed = null;
/** Fields of readings by the JSON pointer of what they stand for. */
let fields = new Map();

const escaped = (name) => name.replaceAll("~", "~0").replaceAll("/", "~1");
const serviceOf = () => at("service").value.trim().replace(/\/$/, "");
const say = (text) => { at("answer").textContent = text; };

function keep() {
  try {
    const readings = Object.fromEntries([...fields].map(([pointer, { input }]) => [pointer, input.value]));
    localStorage.setItem(KEPT, JSON.stringify({ service: serviceOf(), plan: at("plan").value, own: at("own").value, readings, handed, picked: plan }));
  } catch {
    // Without room or leave to keep it, a reload begins anew.
  }
}

function kept() {
  try {
    return JSON.parse(localStorage.getItem(KEPT)) ?? {};
  } catch {
    return {};
  }
}

/** Lists the example plans of the service, and one's own. */
async function list(chosen) {
  const own = el("option", { value: OWN }, "A plan of your own");
  try {
    const response = await fetch(`${serviceOf()}/examples`, { signal: AbortSignal.timeout(10_000) });
    const { examples } = await response.json();
    at("plan").replaceChildren(...examples.map(({ name, title }) => el("option", { value: name }, title)), own);
  } catch {
    at("plan").replaceChildren(own);
    say("The service cannot be reached: is it running at this address?");
  }
  if ([...at("plan").options].some(({ value }) => value === chosen)) at("plan").value = chosen;
  at("own-field").hidden = at("plan").value !== OWN;
}

const patterned = (section) => Object.entries(section ?? {}).filter(([, one]) => one?.pattern);

/** What can be read off this plan: heading, and for each field its pointer below `/now`, label, hint and choices. */
function readable(document_) {
  const pulses = ["supplies", "demands", "hot_sources"].flatMap((section) => patterned(document_[section]));
  return [
    ["Levels", Object.keys(document_.stores ?? {}).map((name) => ({ path: ["levels", name], label: name, hint: "62 % or 120 kg" }))],
    ["Temperatures", Object.keys(document_.zones ?? {}).map((name) => ({ path: ["temperatures", name], label: name, hint: "24 °C" }))],
    ["Switches", [...Object.keys(document_.switches ?? {}), ...Object.keys(document_.thermostats ?? {})]
      .map((name) => ({ path: ["switches", name], label: name, choices: { "": "as the plan says", "true": "on", "false": "off" } }))],
    ["Patterns", pulses.flatMap(([name, { pattern }]) => [
      ...(pattern.steps
        ? [{ path: ["patterns", name, "elapsed"], label: `${name}: of its cycle is over`, hint: "12 min" }]
        : [{ path: ["patterns", name, "now_on"], label: `${name} is`, choices: { "": "as the plan says", "true": "on", "false": "off" } },
          { path: ["patterns", name, "next_change_in"], label: `${name} changes in`, hint: "3 min" }]),
      // Active and dormant times by turns.
      ...(pattern.active ? [{ path: ["patterns", name, "season_elapsed"], label: `${name}: of its season is over`, hint: "2 day" }] : []),
    ])],
  ];
}

function drawFields(readings = {}) {
  fields = new Map();
  const groups = readable(plan).filter(([, list]) => list.length > 0).map(([heading, list]) => el("fieldset", {}, el("legend", {}, heading),
    list.map(({ path, label, hint, choices }) => {
      const id = `field-${fields.size}`;
      const input = choices
        ? el("select", { id }, Object.entries(choices).map(([value, text]) => el("option", { value }, text)))
        : el("input", { id, type: "text", autocomplete: "off", spellcheck: "false", placeholder: hint });
      const fault = el("span", { class: "fault", id: `${id}-fault` });
      input.setAttribute("aria-describedby", fault.id);
      const pointer = `/now/${path.map(escaped).join("/")}`;
      input.value = readings[pointer] ?? "";
      fields.set(pointer, { path, input, fault, choice: choices !== undefined });
      return el("p", { class: "field" }, el("label", { for: id }, label), input, fault);
    })));
  at("fields").replaceChildren(...groups);
  at("readings").hidden = groups.length === 0;
}

/** The plan with the readings in place of what it says of time zero. */
function withReadings() {
  const now = structuredClone(plan.now ?? {});
  for (const { path, input, choice } of fields.values()) {
    const value = input.value.trim();
    if (value === "") continue;
    let section = now;
    for (const name of path.slice(0, -1)) section = section[name] ??= {};
    section[path.at(-1)] = choice ? value === "true" : value;
  }
  return JSON.stringify({ ...plan, ...(Object.keys(now).length > 0 ? { now } : {}) });
}

/** The fault at its field, or at the nearest one that it lies in. */
function tellFaults(faults) {
  for (const { input, fault } of fields.values()) {
    input.setAttribute("aria-invalid", "false");
    fault.textContent = "";
  }
  let rest = 0;
  for (const { pointer, found, expected, near } of faults) {
    const field = fields.get(pointer) ?? [...fields].find(([of]) => of.startsWith(`${pointer}/`))?.[1];
    if (!field) {
      rest += 1;
      continue;
    }
    field.input.setAttribute("aria-invalid", "true");
    field.fault.textContent = `Found ${found}, expected ${expected}${near ? `; did you mean “${near}”?` : ""}.`;
  }
  const other = faults.find(({ pointer }) => !fields.has(pointer));
  return rest > 0 && other ? ` ${other.pointer}: found ${other.found}, expected ${other.expected}.` : "";
}

/** Asks whether the document can be read, and hands it over where it can. */
async function hand(text) {
  const readAt = Date.now();
  say("Asking …");
  try {
    const { answer, problem } = await ask(serviceOf(), text);
    if (problem) {
      const elsewhere = tellFaults(problem.faults ?? []);
      return say(`Not sent: ${problem.faults ? "the readings or the plan cannot be read." : `${problem.detail ?? problem.title}.`}${elsewhere}`);
    }
    tellFaults([]);
    handed = { kind: "show", service: serviceOf(), text, readAt };
    channel.postMessage(handed);
    keep();
    say(`Sent. ${VERDICTS[answer.verdict]}: ${saying(answer)}`);
  } catch {
    say("Not sent: the service cannot be reached.");
  }
}

at("service").addEventListener("change", () => list(at("plan").value));
at("plan").addEventListener("change", () => { at("own-field").hidden = at("plan").value !== OWN; });

at("pick").addEventListener("submit", async (event) => {
  event.preventDefault();
  try {
    const text = at("plan").value === OWN ? at("own").value : await fetchPlan(serviceOf(), at("plan").value);
    const read = JSON.parse(text);
    if (read === null || typeof read !== "object" || Array.isArray(read)) throw new SyntaxError("a plan is an object");
    plan = read;
  } catch (error) {
    return say(error instanceof SyntaxError ? `Not sent: this is no JSON of a plan (${error.message}).` : "Not sent: the plan cannot be fetched.");
  }
  drawFields();
  await hand(JSON.stringify(plan));
});

at("readings").addEventListener("submit", (event) => {
  event.preventDefault();
  hand(withReadings());
});

channel.addEventListener("message", ({ data }) => {
  // An overlay that opens later asks what there is.
  if (data?.kind === "hello" && handed) channel.postMessage(handed);
  if (data?.kind === "shown") {
    const stale = data.stale ? ", stale: the service is away from it" : "";
    at("overlay").textContent = data.verdict ? `The overlay shows: ${VERDICTS[data.verdict] ?? ""}${stale}.` : `The overlay shows nothing yet${stale}.`;
  }
});

async function begin() {
  const before = kept();
  at("service").value = query.get("service") ?? before.service ?? SERVICE;
  at("own").value = before.own ?? "";
  await list(before.plan);
  if (before.handed && before.picked) {
    [handed, plan] = [before.handed, before.picked];
    drawFields(before.readings);
  }
}

begin();
