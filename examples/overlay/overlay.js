// The overlay: shows the last good answer, counts on from its readings, and asks again whether it still stands.
//
// Parameters of the link: `service`, `plan` (the name of an example, or the address of a document), `show` (of verdict, stores,
// heat, power), `poll` (seconds), `speed` (seconds of the plan in a second of the wall clock), `channel`.

import { SERVICE, VERDICTS, amount, ask, backOff, clock, el, fetchPlan, mark, saying } from "./service.js";

const query = new URLSearchParams(location.search);
const numberOf = (name, usual, least) => {
  const number = Number(query.get(name) ?? usual);
  return Number.isFinite(number) && number >= least ? number : usual;
};
const PERIOD_MS = numberOf("poll", 20, 0.05) * 1000;
const SPEED = numberOf("speed", 1, 0);
const CHANNEL = query.get("channel") ?? "hotwell";
const SHOW = new Set((query.get("show") ?? "verdict,stores,heat,power").split(","));
const TICK_MS = 250;
/** Trouble is shown first, and no more stores and zones than have room. */
const MOST_STORES = 6;
const MOST_ZONES = 4;

const frame = document.getElementById("frame");
const notice = document.getElementById("notice");
const part = (name) => document.getElementById(name);

/** What is shown: `service`, `text`, `readAt` (ms), `answer`, `tag`. Kept by the browser, so that a reload has it at once. */
let shown = null;
/** What is asked: as `shown`, before there is an answer to it. */
let asked = null;
let failures = 0;
let goodAt = 0;
let problem = null;
let timer;
let round = 0;
/** What changes with every tick: functions of the seconds of the plan since the readings. */
let hands = [];

const channel = new BroadcastChannel(CHANNEL);
const KEPT = `overlay ${CHANNEL}`;

function keep() {
  try {
    localStorage.setItem(KEPT, JSON.stringify({ ...shown, goodAt }));
  } catch {
    // Without room or leave to keep it, a reload begins without a frame.
  }
}

function kept() {
  try {
    const state = JSON.parse(localStorage.getItem(KEPT));
    return state?.answer && typeof state.text === "string" ? state : null;
  } catch {
    return null;
  }
}

/** The level of a store so long after the readings: straight between the points, and over again where it has settled. */
function levelAt(store, seconds) {
  const { at_s: at, level_share: share } = store.course;
  const end = at.at(-1);
  const period = store.settles?.period_s ?? 0;
  const time = seconds > end && period > 0 && period <= end ? end - period + ((seconds - end) % period) : Math.min(seconds, end);
  let [low, high] = [0, at.length - 1];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (at[middle] <= time) low = middle;
    else high = middle;
  }
  const wide = at[high] - at[low];
  return wide > 0 ? share[low] + ((share[high] - share[low]) * (time - at[low])) / wide : share[high];
}

/** What becomes of a store, trouble first: `{ what, then, at, warns }`. */
function outlook(store) {
  const short = (store.unserved_kg ?? store.unserved_j ?? 0) > 0;
  const lost = (store.lost_kg ?? 0) > 0;
  const all = [
    { what: "dry in", then: "ran dry", at: store.first_empty_s, warns: short },
    { what: lost ? "overflows in" : "full in", then: lost ? "overflows" : "was full", at: store.first_full_s, warns: lost },
  ].filter(({ at }) => at !== null && at !== undefined);
  return all.sort((one, other) => Number(other.warns) - Number(one.warns) || one.at - other.at);
}

function storesOf(answer) {
  const stores = Object.entries(answer.stores ?? {}).filter(([, store]) => store.course?.at_s.length > 0);
  const urgency = ([, store]) => outlook(store).find(({ warns }) => warns)?.at ?? Infinity;
  return stores.map((entry) => [entry, urgency(entry)]).sort((one, other) => (one[1] < other[1] ? -1 : one[1] > other[1] ? 1 : 0))
    .slice(0, MOST_STORES).map(([entry]) => entry);
}

