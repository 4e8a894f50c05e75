// @ts-check
/* global L */
/** The line on its relief, the signs, and the dot that is me. */

/** Signs nearer than this would hide each other [px]. */
const CROWDED_PX = 30;
/** Signs that are put on the map together, and the pause before the next [ms]. */
const AT_ONCE = 80, BETWEEN_MS = 30;
const RANKS = ["end", "vent", "drain", "level", "pipe", "bend"];

/** @param {{kind: string, advised?: boolean}} place */
function rank(place) {
  const kind = RANKS.indexOf(place.kind);
  return (kind < 0 ? RANKS.length : kind) + (place.advised ? 3.5 : 0);
}

export class SheetMap {
  /** @param {any} data @param {(lon: number, lat: number) => void} ask called for a tap @param {(id: string) => void} open called for a sign */
  constructor(data, ask, open) {
    this.map = L.map("map", { zoomControl: false, attributionControl: false, maxZoom: 22, zoomSnap: 0.25, tap: false });
    L.control.zoom({ position: "topright" }).addTo(this.map);
    L.control.scale({ position: "topleft", metric: data.units.length.unit === "m", imperial: data.units.length.unit !== "m" }).addTo(this.map);
    if (data.relief) L.imageOverlay(data.relief.image, data.relief.bounds, { alt: "Shaded relief" }).addTo(this.map);
    const track = data.line.lat.map((/** @type {number} */ lat, /** @type {number} */ i) => [lat, data.line.lon[i]]);
    L.polyline(track, { color: "#fff", weight: 11, opacity: 0.9, interactive: false }).addTo(this.map);
    L.polyline(track, { color: "#000", weight: 7, interactive: false }).addTo(this.map);
    L.polyline(track, { color: "#0072b2", weight: 3, interactive: false }).addTo(this.map);
    /** @type {Map<string, any>} */
    this.signs = new Map();
    /** Most needed first: of signs that would lie on each other these keep their size. */
    this.ranked = [...data.places].sort((a, b) => rank(a) - rank(b));
    this.map.on("zoomend", () => this.thin());
    this.map.on("click", (/** @type {any} */ event) => ask(event.latlng.lng, event.latlng.lat));
    this.whole = L.latLngBounds(track);
    this.map.fitBounds(this.whole, { padding: [28, 28], animate: false });
    this.me = L.marker(track[0], { icon: L.divIcon({ className: "me", iconSize: [26, 26] }), interactive: false, keyboard: false, zIndexOffset: 1000 });
    this.ring = L.circle(track[0], { radius: 1, color: "#000", weight: 2, fillColor: "#f0e442", fillOpacity: 0.25, interactive: false });
    this.to = L.polyline([], { color: "#d55e00", weight: 4, dashArray: "4 8", interactive: false }).addTo(this.map);
    this.followed = false;
    /** Where signs of full size stand. @type {any[]} */
    this.kept = [];
    this.open = open;
    /** @type {Set<string>} */
    this.done = new Set();
    this.#add(0);
  }

  /** Put the next signs on the map, the most needed at once and the rest of many bit by bit. @param {number} from */
  #add(from) {
    const last = Math.min(from + AT_ONCE, this.ranked.length);
    const along = this.ranked.slice(from, last).sort((a, b) => a.station - b.station); // as keys walk
    for (const place of along) {
      const html = document.createElement("div");
      html.innerHTML = place.svg; // drawn by the study itself, no text of anyone's in it
      const icon = L.divIcon({ className: "mark", html, iconSize: [34, 34], iconAnchor: [17, 17] });
      const sign = L.marker([place.lat, place.lon], { icon, title: place.title, alt: place.title, riseOnHover: true }).addTo(this.map);
      sign.on("click", () => this.open(place.id));
      this.signs.set(place.id, sign);
      this.mark(place.id, this.done.has(place.id));
    }
    this.thin(from);
    if (last < this.ranked.length) setTimeout(() => this.#add(last), BETWEEN_MS);
  }

  /** Shrink each sign that would lie on a more needed one; it grows again as one zooms in. @param {number} from first sign that is new */
  thin(from = 0) {
    if (!from) this.kept = [];
    for (const place of this.ranked.slice(from, this.signs.size)) {
      const at = this.map.latLngToLayerPoint([place.lat, place.lon]);
      const crowded = this.kept.some((other) => other.distanceTo(at) < CROWDED_PX);
      if (!crowded) this.kept.push(at);
      const sign = this.signs.get(place.id);
      sign.getElement()?.classList.toggle("is-small", crowded);
      sign.setZIndexOffset(crowded ? -1000 : 0);
    }
  }

  /** @param {number} lon @param {number} lat @param {number | null} accuracy @param {{lon: number, lat: number} | null} foot nearest place on the line */
  show(lon, lat, accuracy, foot) {
    this.map.invalidateSize({ animate: false }); // what stands below may have grown
    this.me.setLatLng([lat, lon]).addTo(this.map);
    if (accuracy === null) this.ring.remove();
    else this.ring.setLatLng([lat, lon]).setRadius(accuracy).addTo(this.map);
    this.to.setLatLngs(foot ? [[lat, lon], [foot.lat, foot.lon]] : []);
    if (accuracy !== null && !this.followed) {
      this.followed = true;
      this.map.setView([lat, lon], Math.max(this.map.getZoom(), 17), { animate: false });
    } else if (!this.map.getBounds().contains([lat, lon])) this.map.panTo([lat, lon], { animate: false });
  }

  /** @param {string} id @param {boolean} done */
  mark(id, done) {
    if (done) this.done.add(id);
    else this.done.delete(id);
    this.signs.get(id)?.getElement()?.classList.toggle("is-done", done);
  }

  /** @param {{lon: number, lat: number}} place */
  find(place) {
    this.map.invalidateSize();
    this.map.setView([place.lat, place.lon], Math.max(this.map.getZoom(), 18), { animate: false });
  }

  resize() {
    this.map.invalidateSize();
  }
}
