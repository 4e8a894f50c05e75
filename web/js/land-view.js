// @ts-check
/** Layers of the land and pictures on the map. */

import * as L from "leaflet";

import { KINDS, layersOf } from "./land.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {{name: string, bounds: import("./types.js").Box, picture: string}} Picture */

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
    /** @type {(Picture & {layer: L.ImageOverlay})[]} */
    this.pictures = [];
    this.changed = () => {};
    /** @type {any} */
    this.drawn = null;
    state.on("plan", () => this.#draw());
  }

  /** @param {Picture} picture */
  lay(picture) {
    const { west, south, east, north } = picture.bounds;
    const box = L.latLngBounds([south, west], [north, east]);
    const layer = L.imageOverlay(picture.picture, box, { pane: "pictures", opacity: 0.75, alt: picture.name }).addTo(this.map);
    this.pictures = [...this.pictures, { ...picture, layer }];
    this.changed();
  }

  /** @param {number} index */
  drop(index) {
    this.pictures[index].layer.remove();
    this.pictures = this.pictures.toSpliced(index, 1);
    this.changed();
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
