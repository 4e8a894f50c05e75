// @ts-check
/** How straight the pipe is laid, and what a deeper trench saves: choices with their price. */

import { saving } from "./compare.js";
import { byId, element, write } from "./dom.js";
import { button, group, swap } from "./fields.js";
import { activeLine, withLine, withSetting } from "./plan.js";
import { setLimit } from "./strip-view.js";
import { ENTRY_M } from "./trouble.js";
import { quantity, show } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./types.js").GradeChoice} GradeChoice */

const [SAME_M, SAME_M3] = [1e-6, 1e-9];

/** Lay by a price, or by the usual one of the pipe. @param {State} state @param {number | null} price [m3] */
function lay(state, price) {
  const settings = withSetting(activeLine(state.plan).settings, "trench", "break_price", price === null ? "" : `${price} m3`);
  state.change("Grades chosen", withLine(state.plan, { settings }));
}

/** What a choice comes to. @param {GradeChoice} choice @param {import("./units.js").Units} units */
const words = (choice, units) =>
  `${choice.grades} grades, ${show(choice.volume_m3, "volume", units)}, deepest ${show(choice.deepest_m, "depth", units)}`;

/** The straights of the pipe: three choices by name, and the others between them. @param {State} state */
export function gradesGroup(state) {
  const named = element("div", { class: "grade-choices", role: "radiogroup", "aria-label": "How straight the pipe is laid" });
  const rows = element("tbody", {});
  const head = ["A break is worth", "Grades", "Digging", "Deepest"].map((text) => element("th", { scope: "col" }, text));
  const all = element("details", { class: "front" }, element("summary", {}, "All prices of a break"),
    element("table", { class: "compare" }, element("thead", {}, element("tr", {}, ...head)), rows));
  const none = element("p", { class: "empty" }, "No line yet.");
  const draw = () => {
    const { model, plan } = state;
    const choices = drawn(state) ? (model?.trench.grade_choices ?? []) : [];
    if (state.draft || byId("panel-trench").hidden || (drawn(state) && !choices.length)) return;
    const { units } = plan;
    const now = (/** @type {GradeChoice} */ each) => Math.abs(each.break_price_m3 - (model?.trench.break_price_m3 ?? -1)) < SAME_M3;
    const own = activeLine(plan).settings.trench?.break_price !== undefined;
    swap(named, choices.filter((each) => each.name).map((each) => {
      const usual = each.name === "balanced";
      const input = /** @type {HTMLInputElement} */ (element("input", { type: "radio", name: "grades", "data-key": `grades-${each.name}` }));
      input.checked = usual ? !own : own && now(each);
      input.addEventListener("change", () => lay(state, usual ? null : each.break_price_m3));
      return element("label", {}, input, element("b", {}, each.name ?? ""), element("span", {}, words(each, units)));
    }));
    swap(rows, choices.map((each) => element("tr", now(each) ? { class: "now" } : {},
      element("th", { scope: "row" }, button(quantity(each.break_price_m3, "volume", units, 2), () => lay(state, each.break_price_m3),
        { class: "link", "data-key": `break-${each.break_price_m3}`, title: "Lay the pipe by this price" })),
      ...[String(each.grades), show(each.volume_m3, "volume", units), show(each.deepest_m, "depth", units)]
        .map((text) => element("td", {}, text)))));
    all.hidden = !choices.length;
    none.hidden = choices.length > 0;
  };
  follow(state, ["model"], draw);
  return group("Straight grades", named, all, none,
    element("p", { class: "hint" }, "A break of grade is a bend to set out: its price is the digging it may save."));
}

/** Depth against vents. @param {State} state */
export function depthsGroup(state) {
  const rows = element("tbody", {});
  const told = element("p", { class: "empty" });
  const head = ["Deepest", "Summits", "Expected", "Saves", "Digs"].map((text) => element("th", { scope: "col" }, text));
  const table = element("table", { class: "compare depths" },
    element("thead", {}, element("tr", {}, ...head)), rows);
  const draw = () => {
    const { model, plan } = state;
    if (state.draft || byId("panel-trench").hidden) return;
    const depths = drawn(state) ? (model?.doubt.depths ?? []) : [];
    table.hidden = !depths.length;
    told.hidden = depths.length > 0;
    told.textContent = drawn(state) ? "Nothing to save: no summit depends on the depth." : "No line yet.";
    swap(rows, depths.map((each) => {
      const now = model !== null && Math.abs(each.max_depth_m - model.trench.max_depth_m) < SAME_M;
      const { saves, digs } = saving(depths[0], each, plan.units, model?.cost?.currency ?? plan.prices.currency);
      return element("tr", now ? { class: "now" } : {},
        element("th", { scope: "row" }, button(show(each.max_depth_m, "depth", plan.units), () => setLimit(state, "max_depth", each.max_depth_m),
          { class: "link", "data-key": `deep-${each.max_depth_m}`, title: "Make this the greatest depth" })),
        ...[String(each.summits), each.expected === null ? "–" : each.expected.toFixed(1), now ? "as it is" : saves, now ? "" : digs]
          .map((text) => element("td", {}, text)));
    }));
  };
  follow(state, ["model"], draw);
  const caution = element("p", { class: "hint" });
  const warn = () => write(caution, `Nobody enters a trench deeper than ${show(ENTRY_M, "depth", state.plan.units)} unless it is shored or sloped back.`);
  follow(state, ["plan"], warn);
  return group("Depth against vents", element("div", { class: "scroll" }, table), told,
    caution);
}

/** @param {State} state */
const drawn = (state) => state.model !== null && activeLine(state.plan).points.length >= 2;

/** Draw now, at every change, and when the tab is opened. @param {State} state @param {import("./state.js").Topic[]} topics @param {() => void} draw */
function follow(state, topics, draw) {
  state.on(topics, draw);
  document.addEventListener("leatline:tab", draw);
  draw();
}
