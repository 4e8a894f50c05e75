// @ts-check
/** All streams of the terrain looked over for plants: a job, its candidates in a list and on the map. */

import * as L from "leaflet";

import * as api from "./api.js";
import { element } from "./dom.js";
import { Errand } from "./errand.js";
import { bound, button, chosen, group, setting, swap } from "./fields.js";
import { toMap } from "./map-view.js";
import { lifts, listed, pointed } from "./panel-propose.js";
import { candidateWords, lackingTerrain, screenBody, trustWords, withCandidates } from "./screen.js";
import { pointsOf } from "./study-doc.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./screen.js").Screened} Screened */

const LISTED = 15;
const STRONG = "#D55E00";
const FAINT = "#E69F00";

/** @param {State} state @param {L.Map} map */
export function screenGroup(state, map) {
  const layer = L.layerGroup().addTo(map);
  /** @type {L.Polyline[]} */
  let drawn = [];
  const told = element("p", { class: "hint", role: "status", id: "screen-told" });
  const bar = /** @type {HTMLProgressElement} */ (element("progress", { max: "1", hidden: "", "aria-label": "How far the look over the valley is" }));
  const list = element("ol", { class: "proposals", "data-key": "candidates" });
  const rest = element("div", {});
  /** @type {Errand<Screened>} */
  const look = new Errand(state, api.startScreen, trustWords, "The look over the valley was cancelled.");
  const go = button("Look over the valley", () => look.begin(screenBody(state.plan)), { "data-key": "screen" });
  const stop = button("Cancel", () => look.stop(), { "data-key": "screen-stop" });
  const draw = () => {
    const why = lackingTerrain(state.plan);
    go.hidden = look.running;
    go.disabled = why !== "";
    stop.hidden = bar.hidden = !look.running;
    bar.value = look.job?.progress ?? 0;
    told.textContent = look.running ? `${look.job?.doing ?? "starting"} …` : why || look.words;
  };
  const drawFound = () => {
    const { found } = look;
    layer.clearLayers();
    drawn = (found?.candidates ?? []).map(({ route, study }) =>
      L.polyline(pointsOf(route).map(toMap), { pane: "line", interactive: false, color: study ? STRONG : FAINT, weight: study ? 4 : 2 }).addTo(layer));
    const point = (/** @type {number} */ at, /** @type {boolean} */ on) => {
      drawn[at].setStyle({ weight: on ? 8 : found?.candidates[at].study ? 4 : 2 });
      if (on) drawn[at].bringToFront();
    };
    swap(list, (found?.candidates ?? []).slice(0, LISTED).map((each, i) => row(state, /** @type {Screened} */ (found), each, (on) => point(i, on))));
    rest.replaceChildren(...(found ? afterwards(state, look, found, () => map.fitBounds(L.featureGroup(drawn).getBounds())) : []),
      ...(look.lift.length ? [element("div", { class: "row" }, ...lifts(look.lift))] : []));
  };
  look.heard = () => {
    draw();
    if (!look.running) drawFound();
  };
  state.on("plan", () => {
    look.follow();
    draw();
  });
  draw();
  const field = (/** @type {string} */ table, /** @type {string} */ key) => bound(state, { ...setting(table, key), key: `screen-${key}` });
  return group("Plants along all streams", told,
    element("details", { class: "fold" }, element("summary", {}, element("b", {}, "What to look for")),
      element("div", { class: "pair" }, field("screen", "least_head"), field("screen", "most_length")),
      element("div", { class: "pair" }, field("catchment", "specific_yield"), field("catchment", "threshold")),
      element("div", { class: "pair" }, chosen(state, { ...setting("screen", "rank_by"), key: "screen-rank" }, "by what is known"), field("screen", "top"))),
    element("div", { class: "row" }, go, stop, bar), list, rest);
}

/** @param {State} state @param {Screened} found @param {import("./screen.js").Candidate} each @param {(on: boolean) => void} point */
function row(state, found, each, point) {
  const take = button(`Candidate ${each.rank}`, () => {
    state.change("Candidate taken", withCandidates(state.plan, [each]));
    state.say(each.study ? "The candidate's line is a line of the plan now, beside the others." : "The candidate's two ends are a line of the plan now: “Propose lines” seeks the way between them.");
  }, { class: "pipe-name", "data-key": `candidate-${each.rank}`, title: "Take it as a line of the plan" });
  const node = element("li", {}, take, listed(candidateWords(each, found.cost_unit, state.plan.units)),
    ...(each.study ? [element("span", { class: "facts" }, "with a line and a full study")] : []),
    ...(each.no_line ? [element("b", { class: "why" }, each.no_line)] : []));
  pointed(node, point);
  return node;
}

/** What stands under the candidates. @param {State} state @param {Errand<Screened>} look @param {Screened} found @param {() => void} fit */
function afterwards(state, look, found, fit) {
  const studied = found.candidates.filter(({ study }) => study);
  const all = button("Take those with a study", () => {
    state.change("Candidates taken", withCandidates(state.plan, studied));
    document.getElementById("tab-compare")?.click();
  }, { "data-key": "take-candidates" });
  const away = button("Put them away", () => look.forget(), { "data-key": "drop-candidates" });
  const more = found.candidates.length - LISTED;
  return [
    ...(more > 0 ? [element("p", { class: "hint" }, `${more} more stand on the map.`)] : []),
    element("div", { class: "row" }, ...(studied.length ? [all] : []), button("Show all", fit), away),
    element("details", { class: "fold" }, element("summary", {}, element("b", {}, "How it was looked over")),
      element("ul", { class: "assumed" }, element("li", {}, `Ranked by: ${found.ranked_by}`), ...found.notes.map((text) => element("li", {}, text)))),
  ];
}
