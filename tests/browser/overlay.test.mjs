// The overlay and its dock, in a real browser, served from another origin than the service.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { setTimeout as wait } from "node:timers/promises";

import { accessible, browser, ownService, pixels, site } from "./support.mjs";

const FULL = { width: 1920, height: 1080 };

let server;
let web;
let chrome;

before(async () => {
  server = await ownService();
  web = await site("examples/overlay", { "/evil.json": JSON.stringify(EVIL), "/large.json": JSON.stringify(LARGE), "/blank.html": "<!doctype html><title>Blank</title>" });
  chrome = await browser();
});

after(async () => {
  await chrome?.close();
  await server?.stop();
  web?.stop();
});

const MARKUP = '<img src=x onerror="document.title=1">';
const EVIL = {
  title: MARKUP, supplies: { spring: { header: "water", rate: "10 g/s" } }, demands: { [MARKUP]: { header: "water", rate: "40 g/s" } },
  stores: { [MARKUP]: { header: "water", capacity: "50 kg", level: "20 %" } }, horizon: "1 h",
};
/** Too long for a link. */
const LARGE = {
  ...EVIL, supplies: { spring: { header: "water", rate: "10 g/s" }, ...Object.fromEntries(Array.from({ length: 700 }, (_, at) =>
    [`tap ${at} ${Math.sin(at)}${Math.cos(at)}`, { header: `side ${Math.tan(at)}`, rate: `${at + 1} g/s` }])) },
};

/** A profile of its own; whatever the console warns of fails the test, but for a service that is away. */
async function profile(viewport = FULL) {
  const context = await chrome.newContext({ viewport });
  const said = [];
  const answers = [];
  const open = async (path) => {
    const page = await context.newPage();
    page.on("pageerror", (error) => said.push(error.message));
    page.on("console", (message) => {
      if (["error", "warning"].includes(message.type()) && !/net::ERR_|status of 4\d\d/.test(message.text())) said.push(message.text());
    });
    page.on("response", (response) => { if (response.url().includes("/v1/plan")) answers.push([response.request().method(), response.status()]); });
    await page.goto(`${web.url}/${path}`);
    return page;
  };
  return { context, open, answers, close: async () => { await context.close(); assert.deepEqual(said, []); } };
}

const link = (more) => `overlay.html?service=${encodeURIComponent(server.url)}&${more}`;
const shows = (page) => page.locator("#frame:not([hidden]) .word").waitFor();
const notice = (page) => page.locator("#notice");
const untilNotice = async (page, expected, tries = 200) => {
  for (let at = 0; at < tries; at += 1) {
    if (expected.test(await notice(page).textContent())) return;
    await wait(50);
  }
  assert.match(await notice(page).textContent(), expected);
};
const seconds = (text) => text.split(":").reduce((sum, part) => sum * 60 + Number(part), 0);

test("outside its plates a frame is wholly transparent", async () => {
  for (const viewport of [FULL, { width: 480, height: 640 }, { width: 480, height: 270 }, { width: 320, height: 180 }]) {
    const { open, close } = await profile(viewport);
    const page = await open(link("plan=kestrel-deep"));
    await shows(page);
    const plates = await page.locator(".panel:visible").evaluateAll((all) => all.map((one) => one.getBoundingClientRect().toJSON()));
    const { width, height, alpha } = await pixels(chrome, await page.screenshot({ omitBackground: true }));
    assert.deepEqual([width, height], [viewport.width, viewport.height]);
    const outside = [];
    let seen = 0;
    // Round corners that lie between pixels shine one pixel out.
    for (let y = 0; y < height; y += 1) {
      for (let x = 0; x < width; x += 1) {
        const within = plates.some(({ left, top, right, bottom }) => x >= left - 2 && x <= right + 1 && y >= top - 2 && y <= bottom + 1);
        if (within) seen += Number(alpha[y * width + x] > 200);
        else if (alpha[y * width + x] !== 0) outside.push([x, y, alpha[y * width + x]]);
      }
    }
    assert.deepEqual(outside, [], `${viewport.width} × ${viewport.height}, plates ${JSON.stringify(plates)}`);
    assert.ok(seen > 0.02 * width * height, "there is something on it");
    for (const { left, top, right, bottom } of plates) {
      assert.ok(left >= 0 && top >= 0 && right <= width && bottom <= height, "plates lie within the scene");
    }
    const cut = await page.locator(".panel:visible").evaluateAll((all) => all.filter((one) => one.scrollWidth > one.clientWidth + 1).map(({ id }) => id));
    assert.deepEqual(cut, [], "nothing is cut at the side");
    await close();
  }
});

