// @ts-check
/** The tools of the map: draw a line, mark a bridge, fence off an area; by mouse, touch and keys. */

import * as L from "leaflet";

import { fromMap, toMap } from "./map-view.js";
import { Measure } from "./measure.js";
import { activeLine, extended, inserted, place, withLine, withPoints, withStretches } from "./plan.js";
import { quantity } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {[number, number]} Position */

const CLOSE_PX = 14;
/** The second click of a double-click that ended a line belongs to that ending [ms]. */
const ENDING_MS = 500;

/** @type {Record<string, string>} */
const HINTS = {
  drawFirst: "Put the intake where the water comes in: a click, a tap, or Enter at the cross.",
  draw: "Go on down the hill, point by point. At the powerhouse: double-click, tap the last point again, or press Escape.",
  drawIntake: "Go on up the hill from the intake, point by point. To end: double-click, tap the last point again, or press Escape.",
  spanFrom: "A pipe bridge: pick its upper end on the line.",
  spanTo: "Now pick its lower end on the line.",
  measure: "Measure: pick points on the ground. Escape ends.",
  nogo: "Fence off ground the line must not cross: point by point, then double-click or the first point again.",
};

export class Tools {
  /**
   * @param {L.Map} map @param {State} state @param {import("./line-view.js").LineView} line
   * @param {import("./marks-view.js").MarksView} marks
   */
  constructor(map, state, line, marks) {
    this.map = map;
    this.state = state;
    this.line = line;
    this.marks = marks;
    this.band = L.polyline([], { pane: "line", interactive: false, color: "#101820", weight: 2, dashArray: "3 6" }).addTo(map);
    this.measure = new Measure(map, state);
    this.areas = L.layerGroup().addTo(map);
    /** @type {Position[]} */
    this.ring = [];
    /** @type {number | null} */
    this.from = null;
    this.ended = 0;
    state.on("mode", () => this.#begin());
    state.on("plan", () => this.drawAreas());
    map.on("click", (event) => this.#click(event.containerPoint));
    map.on("dblclick", (event) => this.#double(event.containerPoint));
    this.move = (/** @type {L.LeafletMouseEvent} */ event) => this.#move(event.containerPoint);
    map.getContainer().addEventListener("keydown", (event) => this.#key(event), true);
  }

  #begin() {
    const { state, map } = this;
    this.ring = [];
    this.from = null;
    this.band.setLatLngs([]);
    if (state.draft) state.setDraft(null);
    map.getContainer().classList.toggle("drawing", state.mode !== "edit");
    map[state.mode === "edit" ? "off" : "on"]("mousemove", this.move);
    const first = activeLine(state.plan).points.length === 0;
    const hint = {
      draw: first ? HINTS.drawFirst : state.drawEnd === "intake" ? HINTS.drawIntake : HINTS.draw,
      span: HINTS.spanFrom, nogo: HINTS.nogo, measure: HINTS.measure, edit: "",
    }[state.mode];
    state.say(hint);
    this.drawAreas();
  }

  /** @param {L.Point} pixel @returns {Position} */
  #at(pixel) {
    return place(fromMap(this.map.containerPointToLatLng(pixel)));
  }

  /** @param {L.Point} pixel @param {Position | undefined} point */
  #near(pixel, point) {
    return point !== undefined && this.map.latLngToContainerPoint(toMap(point)).distanceTo(pixel) < CLOSE_PX;
  }

  /** @param {L.Point} pixel */
  #click(pixel) {
    const { mode } = this.state;
    if (mode === "draw") this.#drawPoint(pixel);
    else if (mode === "span") this.#spanPoint(pixel);
    else if (mode === "nogo") this.#ringPoint(pixel);
    else if (mode === "measure") this.measure.add(pixel);
  }

  /** @param {L.Point} pixel */
  #drawPoint(pixel) {
    const { state } = this;
    const { points } = activeLine(state.plan);
    const last = state.drawEnd === "intake" ? points[0] : points.at(-1);
    if (this.#near(pixel, last)) {
      if (points.length >= 2) this.finish();
      return;
    }
    const next = extended(points, this.#at(pixel), state.drawEnd);
    state.change(points.length ? "Point drawn" : "Intake put", withPoints(state.plan, next));
    if (points.length === 0) state.say(HINTS.draw);
  }

