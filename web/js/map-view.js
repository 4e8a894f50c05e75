// @ts-check
/** The map: the user's own raster as relief and contours. Only this file turns lon, lat round. */

import * as L from "leaflet";

import { contourLayer } from "./contour-layer.js";

/** @typedef {[number, number]} Position */
/** @typedef {import("./types.js").Terrain} Terrain */

/** @param {Position} position */
export const toMap = ([lon, lat]) => L.latLng(lat, lon);

/** @param {L.LatLng} at @returns {Position} */
export const fromMap = (at) => [at.lng, at.lat];

const CLOSEST = 21;
const NARROW_PX = 500;
/** Below these heights the tools stand two and three side by side, as the style sheet has it. */
const [LOW_PX, LOWEST_PX] = [400, 230];
/** Below this height the line comes before room for the signs about it. */
const SCANT_PX = 270;
/** Half the mark of an end of a line, and its rim [px]. */
const END_PX = 15;

/*
 * Leaflet places everything by a transform in space, which gives each tile and each marker a layer
 * of its own, and the tiles of a scale between two whole ones a picture apart: all to be put together
 * anew for every picture of a line being dragged. Here markers move in the plane, and tiles at rest
 * are laid out at their size.
 */
const { _setPos: place } = /** @type {any} */ (L.Marker.prototype);
L.Marker.include({
  _setPos(/** @type {L.Point} */ at) {
    place.call(this, at);
    if (this._icon) this._icon.style.transform = `translate(${at.x}px, ${at.y}px)`;
  },
});
const { _addTile: add } = /** @type {any} */ (L.GridLayer.prototype);
L.GridLayer.include({
  _addTile(/** @type {any} */ coords, /** @type {any} */ container) {
    add.call(this, coords, container);
    const { x: left, y: top } = this._getTilePos(coords);
    Object.assign(this._tiles[this._tileCoordsToKey(coords)].el.style, { transform: "none", left: `${left}px`, top: `${top}px` });
  },
  _setZoomTransform(/** @type {any} */ level, /** @type {L.LatLng} */ centre, /** @type {number} */ zoom) {
    const map = this._map;
    const scale = map.getZoomScale(zoom, level.zoom);
    const { x, y } = level.origin.multiplyBy(scale).subtract(map._getNewPixelOrigin(centre, zoom)).round();
    const { style } = level.el;
    if (!map._animatingZoom && !map.touchZoom?._zooming) style.zoom = String(scale);
    const own = Number(style.zoom) || 1; // lengths of a transform count in it
    style.transform = `translate(${x / own}px, ${y / own}px) scale(${scale / own})`;
  },
});

/** @param {HTMLElement} node @param {{tiles: string, credit: string}} online */
export function createMap(node, online) {
  const map = L.map(node, {
    zoomControl: false,
    attributionControl: false,
    doubleClickZoom: false,
    zoomSnap: 0.25,
    maxZoom: CLOSEST,
    keyboardPanDelta: 60,
    worldCopyJump: false,
  });
  map.setView([0, 0], 2);
  for (const [name, z] of [["paper", 150], ["relief", 210], ["pictures", 220], ["slope", 230], ["contours", 250], ["areas", 380], ["line", 420]])
    map.createPane(String(name)).style.zIndex = String(z);
  L.control.zoom({ position: "topright", zoomInTitle: "Closer", zoomOutTitle: "Farther" }).addTo(map);
  L.control.scale({ position: "bottomright", maxWidth: 130 }).addTo(map);
  if (online.tiles) {
    L.tileLayer(online.tiles, { pane: "paper", maxZoom: CLOSEST, attribution: online.credit }).addTo(map);
    L.control.attribution({ prefix: false }).addTo(map);
  }
  new ResizeObserver(() => map.invalidateSize({ pan: false })).observe(node);
  node.setAttribute("aria-label", "Map. Arrow keys move it, plus and minus change the scale.");
  return map;
}

/** @param {Terrain} terrain @returns {L.LatLngBounds | null} */
function boundsOf(terrain) {
  const box = terrain.bounds ?? terrain.facts.bounds_deg;
  return box ? L.latLngBounds([box.south, box.west], [box.north, box.east]) : null;
}

/** The relief and contours of the terrains in use. */
export class Ground {
  /** @param {L.Map} map */
  constructor(map) {
    this.map = map;
    this.layers = L.layerGroup().addTo(map);
    this.key = "";
    this.contours = true;
    this.slope = false;
    /** @type {Terrain[]} */
    this.terrains = [];
    this.units = "metric";
    /** @type {Record<string, any>} */
    this.told = {};
  }

  /**
   * @param {Terrain[]} terrains @param {import("./units.js").Units} units
   * @param {Record<string, any>} [told] what the settings say over the raster
   */
  show(terrains, units, told = {}) {
    const ids = terrains.map((terrain) => terrain.id).join();
    const over = ["crs", "unit", "band"].filter((name) => told[name] !== undefined).map((name) => [name, String(told[name])]);
    const key = `${ids}|${units}|${this.contours}|${this.slope}|${over.join(";")}`;
    if (key === this.key) return;
    const fresh = ids !== this.key.split("|")[0];
    Object.assign(this, { key, terrains, units, told });
    this.layers.clearLayers();
    for (const terrain of terrains) this.#add(terrain, units, over);
    if (fresh && terrains.length) this.fit();
  }