test("it shows what the service says, and counts down at the speed of the simulation", async () => {
  const { open, answers, close } = await profile();
  const page = await open(link("plan=kestrel-deep&speed=60&poll=0.3"));
  await shows(page);
  const answer = await (await fetch(`${server.url}/v1/plan`, { method: "POST", headers: { "Content-Type": "application/json" }, body: await (await fetch(`${server.url}/examples/kestrel-deep.json`)).text() })).json();
  assert.equal(await page.locator(".said").textContent(), answer.say.replace(/^Holds: /, ""));
  assert.deepEqual(await page.locator(".store .name").allTextContents(), Object.keys(answer.stores));
  assert.deepEqual(await page.locator("#heat tbody th").allTextContents(), Object.keys(answer.zones));
  assert.match(await page.locator("#power .net").last().textContent(), /^119 kW$/);
  const time = page.locator(".store", { hasText: "fuel tank" }).locator(".time");
  // Its level only rises meanwhile; that of the sump turns, and may be seen twice.
  const share = page.locator(".store", { hasText: "fuel tank" }).locator(".share");
  const [first, level, began] = [seconds(await time.textContent()), parseFloat(await share.textContent()), Date.now()];
  assert.ok(first <= answer.stores["fuel tank"].first_full_s);
  await wait(2500);
  const [then, rose, lasted] = [seconds(await time.textContent()), parseFloat(await share.textContent()), (Date.now() - began) / 1000];
  // The hand moves four times a second, and asking takes its time.
  assert.ok(Math.abs(first - then - 60 * lasted) <= 60, `${first} to ${then} in ${lasted} s`);
  assert.notEqual(rose, level, "the level goes on as the rehearsal says");
  assert.deepEqual(answers[0], ["GET", 200]);
  assert.ok(answers.length >= 4 && answers.slice(1).every(([, status]) => status === 304), JSON.stringify(answers));
  await close();
});

test("parts that the link leaves out are not there", async () => {
  const { open, close } = await profile();
  const page = await open(link("plan=kestrel-deep&show=verdict,stores"));
  await shows(page);
  assert.deepEqual(await page.locator(".panel:visible").evaluateAll((all) => all.map(({ id }) => id).sort()), ["stores", "verdict"]);
  await close();
});

test("a document too long for a link is asked by QUERY, to a 304 likewise", async () => {
  const { open, answers, close } = await profile();
  const page = await open(link("plan=large.json&poll=0.3"));
  await shows(page);
  for (let at = 0; at < 100 && answers.filter(([, status]) => status === 304).length < 2; at += 1) await wait(50);
  const asked = answers.filter(([method]) => method === "QUERY");
  assert.deepEqual(asked.slice(0, 3), [["QUERY", 200], ["QUERY", 304], ["QUERY", 304]]);
  await close();
});

test("with the service away the last frame stays, goes on and is seen to be stale, and it recovers", async () => {
  const { open, close } = await profile();
  const page = await open(link("plan=kestrel-deep&poll=0.2"));
  await shows(page);
  const line = await page.locator(".said").textContent();
  await server.stop();
  await untilNotice(page, /^Stale: the service has been away for 0:0[1-9]/);
  assert.ok(await page.locator("#frame.stale").isVisible());
  assert.equal(await page.locator(".said").textContent(), line);
  const time = page.locator(".time").first();
  const before_ = seconds(await time.textContent());
  await wait(1300);
  assert.ok(seconds(await time.textContent()) < before_, "it counts on");
  const rim = await page.locator("#verdict").evaluate((one) => getComputedStyle(one).outlineStyle);
  assert.equal(rim, "dashed");
  await server.start();
  await untilNotice(page, /^$/, 400);
  assert.equal(await page.locator("#frame.stale").count(), 0);
  await close();
});