  /** @param {L.Point} pixel */
  #spanPoint(pixel) {
    const { state } = this;
    const station = this.marks.stationAt(pixel, 40);
    if (station === null) {
      state.say("That is not near the line. A bridge lies on the line: pick a place on it.", true);
      return;
    }
    if (this.from === null) {
      this.from = station;
      state.setHover(station);
      state.say(HINTS.spanTo);
      return;
    }
    this.addSpan(this.from, station);
    state.setMode("edit");
  }

  /** @param {number} a @param {number} b stations of the two ends [m] */
  addSpan(a, b) {
    const { state } = this;
    const [from, to] = [Math.min(a, b), Math.max(a, b)];
    if (to - from < 0.5) return state.say("Both ends are at the same place; a bridge has a length.", true);
    const line = activeLine(state.plan);
    const text = (/** @type {number} */ m) => quantity(m, "station", "metric", 1);
    const spans = [...(line.settings.trench?.span ?? []), { from: text(from), to: text(to) }];
    spans.sort((p, q) => parseFloat(p.from) - parseFloat(q.from));
    state.change("Bridge put in", withLine(state.plan, { settings: withStretches(line.settings, "span", spans) }));
  }

  /** @param {L.Point} pixel */
  #ringPoint(pixel) {
    if (this.ring.length >= 3 && this.#near(pixel, this.ring[0])) return this.#closeRing();
    if (this.#near(pixel, this.ring.at(-1))) return;
    this.ring = [...this.ring, this.#at(pixel)];
    this.#bandTo(null);
  }

  #closeRing() {
    const { state, ring } = this;
    if (ring.length < 3) return state.say("An area needs three corners at least.", true);
    this.ended = performance.now();
    state.change("No-go area fenced", { ...state.plan, nogo: [...state.plan.nogo, ring] });
    state.setMode("edit");
  }

  /** @param {L.Point} pixel */
  #double(pixel) {
    const { state } = this;
    if (state.mode === "draw") this.finish();
    else if (state.mode === "nogo") this.#closeRing();
    else if (state.mode === "edit" && performance.now() - this.ended > ENDING_MS) {
      const found = this.line.pick(pixel);
      if (!found) return;
      const next = inserted(this.line.points, found.piece + 1, this.#at(pixel));
      state.change("Vertex put in", withPoints(state.plan, next));
    }
  }

  /** @param {L.Point} pixel */
  #move(pixel) {
    const { mode } = this.state;
    if (mode === "draw" || mode === "nogo") this.#bandTo(this.#at(pixel));
    else if (mode === "measure") this.measure.stretch(pixel);
  }

  /** Draw from the last point to the pointer; a line being drawn is worked out to there. @param {Position | null} at */
  #bandTo(at) {
    const { state } = this;
    if (state.mode === "nogo") {
      const path = [...this.ring, ...(at ? [at] : []), ...this.ring.slice(0, 1)];
      this.band.setLatLngs(path.map(toMap));
      return;
    }
    const { points } = activeLine(state.plan);
    if (!points.length || !at) return;
    const last = state.drawEnd === "intake" ? points[0] : /** @type {Position} */ (points.at(-1));
    this.band.setLatLngs([last, at].map(toMap));
    state.setDraft(extended(points, at, state.drawEnd));
  }

  /** End drawing and take the line in hand. */
  finish() {
    const { state } = this;
    const done = activeLine(state.plan).points.length >= 2;
    this.ended = performance.now();
    state.setDraft(null);
    state.setMode("edit");
    state.say(done && !state.trouble ? "The line is laid. Drag a point, or a small ring between two, and watch the profile." : "");
    this.line.draw();
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const { state, map } = this;
    if (state.mode === "edit" || (event.target instanceof Element && event.target.closest("button"))) return;
    const middle = map.getSize().divideBy(2);
    if (event.key === "Enter" || event.key === " ") this.#click(middle);
    else if (event.key === "Escape") {
      if (state.mode === "draw") this.finish();
      else state.setMode("edit");
    } else if (event.key === "Backspace" && state.mode === "draw") state.undo();
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  drawAreas() {
    this.areas.clearLayers();
    this.state.plan.nogo.forEach((ring, i) => {
      const area = L.polygon(ring.map(toMap), {
        pane: "areas", color: "#9b2d5f", weight: 2, dashArray: "8 4", fillColor: "#CC79A7", fillOpacity: 0.28, interactive: false,
      });
      area.bindTooltip(`No-go ${i + 1}`, { permanent: true, direction: "center", className: "area-name" });
      this.areas.addLayer(area);
    });
  }
}
