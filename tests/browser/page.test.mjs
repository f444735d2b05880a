// The page at / in a real browser, under its own Content-Security-Policy.

import assert from "node:assert/strict";
import { mkdirSync } from "node:fs";
import { after, before, test } from "node:test";

import { accessible, browser, service } from "./support.mjs";

/** Where pictures of the page are left to be looked at, if anywhere. */
const SHOTS = process.env.SHOTS;

let server;
let chrome;

before(async () => {
  server = await service();
  chrome = await browser();
});

after(async () => {
  await chrome?.close();
  server?.stop();
});

/** A page of its own; whatever the console warns of, an error or a breach of the policy fails the test. */
async function open(path, options = {}) {
  const context = await chrome.newContext({ viewport: { width: 1366, height: 900 }, ...options });
  const page = await context.newPage();
  const said = [];
  page.on("pageerror", (error) => said.push(error.message));
  page.on("console", (message) => {
    // A refused document is a 4xx answer, which the console tells as an error of its own.
    const refused = /status of 4\d\d/.test(message.text());
    if (["error", "warning"].includes(message.type()) && !refused) said.push(message.text());
  });
  page.on("request", (request) => {
    if (!/^(blob:|data:)/.test(request.url()) && !request.url().startsWith(server.url)) said.push(`another host: ${request.url()}`);
  });
  await page.goto(`${server.url}/${path}`);
  return { page, close: async () => { await context.close(); assert.deepEqual(said, []); } };
}

const line = (page) => page.locator("#answer .line .say");
const setText = (page, text) => page.locator("#editor textarea").fill(text);
const says = async (locator, expected) => {
  for (let tries = 0; tries < 100; tries += 1) {
    const text = await locator.textContent().catch(() => "");
    if (expected.test(text)) return text;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  assert.match(await locator.textContent(), expected);
};

test("every sum of the list is a form that answers its example", async () => {
  const { page, close } = await open("#sums");
  const { sums } = await (await fetch(`${server.url}/v1/sums`)).json();
  await page.locator("details.sum").nth(sums.length - 1).waitFor();
  assert.equal(await page.locator("details.sum").count(), sums.length);
  for (const sum of sums) {
    const one = page.locator(`#sum-${sum.name}`);
    await one.locator("> summary").click();
    await one.locator(".line .say").waitFor();
    const query = new URLSearchParams(sum.example);
    const { say } = await (await fetch(`${server.url}/v1/sums/${sum.name}?${query}`)).json();
    assert.equal(await one.locator(".line .say").textContent(), say, sum.name);
    for (const { name } of sum.parameters) assert.equal(await one.locator(`[name="${name}"]`).count(), 1, `${sum.name} ${name}`);
    assert.ok((await one.locator(".working li").count()) > 0, sum.name);
  }
  await close();
});

test("a field takes amounts as they are typed, and says what is wrong with one", async () => {
  const { page, close } = await open("#sums/units-needed?flow=2.5%20kg%2Fs&each=300%20g%2Fs");
  const one = page.locator("#sum-units-needed");
  await says(one.locator(".say"), /^9 units/);
  await one.locator('[name="flow"]').fill("9 t/h");
  await says(one.locator(".say"), /9 t\/h|2\.5 kg\/s/);
  await one.locator('[name="flow"]').fill("9 kg");
  await says(one.locator("[id$=flow-fault]"), /Found "9 kg", a mass; expected a rate/);
  assert.equal(await one.locator('[name="flow"]').getAttribute("aria-invalid"), "true");
  await one.locator('[name="flow"]').fill("600 g/s");
  await says(one.locator(".say"), /^2 units/);
  assert.equal(await one.locator('[name="flow"]').getAttribute("aria-invalid"), "false");
  await close();
});

test("the links to copy give what the page shows", async () => {
  const { page, close } = await open("#sums/set-point-window");
  const one = page.locator("#sum-set-point-window");
  const say = await says(one.locator(".say"), /./);
  await one.locator("details.links summary").click();
  const of = (name) => one.locator(".link", { hasText: name }).locator("input").inputValue();
  assert.equal(await (await fetch(await of("Chat bot"))).text(), say);
  assert.equal((await (await fetch(await of("JSON"))).json()).say, say);
  assert.match(await (await fetch(await of("Overlay"))).text(), /^<svg/);
  assert.match(await of("Embed: picture"), /^<img src="http[^"]*\.svg\?[^"]*" alt="/);
  const live = await of("Embed: live calculator");
  assert.match(live, /^<script src="(http[^"]*\/page\/hotwell\.js)" defer><\/script><hotwell-sum name="/);
  // Pages of others may load it.
  const script = await fetch(live.match(/src="([^"]*)"/)[1]);
  assert.equal(script.status, 200);
  assert.equal(script.headers.get("cross-origin-resource-policy"), "cross-origin");
  const back = await open((await of("This page")).replace(`${server.url}/`, ""));
  assert.equal(await says(back.page.locator("#sum-set-point-window .say"), /./), say);
  await back.close();
  await close();
});

