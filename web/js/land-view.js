// @ts-check
/** Layers of the land and pictures on the map. */

import * as L from "leaflet";

import { KINDS, layersOf, picturesOf } from "./land.js";

/** @typedef {import("./state.js").State} State */

/** Where a shape's name stands: at its northern end, clear of the line across it. @param {any} geometry @param {L.LatLngBounds} box */
function northOf({ type, coordinates }, box) {
  if (/Polygon/.test(type)) return L.latLng(box.getNorth(), box.getCenter().lng);
  const places = /** @type {[number, number][]} */ (coordinates.flat(type === "MultiLineString" ? 1 : 0));
  const [lon, lat] = places.reduce((top, each) => (each[1] > top[1] ? each : top));
  return L.latLng(lat, lon);
}

/** @param {string} text */
const escaped = (text) => text.replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`);

export class LandView {
  /** @param {L.Map} map @param {State} state */
  constructor(map, state) {
    this.map = map;
    this.state = state;
    this.layers = L.layerGroup().addTo(map);
    this.pictures = L.layerGroup().addTo(map);
    /** @type {any} */
    this.laid = null;
    /** @type {any} */
    this.drawn = null;
    state.on("plan", () => {
      this.#draw();
      this.#lay();
    });
  }

  /** Pictures beneath the line. */
  #lay() {
    const pictures = picturesOf(this.state.plan);
    if (pictures === this.laid || (!pictures.length && !this.laid?.length)) return;
    this.laid = pictures;
    this.pictures.clearLayers();
    for (const { name, bounds, picture } of pictures) {
      const box = L.latLngBounds([bounds.south, bounds.west], [bounds.north, bounds.east]);
      this.pictures.addLayer(L.imageOverlay(picture, box, { pane: "pictures", opacity: 0.75, alt: name }));
    }
  }

  #draw() {
    const layers = layersOf(this.state.plan);
    if (layers === this.drawn) return;
    this.drawn = layers;
    this.layers.clearLayers();
    for (const { table } of layers) {
      const { ink, dash, words } = KINDS[table.kind] ?? KINDS["no-go"];
      const shown = L.geoJSON(table.features, {
        interactive: false, pane: "areas",
        style: { color: ink, weight: 2.4, dashArray: dash, fillColor: ink, fillOpacity: 0.1 },
      });
      this.layers.addLayer(shown);
      shown.eachLayer((each) => {
        const { feature } = /** @type {any} */ (each);
        const box = /** @type {any} */ (each).getBounds();
        const label = L.tooltip({ permanent: true, direction: "bottom", className: "area-name", interactive: false, offset: [0, 2] });
        this.layers.addLayer(label.setLatLng(northOf(feature.geometry, box)).setContent(escaped(String(feature.properties?.[table.label ?? "name"] || words))));
      });
    }
  }
}
