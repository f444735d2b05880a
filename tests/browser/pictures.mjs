// Every picture of every example, to be looked at: `npm run pictures [FOLDER]`.
//
// For each example plan and question, and for each example document of `examples/questions/` and each single sum, one sheet:
// three sizes over a dark, a light and a busy ground. Then galleries: of all cards, and of sheets and cards as eyes without colour,
// or with a deficiency of it, see them (Chromium's own emulation).

import { mkdirSync } from "node:fs";

import { browser, pictures, service } from "./support.mjs";

const FOLDER = process.argv[2] ?? "pictures";
/** Only pictures whose name contains this. */
const ONLY = process.env.ONLY ?? "";
const SIZES = [800, 480, 320];
const GROUNDS = {
  dark: "#0c1317",
  light: "#f4f6f7",
  busy: "repeating-linear-gradient(60deg, #7b8b3a 0 24px, #c9a227 24px 40px, #274f6b 40px 70px, #e8e4d8 70px 84px)",
};
const EYES = ["none", "achromatopsia", "deuteranopia", "protanopia", "tritanopia"];

/** Name and source of every picture. */
const sources = async (url) => (await pictures(url, ONLY)).map(([name, svg]) => [name, `data:image/svg+xml;base64,${Buffer.from(svg).toString("base64")}`]);

const image = (source, width) => `<img src="${source}" width="${width}" alt="" style="align-self:start">`;

const server = await service();
const chrome = await browser();
try {
  mkdirSync(FOLDER, { recursive: true });
  const all = await sources(server.url);
  const page = await (await chrome.newContext({ viewport: { width: 1640, height: 900 } })).newPage();
  for (const [name, source] of all) {
    const rows = Object.entries(GROUNDS).map(([, ground]) =>
      `<div style="background:${ground};display:flex;gap:12px;padding:8px">${SIZES.map((width) => image(source, width)).join("")}</div>`);
    await page.setContent(`<body style="margin:0">${rows.join("")}`);
    await page.screenshot({ path: `${FOLDER}/${name}.png`, fullPage: true });
  }
  const gallery = (list, width, columns, ground) => page.setContent(`<body style="margin:0;background:${ground};color:#fff;font:11px sans-serif;display:grid;grid-template-columns:repeat(${columns},${width}px);gap:6px">${
    list.map(([name, source]) => `<figure style="margin:0">${image(source, width)}<figcaption>${name}</figcaption></figure>`).join("")}`);
  for (const [kind, list] of [["plans", all.filter(([name]) => !name.startsWith("sum--"))], ["sums", all.filter(([name]) => name.startsWith("sum--"))]]) {
    for (const [what, ground] of Object.entries(GROUNDS)) {
      await gallery(list, 320, 5, ground);
      await page.screenshot({ path: `${FOLDER}/cards-${kind}-${what}.png`, fullPage: true });
    }
  }
  const cdp = await page.context().newCDPSession(page);
  const shown = all.filter(([name]) => !name.startsWith("sum--"));
  for (const eyes of EYES) {
    await cdp.send("Emulation.setEmulatedVisionDeficiency", { type: eyes });
    // As sheets, then as cards.
    for (const [what, width, columns] of [["sheets", 800, 2], ["cards", 320, 5]]) {
      await gallery(shown, width, columns, GROUNDS.dark);
      await page.screenshot({ path: `${FOLDER}/eyes-${eyes}-${what}.png`, fullPage: true });
    }
  }
  console.log(`${all.length} pictures in ${FOLDER}`);
} finally {
  await chrome.close();
  server.stop();
}
