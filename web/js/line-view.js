// @ts-check
/** The line on the map and the handles of its vertices. */

import * as L from "leaflet";

import { nearestOn } from "./geometry.js";
import { bringClear, fromMap, toMap } from "./map-view.js";
import { activeLine, inserted, moved, removed, withPoints } from "./plan.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {[number, number]} Position */

const HANDLE_ROOM_PX = 15;
export const MIDDLE_ROOM_PX = 54;
const NEAR_PX = 12;
const MOST_HANDLES = 260;
const KEY_STEP_PX = 4;
/** The map glides on under a vertex held so near its edge; nearer than a line that fits it comes. */
const EDGE_PX = 16;

export class LineView {
  /** @param {L.Map} map @param {State} state */
  constructor(map, state) {
    this.map = map;
    this.state = state;
    const still = { interactive: false, pane: "line" };
    this.others = L.layerGroup().addTo(map);
    const inks = () => [{ color: "#fff", weight: 8, opacity: 0.85 }, { color: "#101820", weight: 3.2 }].map((look) => L.polyline([], { ...still, ...look }));
    /** The line, and the legs beside the vertex in hand: what moves is painted, and no more. */
    const [casing, line] = inks();
    const [movingCasing, movingLine] = inks();
    this.fixed = [casing, line];
    this.moving = [movingCasing, movingLine];
    for (const under of [casing, movingCasing]) under.addTo(map);
    this.stress = L.layerGroup().addTo(map);
    for (const over of [line, movingLine]) over.addTo(map);
    /** The vertex whose legs stand apart; -1: none. */
    this.apart = -1;
    this.handles = L.layerGroup().addTo(map);
    this.held = -1;
    /** Whether a move is of use before the next frame. */
    this.eager = () => false;
    state.on(["plan", "mode"], () => this.draw());
    state.on("draft", () => this.#trace());
    state.on("vertex", () => this.#mark());
    map.on("zoomend moveend", () => this.held < 0 && this.#handles());
  }

  /** @returns {Position[]} */
  get points() {
    return this.state.draft ?? activeLine(this.state.plan).points;
  }

  draw() {
    this.#trace();
    const { plan } = this.state;
    this.others.clearLayers();
    plan.lines.forEach((line, i) => {
      if (i === plan.active || line.points.length < 2) return;
      const path = line.points.map(toMap);
      const look = { pane: "areas", interactive: false };
      this.others.addLayer(L.polyline(path, { ...look, color: "#fff", weight: 5, opacity: 0.6 }));
      this.others.addLayer(L.polyline(path, { ...look, color: "#5b646b", weight: 2, dashArray: "6 5" }));
    });
    if (this.held < 0) this.#handles();
  }

  #trace() {
    const path = this.points.map(toMap);
    const { held } = this;
    if (held < 0 || held !== this.apart) {
      const still = held < 0 ? path : [path.slice(0, held), path.slice(held + 1)];
      for (const ink of this.fixed) ink.setLatLngs(still);
    }
    if (held >= 0 || this.apart >= 0)
      for (const ink of this.moving) ink.setLatLngs(held < 0 ? [] : path.slice(Math.max(0, held - 1), held + 2));
    this.apart = held;
  }

  /** Handles for the vertices in view, as many as there is room for; both ends always. */
  #handles() {
    const focused = document.activeElement?.closest(".handle")?.getAttribute("data-index") ?? null;
    this.handles.clearLayers();
    if (this.state.mode !== "edit") return;
    const { points } = this;
    const view = this.map.getBounds().pad(0.05);
    let last = null;
    let count = 0;
    for (let i = 0; i < points.length && count < MOST_HANDLES; i += 1) {
      const end = i === 0 || i === points.length - 1;
      const at = this.map.latLngToLayerPoint(toMap(points[i]));
      const room = !last || at.distanceTo(last) >= HANDLE_ROOM_PX;
      if (!view.contains(toMap(points[i])) || (!room && !end && i !== this.state.vertex)) continue;
      this.#handle(i, end);
      if (last && at.distanceTo(last) > MIDDLE_ROOM_PX && i > 0) this.#middle(i);
      last = at;
      count += 1;
    }
    this.#mark();
    if (focused !== null) this.#focus(Number(focused));
  }

  /** @param {number} index @param {boolean} end */
  #handle(index, end) {
    const { points } = this;
    const kind = index === 0 ? "intake" : index === points.length - 1 ? "outlet" : "bend";
    const name = { intake: "Intake", outlet: "Powerhouse end", bend: `Vertex ${index + 1} of ${points.length}` }[kind];
    const icon = L.divIcon({ className: `handle handle-${end ? kind : "bend"}`, iconSize: end ? [24, 24] : [16, 16] });
    const marker = L.marker(toMap(points[index]), {
      icon, draggable: true, keyboard: true, title: [name, "Drag it; arrow keys move it, Delete takes it out."].join(". "),
      alt: name, zIndexOffset: end ? 900 : 800, autoPan: true, autoPanPadding: [EDGE_PX, EDGE_PX],
    });
    marker.on("dragstart", () => this.#grab(index));
    this.#follow(marker, (at) => this.state.setDraft(moved(this.points, index, at)));
    marker.on("dragend", () => this.#drop(`${name} moved`));
    marker.on("click", () => this.state.setVertex(index));
    marker.on("contextmenu", () => this.remove(index));
    this.handles.addLayer(marker);
    const node = /** @type {HTMLElement} */ (marker.getElement());
    node.dataset.index = String(index);
    node.setAttribute("aria-label", [name, "Arrow keys move it, I puts a vertex after it, Delete takes it out."].join(". "));
    node.addEventListener("focus", () => {
      this.state.setVertex(index);
      if (node.matches(":focus-visible")) bringClear(this.map, points[index]);
    });
    node.addEventListener("keydown", (event) => this.#key(event, index));
  }

  /** A lesser handle half way to the vertex before; dragging it makes a vertex. @param {number} index */
  #middle(index) {
    const { points } = this;
    const half = /** @type {Position} */ ([0, 1].map((k) => (points[index - 1][k] + points[index][k]) / 2));
    const icon = L.divIcon({ className: "handle handle-middle", iconSize: [12, 12] });
    const marker = L.marker(toMap(half), { icon, draggable: true, keyboard: false, title: "Drag to make a vertex here", alt: "", zIndexOffset: 700 });
    let base = points;
    marker.on("dragstart", () => {
      base = inserted(this.points, index, half);
      this.#grab(index);
    });
    this.#follow(marker, (at) => this.state.setDraft(moved(base, index, at)));
    marker.on("dragend", () => this.#drop("Vertex put in"));
    this.handles.addLayer(marker);
    marker.getElement()?.setAttribute("aria-hidden", "true");
  }

  /**
   * Say each new place of a marker being dragged. A browser hands on moves of the pointer once a
   * frame; where it tells of them as they come, one that is of use now is not left to wait for that.
   * @param {L.Marker} marker @param {(at: Position) => void} act
   */
  #follow(marker, act) {
    const hand = () => /** @type {any} */ (marker.dragging)._draggable;
    // Told as a mouse tells it, in whole pixels, so that the frame's own move is known again.
    const early = (/** @type {PointerEvent} */ event) => this.eager() && hand()._onMove(new MouseEvent("mousemove", event));
    /** @type {L.LatLng | null} */
    let last = null;
    marker.on("dragstart", () => {
      last = null;
      addEventListener("pointerrawupdate", /** @type {EventListener} */ (early));
    });
    marker.on("dragend", () => removeEventListener("pointerrawupdate", /** @type {EventListener} */ (early)));
    marker.on("drag", () => {
      const at = marker.getLatLng();
      if (last && at.equals(last, 0)) return;
      last = at;
      act(fromMap(at));
    });
  }

  /** @param {number} index */
  #grab(index) {
    this.held = index;
    this.state.setVertex(index);
    this.map.getContainer().classList.add("holding");
  }

  /** @param {string} label */
  #drop(label) {
    this.held = -1;
    this.map.getContainer().classList.remove("holding");
    const { draft, plan } = this.state;
    if (draft) this.state.change(label, withPoints(plan, draft));
    else this.draw();
  }

