// @ts-check
/** Levels to take before anything is bought: list, and file for a receiver. */

import { byId, element } from "./dom.js";
import { button, group, swap } from "./fields.js";
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
  const draw = () => {
    if (byId("panel-fittings").hidden || state.draft) return;
    const levels = levelsOf(state);
    const { units } = state.plan;
    told.textContent = state.model ? doubtWords(state.model, units) : "";
    file.hidden = !levels.length;
    swap(list, levels.length ? levels.map((level, i) => element("li", {},
      button(`L${i + 1}`, () => look(state, level.station_m - NEAR_M, level.station_m + NEAR_M), { class: "tag level", "data-key": `level-${i}`, title: "Show it" }),
      element("span", {}, element("b", {}, show(level.station_m, "station", units)), ` ${level.reason}`)))
      : [element("li", { class: "empty" }, "None: no level would change what is built.")]);
  };
  state.on(["plan", "model"], draw);
  document.addEventListener("leatline:tab", draw);
  draw();
  return group("Levels to take first", told, list, element("div", { class: "row" }, file));
}

/** @param {State} state */
const levelsOf = (state) => (activeLine(state.plan).points.length >= 2 ? (state.model?.levels_to_shoot ?? []) : []);

/** @param {State} state */
function save(state) {
  const name = state.plan.name || activeLine(state.plan).name;
  const href = URL.createObjectURL(new Blob([levelsGpx(levelsOf(state), name)], { type: "application/gpx+xml" }));
  element("a", { href, download: "levels.gpx" }).click();
  setTimeout(() => URL.revokeObjectURL(href), 1000);
}
