// @ts-check
/** Vents and drains in order of station, and what the study has to say. */

import { byId, element } from "./dom.js";
import { button, group, swap } from "./fields.js";
import { mendOf, open } from "./mends.js";
import { crossingsGroup } from "./panel-land.js";
import { levelsGroup } from "./panel-levels.js";
import { look } from "./panel-trench.js";
import { activeLine, withDepth, withLine } from "./plan.js";
import { named } from "./setting-words.js";
import { askedOfStretch } from "./trouble.js";
import { parse, show, together } from "./units.js";
import { drawnFrom, t } from "./words.js";

/** @typedef {import("./state.js").State} State */

const WORD = { fault: "Fault", warning: "Warning", note: "Note" };
/** The same words as on the papers. @type {Record<string, string>} */
const NEED = { must: "needed", level: "level first", advise: "advised" };
/** Solid, half and hollow, as the signs. @type {Record<string, string>} */
const LOOKS = { level: " half", advise: " hollow" };
const NEAR_M = 15;
/** Share of the stretch in view that counts as the place in hand. */
const NEAR_SHARE = 0.02;

/** @param {State} state */
export function fittingsPanel(state) {
  const verdict = element("p", { class: "hint" });
  const found = element("ul", { class: "findings" });
  const list = element("ul", { class: "rows fittings" });
  const cautions = element("ul", { class: "cautions" });
  const assumed = element("ul", { class: "assumed" });
  const count = element("span", { class: "facts" });
  const taken = element("details", { class: "fold" }, element("summary", {}, element("b", {}, "Assumed"), count), assumed,
    button("Every setting …", () => byId("tab-settings").click()));
  byId("panel-fittings").append(
    taken, group("What to look at", verdict, found), levelsGroup(state), crossingsGroup(state), group("Vents and drains by station", signKey(), list), group("Before anyone digs", cautions));
  let shown = "";
  const draw = () => {
    if (byId("panel-fittings").hidden) return;
    const { model, plan } = state;
    const drawn = model && activeLine(plan).points.length >= 2;
    verdict.textContent = drawn ? verdictWords(model.verdict) : "";
    swap(found, findingRows(state));
    const granted = drawn ? model.assumptions : [];
    count.textContent = ` ${granted.length}`;
    assumed.replaceChildren(...granted.map((text) => element("li", drawnFrom(text), said(text))));
    const items = drawn ? [...model.vents, ...model.drains].sort((a, b) => a.station_m - b.station_m) : [];
    swap(list, items.length ? items.map((item) => row(state, item)) : [element("li", { class: "empty" }, "No line yet.")]);
    const texts = drawn ? model.cautions.map((caution) => caution.text) : [];
    if (texts.join() !== shown) cautions.replaceChildren(...texts.map((text) => element("li", {}, text)));
    shown = texts.join();
  };
  state.on(["model", "plan"], draw);
  state.on("hover", () => markNear(list, state));
  for (const event of ["leatline:tab", "leatline:language"]) document.addEventListener(event, draw);
  document.addEventListener("leatline:fitting", (event) => {
    draw();
    const { detail } = /** @type {CustomEvent} */ (event);
    const target = /** @type {HTMLDetailsElement | null} */ (list.querySelector(`[data-id="${detail}"]`));
    if (!target) return;
    target.open = true;
    target.scrollIntoView({ block: "center" });
  });
  draw();
}

/** What the signs of map, profile and list say by their looks. */
function signKey() {
  const rows = { "": "needed", " half": "a level decides first", " hollow": "advised" };
  return element("ul", { class: "sign-key", "aria-label": "What the signs mean" },
    ...Object.entries(rows).map(([look, words]) => element("li", {}, element("span", { class: `tag vent${look}`, "aria-hidden": "true" }, "V"), words)),
    element("li", {}, element("span", { class: "tag shot", "aria-hidden": "true" }, "1"), "level to take"));
}

/** Mark what stands at the place in hand, wherever that was pointed at. @param {Element} list @param {State} state */
function markNear(list, { hover, view, model }) {
  if (byId("panel-fittings").hidden || !model) return;
  const near = ((view ? view[1] - view[0] : model.summary.plan_length_m) * NEAR_SHARE) / 2;
  for (const row of list.children) {
    const station = Number(/** @type {HTMLElement} */ (row).dataset.station);
    row.classList.toggle("near", hover !== null && Math.abs(station - hover) <= near);
  }
}

/** @param {State} state @param {import("./types.js").Fitting} item */
function row(state, item) {
  const { units } = state.plan;
  const kind = item.id.startsWith("V") ? "vent" : "drain";
  const open = document.querySelector(`details[data-id="${item.id}"][open]`) !== null;
  const node = element("details", { "data-id": item.id, ...(open && { open: "" }) },
    element("summary", { "data-key": `fit-${item.id}` },
      element("span", { class: `tag ${kind}${LOOKS[item.need] ?? ""}` }, item.id),
      element("span", { class: "where" }, show(item.station_m, "station", units)),
      element("span", { class: "what" }, item.kind),
      element("span", { class: "need" }, NEED[item.need] ?? item.need)),
    element("p", {}, item.reason, ...chance(item)),
    element("p", { class: "facts" }, ...facts(item, `${kind}s`, units)),
    button("Show it", () => look(state, item.station_m - NEAR_M, item.station_m + NEAR_M)));
  const whole = element("li", { "data-station": String(item.station_m) }, node);
  whole.addEventListener("mouseenter", () => state.setHover(item.station_m));
  return whole;
}

