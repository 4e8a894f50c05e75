// @ts-check
/* global L */
/** The line on its relief, the signs, and the dot that is me. */

/** Signs nearer than this would hide each other [px]. */
const CROWDED_PX = 30;
/** Signs from which not all are drawn: each takes a layer of the screen. */
const MANY = 120;
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
    this.map.on("click", (/** @type {any} */ event) => ask(event.latlng.lng, event.latlng.lat));
    this.whole = L.latLngBounds(track);
    this.map.fitBounds(this.whole, { padding: [28, 28], animate: false });
    this.me = L.marker(track[0], { icon: L.divIcon({ className: "me", iconSize: [26, 26] }), interactive: false, keyboard: false, zIndexOffset: 1000 });
    this.ring = L.circle(track[0], { radius: 1, color: "#000", weight: 2, fillColor: "#f0e442", fillOpacity: 0.25, interactive: false });
    this.to = L.polyline([], { color: "#d55e00", weight: 4, dashArray: "4 8", interactive: false }).addTo(this.map);
    this.followed = false;
    /** @type {Set<string>} */
    this.done = new Set();
    /** What somebody asked to see, before all others. @type {any} */
    this.sought = null;
    for (const place of data.places) {
      // Drawn by the study itself, no text of anyone's in it.
      const icon = L.divIcon({ className: "mark", html: place.svg, iconSize: [34, 34], iconAnchor: [17, 17] });
      const sign = L.marker([place.lat, place.lon], { icon, title: place.title, alt: place.title, riseOnHover: true });
      sign.on("click", () => open(place.id));
      this.signs.set(place.id, sign);
      if (data.places.length <= MANY) sign.addTo(this.map);
    }
    this.map.on(data.places.length > MANY ? "moveend" : "zoomend", () => this.thin());
    this.thin();
  }

  /** Shrink each sign that would lie on a more needed one; it grows again as one zooms in. Of many only those are drawn that neither lie on others nor out of sight. */
  thin() {
    /** @type {any[]} */
    const kept = [];
    const sight = this.map.getBounds().pad(0.3), many = this.ranked.length > MANY;
    for (const place of this.sought ? [this.sought, ...this.ranked.filter((each) => each !== this.sought)] : this.ranked) {
      const at = this.map.latLngToLayerPoint([place.lat, place.lon]);
      const crowded = kept.some((other) => other.distanceTo(at) < CROWDED_PX);
      if (!crowded) kept.push(at);
      const sign = this.signs.get(place.id);
      if (many && (crowded || !sight.contains([place.lat, place.lon]))) sign.remove();
      else if (many) sign.addTo(this.map);
      sign.getElement()?.classList.toggle("is-small", crowded);
      sign.setZIndexOffset(crowded ? -1000 : 0);
      this.mark(place.id, this.done.has(place.id));
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
    this.sought = place;
    this.map.setView([place.lat, place.lon], Math.max(this.map.getZoom(), 18), { animate: false });
    this.thin();
  }

  resize() {
    this.map.invalidateSize();
  }
}