test("each example plan is answered, by each question, with a picture", async () => {
  const { page, close } = await open("#plan");
  const { examples } = await (await fetch(`${server.url}/examples`)).json();
  await says(line(page), /./);
  for (const { link } of examples) {
    const plan = await (await fetch(`${server.url}${link}`)).text();
    await page.selectOption("#example", link);
    for (const question of ["plan", "flow-balance", "fill-level", "heat-budget"]) {
      await page.selectOption("#question", question);
      const answer = await (await fetch(`${server.url}/v1/${question}`, { method: "POST", body: plan, headers: { "Content-Type": "application/json" } })).json();
      await page.waitForFunction((expected) => document.querySelector("#answer .line .say")?.textContent === expected && !document.querySelector("#answer[aria-busy]"), answer.say);
      assert.equal(await page.locator(".notes > li").count(), answer.findings.length, `${link} ${question}`);
      await page.waitForFunction(() => { const picture = document.querySelector("#answer img"); return picture.complete && picture.naturalWidth > 0; });
    }
  }
  await close();
});

test("a finding stands beside its line, and its remedy is applied to the text", async () => {
  const { page, close } = await open("#plan");
  await page.selectOption("#example", "/examples/trapped-surplus.json");
  await page.selectOption("#question", "flow-balance");
  await says(line(page), /^Fails/);
  const text = await page.locator("#editor textarea").inputValue();
  const note = page.locator(".notes > li", { hasText: "no way out" });
  const number = Number((await note.locator(".place").textContent()).replace("Line ", ""));
  assert.match(text.split("\n")[number - 1], /exhaust/);
  const strip = await page.locator(".strip.fails").boundingBox();
  const box = await note.boundingBox();
  assert.ok(Math.abs(box.y - strip.y) < 40, `the note at ${box.y}, its line at ${strip.y}`);
  await note.locator(".go").click();
  assert.match(await page.evaluate(() => getSelection().toString()), /^"exhaust": /);
  await note.getByRole("button", { name: /^Apply/ }).click();
  await says(line(page), /^Holds/);
  const mended = await page.locator("#editor textarea").inputValue();
  assert.equal(JSON.parse(mended).units.absorber.count, 8);
  assert.equal(mended.split("\n").length, text.split("\n").length, "the rest stays as it was written");
  await page.locator("#undo").click();
  await says(line(page), /^Fails/);
  assert.equal(await page.locator("#editor textarea").inputValue(), text);
  await close();
});

