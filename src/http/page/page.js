// The page: which of its two views is shown, by the fragment of the address.
//
//   #sums  #sums/NAME  #sums/NAME?flow=...      #plan  #plan?z=PACKED&ask=QUESTION

import { plan } from "./plan.js";
import { el } from "./show.js";
import { sums } from "./sums.js";

const views = ["sums", "plan"];
const ready = {};

/** A view's own part is made when it is first shown. */
const begin = { sums, plan };

async function show() {
  const [path, query = ""] = splitOnce(decodeFragment(location.hash), "?");
  const [first, name = ""] = path.split("/");
  const view = views.includes(first) ? first : "sums";
  for (const one of views) document.getElementById(`view-${one}`).hidden = one !== view;
  for (const link of document.querySelectorAll("nav [data-view]")) {
    if (link.dataset.view === view) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  document.title = view === "plan" ? "Plan · Hotwell" : "Single sums · Hotwell";
  try {
    ready[view] ??= begin[view]();
    const opened = await ready[view];
    if (view === "sums" && name) opened.open(name, query);
    if (view === "plan") await opened.open(new URLSearchParams(query));
  } catch {
    delete ready[view];
    const again = el("button", { type: "button" }, "Try again");
    const said = el("p", { class: "panel", role: "alert" }, "The service cannot be reached. ", again);
    again.addEventListener("click", () => { said.remove(); show(); });
    document.getElementById("content").prepend(said);
  }
}

/** The fragment as it was written: its query stays encoded, to be read as one. */
const decodeFragment = (hash) => hash.replace(/^#/, "");

function splitOnce(text, at) {
  const place = text.indexOf(at);
  return place < 0 ? [text] : [text.slice(0, place), text.slice(place + 1)];
}

addEventListener("hashchange", show);
show();
