// Pictures as they are shown small and large: what a reader sees of each is large enough, and nothing covers anything else.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";

import { browser, pictures, service } from "./support.mjs";

let server;
let chrome;
let all;

before(async () => {
  server = await service();
  chrome = await browser();
  all = await pictures(server.url);
});

after(async () => {
  await chrome?.close();
  server?.stop();
});

const source = (svg) => `data:image/svg+xml;base64,${Buffer.from(svg).toString("base64")}`;

/** Every text that is seen of a picture which fills a window so wide: its place and size in CSS px. Put in as elements, a picture goes by the window. */
async function texts(page, svg) {
  await page.setContent(`<style>body{margin:0}svg{display:block;width:100vw;height:auto}</style>${svg}`);
  return page.evaluate(() => {
    const root = document.querySelector("svg").getBoundingClientRect();
    const scale = root.width / document.querySelector("svg").viewBox.baseVal.width;
    const seen = [...document.querySelectorAll("svg text")].filter((text) => text.getClientRects().length > 0 && text.textContent.trim() !== "");
    const list = seen.map((text) => {
      const { left, right, top, bottom, height } = text.getBoundingClientRect();
      // Letters take less than the height of their line.
      return { said: text.textContent, size: parseFloat(getComputedStyle(text).fontSize) * scale, left, right, top: top + 0.15 * height, bottom: bottom - 0.2 * height };
    });
    const boxes = [...document.querySelectorAll("svg rect, svg path")].filter((box) => box.closest("defs") === null && box.getClientRects().length > 0)
      .map((box) => box.getBoundingClientRect()).map(({ left, right, top, bottom }) => ({ left, right, top, bottom }));
    return { list, boxes, wide: root.width, high: root.height };
  });
}

function sound(name, { list, boxes, wide, high }, least) {
  assert.ok(list.length >= 2, `${name}: ${list.length} texts`);
  for (const { said, size } of list) assert.ok(size >= least, `${name}: "${said}" of ${size} px`);
  for (const one of [...list, ...boxes]) {
    assert.ok(one.left >= -0.5 && one.right <= wide + 0.5 && one.top >= -0.5 && one.bottom <= high + 0.5, `${name} leaves the sheet: ${JSON.stringify(one)}`);
  }
  for (const [at, one] of list.entries()) {
    for (const other of list.slice(at + 1)) {
      const apart = one.right <= other.left + 0.5 || other.right <= one.left + 0.5 || one.bottom <= other.top + 0.5 || other.bottom <= one.top + 0.5;
      assert.ok(apart, `${name}: "${one.said}" and "${other.said}" lie on one another`);
    }
  }
}

test("shown 320 px wide every letter of every picture has 11 px and more, and nothing lies on anything else", async () => {
  const page = await (await chrome.newContext({ viewport: { width: 320, height: 400 } })).newPage();
  assert.ok(all.length >= 90, `only ${all.length} pictures`);
  for (const [name, svg] of all) sound(name, await texts(page, svg), 11);
  await page.context().close();
});

test("shown 800 px wide every letter has 10 px and more, and no text lies on another", async () => {
  const page = await (await chrome.newContext({ viewport: { width: 800, height: 700 } })).newPage();
  for (const [name, svg] of all) sound(name, await texts(page, svg), 10);
  await page.context().close();
});

test("an image goes by its own width, wherever it stands", async () => {
  const page = await (await chrome.newContext({ viewport: { width: 900, height: 900 } })).newPage();
  const shot = async (markup) => {
    await page.setContent(`<body style="margin:0;background:#0c1317">${markup}`);
    await page.evaluate(() => Promise.all([...document.images].map((image) => image.decode())));
    return page.screenshot();
  };
  for (const name of ["kestrel-deep--plan", "trapped-surplus--flow-balance", "question--compare", "sum--units-needed"]) {
    const [, svg] = all.find(([one]) => one === name);
    const layer = (shown) => svg.replace(/<style>.*?<\/style>/, `<style>.hotwell-${shown === "card" ? "sheet" : "card"}{display:none}.hotwell-${shown}{display:inline}</style>`);
    for (const [width, shown] of [[320, "card"], [560, "card"], [561, "sheet"], [800, "sheet"]]) {
      const image = (text) => `<img src="${source(text)}" width="${width}">`;
      assert.ok((await shot(image(svg))).equals(await shot(image(layer(shown)))), `${name}: ${width} px wide, an image is the ${shown}`);
      const [, , , high] = svg.match(/viewBox="([^"]*)"/)[1].split(" ").map(Number);
      const ground = (text) => `<div style="width:${width}px;height:${(width * high) / 800}px;background:url(${source(text)}) 0 0/100% 100%"></div>`;
      assert.ok((await shot(ground(svg))).equals(await shot(ground(layer(shown)))), `${name}: ${width} px wide, a background is the ${shown}`);
    }
  }
  await page.context().close();
});

test("opened by itself, under its own policy, a picture styles itself and runs nothing", async () => {
  const query = "flow=2.5%20kg/s&each=300%20g/s";
  for (const [width, seen] of [[400, "card"], [900, "sheet"]]) {
    const page = await (await chrome.newContext({ viewport: { width, height: 700 } })).newPage();
    const said = [];
    page.on("console", (message) => said.push(message.text()));
    const response = await page.goto(`${server.url}/v1/sums/units-needed.svg?${query}`);
    assert.match(response.headers()["content-security-policy"], /default-src 'none'.*sandbox/);
    const displays = await page.evaluate(() => ["sheet", "card"].map((layer) => getComputedStyle(document.querySelector(`.hotwell-${layer}`)).display));
    assert.deepEqual(displays, seen === "card" ? ["none", "inline"] : ["inline", "none"]);
    assert.deepEqual(said, []);
    await page.context().close();
  }
});