/** How likely it is that the ground has it, to five in a hundred. @param {import("./types.js").Fitting} item */
const chance = ({ probability }) =>
  probability === null ? [] : [element("b", {}, probability > 0.975
    ? " It is there with a chance of more than 97 %."
    : probability < 0.05 ? " It is there with a chance of less than 5 %."
    : ` It is there with a chance of ${Math.floor(probability * 20 + 1e-9) * 5} %.`)];

/** What findings and checks come to. Pure. @param {import("./types.js").Verdict} verdict */
export function verdictWords({ faults, warnings, failed_checks, unsettled_checks, preliminary }) {
  const told = [`${faults} fault${faults === 1 ? "" : "s"}`, `${warnings} warning${warnings === 1 ? "" : "s"}`];
  const checks = [`${failed_checks} check${failed_checks === 1 ? "" : "s"} failed`, `${unsettled_checks} not settled.`];
  const open = preliminary ? ["Preliminary: nothing may be built from it yet."] : [];
  return [[told.join(", "), checks.join(", ")].join("; "), ...open].join(" ");
}

/** What the service says, in the reader's language and in the words of the page. @param {string} text */
const said = (text) => together(named(t(text), t).text);

/** Numbers of a fitting; each tells on a press where it comes from. @param {import("./types.js").Fitting} item @param {string} part @param {import("./units.js").Units} units */
function facts(item, part, units) {
  const rows = [
    ["depth_m", "Dig", show(item.depth_m, "depth", units)],
    ["ground_m", "ground", show(item.ground_m, "elevation", units)],
    ["static_head_m", "static", show(item.static_head_m, "head", units)],
    ...(item.size_mm === null ? [] : [["size_mm", "wide", show(item.size_mm / 1000, "diameter", units)]]),
  ];
  return rows.map(([key, label, value]) =>
    element("button", { type: "button", class: "number", "data-where": `${part}.${key}` },
      element("span", { class: "label" }, label), " ", value));
}

/** @param {State} state */
function findingRows(state) {
  const { model, plan, trouble } = state;
  const line = activeLine(plan);
  const rows = [];
  if (trouble) rows.push(finding("fault", trouble, ""));
  const drawn = model && line.points.length >= 2 ? model.warnings : [];
  for (const found of drawn) {
    const at = found.station_m;
    const more = found.places_m.length - 1;
    const { text: words, asked } = askedOfStretch(found.message);
    const also = more > 0 ? `(${more} more place${more === 1 ? "" : "s"}.)` : "";
    rows.push(finding(found.severity, words, also, at === null ? undefined : () => look(state, at - NEAR_M, at + NEAR_M),
      asked ? { words: asked.key === "cover" ? `Ask for ${asked.value} of cover there` : `Allow ${asked.value} there`, act: () => limitStretch(state, asked) } : mendOf(found.code, words)));
  }
  return rows.length ? rows : [element("li", { class: "empty" }, "Nothing.")];
}

/** Give a stretch limits of its own. @param {State} state @param {{from: string, to: string, key: "cover" | "max_depth", value: string}} asked */
function limitStretch(state, { from, to, key, value }) {
  const metres = (/** @type {string} */ text) => parse(text, "length");
  const stretch = { from: metres(from), to: metres(to), [key === "cover" ? "cover" : "depth"]: metres(value) };
  state.change("Limits of a stretch", withLine(state.plan, { settings: withDepth(activeLine(state.plan).settings, stretch, metres) }));
}

/** @param {"fault" | "warning" | "note"} severity @param {string} text @param {string} also of its other places @param {() => void} [show] @param {import("./mends.js").Mend | {words: string, act: () => void}} [mend] */
export function finding(severity, text, also, show, mend) {
  return element("li", { class: severity }, element("b", {}, `${WORD[severity]}. `), element("span", drawnFrom(text), said(text)), " ", ...(also ? [element("span", {}, also), " "] : []),
    ...(show ? [button("Where?", show, { class: "link" })] : []),
    ...(mend ? [" ", button(mend.words, () => ("act" in mend ? mend.act() : open(mend)), { class: "link mend" })] : []));
}

/** How many faults and warnings there are now, for the mark on the tab. @param {State} state */
export function alarms(state) {
  const { model, plan, trouble } = state;
  const line = activeLine(plan);
  if (line.points.length < 2) return 0;
  const faults = model?.verdict.faults ?? 0;
  return faults + (trouble ? 1 : 0);
}
