// @ts-check
/** Layers of the land and pictures on the map. */

import * as L from "leaflet";

import { KINDS, layersOf, nameOf, picturesOf } from "./land.js";

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
    map.on("zoomend resize", () => this.#part());
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
        const label = L.tooltip({ pane: "areas", permanent: true, direction: "bottom", className: "area-name", interactive: false, offset: [0, 2] });
        this.layers.addLayer(label.setLatLng(northOf(feature.geometry, box)).setContent(escaped(nameOf(feature, table.label) || words)));
      });
    }
    this.#part();
  }

  /** Of names that would lie over one another the first stands; the others come with the scale. */
  #part() {
    /** @type {DOMRect[]} */
    const taken = [];
    for (const node of this.map.getContainer().querySelectorAll(".area-name")) {
      const box = node.getBoundingClientRect();
      const covered = taken.some((each) => box.left < each.right && box.right > each.left && box.top < each.bottom && box.bottom > each.top);
      node.classList.toggle("is-covered", covered);
      if (!covered) taken.push(box);
    }
  }
}
