// @ts-check
/** Where a raster lies that does not say it: coordinate systems found by name or code, tried at once. */

import * as api from "./api.js";
import { byId, element } from "./dom.js";
import { button } from "./fields.js";
import { activeLine, withLine, withSetting } from "./plan.js";
import { show } from "./units.js";

/** @typedef {import("./state.js").State} State */

const WAIT_MS = 250;

export class CrsChooser {
  /** @param {State} state @param {(box: import("./types.js").Box) => void} fit */
  constructor(state, fit) {
    this.state = state;
    this.fit = fit;
    this.dialog = /** @type {HTMLDialogElement} */ (byId("crs"));
    this.query = byId("crs-query");
    this.list = byId("crs-list");
    this.asked = 0;
    /** @type {import("./types.js").Terrain | null} */
    this.terrain = null;
    let timer = 0;
    this.query.addEventListener("input", () => {
      clearTimeout(timer);
      timer = window.setTimeout(() => this.#look(), WAIT_MS);
    });
    state.on(["plan", "terrains"], () => this.#watch());
  }

  /** Ask once for each raster that is in use and lies nowhere. */
  #watch() {
    const { plan, terrains } = this.state;
    const placeless = terrains.find(({ id, facts }) => plan.terrain.includes(id) && facts.crs === null);
    if (!placeless || placeless.id === this.terrain?.id) return;
    const told = activeLine(plan).settings.terrain?.crs;
    if (told) this.#again(placeless, told);
    else this.open(placeless);
  }

  /** Where a raster lies by the system that was given before. @param {import("./types.js").Terrain} terrain @param {string} code */
  async #again(terrain, code) {
    this.terrain = terrain;
    const { state } = this;
    const { bounds } = await api.placeOf(terrain.id, code).catch(() => ({ bounds: null }));
    if (!bounds) return;
    state.terrains = state.terrains.map((each) => (each.id === terrain.id ? { ...each, bounds } : each));
    state.tell("terrains");
    if (!activeLine(state.plan).points.length) this.fit(bounds);
  }

  /** @param {import("./types.js").Terrain} terrain */
  open(terrain) {
    this.terrain = terrain;
    byId("crs-told").textContent = `“${terrain.name}” does not say where it lies. Which coordinate system are its numbers of?`;
    this.query.value = "";
    this.list.replaceChildren();
    if (!this.dialog.open) this.dialog.showModal();
    this.query.focus();
  }

  async #look() {
    const words = this.query.value.trim();
    const ticket = (this.asked += 1);
    if (!words) return this.list.replaceChildren();
    if (!this.list.children.length) this.list.append(element("li", { class: "empty" }, "One moment …"));
    try {
      const found = await api.findCrs(words);
      if (ticket !== this.asked) return;
      this.list.replaceChildren(...(found.length ? found.map((/** @type {any} */ row) => this.#row(row))
        : [element("li", { class: "empty" }, "No system has these words. Try the country, the zone or the number of its code.")]));
    } catch (error) {
      this.list.replaceChildren(element("li", { class: "empty" }, /** @type {Error} */ (error).message));
    }
  }

  /** @param {{code: string, name: string, area: string}} row */
  #row({ code, name, area }) {
    const where = element("span", { class: "facts", role: "status" }, `${area}, ${code}`);
    const take = button("", () => this.#try(code, where), { class: "hit" });
    take.append(element("b", {}, name), where);
    return element("li", {}, take);
  }

  /** Say where the raster would lie, and take it there. @param {string} code @param {Element} where */
  async #try(code, where) {
    if (!this.terrain) return;
    try {
      const { bounds, cell_m, lowest_m, highest_m } = await api.placeOf(this.terrain.id, code);
      const { state } = this;
      const { units } = state.plan;
      const middle = [(bounds.south + bounds.north) / 2, (bounds.west + bounds.east) / 2].map((degrees) => degrees.toFixed(4));
      state.terrains = state.terrains.map((each) => (each.id === this.terrain?.id ? { ...each, bounds } : each));
      state.change("Coordinate system given", withLine(state.plan, { settings: withSetting(activeLine(state.plan).settings, "terrain", "crs", code) }));
      state.tell("terrains");
      this.dialog.close();
      this.fit(bounds);
      state.say([
        `The raster now lies at latitude ${middle[0]}, longitude ${middle[1]}, with cells of ${show(cell_m, "depth", units)} and heights from ${show(lowest_m, "elevation", units)} to ${show(highest_m, "elevation", units)}.`,
        "If that is wrong, choose another system under “The raster” on “Line”.",
      ].join(" "));
    } catch (error) {
      where.textContent = `Not there: ${/** @type {Error} */ (error).message}`;
    }
  }
}
