// @ts-check
/** The line: its points by number, its ends and levels, its twins. */

import { byId, element } from "./dom.js";
import { bound, button, chosen, group, setting, swap } from "./fields.js";
import { parsePlace } from "./geometry.js";
import { activeLine, copyLine, dropLine, inserted, moved, removed, reversed, withLine, withPoints, withSetting } from "./plan.js";
import { parse, quantity, show } from "./units.js";

/** @typedef {import("./state.js").State} State */

const MOST_ROWS = 400;

/** @param {State} state @param {{importLine: () => void, snap: (end: "intake" | "outlet", level: number) => void, fit: () => void}} acts @param {...Node} sought the groups of what the service seeks */
export function linePanel(state, acts, ...sought) {
  const lines = element("div", { class: "line-list", role: "group", "aria-label": "Lines of this study" });
  const points = element("ol", { class: "points" });
  byId("panel-line").append(
    group("Lines", lines, element("div", { class: "row" },
      button("Copy this line", () => state.change("Line copied", copyLine(state.plan))),
      button("Bring in a line …", acts.importLine, { title: "GeoJSON, GPX, KML, GeoPackage or shapefile" }))),
    ...sought,
    group("Water levels",
      level(state, "intake"),
      level(state, "outlet"),
      snapRow(state, acts.snap)),
    group("Direction and ends", element("div", { class: "row" },
      button("Turn round", () => turnRound(state), { title: "The intake becomes the powerhouse end", "data-key": "turn-round" }),
      button("Extend above the intake", () => state.setMode("draw", "intake")),
      button("Extend below", () => state.setMode("draw", "outlet")),
      button("Clear", () => state.change("Line cleared", withPoints(state.plan, []))))),
    group("Points, intake first", points, addPoint(state)),
    rasterGroup(state),
  );
  const draw = () => {
    if (byId("panel-line").hidden) return;
    swap(lines, state.plan.lines.map((line, i) => lineRow(state, line, i)));
    swap(points, pointRows(state));
  };
  state.on("plan", draw);
  document.addEventListener("leatline:tab", draw);
  state.on("vertex", () => markRow(points, state.vertex));
  draw();
}

/** What the raster does not say, or says wrongly. @param {State} state */
function rasterGroup(state) {
  const row = (/** @type {string} */ key) => bound(state, setting("terrain", key));
  return group("The raster",
    element("div", { class: "pair" }, row("crs"), chosen(state, setting("terrain", "unit"), "as in the file")),
    element("div", { class: "pair" }, row("rmse"), row("bridge")),
    row("vertical_datum"));
}

/** @param {State} state @param {"intake" | "outlet"} end */
function level(state, end) {
  const put = (/** @type {import("./plan.js").Plan} */ plan, /** @type {string} */ key, /** @type {string} */ text) => {
    const other = key === "level" ? "level_above_ground" : "level";
    let { settings } = activeLine(plan);
    if (text) settings = withSetting(settings, end, other, "");
    return withLine(plan, { settings: withSetting(settings, end, key, text) });
  };
  const [fixed, above] = ["level", "level_above_ground"].map((key) => (
    { ...setting(end, key), write: (/** @type {import("./plan.js").Plan} */ plan, /** @type {string} */ text) => put(plan, key, text) }));
  const without = /** @type {(plan: import("./plan.js").Plan) => string} */ (fixed.placeholder);
  return element("div", { class: "pair" },
    bound(state, { ...fixed, placeholder: (plan) => now(state, end, plan.units) || without(plan), live: true }),
    bound(state, above));
}

/** @param {State} state @param {"intake" | "outlet"} end @param {import("./units.js").Units} units */
function now(state, end, units) {
  const value = state.model?.summary[end === "intake" ? "intake_level_m" : "outlet_level_m"];
  return value === undefined ? "" : show(value, "elevation", units);
}

