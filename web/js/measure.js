// @ts-check
/** Measuring on the map: distance, fall and ground heights anywhere on the raster. */

import * as L from "leaflet";

import { ask } from "./ask.js";
import { fromMap, toMap } from "./map-view.js";
import { activeLine, lineFeature, place } from "./plan.js";
import { show } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {[number, number]} Position */

/**
 * What a measured line comes to. Pure.
 * @param {import("./types.js").Model} model @param {import("./units.js").Units} units
 */
export function measured({ summary, col, n }, units) {
  const [first, last] = [col.ground_m[0], col.ground_m[n - 1]];
  const fall = first - last;
  const length = summary.plan_length_m;
  const way = fall < 0 ? "rises" : "falls";
  return `${show(length, "length", units)} on the plan, ${way} ${show(Math.abs(fall), "head", units)} (${((Math.abs(fall) / length) * 100).toFixed(1)} %); ground ${show(first, "elevation", units)} to ${show(last, "elevation", units)}`;
}

export class Measure {
  /** @param {L.Map} map @param {State} state */
  constructor(map, state) {
    this.map = map;
    this.state = state;
    /** @type {Position[]} */
    this.points = [];
    this.tape = L.polyline([], { pane: "line", interactive: false, color: "#7a1fa2", weight: 3, dashArray: "7 4" }).addTo(map);
    state.on("mode", () => this.#clear());
  }

  #clear() {
    if (this.state.mode === "measure") return;
    this.points = [];
    this.tape.setLatLngs([]);
  }

  /** @param {L.Point} pixel */
  async add(pixel) {
    const { state } = this;
    this.points = [...this.points, place(fromMap(this.map.containerPointToLatLng(pixel)))];
    this.tape.setLatLngs(this.points.map(toMap));
    if (this.points.length < 2) {
      state.say("Now the next point: distance, fall and ground heights stand here. Escape ends.");
      return;
    }
    const { plan } = state;
    const { points } = this;
    const terrain = activeLine(plan).settings.terrain;
    try {
      const model = await ask({ terrain: plan.terrain.length === 1 ? plan.terrain[0] : plan.terrain, route: lineFeature("tape", points), settings: terrain ? { terrain } : {} });
      if (points === this.points) state.say(`${measured(model, plan.units)}.`);
    } catch (error) {
      state.say(/** @type {Error} */ (error).message, true);
    }
  }

  /** @param {L.Point} pixel */
  stretch(pixel) {
    if (this.points.length) this.tape.setLatLngs([...this.points, fromMap(this.map.containerPointToLatLng(pixel))].map((each) => toMap(/** @type {Position} */ (each))));
  }
}