function countdown(next) {
  const time = el("span", { class: "time" });
  const words = el("span", {}, `${next.what} `);
  const line = el("span", { class: next.warns ? "comes warns" : "comes" }, words, time);
  hands.push((seconds) => {
    words.textContent = seconds < next.at ? `${next.what} ` : next.then;
    time.textContent = seconds < next.at ? clock(next.at - seconds) : "";
  });
  return line;
}

function drawStore(name, store) {
  const level = el("span", { class: "level" });
  const share = el("span", { class: "share" });
  const capacity = store.capacity_kg !== undefined ? amount(store.capacity_kg, "kg") : amount(store.capacity_j ?? 0, "J");
  hands.push((seconds) => {
    const now = Math.max(0, Math.min(1, levelAt(store, seconds)));
    level.style.transform = `scaleY(${now.toFixed(4)})`;
    share.textContent = `${(now * 100).toFixed(1)} % of ${capacity}`;
  });
  const limits = [store.low_low_share, store.low_share, store.high_share, store.high_high_share].filter((limit) => limit !== undefined)
    .map((limit) => {
      const line = el("span", { class: "limit" });
      line.style.bottom = `${limit * 100}%`;
      return line;
    });
  const next = outlook(store)[0];
  return el("li", { class: "store" }, el("span", { class: "tank" }, level, limits), el("span", { class: "name" }, name), share,
    next ? countdown(next) : el("span", { class: "comes" }, "neither dry nor full"));
}

function drawHeat(zones) {
  const row = ([name, zone]) => {
    const [gain, removed] = [zone.gain_w ?? 0, zone.removed_w ?? 0];
    const left = Math.abs(gain - removed) <= 1e-6 * Math.max(gain, removed) ? 0 : gain - removed;
    const at = zone.settles_at_c ?? zone.greatest_c;
    const over = typeof zone.first_over_limit_s === "number";
    const cell = el("td", {}, `${at.toFixed(1)} °C`);
    if (over) cell.append(" ", el("span", { class: "over" }, countdown({ what: "over in", then: "over limit", at: zone.first_over_limit_s })));
    else if (zone.limit_c !== undefined) cell.append(` of ${zone.limit_c.toFixed(0)} °C`);
    return el("tr", {}, el("th", { scope: "row" }, name), el("td", {}, amount(gain, "W")), el("td", {}, amount(removed, "W")), el("td", {}, amount(left, "W")), cell);
  };
  const head = ["zone", "heat in", "heat out", "left", "settles at"].map((word) => el("th", { scope: "col" }, word));
  return [el("h2", {}, "Heat"), el("table", {}, el("thead", {}, el("tr", {}, head)), el("tbody", {}, zones.map(row)))];
}

function drawPower(power) {
  const rows = [["generated", power.generated_w], ["drawn", power.drawn_w], ["net", power.net_w, "net"]];
  if (power.unserved_w > 0) rows.push(["short", power.unserved_w, "over"]);
  return [el("h2", {}, "Electric power"), el("dl", {}, rows.flatMap(([name, watts, kind]) =>
    [el("dt", { class: kind }, name), el("dd", { class: kind }, amount(watts ?? 0, "W"))]))];
}

/** Draws the whole frame anew, in one step, so that there is none without something on it. */
function draw() {
  hands = [];
  const { answer } = shown;
  const parts = { verdict: [mark(answer.verdict), el("h1", { class: "word" }, VERDICTS[answer.verdict]), el("p", { class: "said" }, saying(answer))], stores: [], heat: [], power: [] };
  const stores = storesOf(answer);
  if (stores.length > 0) parts.stores = [el("h2", {}, "Stores"), el("ul", {}, stores.map(([name, store]) => drawStore(name, store)))];
  const zones = Object.entries(answer.zones ?? {}).slice(0, MOST_ZONES);
  if (zones.length > 0) parts.heat = drawHeat(zones);
  if (answer.power) parts.power = drawPower(answer.power);
  for (const [name, children] of Object.entries(parts)) part(name).replaceChildren(...(SHOW.has(name) ? children : []));
  frame.hidden = false;
  tick();
  fit();
}

const overfull = () => frame.scrollHeight > frame.clientHeight + 1 || [...frame.children].some((panel) => panel.scrollWidth > panel.clientWidth + 1);

