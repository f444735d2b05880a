// A service and a browser for the tests, both ended with them.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { existsSync, readFileSync, readdirSync, statSync } from "node:fs";
import { createServer as createHttpServer } from "node:http";
import { createRequire } from "node:module";
import { createServer } from "node:net";
import { setTimeout as wait } from "node:timers/promises";
import { fileURLToPath } from "node:url";

import { chromium } from "playwright-core";

const ROOT = fileURLToPath(new URL("../../", import.meta.url));

const freePort = () => new Promise((resolve, reject) => {
  const server = createServer().once("error", reject);
  server.listen(0, "127.0.0.1", () => {
    const { port } = server.address();
    server.close(() => resolve(port));
  });
});

/** The one that was built last: an old one would be tested in silence. */
const newest = (paths) => paths.filter(existsSync).sort((one, other) => statSync(other).mtimeMs - statSync(one).mtimeMs)[0];

/** The service: the one that HOTWELL_URL names, else the program in target/ (HOTWELL_BIN) on a port of its own. */
export async function service() {
  if (process.env.HOTWELL_URL) return { url: process.env.HOTWELL_URL.replace(/\/$/, ""), stop() {} };
  return ownService();
}

/** The program in target/ on a port of its own, which a test may stop and start again. */
export async function ownService() {
  const program = process.env.HOTWELL_BIN ?? newest(["release", "debug"].map((kind) => `${ROOT}target/${kind}/hotwell`));
  if (!program) throw new Error("no hotwell in target/: run cargo build first");
  const address = `127.0.0.1:${await freePort()}`;
  let process_;
  const one = {
    url: `http://${address}`,
    async start() {
      process_ = spawn(program, ["--listen", address], { stdio: "ignore" });
      for (let tries = 0; tries < 200; tries += 1) {
        if (await fetch(`http://${address}/readyz`).then((response) => response.ok, () => false)) return;
        await wait(50);
      }
      throw new Error("the service is not ready");
    },
    /** At once, as a machine that loses its power. */
    async stop() {
      const ended = new Promise((resolve) => process_.once("exit", resolve));
      process_.kill("SIGKILL");
      await ended;
    },
  };
  await one.start();
  return one;
}

const TYPES = { html: "text/html; charset=utf-8", js: "text/javascript; charset=utf-8", css: "text/css; charset=utf-8", json: "application/json" };

/** A folder of the repository as another origin than the service's; `more` are further pages by their path. */
export async function site(folder, more = {}) {
  const server = createHttpServer((request, response) => {
    const path = decodeURIComponent(new URL(request.url, "http://x").pathname);
    const file = `${ROOT}${folder}${path}`;
    const found = more[path] ?? (!path.includes("..") && existsSync(file) ? readFileSync(file) : null);
    response.writeHead(found === null ? 404 : 200, { "Content-Type": TYPES[path.split(".").at(-1)] ?? "text/plain" });
    response.end(found ?? "");
  });
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  return { url: `http://127.0.0.1:${server.address().port}`, stop: () => { server.close(); server.closeAllConnections(); } };
}

/** Debian's Chromium, or the one that CHROMIUM names. */
export function browser() {
  const executablePath = process.env.CHROMIUM ?? ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find(existsSync);
  if (!executablePath) throw new Error("no Chromium: apt-get install chromium, or name one by CHROMIUM");
  // Within a container root has no sandbox of its own to give.
  return chromium.launch({ executablePath, args: process.getuid?.() === 0 ? ["--no-sandbox"] : [] });
}

const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** axe-core finds nothing on this page, and nothing sticks out of it. */
export async function accessible(page, what) {
  // The page may forbid what strings would be made into; axe is put in past its policy.
  const session = await page.context().newCDPSession(page);
  await session.send("Runtime.evaluate", { expression: AXE });
  const { violations, passes } = await page.evaluate(() => axe.run());
  assert.deepEqual(violations.map(({ id, nodes }) => `${id}: ${nodes[0].target} ${nodes[0].failureSummary}`), [], what);
  assert.ok(passes.length > 10, `${what}: axe had little to look at`);
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `${what} is wider than the screen`);
}

/** The alpha of every pixel of a PNG, decoded by the browser. */
export async function pixels(chrome, png) {
  const page = await chrome.newPage();
  const { width, height, alpha } = await page.evaluate(async (base64) => {
    const blob = new Blob([Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0))], { type: "image/png" });
    const bitmap = await createImageBitmap(blob);
    const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
    const context = canvas.getContext("2d");
    context.drawImage(bitmap, 0, 0);
    const { data } = context.getImageData(0, 0, bitmap.width, bitmap.height);
    let packed = "";
    for (let at = 3; at < data.length; at += 4) packed += String.fromCharCode(data[at]);
    return { width: bitmap.width, height: bitmap.height, alpha: btoa(packed) };
  }, png.toString("base64"));
  await page.close();
  return { width, height, alpha: Buffer.from(alpha, "base64") };
}

const QUESTIONS = ["plan", "flow-balance", "fill-level", "heat-budget"];

const named = (folder) => readdirSync(`${ROOT}examples/${folder}`).filter((name) => name.endsWith(".json")).sort()
  .map((name) => [name.replace(".json", ""), readFileSync(`${ROOT}examples/${folder}/${name}`, "utf8")]);

/** Name and SVG of every picture of every example: of each plan by each question, of the documents that ask more, of each sum. */
export async function pictures(url, only = "", query = "") {
  const asked = [
    ...named("plans").flatMap(([name, body]) => QUESTIONS.map((question) => [`${name}--${question}`, question, body])),
    ...named("questions").map(([name, body]) => [`question--${name}`, name, body]),
  ].filter(([name]) => name.includes(only));
  const found = await Promise.all(asked.map(async ([name, question, body]) => {
    const response = await fetch(`${url}/v1/${question}.svg?${query}`, { method: "POST", body, headers: { "Content-Type": "application/json" } });
    if (!response.ok) throw new Error(`${name}: ${response.status}`);
    return [name, await response.text()];
  }));
  const { sums } = await (await fetch(`${url}/v1/sums`)).json();
  for (const sum of sums.filter(({ name }) => `sum--${name}`.includes(only))) {
    const response = await fetch(`${url}/v1/sums/${sum.name}.svg?${new URLSearchParams(sum.example)}&${query}`);
    if (!response.ok) throw new Error(`${sum.name}: ${response.status}`);
    found.push([`sum--${sum.name}`, await response.text()]);
  }
  return found;
}
