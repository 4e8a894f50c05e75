// @ts-check
/** What the answer puts on the map: signs by leader lines, bridges, stress, the place under the pointer. */

import * as L from "leaflet";

import { tellDots } from "./dots.js";
import { between, locate, nearestOn } from "./geometry.js";
import { MIDDLE_ROOM_PX } from "./line-view.js";
import { toMap, toolBoxes } from "./map-view.js";
import { boxAt, signPlaces } from "./places.js";
import { SIGN_PX, markNode, signNode } from "./signs.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./types.js").Model} Model */
/** @typedef {[number, number]} Position */

const HOVER_PX = 26;
/** Below the handles of the line; dots below all, wherever they are (a marker lies as high as it stands low on the map). */
const [SIGN_ABOVE, DOT_BELOW] = [300, -10000];
/** Boxes of the signs and of the handles that they keep clear of [px]. */
const SIZES = { vent: { wide: SIGN_PX, tall: SIGN_PX }, drain: { wide: SIGN_PX, tall: SIGN_PX }, level: { wide: 16, tall: 16 }, crossing: { wide: 24, tall: 16 } };
const ENDS_PX = /** @type {[number, number]} */ ([26, 26]);
const BENDS_PX = /** @type {[number, number]} */ ([18, 18]);
const MIDDLES_PX = /** @type {[number, number]} */ ([12, 12]);

/**
 * @typedef {{key: string, kind: keyof typeof SIZES, label: string, need: string, title: string, fitting: boolean,
 *   station_m: number, lon: number, lat: number}} Mark
 */

export class MarksView {
  /** @param {L.Map} map @param {State} state @param {import("./line-view.js").LineView} line */
  constructor(map, state, line) {
    this.map = map;
    this.state = state;
    this.line = line;
    /** @type {L.Marker[]} */
    this.pool = [];
    /** Vents whose signs stand on the map while the line is dragged. @type {Model["vents"] | null} */
    this.vents = null;
    /** How each sign stands off its place. @type {Map<string, {x: number, y: number} | null>} */
    this.offsets = new Map();
    this.signs = L.layerGroup().addTo(map);
    this.spans = L.layerGroup().addTo(map);
    this.cross = L.circleMarker([0, 0], {
      pane: "markerPane", radius: 7, color: "#111", weight: 2.5, fillColor: "#F0E442", fillOpacity: 1, interactive: false,
    });
    /** @type {{x: number, y: number}[]} */
    this.track = [];
    state.on("model", () => this.draw());
    state.on("plan", () => this.draw());
    state.on("hover", () => this.#hover());
    map.on("zoomend resize moveend", () => this.draw());
    // Not by the map, which measures the page at each move whether a vertex is held or not.
    const box = map.getContainer();
    box.addEventListener("mousemove", (event) => line.held < 0 && this.#follow(map.mouseEventToContainerPoint(event)));
    map.on("click", (event) => state.mode === "edit" && this.#follow(event.containerPoint));
  }

  /** Whether the answer belongs to a line that is there. */
  get model() {
    return this.line.points.length >= 2 ? this.state.model : null;
  }

  draw() {
    const { model } = this;
    this.spans.clearLayers();
    this.track = [];
    if (!model) {
      this.vents = null;
      this.signs.clearLayers();
      this.line.showStress([]);
      this.cross.remove();
      tellDots("map", 0);
      return;
    }
    this.#signs(model);
    for (const span of model.trench.spans) {
      const path = stretch(model, span.from_m, span.to_m).map(toMap);
      const look = { pane: "line", interactive: false };
      this.spans.addLayer(L.polyline(path, { ...look, color: "#101820", weight: 7, lineCap: "butt" }));
      this.spans.addLayer(L.polyline(path, { ...look, color: "#fff", weight: 3, lineCap: "butt" }));
    }
    this.line.showStress(overRating(model).map(([a, b]) => stretch(model, a, b)));
    this.#hover();
  }

  /**
   * Signs of the fittings, levels and crossings, each with a marker of the pool. They are placed
   * anew when the line comes to rest; while it is dragged each keeps the way it stands, a new one is
   * a dot, and a first look, which has the fittings of the answer before, leaves them all alone.
   * @param {Model} model
   */
  #signs(model) {
    const dragged = this.state.draft !== null;
    if (dragged && model.vents === this.vents) return;
    this.vents = dragged ? model.vents : null;
    const marks = marksOf(model, dragged);
    if (!dragged) this.#place(marks);
    marks.forEach((mark, slot) => this.#sign(slot, mark));
    for (const spare of this.pool.slice(marks.length)) this.signs.removeLayer(spare);
  }

  /** @param {Mark[]} marks */
  #place(marks) {
    const at = (/** @type {[number, number]} */ [lon, lat]) => this.map.latLngToContainerPoint([lat, lon]);
    const { x, y } = this.map.getSize();
    const ends = this.line.points.map(at);
    const handles = ends.map((point, i) => boxAt(point, ...(i === 0 || i === ends.length - 1 ? ENDS_PX : BENDS_PX)));
    const middles = ends.slice(1).flatMap((point, i) => (point.distanceTo(ends[i]) > MIDDLE_ROOM_PX ? [boxAt(point.add(ends[i]).divideBy(2), ...MIDDLES_PX)] : []));
    const items = marks.map(({ lon, lat, kind }) => ({ ...at([lon, lat]), ...SIZES[kind], up: kind !== "drain" }));
    const places = signPlaces(items, [...handles, ...middles, ...toolBoxes(this.map)], { left: 0, top: 0, right: x, bottom: y });
    this.offsets = new Map(marks.map(({ key }, i) => [key, places[i]]));
    const inside = items.map((item) => item.x >= 0 && item.x <= x && item.y >= 0 && item.y <= y);
    const dots = places.filter((place, i) => !place && inside[i]).length;
    tellDots("map", dots);
  }

  /** @param {number} slot @param {Mark} mark */
  #sign(slot, mark) {
    const off = this.offsets.get(mark.key) ?? null;
    const look = `${mark.key} ${mark.need} ${off?.x} ${off?.y}`;
    let marker = this.pool[slot];
    if (!marker) {
      marker = L.marker([mark.lat, mark.lon], { keyboard: false });
      marker.on("click", () => {
        const { shown } = /** @type {any} */ (marker);
        this.state.setHover(shown.station_m);
        if (shown.fitting) document.dispatchEvent(new CustomEvent("leatline:fitting", { detail: shown.key }));
      });
      this.pool[slot] = marker;
    }
    const kept = /** @type {any} */ (marker);
    kept.shown = mark;
    if (kept.look !== look) {
      kept.look = look;
      marker.setIcon(iconOf(mark, off));
      marker.setZIndexOffset(off ? SIGN_ABOVE : DOT_BELOW);
    }
    marker.setLatLng([mark.lat, mark.lon]);
    if (!this.signs.hasLayer(marker)) this.signs.addLayer(marker);
    const node = marker.getElement();
    if (node) node.title = mark.title;
  }

  #hover() {
    const { model } = this;
    const { hover } = this.state;
    if (!model || hover === null || !model.n) {
      this.cross.remove();
      return;
    }
    const at = locate(model.col.station_m, hover);
    const lon = between(model.col.lon, at);
    const lat = between(model.col.lat, at);
    if (lon === null || lat === null) return;
    this.cross.setLatLng([lat, lon]).addTo(this.map).bringToFront();
  }

