// The elements for other pages, on a page of another origin than the service.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { gzipSync } from "node:zlib";

import { accessible, browser, ownService, site } from "./support.mjs";

let server;
let web;
let chrome;

const page_ = (body) => `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>A page</title>
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; script-src 'self'; style-src 'self'; connect-src *; img-src blob:; require-trusted-types-for 'script'">
<link rel="stylesheet" href="page.css"><script src="hotwell.js" data-service="SERVICE" defer></script></head><body><main><h1>A page</h1>${body}</main></body></html>`;

const SUM = '<hotwell-sum name="units-needed" flow="2.5 kg/s" each="300 g/s"><a href="SERVICE/v1/sums/units-needed.txt?flow=2.5%20kg/s&amp;each=300%20g/s">Units needed</a></hotwell-sum>';
const PLAN = '<hotwell-plan src="SERVICE/examples/trapped-surplus.json"><a href="SERVICE/#plan">The plan</a></hotwell-plan>';
const EVIL = JSON.stringify({ title: "<img src=x onerror=alert(1)>", supplies: { "<b>tap": { header: "<i>water", rate: 1 } }, demands: { "<script>": { header: "<i>water", rate: 2 } } });

before(async () => {
  server = await ownService();
  const pages = {
    "/sum.html": page_(SUM),
    "/linked.html": page_(SUM.replace(/ name=.*?><a/, "><a")),
    "/dark.html": page_(SUM.replace("<hotwell-sum", '<hotwell-sum class="dark"')),
    "/plan.html": page_(PLAN),
    "/all.html": page_(SUM + SUM.replaceAll("units-needed", "heat-exchanger").replace(/ flow=".*?" each=".*?"/, "") + PLAN),
    "/evil.html": page_(PLAN.replace("SERVICE/examples/trapped-surplus.json", "evil.json")),
    "/evil.json": EVIL,
    "/broken.html": page_(PLAN.replace("SERVICE/examples/trapped-surplus.json", "broken.json")),
    "/broken.json": '{ "unit": {} }',
  };
  web = await site("examples/embed", Object.fromEntries(Object.entries(pages).map(([path, text]) => [path, text.replaceAll("SERVICE", server.url)])));
  chrome = await browser();
});

after(async () => {
  await chrome?.close();
  await server?.stop();
  web?.stop();
});

async function open(path, options = {}) {
  const context = await chrome.newContext(options);
  const page = await context.newPage();
  const said = [];
  page.on("pageerror", (error) => said.push(error.message));
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type()) && !/net::ERR_|status of 4\d\d/.test(message.text())) said.push(message.text());
  });
  await page.goto(`${web.url}/${path}`);
  return { page, close: async () => { await context.close(); assert.deepEqual(said, []); } };
}

const line = (page) => page.locator("[part=line]").first();