test("dock and overlay: picks, readings, faults, a reload without a service", async () => {
  const { open, close } = await profile();
  const overlay = await open(link("poll=0.3").replace("&poll", "&channel=one&poll"));
  await untilNotice(overlay, /^No plan yet/);
  const dock = await open(`dock.html?service=${encodeURIComponent(server.url)}&channel=one`);
  await dock.locator("#plan option[value=sump-and-seep]").waitFor({ state: "attached" });
  await dock.selectOption("#plan", "sump-and-seep");
  await dock.getByRole("button", { name: "Show the plan" }).click();
  await shows(overlay);
  assert.deepEqual(await overlay.locator(".store .name").allTextContents(), ["sump", "garden tank"]);
  await dock.locator("#overlay", { hasText: "The overlay shows: Holds." }).waitFor();

  await dock.getByLabel("garden tank", { exact: true }).fill("30 %");
  await dock.getByLabel("sump float").selectOption("true");
  await dock.getByLabel("hall drain is").selectOption("false");
  await dock.getByLabel("hall drain changes in").fill("5 min");
  await dock.getByRole("button", { name: "Send the readings" }).click();
  await overlay.locator(".store", { hasText: "garden tank" }).locator(".share", { hasText: /^(30|29\.\d|3[0-2]\.\d)/ }).waitFor();

  await dock.getByLabel("garden tank", { exact: true }).fill("12 km");
  await dock.getByRole("button", { name: "Send the readings" }).click();
  await dock.locator(".fault", { hasText: 'Found "12 km"' }).waitFor();
  assert.equal(await dock.getByLabel("garden tank", { exact: true }).getAttribute("aria-invalid"), "true");
  await dock.locator("#answer", { hasText: "Not sent" }).waitFor();
  assert.equal(await notice(overlay).isVisible(), false, "the stream is not troubled by a slip of the hand");

  // What the dock knew is there again, and a new overlay of the profile has it from the dock.
  await dock.reload();
  await dock.locator("#readings").waitFor();
  assert.equal(await dock.getByLabel("hall drain changes in").inputValue(), "5 min");
  const second = await open(link("channel=one"));
  await shows(second);
  assert.deepEqual(await second.locator(".store .name").allTextContents(), ["sump", "garden tank"]);

  // A browser source that is loaded anew while the service is away begins with the last frame.
  await server.stop();
  await overlay.reload();
  await shows(overlay);
  await untilNotice(overlay, /^Stale/);
  assert.deepEqual(await overlay.locator(".store .name").allTextContents(), ["sump", "garden tank"]);
  await server.start();
  await untilNotice(overlay, /^$/, 400);
  await close();
});

test("names that are markup are shown as text", async () => {
  const { open, close } = await profile();
  const page = await open(link("plan=evil.json"));
  await shows(page);
  assert.equal(await page.locator(".store .name").textContent(), MARKUP);
  assert.match(await page.locator(".comes.warns").first().textContent(), /^dry in \d+:\d\d$/);
  const dock = await open(`dock.html?service=${encodeURIComponent(server.url)}`);
  await dock.selectOption("#plan", "own");
  await dock.locator("#own").fill(JSON.stringify(EVIL));
  await dock.getByRole("button", { name: "Show the plan" }).click();
  await dock.locator("#answer", { hasText: "Sent." }).waitFor();
  for (const one of [page, dock]) assert.equal(await one.locator("img").count(), 0);
  assert.ok(await dock.locator("label", { hasText: MARKUP }).count() > 0);
  await close();
});

for (const colorScheme of ["light", "dark"]) {
  test(`axe finds nothing in the dock: ${colorScheme}`, async () => {
    const { context, open, close } = await profile({ width: 360, height: 740 });
    const dock = await open(`dock.html?service=${encodeURIComponent(server.url)}`);
    await dock.emulateMedia({ colorScheme });
    await dock.selectOption("#plan", "kestrel-deep");
    await dock.getByRole("button", { name: "Show the plan" }).click();
    await dock.locator("#answer", { hasText: "Sent." }).waitFor();
    await dock.getByLabel("fuel tank").fill("12 km");
    await dock.getByRole("button", { name: "Send the readings" }).click();
    await dock.locator(".fault", { hasText: "Found" }).waitFor();
    await accessible(dock, "dock");
    await context.pages()[0].keyboard.press("Tab");
    await close();
  });
}

/** Of every text that is seen its letters in px, and whether an edge cuts through it. */
const seen = (page) => page.evaluate(() => {
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const list = [];
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const range = document.createRange();
    range.selectNodeContents(node);
    const { top, bottom, left, right, height } = range.getBoundingClientRect();
    if (node.textContent.trim() === "" || height === 0) continue;
    // What is cut with an ellipsis is cut on purpose.
    const clips = [];
    for (let over = node.parentElement; over; over = over.parentElement) {
      const style = getComputedStyle(over);
      if (style.overflowY === "hidden" && style.webkitLineClamp === "none" && style.textOverflow !== "ellipsis") clips.push(over === document.body || over === document.documentElement ? innerHeight : over.getBoundingClientRect().bottom);
    }
    const edge = Math.min(innerHeight, ...clips);
    if (top >= edge - 1) continue;
    const ellipsis = [node.parentElement, node.parentElement.parentElement].some((one) => ["ellipsis"].includes(getComputedStyle(one).textOverflow) || getComputedStyle(one).webkitLineClamp !== "none");
    list.push({ said: node.textContent, size: parseFloat(getComputedStyle(node.parentElement).fontSize), cut: !ellipsis && (bottom > edge + 1 || left < -1 || right > innerWidth + 1) });
  }
  return list;
});