  /** @param {Terrain} terrain @param {import("./units.js").Units} units @param {string[][]} over */
  #add(terrain, units, over) {
    if (terrain.facts.crs === null && !this.told.crs) return;
    const bounds = boundsOf(terrain) ?? undefined;
    const base = `/api/terrains/${terrain.id}`;
    const shared = { bounds, maxZoom: CLOSEST, minZoom: 2, noWrap: true };
    const query = (/** @type {string[]} */ ...more) => new URLSearchParams([...over, more]);
    const sharp = window.devicePixelRatio > 1 ? "2" : "1";
    this.layers.addLayer(
      L.tileLayer(`${base}/relief/{z}/{x}/{y}?${query("scale", sharp)}`, { ...shared, pane: "relief", className: "relief-tile" }),
    );
    if (this.slope)
      this.layers.addLayer(L.tileLayer(`${base}/slope/{z}/{x}/{y}?${new URLSearchParams(over)}`, { ...shared, pane: "slope", className: "slope-tile" }));
    if (this.contours)
      this.layers.addLayer(contourLayer(`${base}/contours`, `?${query("units", units)}`, { ...shared, pane: "contours" }));
  }

  /** @param {boolean} on @param {import("./units.js").Units} units */
  setSlope(on, units) {
    this.slope = on;
    this.show(this.terrains, units, this.told);
  }

  /** @param {boolean} on @param {import("./units.js").Units} units */
  setContours(on, units) {
    this.contours = on;
    this.show(this.terrains, units, this.told);
  }

  fit() {
    const boxes = this.terrains.map(boundsOf).filter((box) => box !== null);
    if (!boxes.length) return;
    const whole = boxes.reduce((sum, box) => sum.extend(box), L.latLngBounds(boxes[0].getSouthWest(), boxes[0].getNorthEast()));
    this.map.fitBounds(whole, { animate: false });
  }
}

/**
 * Show the line whole again where a map that showed it whole has got too small for it.
 * @param {L.Map} map @param {{oldSize: L.Point, newSize: L.Point}} sizes @param {Position[]} points
 */
export function keepLine(map, { oldSize, newSize }, points) {
  const { min, max } = L.bounds(points.map((point) => map.latLngToContainerPoint(toMap(point))));
  const whole = (/** @type {L.Point} */ size) => min && max && Math.min(min.x, min.y) >= 0 && max.x <= size.x && max.y <= size.y;
  const fitted = fits.get(map) === viewOf(map) && oldSize.x !== newSize.x;
  if (fitted || (whole(oldSize) && (!whole(newSize) || covered(map, points)))) fitLine(map, points);
}

/** Boxes of the tools that stand over the map [px]. @param {L.Map} map */
export function toolBoxes(map) {
  const frame = map.getContainer().getBoundingClientRect();
  return [...document.querySelectorAll(".tools, .leaflet-control")].map((node) => {
    const { left, top, right, bottom } = node.getBoundingClientRect();
    return { left: left - frame.left, top: top - frame.top, right: right - frame.left, bottom: bottom - frame.top };
  });
}

/** Whether an end of a line lies under a tool. @param {L.Map} map @param {Position[]} points */
function covered(map, points) {
  const boxes = toolBoxes(map);
  return [points[0], points.at(-1)].some((end) => {
    const { x, y } = map.latLngToContainerPoint(toMap(/** @type {Position} */ (end)));
    return boxes.some(({ left, top, right, bottom }) => x > left - END_PX && x < right + END_PX && y > top - END_PX && y < bottom + END_PX);
  });
}

/** Room at the edges of the map for tools and signs. @param {L.Map} map */
function edges(map) {
  const { x, y } = map.getSize();
  const narrow = x < NARROW_PX;
  const low = y < SCANT_PX;
  const left = narrow ? (y < LOW_PX ? [18, low ? 82 : 102] : [58, 34]) : [y < LOWEST_PX ? 215 : y < LOW_PX ? 150 : 84, low ? 30 : 44];
  return {
    paddingTopLeft: /** @type {[number, number]} */ (left),
    paddingBottomRight: /** @type {[number, number]} */ (narrow ? [30, low ? 44 : 66] : [50, low ? 46 : 62]),
    animate: false,
  };
}

/** Show a line whole. @param {L.Map} map @param {Position[]} points */
export function fitLine(map, points) {
  if (points.length < 2) return;
  map.fitBounds(L.latLngBounds(points.map(toMap)), { ...edges(map), maxZoom: 18 });
  fits.set(map, viewOf(map));
}

/** How a map stood when a line was last shown whole; it is shown so again where nobody has moved it since. @type {WeakMap<L.Map, string>} */
const fits = new WeakMap();

/** The upper left corner stays where it is when a map grows. @param {L.Map} map */
const viewOf = (map) => `${map.getZoom()} ${map.containerPointToLatLng([0, 0]).toString()}`;

/** Bring a place out from under the tools. @param {L.Map} map @param {Position} point */
export function bringClear(map, point) {
  if (covered(map, [point])) map.panInside(toMap(point), edges(map));
}