/** @param {State} state @param {(end: "intake" | "outlet", level: number) => void} snap */
function snapRow(state, snap) {
  const input = /** @type {HTMLInputElement} */ (element("input", { "data-key": "snap", autocomplete: "off" }));
  const go = (/** @type {"intake" | "outlet"} */ end) => {
    try {
      snap(end, parse(input.value, "length", state.plan.units === "us" ? "ft" : "m"));
    } catch (error) {
      state.say(/** @type {Error} */ (error).message, true);
    }
  };
  return element("div", { class: "row snap" }, element("label", { class: "field" }, "Ground level to move an end to", input),
    button("Intake to it", () => go("intake")), button("Powerhouse to it", () => go("outlet")));
}

/** @param {State} state */
function turnRound(state) {
  const { plan } = state;
  const text = (/** @type {number} */ m) => quantity(m, "station", "metric", 1);
  const length = state.model?.summary.plan_length_m ?? 0;
  const line = reversed(activeLine(plan), length, text, (words) => parse(words, "length"));
  state.change("Line turned round", withLine(plan, line));
}

/** @param {State} state @param {import("./plan.js").Line} line @param {number} i */
function lineRow(state, line, i) {
  const active = i === state.plan.active;
  const name = element("input", { value: line.name, "aria-label": `Name of line ${i + 1}`, "data-key": `name-${i}`, maxlength: "60" });
  name.addEventListener("change", () => {
    const lines = state.plan.lines.with(i, { ...line, name: /** @type {HTMLInputElement} */ (name).value.trim() || line.name });
    state.change("Line named", { ...state.plan, lines });
  });
  const pick = button(active ? "●" : "○", () => state.change("Other line taken", { ...state.plan, active: i }), {
    "aria-pressed": String(active), "aria-label": `Work on “${line.name}”`, class: "pick", "data-key": `pick-${i}`,
  });
  const drop = button("×", () => state.change("Line dropped", dropLine(state.plan, i)), {
    "aria-label": `Drop “${line.name}”`, class: "quiet", "data-key": `drop-${i}`,
  });
  drop.disabled = state.plan.lines.length < 2;
  return element("div", { class: `line-row${active ? " active" : ""}` }, pick, name, drop);
}

/** @param {State} state */
function pointRows(state) {
  const { points } = activeLine(state.plan);
  return points.slice(0, MOST_ROWS).map((point, i) => {
    const input = /** @type {HTMLInputElement} */ (element("input", {
      value: point.map((degrees) => degrees.toFixed(7)).join(", "), "aria-label": `Point ${i + 1}: longitude, latitude`, "data-key": `point-${i}`,
    }));
    input.addEventListener("focus", () => state.setVertex(i));
    input.addEventListener("change", () => attempt(state, () =>
      state.change("Point typed", withPoints(state.plan, moved(points, i, parsePlace(input.value))))));
    const drop = button("×", () => points.length > 2 && state.change("Vertex taken out", withPoints(state.plan, removed(points, i))), {
      "aria-label": `Take point ${i + 1} out`, class: "quiet", "data-key": `out-${i}`,
    });
    drop.disabled = points.length <= 2;
    return element("li", { "data-index": String(i) }, input, drop);
  });
}

/** @param {State} state */
function addPoint(state) {
  const input = /** @type {HTMLInputElement} */ (element("input", { "aria-label": "A new point: longitude, latitude", placeholder: "longitude, latitude", "data-key": "new-point" }));
  const add = () => attempt(state, () => {
    const { points } = activeLine(state.plan);
    const at = state.vertex === null ? points.length : Math.min(state.vertex + 1, points.length);
    state.change("Point typed", withPoints(state.plan, inserted(points, at, parsePlace(input.value))));
    state.setVertex(at);
    input.value = "";
    if (at === 0) acts(state);
  });
  input.addEventListener("keydown", (event) => event.key === "Enter" && add());
  return element("div", { class: "row" }, input, button("Add", add));
}

/** @param {State} state */
const acts = (state) => state.say("That is the intake. Add the next point, or draw on the map.");

/** @param {State} state @param {() => void} act */
function attempt(state, act) {
  try {
    act();
  } catch (error) {
    state.say(/** @type {Error} */ (error).message, true);
  }
}

/** @param {Element} list @param {number | null} index */
function markRow(list, index) {
  for (const row of list.children) row.classList.toggle("chosen", /** @type {HTMLElement} */ (row).dataset.index === String(index));
}