for (const viewport of [FULL, { width: 1280, height: 720 }, { width: 480, height: 640 }, { width: 480, height: 270 }, { width: 320, height: 180 }, { width: 320, height: 120 }]) {
  const size = `${viewport.width} × ${viewport.height}`;
  test(`axe finds nothing in the overlay, and all that is seen can be read: ${size}`, async () => {
    for (const plan of ["kestrel-deep", "short-supply", "cooled-hall"]) {
      const { open, close } = await profile(viewport);
      const page = await open(link(`plan=${plan}&poll=0.2`));
      await shows(page);
      await accessible(page, `${plan}, ${size}`);
      const texts = await seen(page);
      assert.ok(texts.length >= 2, `${plan}: ${texts.length} texts`);
      for (const { said, size: letters, cut } of texts) {
        assert.ok(letters >= 11, `${plan}, ${size}: "${said}" of ${letters} px`);
        assert.ok(!cut, `${plan}, ${size}: "${said}" is cut`);
      }
      if (plan === "short-supply") {
        await server.stop();
        await untilNotice(page, /^Stale/);
        await accessible(page, `stale, ${size}`);
        await server.start();
      }
      await close();
    }
  });
}

test("an accelerated soak with restarts leaves no blank frame and no growing heap", async () => {
  const { context, open, answers, close } = await profile();
  const dock = await open("blank.html");
  await dock.evaluate(() => { window.channel = new BroadcastChannel("hotwell"); });
  // Asked a hundred times as often as usual, with a clock that runs an hour in a second: the countdowns pass all their ends.
  const overlay = await open(link("plan=kestrel-deep&poll=0.2&speed=3600"));
  await overlay.bringToFront();
  await shows(overlay);
  await overlay.evaluate(() => {
    window.frames_ = { drawn: 0, blank: 0 };
    const look = () => {
      const shown = !document.getElementById("frame").hidden && document.querySelector(".said")?.textContent.length > 0 &&
        document.querySelectorAll(".store .share").length > 0 && [...document.querySelectorAll(".share")].every((one) => /^\d/.test(one.textContent)) &&
        document.getElementById("verdict").getBoundingClientRect().height > 20;
      window.frames_[shown ? "drawn" : "blank"] += 1;
      requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  });
  const plan = JSON.parse(await (await fetch(`${server.url}/examples/kestrel-deep.json`)).text());
  const session = await context.newCDPSession(overlay);
  await session.send("Performance.enable");
  const measure = async () => {
    await session.send("HeapProfiler.collectGarbage");
    const { metrics } = await session.send("Performance.getMetrics");
    const of = (name) => metrics.find((metric) => metric.name === name).value;
    return { heap: of("JSHeapUsedSize"), nodes: of("Nodes"), listeners: of("JSEventListeners") };
  };
  // Every second a new reading, so that there is a new answer; in every tenth second the service is killed for three.
  const turn = async (second) => {
    const text = JSON.stringify({ ...plan, now: { levels: { "fuel tank": `${20 + ((second * 7) % 70)} %`, bank: `${40 + ((second * 11) % 50)} %` } } });
    await dock.evaluate(([service, text]) => window.channel.postMessage({ kind: "show", service, text, readAt: Date.now() }), [server.url, text]);
    if (second % 10 === 3) await server.stop();
    if (second % 10 === 6) await server.start();
    await wait(1000);
  };
  let second = 0;
  for (; second < 20; second += 1) await turn(second);
  const first = await measure();
  for (; second < 90; second += 1) await turn(second);
  await untilNotice(overlay, /^$/, 400);
  const last = await measure();
  const { drawn, blank } = await overlay.evaluate(() => window.frames_);
  const count = (wanted) => answers.filter(([, status]) => status === wanted).length;
  const told = `${drawn} frames, ${blank} blank; answers 200: ${count(200)}, 304: ${count(304)}; ` +
    `heap ${(first.heap / 1e6).toFixed(2)} to ${(last.heap / 1e6).toFixed(2)} MB, nodes ${first.nodes} to ${last.nodes}`;
  console.log(told);
  assert.equal(blank, 0, told);
  assert.ok(drawn > 500 && count(200) > 40 && count(304) > 40, told);
  assert.ok(last.heap < first.heap + 1e6, told);
  assert.ok(last.nodes <= first.nodes * 1.2 + 100 && last.listeners <= first.listeners + 5, told);
  await close();
});