test("all faults of a document stand beside their places, and a mistyped name is mended", async () => {
  const { page, close } = await open("#plan");
  await says(line(page), /./);
  await setText(page, '{\n  "units": {\n    "burner": { "taks": {}, "count": "five" }\n  }\n}');
  await says(line(page), /^2 faults/);
  assert.deepEqual(await page.locator(".notes .place").allTextContents(), ["Line 3", "Line 3"]);
  await page.getByRole("button", { name: "Write “takes”" }).click();
  await says(line(page), /^1 fault /);
  assert.match(await page.locator("#editor textarea").inputValue(), /"takes": \{\}/);
  await setText(page, '{\n  "units": {,}\n}');
  await says(line(page), /Not JSON/);
  assert.deepEqual(await page.locator(".notes .place").allTextContents(), ["Line 2"]);
  await close();
});

test("a packed link opens the same document and gives the same line", async () => {
  const { page, close } = await open("#plan");
  await says(line(page), /./);
  await setText(page, '{ "title": "Über 90 °C", "units": { "melter": { "gives": { "water": "40 g/s" }, "count": 2 } } }');
  await says(line(page), /80 g\/s of "water"/);
  const say = await line(page).textContent();
  await page.locator("#plan-more details.links summary").click();
  const of = (name) => page.locator("#plan-more .link", { hasText: name }).locator("input").inputValue();
  assert.equal(await (await fetch(await of("Chat bot"))).text(), say);
  const back = await open((await of("This page")).replace(`${server.url}/`, ""));
  await says(line(back.page), /80 g\/s of "water"/);
  assert.equal(await back.page.locator("#editor textarea").inputValue(), await page.locator("#editor textarea").inputValue());
  await back.close();
  await close();
});

test("the keyboard alone reaches a sum, asks it and leaves it", async () => {
  const { page, close } = await open("");
  await page.locator("details.sum").first().waitFor();
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.className), "skip");
  await page.locator("#find").focus();
  await page.keyboard.type("carnot");
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.closest("details").id), "sum-carnot-limit");
  await page.keyboard.press("Enter");
  await says(page.locator("#sum-carnot-limit .say"), /./);
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.labels[0].textContent), "hot");
  await close();
});

test("what a stranger's link says is shown as text", async () => {
  const evil = '<img src=x onerror="document.title=1">';
  const { page, close } = await open(`#sums/units-needed?flow=${encodeURIComponent(evil)}&each=1`);
  await says(page.locator("[id$=flow-fault]"), /<img src=x/);
  assert.equal(await page.locator("img[src=x]").count(), 0);
  await close();
});

for (const scheme of ["light", "dark"]) {
  for (const [device, viewport] of [["phone", { width: 360, height: 740 }], ["desktop", { width: 1366, height: 900 }]]) {
    test(`axe finds nothing, and nothing sticks out: ${device}, ${scheme}`, async () => {
      const { page, close } = await open("", { viewport, colorScheme: scheme });
      const check = async (what) => {
        if (SHOTS) {
          mkdirSync(SHOTS, { recursive: true });
          await page.screenshot({ path: `${SHOTS}/${what}-${device}-${scheme}.png`, fullPage: true });
        }
        await accessible(page, what);
      };
      await page.locator("details.sum").first().waitFor();
      await check("sums");
      await page.goto(`${server.url}/#sums/cleaner-chain`);
      const one = page.locator("#sum-cleaner-chain");
      await says(one.locator(".say"), /./);
      await one.locator("details.links summary").click();
      await one.locator("details.figures summary").click();
      await one.locator('[name="units"]').fill("many");
      await says(one.locator("[id$=units-fault]"), /Found/);
      await check("sum");
      await page.goto(`${server.url}/#plan`);
      await says(line(page), /./);
      await page.selectOption("#example", "/examples/short-supply.json");
      await says(line(page), /^Fails/);
      for (const part of ["figures", "shows", "links", "whole"]) await page.locator(`#plan-more details.${part} > summary`).click();
      await page.locator("#plan-more .pictures img").nth(2).waitFor();
      await page.waitForTimeout(300);
      await check("plan");
      await setText(page, '{ "unit": {}, "zones": { "hall": { "at": "hot" } } }');
      await says(line(page), /^3 faults/);
      await check("faults");
      await close();
    });
  }
}