  /** Read the station nearest to the pointer. @param {L.Point} point */
  #follow(point) {
    const { model } = this;
    if (!model) return;
    const found = this.stationAt(point, HOVER_PX);
    if (found !== null) this.state.setHover(found);
  }

  /** @param {L.Point} point @param {number} near @returns {number | null} */
  stationAt(point, near) {
    const { model } = this;
    if (!model) return null;
    const { lon, lat, station_m } = model.col;
    if (!this.track.length)
      for (let i = 0; i < model.n; i += 1) this.track.push(this.map.latLngToLayerPoint([lat[i], lon[i]]));
    const found = nearestOn(this.track, this.map.containerPointToLayerPoint(point));
    if (found.off > near) return null;
    const { piece, share } = found;
    return station_m[piece] + (station_m[piece + 1] - station_m[piece]) * share;
  }
}

/** What stands on the map, those first that must be built. @param {Model} model @param {boolean} dragged @returns {Mark[]} */
function marksOf(model, dragged) {
  const fittings = /** @type {const} */ (["vent", "drain"]).flatMap((kind) => model[`${kind}s`].map((item) =>
    ({ ...item, key: item.id, kind, label: item.id, title: `${item.id}, ${item.kind}`, fitting: true })));
  fittings.sort((a, b) => Number(b.need === "must") - Number(a.need === "must"));
  if (dragged) return fittings;
  const crossings = model.crossings.map((item) => ({ ...item, key: item.id, kind: /** @type {const} */ ("crossing"), label: item.id, need: "", title: `${item.id}: ${item.relation} ${item.kind} ${item.name}`, fitting: false }));
  const levels = model.levels_to_shoot.map((item, i) => ({ ...item, key: `L${i + 1}`, kind: /** @type {const} */ ("level"), label: String(i + 1), need: "", title: `L${i + 1}: ${item.reason}`, fitting: false }));
  return [...fittings, ...crossings, ...levels];
}

/** A sign at the end of its leader line; a dot where there is no room for it. @param {Mark} mark @param {{x: number, y: number} | null} off */
function iconOf({ kind, label, need }, off) {
  const names = { vent: "sign sign-vent", drain: "sign sign-drain", level: "sign level-mark", crossing: "sign cross-mark" };
  if (!off) return L.divIcon({ className: `${names[kind].replace("sign ", "sign-dot ")} sign-dot-${kind}`, iconSize: [9, 9] });
  const { wide, tall } = SIZES[kind];
  const html = kind === "vent" || kind === "drain" ? signNode(kind, label, /** @type {any} */ (need), off) : markNode(kind, label, off, SIZES[kind]);
  return L.divIcon({ className: names[kind], html: /** @type {any} */ (html), iconSize: [wide, tall], iconAnchor: [wide / 2 - off.x, tall / 2 - off.y] });
}

/** The places between two stations. @param {Model} model @param {number} from @param {number} to @returns {Position[]} */
export function stretch(model, from, to) {
  const { station_m, lon, lat } = model.col;
  const at = (/** @type {number} */ station) => {
    const where = locate(station_m, station);
    return /** @type {Position} */ ([between(lon, where), between(lat, where)]);
  };
  const points = [at(from)];
  for (let i = 0; i < model.n; i += 1)
    if (station_m[i] > from && station_m[i] < to) points.push([lon[i], lat[i]]);
  points.push(at(to));
  return points;
}

/** Stretches where static pressure is above the derated rating. @param {Model} model @returns {[number, number][]} */
export function overRating(model) {
  const { station_m, static_pressure_kpa: pressure, rating_kpa: rating } = model.col;
  /** @type {[number, number][]} */
  const found = [];
  let start = NaN;
  for (let i = 0; i < model.n; i += 1) {
    const over = rating && pressure[i] > rating[i];
    if (over && Number.isNaN(start)) start = station_m[i];
    if (!over && !Number.isNaN(start)) {
      found.push([start, station_m[i - 1]]);
      start = NaN;
    }
  }
  if (!Number.isNaN(start)) found.push([start, station_m[model.n - 1]]);
  return found;
}
