// Links: a document packed into one, as the service unpacks it, and rows of links to copy.

import { el, tell } from "./show.js";

const through = async (bytes, stream) => {
  const out = new Blob([bytes]).stream().pipeThrough(stream);
  return new Uint8Array(await new Response(out).arrayBuffer());
};

/** A text through zlib (RFC 1950), then base64url without padding. */
export async function pack(text) {
  const bytes = await through(new TextEncoder().encode(text), new CompressionStream("deflate"));
  let binary = "";
  for (const byte of bytes) binary += String.fromCharCode(byte);
  return btoa(binary).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

/** What `pack` packed. Throws where it is damaged. */
export async function unpack(packed) {
  const binary = atob(packed.replaceAll("-", "+").replaceAll("_", "/"));
  const bytes = Uint8Array.from(binary, (letter) => letter.charCodeAt(0));
  return new TextDecoder().decode(await through(bytes, new DecompressionStream("deflate")));
}

async function copy(text, field) {
  try {
    await navigator.clipboard.writeText(text);
  } catch {
    // Without a secure context there is no clipboard to write to; what is selected can be copied all the same.
    field.focus();
    field.select();
    if (!document.execCommand("copy")) return tell("Selected: copy it with the keyboard.");
  }
  tell("Copied.");
}

/** A row: what the link is for, the link itself, a button that copies it, and perhaps a look at it. */
function row({ name, text, look }, id) {
  const field = el("input", { id, type: "text", readonly: "", value: text, spellcheck: "false" });
  field.addEventListener("focus", () => field.select());
  const button = el("button", { type: "button", "aria-label": `Copy: ${name}` }, "Copy");
  button.addEventListener("click", () => copy(text, field));
  return el("div", { class: "link" },
    el("label", { for: id }, name), field, button,
    look ? el("a", { href: look, target: "_blank", rel: "noopener", "aria-label": `Open: ${name}` }, "Open") : null);
}

let rows = 0;

/** Links to copy, one row each, folded away under a title. */
export function linkRows(title, links, open = false) {
  const body = links.map((link) => row(link, `link-${(rows += 1)}`));
  return el("details", { class: "links", ...(open ? { open: "" } : {}) }, el("summary", {}, title), ...body);
}

const attribute = (text) =>
  text.replaceAll("&", "&amp;").replaceAll('"', "&quot;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");

/** The links of an answer: `path` without suffix, `query` encoded, `say` its line, `page` where this page opens it. */
export function answerLinks(path, query, say, page) {
  const host = location.origin;
  const picture = `${host}${path}.svg?${query}`;
  // What a chat shows of a link is small.
  const card = `${host}${path}.png?${query}&picture=card`;
  const bot = `${host}${path}.txt?${query}&errors=200`;
  const sum = path.startsWith("/v1/sums/") ? path.slice("/v1/sums/".length) : null;
  const link = `<a href="${attribute(`${host}${path}.txt?${query}`)}">${attribute(say)}</a>`;
  const live = `<script src="${host}/page/hotwell.js" defer></script><hotwell-sum name="${sum}">${link}</hotwell-sum>`;
  return [
    { name: "Chat bot: one line", text: bot, look: bot },
    { name: "Overlay: picture", text: picture, look: picture },
    ...(sum ? [{ name: "Embed: live calculator", text: live }] : []),
    { name: "Embed: picture", text: `<img src="${attribute(picture)}" alt="${attribute(say)}">` },
    { name: "Preview: card as PNG", text: card, look: card },
    { name: "Sheet as PNG", text: `${host}${path}.png?${query}`, look: `${host}${path}.png?${query}` },
    { name: "JSON", text: `${host}${path}.json?${query}`, look: `${host}${path}.json?${query}` },
    { name: "This page", text: `${host}/${page}`, look: null },
  ];
}