/** Leaves out whole what has no room: the heat, then the power, then stores from the last. The verdict stays. */
function fit() {
  const stores = [...part("stores").querySelectorAll(".store")];
  const pieces = [...stores, part("power"), part("heat")];
  for (const piece of pieces) piece.hidden = true;
  part("stores").hidden = true;
  for (const piece of pieces) {
    const within = stores.includes(piece) ? part("stores") : piece;
    const before = within.hidden;
    piece.hidden = within.hidden = false;
    if (!overfull()) continue;
    piece.hidden = true;
    within.hidden = before;
  }
}

function tick() {
  if (shown) {
    const seconds = Math.max(0, (Date.now() - shown.readAt) / 1000) * SPEED;
    for (const hand of hands) hand(seconds);
    // Words grow and shrink with what is left.
    if (overfull()) fit();
  }
  const stale = failures > 0 || problem !== null;
  frame.classList.toggle("stale", stale);
  let words = "";
  if (problem) words = `Not shown: ${problem}`;
  else if (failures > 0) words = shown ? `Stale: the service has been away for ${clock((Date.now() - goodAt) / 1000)}` : "Neither service nor plan can be reached.";
  else if (!shown && !asked) words = "No plan yet: pick one in the dock.";
  if (notice.textContent !== words) notice.textContent = words;
  notice.hidden = words === "";
}

/** What the service says of a document that it cannot read. */
function said(refused) {
  const fault = refused.faults?.[0];
  return fault ? `${fault.pointer ?? ""} found ${fault.found}, expected ${fault.expected}` : refused.detail ?? refused.title ?? "no answer";
}

async function poll() {
  clearTimeout(timer);
  if (!asked) return;
  const mine = (round += 1);
  const tag = shown && shown.text === asked.text && shown.service === asked.service ? shown.tag : null;
  let wait;
  try {
    const got = await ask(asked.service, asked.text, tag);
    if (mine !== round) return;
    failures = 0;
    goodAt = Date.now();
    problem = got.problem ? said(got.problem) : null;
    if (got.answer) {
      shown = { ...asked, answer: got.answer, tag: got.tag };
      keep();
      draw();
    } else if (got.unchanged && shown.readAt !== asked.readAt) {
      shown = { ...shown, readAt: asked.readAt };
      keep();
    }
    wait = PERIOD_MS * (0.8 + 0.4 * Math.random());
  } catch {
    if (mine !== round) return;
    failures += 1;
    if (goodAt === 0) goodAt = Date.now();
    wait = backOff(failures, Math.min(PERIOD_MS, 2000));
  }
  tick();
  tell();
  timer = setTimeout(poll, wait);
}

/** Tells the dock what is on the stream. */
function tell() {
  channel.postMessage({ kind: "shown", verdict: shown?.answer.verdict ?? null, say: shown?.answer.say ?? null, stale: failures > 0, problem });
}

function show(service, text, readAt) {
  asked = { service, text, readAt };
  poll();
}

channel.addEventListener("message", ({ data }) => {
  if (data?.kind === "show" && typeof data.text === "string" && typeof data.service === "string" && Number.isFinite(data.readAt)) show(data.service, data.text, data.readAt);
});

async function begin() {
  addEventListener("resize", () => { if (shown) fit(); });
  setInterval(tick, TICK_MS);
  const service = (query.get("service") ?? SERVICE).replace(/\/$/, "");
  const plan = query.get("plan");
  const before = kept();
  // A plan that the link names has nothing to do with what was shown before.
  if (before && plan === null) {
    shown = before;
    goodAt = before.goodAt;
    draw();
    show(before.service, before.text, before.readAt);
  }
  channel.postMessage({ kind: "hello" });
  // The service may come later than the page.
  while (plan !== null && !asked) {
    try {
      const text = await fetchPlan(service, plan);
      // The dock may have been quicker.
      if (!asked) show(service, text, Date.now());
    } catch {
      failures += 1;
      tick();
      await new Promise((resolve) => setTimeout(resolve, backOff(failures, Math.min(PERIOD_MS, 2000))));
    }
  }
  tick();
}

begin();
