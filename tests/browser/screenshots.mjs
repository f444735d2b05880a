// The pictures of the README: `npm run screenshots` writes them into `assets/`.

import { readFileSync, writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

import { browser, ownService, site } from "./support.mjs";

const ASSETS = fileURLToPath(new URL("../../assets/", import.meta.url));
/** A scene of nobody's: dusk over ice, so that the transparent ground is seen to be one. */
const SCENE = "linear-gradient(#16222b 0 46%, #31505e 46% 60%, #5d7f8a 60% 72%, #a9bfc4 72%)";

const server = await ownService();
const web = await site("examples/overlay");
const embed = await site("examples/embed", { "/shot.html": `<!doctype html><html lang="en"><head><title>Embed</title><link rel="stylesheet" href="page.css">
  <script src="hotwell.js" data-service="${server.url}" defer></script></head><body><main>
  <hotwell-sum name="units-needed" flow="2.5 kg/s" each="300 g/s"></hotwell-sum>
  <hotwell-sum class="dark" name="time-to-full-or-empty"></hotwell-sum></main></body></html>` });
const chrome = await browser();
try {
  const open = async (viewport, address) => {
    const page = await (await chrome.newContext({ viewport, colorScheme: "light" })).newPage();
    await page.goto(address);
    return page;
  };
  const page = await open({ width: 1100, height: 680 }, `${server.url}/#plan`);
  await page.locator("#answer .say").waitFor();
  await page.selectOption("#example", "/examples/trapped-surplus.json");
  await page.locator("#answer .say", { hasText: /^Fails/ }).waitFor();
  await page.waitForFunction(() => document.querySelector("#answer img")?.naturalWidth > 0 && !document.querySelector("#answer[aria-busy]"));
  await page.screenshot({ path: `${ASSETS}page.png` });

  // The card as a chat gets it.
  const plan = readFileSync(new URL("../../examples/plans/short-supply.json", import.meta.url));
  const card = await fetch(`${server.url}/v1/plan.png?picture=card`, { method: "POST", body: plan, headers: { "Content-Type": "application/json" } });
  writeFileSync(`${ASSETS}card.png`, Buffer.from(await card.arrayBuffer()));

  const overlay = await open({ width: 1280, height: 720 }, `${web.url}/overlay.html?service=${server.url}&plan=kestrel-deep`);
  await overlay.locator("#frame:not([hidden]) .store").first().waitFor();
  await overlay.evaluate((scene) => { document.documentElement.style.background = scene; }, SCENE);
  await overlay.waitForTimeout(400);
  await overlay.screenshot({ path: `${ASSETS}overlay.png` });

  const elements = await open({ width: 720, height: 560 }, `${embed.url}/shot.html`);
  await elements.locator("hotwell-sum [part=line]").nth(1).waitFor();
  await elements.screenshot({ path: `${ASSETS}embed.png`, fullPage: true });
} finally {
  await chrome.close();
  await server.stop();
  web.stop();
  embed.stop();
}