  /** @param {KeyboardEvent} event @param {number} index */
  #key(event, index) {
    const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    const step = arrows[/** @type {keyof typeof arrows} */ (event.key)];
    const { points } = this;
    if (step) {
      const reach = KEY_STEP_PX * (event.shiftKey ? 8 : 1);
      const at = this.map.latLngToContainerPoint(toMap(points[index])).add([step[0] * reach, step[1] * reach]);
      const next = moved(points, index, fromMap(this.map.containerPointToLatLng(at)));
      this.state.change("Vertex moved", withPoints(this.state.plan, next), `key-move-${index}`);
    } else if (event.key === "Delete" || event.key === "Backspace") {
      this.remove(index);
    } else if (event.key.toLowerCase() === "i" && index < points.length - 1) {
      const half = /** @type {Position} */ ([0, 1].map((k) => (points[index][k] + points[index + 1][k]) / 2));
      this.state.change("Vertex put in", withPoints(this.state.plan, inserted(points, index + 1, half)));
      this.#focus(index + 1);
    } else return;
    event.preventDefault();
    event.stopPropagation();
  }

  /** @param {number} index */
  remove(index) {
    if (this.points.length <= 2) {
      this.state.say("A line needs two ends. Use “Clear” to take the whole line away.", true);
      return;
    }
    this.state.change("Vertex taken out", withPoints(this.state.plan, removed(this.points, index)));
    this.#focus(Math.max(0, index - 1));
  }

  /** @param {number} index */
  #focus(index) {
    const node = this.map.getContainer().querySelector(`.handle[data-index="${index}"]`);
    if (node instanceof HTMLElement) node.focus({ preventScroll: true });
  }

  #mark() {
    for (const node of this.map.getContainer().querySelectorAll(".handle[data-index]"))
      node.classList.toggle("chosen", Number(/** @type {HTMLElement} */ (node).dataset.index) === this.state.vertex);
  }

  /** Stretches where pressure is over the rating, as laid on the line. @param {Position[][]} stretches */
  showStress(stretches) {
    this.stress.clearLayers();
    for (const stretch of stretches)
      this.stress.addLayer(L.polyline(stretch.map(toMap), { pane: "line", interactive: false, color: "#D55E00", weight: 8 }));
  }

  /** Where a pixel of the map's container meets the line, or null if it is not near. @param {L.Point} point @param {number} [near] */
  pick(point, near = NEAR_PX) {
    const track = this.points.map((p) => this.map.latLngToContainerPoint(toMap(p)));
    if (track.length < 2) return null;
    const found = nearestOn(track, point);
    return found.off <= near ? found : null;
  }
}
