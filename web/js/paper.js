// @ts-check
/** Printing: a page worth handing over, of the line as it is: map, profile, figures, vents and cautions. */

import { recolour } from "./chart.js";
import { byId, element } from "./dom.js";
import { crossingWords } from "./land.js";
import { activeLine } from "./plan.js";
import { settingWords } from "./setting-words.js";
import { show, unitOf } from "./units.js";

/** @typedef {import("./state.js").State} State */

/** Width between the margins of A4, at 96 pixels to the inch [px]. */
const WIDE_PX = 717;
/** The same words as on the papers. @type {Record<string, string>} */
const NEED = { must: "needed", level: "level first", advise: "advised" };

/** From so many vents and drains on their list stands in two columns. */
const MANY = 12;
/** So many places of a finding are told each; of more the first, and how many there are. */
const PLACES = 8;

/** @param {State} state @param {import("./live.js").Live<any, any>} live */
export function paper(state, live) {
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
    const [title, told, ...rest] = content(state, old(state, live));
    byId("paper-head").replaceChildren(title, told ?? "");
    document.documentElement.style.setProperty("--paper-foot", quoted(title.textContent ?? ""));
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

/** A text as the style sheet takes it. @param {string} text */
const quoted = (text) => `"${text.replace(/["\\]/g, "\\$&").replace(/[\n\r\f]/g, " ")}"`;

/** Why the figures are not those of the line as it stands, else empty. @param {State} state @param {import("./live.js").Live<any, any>} live */
const old = ({ trouble }, { idle }) => trouble || (byId("away").hidden ? "" : "The service does not answer.") || (idle ? "" : "The newest are not yet worked out.");

/** @param {State} state @param {string} why the figures are old */
function content({ model, plan, saved, dirty }, why) {
  const line = activeLine(plan);
  const { units } = plan;
  if (!model || line.points.length < 2) return [element("p", {}, "No line yet.")];
  const { faults, failed_checks, preliminary } = model.verdict;
  const state = saved && !dirty ? `revision ${saved.revision}` : "not saved";
  const crossed = (model.crossings ?? []).map((each) => {
    const { where, what, more } = crossingWords(each, units);
    return element("li", {}, element("b", {}, `${each.id} `), [where, what].join(" "), more ? `, ${more}` : "", ...(each.asks.length ? [": ", each.asks.join("; ")] : []));
  });
  const found = model.warnings.filter(({ severity }) => severity !== "note").map((each) => finding(each, units));
  const section = (/** @type {string} */ title, /** @type {Node} */ body) => element("section", {}, element("h2", {}, title), body);
  return [
    element("h1", { translate: "no" }, plan.name || line.name),
    element("p", { class: "paper-state" }, `${line.name}, ${state}, printed ${new Date().toISOString().slice(0, 10)}.` +
      (preliminary ? " PRELIMINARY: nothing may be built from it." : "") + (faults ? ` ${faults} fault${faults > 1 ? "s" : ""}, ${failed_checks} checks failed.` : ""),
      ...(why ? [" ", element("b", {}, "These figures are older than the plan as it stands.", " ", why)] : [])),
    ...(found.length ? [section("What to look at", element("ul", {}, ...found))] : []),
    ...(crossed.length ? [section("Crossings by station", element("ul", {}, ...crossed))] : []),
    section("Vents and drains by station", fittings(model, units)),
    section("Assumed", element("ul", { class: "assumed" }, ...model.assumptions.map((text) => element("li", {}, settingWords(text))))),
    section("Before anyone digs", element("ul", { class: "cautions" }, ...model.cautions.map(({ text }) => element("li", {}, text)))),
  ];
}

/** @param {import("./types.js").Model["warnings"][number]} found @param {import("./units.js").Units} units */
function finding({ severity, message, station_m: station, places_m: places }, units) {
  const at = places.length ? places : station === null ? [] : [station];
  const told = at.length > PLACES ? [station ?? at[0]] : at;
  const more = at.length - told.length;
  return element("li", {}, element("b", {}, severity === "fault" ? "Fault. " : "Warning. "), settingWords(message),
    told.length ? ` (${told.map((each) => show(each, "station", units)).join(", ")})` : "", more ? ` (${more} more places.)` : "");
}

/** The list of vents and drains; units stand in its head. @param {import("./types.js").Model} model @param {import("./units.js").Units} units */
function fittings(model, units) {
  const bare = (/** @type {number} */ value, /** @type {import("./units.js").Kind} */ kind) => show(value, kind, units).split(" ")[0];
  const rows = [...model.vents, ...model.drains].sort((a, b) => a.station_m - b.station_m).map((item) =>
    element("tr", {}, ...[item.id, bare(item.station_m, "station"), bare(item.ground_m, "elevation"), bare(item.depth_m, "depth"),
      bare(item.static_head_m, "head"), item.kind, NEED[item.need] ?? item.need].map((text, i) => element("td", i && i < 5 ? { class: "number" } : {}, text))));
  const heads = /** @type {[string, import("./units.js").Kind | null][]} */ ([["", null], ["Station", "station"], ["Ground", "elevation"], ["Dig", "depth"], ["Static", "head"], ["What", null], ["Need", null]]);
  const head = heads.map(([text, kind]) => element("th", { scope: "col", ...(kind && { class: "number" }) }, text, ...(kind ? [element("span", { translate: "no" }, ` ${unitOf(kind, units)}`)] : [])));
  const table = element("table", {}, element("thead", {}, element("tr", {}, ...head)), element("tbody", {}, ...rows));
  return element("div", { class: rows.length > MANY ? "many" : "few" }, table);
}
