// A service and a browser for the tests, both ended with them.

import { spawn } from "node:child_process";
import { existsSync } from "node:fs";
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

/** The service: the one that HOTWELL_URL names, else the program in target/ (HOTWELL_BIN) on a port of its own. */
export async function service() {
  if (process.env.HOTWELL_URL) return { url: process.env.HOTWELL_URL.replace(/\/$/, ""), stop() {} };
  const program = process.env.HOTWELL_BIN ?? ["release", "debug"].map((kind) => `${ROOT}target/${kind}/hotwell`).find(existsSync);
  if (!program) throw new Error("no hotwell in target/: run cargo build first");
  const address = `127.0.0.1:${await freePort()}`;
  const process_ = spawn(program, ["--listen", address], { stdio: "ignore" });
  for (let tries = 0; tries < 200; tries += 1) {
    if (await fetch(`http://${address}/readyz`).then((response) => response.ok, () => false)) break;
    await wait(50);
  }
  return { url: `http://${address}`, stop: () => process_.kill() };
}

/** Debian's Chromium, or the one that CHROMIUM names. */
export function browser() {
  const executablePath = process.env.CHROMIUM ?? ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find(existsSync);
  if (!executablePath) throw new Error("no Chromium: apt-get install chromium, or name one by CHROMIUM");
  // Within a container root has no sandbox of its own to give.
  return chromium.launch({ executablePath, args: process.getuid?.() === 0 ? ["--no-sandbox"] : [] });
}
