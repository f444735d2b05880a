// Every picture of every example, to be looked at: `npm run pictures [FOLDER]`.
//
// For each example plan and question, and for each example document of `examples/questions/` and each single sum, one sheet:
// three sizes over a dark, a light and a busy ground. Then galleries of all of them as eyes without colour, or with a
// deficiency of it, see them (Chromium's own emulation).

import { mkdirSync, readdirSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

import { browser, service } from "./support.mjs";

const FOLDER = process.argv[2] ?? "pictures";
/** Only pictures whose name contains this. */
const ONLY = process.env.ONLY ?? "";
const EXAMPLES = fileURLToPath(new URL("../../examples/", import.meta.url));
const PLAN_QUESTIONS = ["plan", "flow-balance", "fill-level", "heat-budget"];
const SIZES = [800, 480, 320];
const GROUNDS = {
  dark: "#0c1317",
  light: "#f4f6f7",
  busy: "repeating-linear-gradient(60deg, #7b8b3a 0 24px, #c9a227 24px 40px, #274f6b 40px 70px, #e8e4d8 70px 84px)",
};
const EYES = ["none", "achromatopsia", "deuteranopia", "protanopia", "tritanopia"];

const named = (folder) => readdirSync(`${EXAMPLES}${folder}`).filter((name) => name.endsWith(".json")).sort()
  .map((name) => [name.replace(".json", ""), readFileSync(`${EXAMPLES}${folder}/${name}`, "utf8")]);

/** Name and source of every picture. */
async function pictures(url) {
  const asked = [
    ...named("plans").flatMap(([name, body]) => PLAN_QUESTIONS.map((question) => [`${name}--${question}`, question, body])),
    ...named("questions").map(([name, body]) => [`question--${name}`, name, body]),
  ].filter(([name]) => name.includes(ONLY));
  const found = await Promise.all(asked.map(async ([name, question, body]) => {
    const response = await fetch(`${url}/v1/${question}.svg`, { method: "POST", body, headers: { "Content-Type": "application/json" } });
    if (!response.ok) throw new Error(`${name}: ${response.status}`);
    return [name, await response.text()];
  }));
  const { sums } = await (await fetch(`${url}/v1/sums`)).json();
  for (const sum of sums.filter(({ name }) => `sum--${name}`.includes(ONLY))) {
    const response = await fetch(`${url}/v1/sums/${sum.name}.svg?${new URLSearchParams(sum.example)}`);
    found.push([`sum--${sum.name}`, await response.text()]);
  }
  return found.map(([name, svg]) => [name, `data:image/svg+xml;base64,${Buffer.from(svg).toString("base64")}`]);
}

const image = (source, width) => `<img src="${source}" width="${width}" alt="" style="align-self:start">`;

const server = await service();
const chrome = await browser();
try {
  mkdirSync(FOLDER, { recursive: true });
  const all = await pictures(server.url);
  const page = await (await chrome.newContext({ viewport: { width: 1640, height: 900 } })).newPage();
  for (const [name, source] of all) {
    const rows = Object.entries(GROUNDS).map(([, ground]) =>
      `<div style="background:${ground};display:flex;gap:12px;padding:8px">${SIZES.map((width) => image(source, width)).join("")}</div>`);
    await page.setContent(`<body style="margin:0">${rows.join("")}`);
    await page.screenshot({ path: `${FOLDER}/${name}.png`, fullPage: true });
  }
  const cdp = await page.context().newCDPSession(page);
  for (const eyes of EYES) {
    const cells = all.filter(([name]) => !name.startsWith("sum--")).map(([name, source]) =>
      `<figure style="margin:0">${image(source, 400)}<figcaption>${name}</figcaption></figure>`);
    await page.setContent(`<body style="margin:0;background:#0c1317;color:#fff;font:11px sans-serif;display:grid;grid-template-columns:repeat(4,400px);gap:6px">${cells.join("")}`);
    await cdp.send("Emulation.setEmulatedVisionDeficiency", { type: eyes });
    await page.screenshot({ path: `${FOLDER}/eyes-${eyes}.png`, fullPage: true });
  }
  console.log(`${all.length} pictures in ${FOLDER}`);
} finally {
  await chrome.close();
  server.stop();
}