test("the script is at most 10 kB when compressed, and one file", () => {
  const script = readFileSync(new URL("../../examples/embed/hotwell.js", import.meta.url));
  assert.ok(gzipSync(script, { level: 9 }).length <= 10_000);
  assert.doesNotMatch(script.toString(), /\bimport\b|innerHTML|eval\(/);
});

test("a sum answers across origins as its fields change", async () => {
  const { page, close } = await open("sum.html");
  await page.locator("hotwell-sum").locator("[part=line]", { hasText: "9 units" }).waitFor();
  assert.notEqual(new URL(page.url()).origin, server.url);
  assert.equal(await page.locator("hotwell-sum a").isVisible(), false, "the link gives way to the answer");
  await page.getByLabel("each").fill("600 g/s");
  await page.locator("[part=line]", { hasText: "5 units" }).waitFor();
  await page.getByLabel("each").fill("600 km");
  await page.locator(".fault", { hasText: 'Found "600 km"' }).waitFor();
  assert.equal(await page.getByLabel("each").getAttribute("aria-invalid"), "true");
  await page.getByLabel("each").fill("600 g/s");
  await page.locator("[part=line]", { hasText: "5 units" }).waitFor();
  assert.equal(await page.getByLabel("each").getAttribute("aria-invalid"), "false");
  await close();
});

test("the link inside is enough to go by", async () => {
  const { page, close } = await open("linked.html");
  await page.locator("[part=line]", { hasText: "9 units: 2.5 kg/s" }).waitFor();
  assert.equal(await page.getByLabel("flow").inputValue(), "2.5 kg/s");
  await close();
});

test("a plan shows verdict, findings and picture", async () => {
  const { page, close } = await open("plan.html");
  await page.locator("[part=line]", { hasText: "finds no way out" }).waitFor();
  assert.equal(await page.locator(".word").textContent(), "✕ Fails");
  const picture = page.locator("[part=picture]");
  await picture.waitFor();
  await page.waitForFunction(() => document.querySelector("hotwell-plan").shadowRoot.querySelector("img").naturalWidth > 0);
  assert.match(await picture.getAttribute("alt"), /no way out/);
  await close();
});

test("what is no plan is told with its place, and names that are markup are text", async () => {
  const broken = await open("broken.html");
  await broken.page.locator("[part=line]", { hasText: "/unit: found" }).waitFor();
  await broken.close();
  const { page, close } = await open("evil.html");
  await page.locator("[part=title]", { hasText: "<img src=x" }).waitFor();
  const elements = await page.locator("hotwell-plan").evaluate((one) => one.shadowRoot.querySelectorAll("b, i, script, img[src=x]").length);
  assert.equal(elements, 0);
  await close();
});

test("properties of the page make its theme", async () => {
  const plain = await open("sum.html");
  const dark = await open("dark.html");
  const look = async ({ page }) => {
    await line(page).waitFor();
    return page.locator("[part=box]").evaluate((box) => [getComputedStyle(box).backgroundColor, getComputedStyle(box).color, getComputedStyle(box).borderTopLeftRadius]);
  };
  assert.deepEqual(await look(plain), ["rgb(255, 255, 255)", "rgb(23, 35, 43)", "6px"]);
  assert.deepEqual(await look(dark), ["rgb(34, 52, 63)", "rgb(255, 255, 255)", "0px"]);
  await plain.close();
  await dark.close();
});

test("without its script, and without the service, it is a plain link", async () => {
  const bare = await open("sum.html", { javaScriptEnabled: false });
  const link = bare.page.locator("hotwell-sum a");
  assert.ok(await link.isVisible());
  assert.match(await (await fetch(await link.getAttribute("href"))).text(), /^9 units/);
  await bare.close();
  await server.stop();
  const { page, close } = await open("sum.html");
  await page.locator(".fault", { hasText: "cannot be reached" }).waitFor();
  assert.ok(await page.locator("hotwell-sum a").isVisible());
  await server.start();
  await close();
});

test("when the service goes away the last answer stays and is seen to be of before", async () => {
  const { page, close } = await open("sum.html");
  await page.locator("[part=line]", { hasText: "9 units" }).waitFor();
  await server.stop();
  await page.getByLabel("each").fill("500 g/s");
  await page.locator(".fault", { hasText: "cannot be reached" }).waitFor();
  assert.match(await line(page).getAttribute("class"), /stale/);
  assert.match(await line(page).textContent(), /9 units/);
  await server.start();
  await page.getByLabel("each").fill("250 g/s");
  await page.locator("[part=line]:not(.stale)", { hasText: "10 units" }).waitFor();
  await close();
});

for (const colorScheme of ["light", "dark"]) {
  test(`axe finds nothing: ${colorScheme}`, async () => {
    const { page, close } = await open("all.html", { colorScheme, viewport: { width: 360, height: 740 } });
    await page.locator("hotwell-plan [part=picture]").waitFor();
    await page.locator("hotwell-sum [part=line]").nth(1).waitFor();
    await page.getByLabel("each").fill("many");
    await page.locator(".fault", { hasText: "Found" }).first().waitFor();
    await accessible(page, "embed");
    await close();
  });
}
