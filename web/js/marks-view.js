// @ts-check
/** What the answer puts on the map: vents, drains, bridges, stress, and the place under the pointer. */

import * as L from "leaflet";

import { between, locate, nearestOn } from "./geometry.js";
import { toMap } from "./map-view.js";
import { SIGN_HEIGHT, signNode } from "./signs.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./types.js").Model} Model */
/** @typedef {[number, number]} Position */

const SIGN_ROOM_PX = 26;
const HOVER_PX = 26;

export class MarksView {
  /** @param {L.Map} map @param {State} state @param {import("./line-view.js").LineView} line */
  constructor(map, state, line) {
    this.map = map;
    this.state = state;
    this.line = line;
    /** @type {L.Marker[]} */
    this.pool = [];
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
    map.on("zoomend", () => this.draw());
    map.on("mousemove", (event) => this.#follow(event.containerPoint));
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
      this.signs.clearLayers();
      this.line.showStress([]);
      this.cross.remove();
      return;
    }
    this.#fittings(model);
    for (const span of model.trench.spans) {
      const path = stretch(model, span.from_m, span.to_m).map(toMap);
      const look = { pane: "line", interactive: false };
      this.spans.addLayer(L.polyline(path, { ...look, color: "#101820", weight: 7, lineCap: "butt" }));
      this.spans.addLayer(L.polyline(path, { ...look, color: "#fff", weight: 3, lineCap: "butt" }));
    }
    this.line.showStress(overRating(model).map(([a, b]) => stretch(model, a, b)));
    this.#hover();
  }

  /** @param {Model} model */
  #fittings(model) {
    const items = [
      ...model.vents.map((item) => ({ item, kind: /** @type {const} */ ("vent") })),
      ...model.drains.map((item) => ({ item, kind: /** @type {const} */ ("drain") })),
    ].sort((a, b) => (a.item.need === b.item.need ? 0 : a.item.need === "must" ? -1 : 1));
    /** @type {{vent: L.Point[], drain: L.Point[]}} */
    const taken = { vent: [], drain: [] };
    let used = 0;
    for (const { item, kind } of items) {
      const at = this.map.latLngToLayerPoint([item.lat, item.lon]);
      const crowded = taken[kind].some((other) => other.distanceTo(at) < SIGN_ROOM_PX);
      if (!crowded) taken[kind].push(at);
      this.#sign(used, item, kind, crowded);
      used += 1;
    }
    for (const spare of this.pool.slice(used)) this.signs.removeLayer(spare);
  }

  /** Show a fitting with a marker of the pool. @param {number} slot @param {import("./types.js").Fitting} item @param {"vent" | "drain"} kind @param {boolean} crowded */
  #sign(slot, item, kind, crowded) {
    const look = `${kind} ${item.id} ${item.need} ${crowded}`;
    let marker = this.pool[slot];
    if (!marker) {
      marker = L.marker([item.lat, item.lon], { keyboard: false, zIndexOffset: 300 });
      marker.on("click", () => {
        const { fitting } = /** @type {any} */ (marker);
        this.state.setHover(fitting.station_m);
        document.dispatchEvent(new CustomEvent("leatline:fitting", { detail: fitting.id }));
      });
      this.pool[slot] = marker;
    }
    const kept = /** @type {any} */ (marker);
    kept.fitting = item;
    if (kept.look !== look) {
      kept.look = look;
      marker.setIcon(crowded ? dot(kind) : sign(kind, item.id, item.need));
    }
    marker.setLatLng([item.lat, item.lon]);
    if (!this.signs.hasLayer(marker)) this.signs.addLayer(marker);
    const node = marker.getElement();
    if (node) node.title = `${item.id}, ${item.kind}`;
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
    if (!model || this.line.held >= 0) return;
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

/** @param {"vent" | "drain"} kind @param {string} label @param {import("./types.js").Fitting["need"]} need */
function sign(kind, label, need) {
  const html = /** @type {any} */ (signNode(kind, label, need));
  return L.divIcon({
    className: `sign sign-${kind}`, html, iconSize: [28, SIGN_HEIGHT],
    iconAnchor: [14, kind === "vent" ? SIGN_HEIGHT : 0],
  });
}

/** @param {"vent" | "drain"} kind */
const dot = (kind) => L.divIcon({ className: `sign-dot sign-dot-${kind}`, iconSize: [9, 9] });

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
