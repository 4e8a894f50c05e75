// @ts-check
/** Levels to take before anything is bought: list, and file for a receiver. */

import { byId, element } from "./dom.js";
import { button, group, swap } from "./fields.js";
import { between, locate } from "./geometry.js";
import { doubtWords, levelsGpx } from "./levels.js";
import { look } from "./panel-trench.js";
import { activeLine } from "./plan.js";
import { show } from "./units.js";

/** @typedef {import("./state.js").State} State */

const NEAR_M = 15;
/** @param {State} state */
export function levelsGroup(state) {
  const list = element("ol", { class: "levels" });
  const told = element("p", { class: "hint" });
  const file = button("GPX file", () => save(state));
  const own = element("ul", { class: "rows shots" });
  const here = button("A level at the place in hand", () => shoot(state), { "data-key": "shoot-here" });
  const draw = () => {
    if (byId("panel-fittings").hidden || state.draft) return;
    const levels = levelsOf(state);
    const { units } = state.plan;
    told.textContent = state.model ? doubtWords(state.model, units) : "";
    const shots = state.plan.shots ?? [];
    file.hidden = !levels.length && !shots.length;
    swap(own, shots.map((shot, i) => element("li", {},
      button(`P${i + 1}`, () => look(state, shot.station_m - NEAR_M, shot.station_m + NEAR_M), { class: "tag level", title: "Show it", "data-key": `shot-${i}` }),
      element("span", {}, show(shot.station_m, "station", units)),
      button("×", () => state.change("Level taken out", { ...state.plan, shots: shots.toSpliced(i, 1) }), { class: "quiet", "aria-label": `Take P${i + 1} out` }))));
    swap(list, levels.length ? levels.map((level, i) => element("li", {},
      button(`L${i + 1}`, () => look(state, level.station_m - NEAR_M, level.station_m + NEAR_M), { class: "tag level", "data-key": `level-${i}`, title: "Show it" }),
      element("span", {}, element("b", {}, show(level.station_m, "station", units)), ` ${level.reason}`)))
      : [element("li", { class: "empty" }, "None: no level would change what is built.")]);
  };
  state.on(["plan", "model"], draw);
  document.addEventListener("leatline:tab", draw);
  draw();
  return group("Levels to take first", told, list, own, element("div", { class: "row" }, here, file));
}

/** @param {State} state */
const levelsOf = (state) => (activeLine(state.plan).points.length >= 2 ? (state.model?.levels_to_shoot ?? []) : []);

/** Put the place under the pointer into the list. @param {State} state */
function shoot(state) {
  const { model, hover } = state;
  if (!model || hover === null) return state.say("Move over the profile or the line first, or walk along it with the arrow keys.", true);
  const at = locate(model.col.station_m, hover);
  const shot = { station_m: hover, lon: between(model.col.lon, at) ?? 0, lat: between(model.col.lat, at) ?? 0 };
  state.change("Level wanted", { ...state.plan, shots: [...(state.plan.shots ?? []), shot] });
}

/** @param {State} state */
function save(state) {
  const name = state.plan.name || activeLine(state.plan).name;
  const href = URL.createObjectURL(new Blob([levelsGpx(levelsOf(state), name, state.plan.shots ?? [])], { type: "application/gpx+xml" }));
  element("a", { href, download: "levels.gpx" }).click();
  setTimeout(() => URL.revokeObjectURL(href), 1000);
}
