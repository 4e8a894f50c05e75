// @ts-check
/** Printing: a page worth handing over, of the line as it is: map, profile, figures, vents and cautions. */

import { recolour } from "./chart.js";
import { byId, element } from "./dom.js";
import { crossingWords } from "./land.js";
import { activeLine } from "./plan.js";
import { settingWords } from "./setting-words.js";
import { show } from "./units.js";

/** @typedef {import("./state.js").State} State */

/** Width between the margins of A4, at 96 pixels to the inch [px]. */
const WIDE_PX = 717;
/** The same words as on the papers. @type {Record<string, string>} */
const NEED = { must: "needed", level: "level first", advise: "advised" };

/** @param {State} state */
export function paper(state) {
  const sheet = byId("paper");
  const light = (/** @type {"light" | ""} */ scheme) => {
    document.documentElement.style.colorScheme = scheme;
    document.documentElement.classList.toggle("on-paper", scheme === "light");
    recolour();
  };
  window.addEventListener("beforeprint", () => {
    light("light"); // paper is white, whatever the screen is
    state.setHover(null); // and has no pointer
    for (const node of [byId("map").parentElement, byId("long")]) {
      const { clientWidth, clientHeight } = /** @type {HTMLElement} */ (node);
      /** @type {HTMLElement} */ (node).style.cssText = `--paper-wide: ${clientWidth}px; --paper-tall: ${clientHeight}px; --paper-zoom: ${(WIDE_PX / clientWidth).toFixed(4)}`;
    }
    const [title, told, ...rest] = content(state);
    byId("paper-head").replaceChildren(title, told ?? "");
    const key = /** @type {Element} */ (document.querySelector(".long > .key")).cloneNode(true);
    sheet.replaceChildren(key, ...rest);
  });
  window.addEventListener("afterprint", () => {
    light("");
    for (const node of [byId("map").parentElement, byId("long")]) /** @type {HTMLElement} */ (node).removeAttribute("style");
    sheet.replaceChildren();
    byId("paper-head").replaceChildren();
  });
}

/** @param {State} state */
function content({ model, plan, saved, dirty }) {
  const line = activeLine(plan);
  const { units } = plan;
  if (!model || line.points.length < 2) return [element("p", {}, "No line yet.")];
  const { faults, failed_checks, preliminary } = model.verdict;
  const state = saved && !dirty ? `revision ${saved.revision}` : "not saved";
  const rows = [...model.vents, ...model.drains].sort((a, b) => a.station_m - b.station_m).map((item) =>
    element("tr", {}, ...[item.id, show(item.station_m, "station", units), show(item.ground_m, "elevation", units), show(item.depth_m, "depth", units),
      show(item.static_head_m, "head", units), item.kind, NEED[item.need] ?? item.need].map((text) => element("td", {}, text))));
  const head = ["", "Station", "Ground", "Dig", "Static", "What", "Need"].map((text) => element("th", { scope: "col" }, text));
  const found = model.warnings.filter(({ severity }) => severity !== "note").map(({ severity, message, station_m }) =>
    element("li", {}, element("b", {}, severity === "fault" ? "Fault. " : "Warning. "), settingWords(message), station_m === null ? "" : ` (${show(station_m, "station", units)})`));
  const crossed = (model.crossings ?? []).map((each) => {
    const { where, what, more } = crossingWords(each, units);
    return element("li", {}, element("b", {}, `${each.id} `), [where, what].join(" "), more ? `, ${more}` : "", ...(each.asks.length ? [": ", each.asks.join("; ")] : []));
  });
  const section = (/** @type {string} */ title, /** @type {Node} */ body) => element("section", {}, element("h2", {}, title), body);
  return [
    element("h1", { translate: "no" }, plan.name || line.name),
    element("p", { class: "paper-state" }, `${line.name}, ${state}, printed ${new Date().toISOString().slice(0, 10)}.` +
      (preliminary ? " PRELIMINARY: nothing may be built from it." : "") + (faults ? ` ${faults} fault${faults > 1 ? "s" : ""}, ${failed_checks} checks failed.` : "")),
    section("Vents and drains by station", element("table", {}, element("thead", {}, element("tr", {}, ...head)), element("tbody", {}, ...rows))),
    ...(crossed.length ? [section("Crossings by station", element("ul", {}, ...crossed))] : []),
    ...(found.length ? [section("What to look at", element("ul", {}, ...found))] : []),
    section("Assumed", element("ul", {}, ...model.assumptions.map((text) => element("li", {}, settingWords(text))))),
    section("Before anyone digs", element("ul", { class: "cautions" }, ...model.cautions.map(({ text }) => element("li", {}, text)))),
  ];
}
