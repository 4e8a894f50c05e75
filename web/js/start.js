// @ts-check
/** How a plan begins: a raster dropped in, a terrain or study chosen, work found in the browser. */

import * as api from "./api.js";
import { byId, element } from "./dom.js";
import { button } from "./fields.js";
import { readFiles } from "./panel-settings.js";
import { activeLine, emptyPlan, withLine, withPoints, withSetting } from "./plan.js";
import { planFrom, planOf, pointsOf } from "./study-doc.js";
import { moment } from "./words.js";

/** @typedef {import("./state.js").State} State */

const RASTERS = /\.(tiff?|asc|dem|txt|flt|bil|img)$/i;
const LINES = /\.(geojson|json|gpx|kml|kmz|gpkg|shp|zip|csv|wkt)$/i;

const DIRECTORY_BYTES = 65_536;

export class Start {
  /** @param {State} state @param {import("./keep.js").Keep} keep @param {() => void} fitted called when a line came in */
  constructor(state, keep, fitted) {
    this.state = state;
    this.keep = keep;
    this.fitted = fitted;
    this.card = byId("start");
    /** What becomes of a file without a line in it; who makes the page says. @type {(file: File, error: Error) => Promise<void>} */
    this.areas = async (_file, error) => Promise.reject(error);
    const raster = byId("raster-file");
    const line = byId("line-file");
    byId("raster-pick").addEventListener("click", () => raster.click());
    raster.addEventListener("change", () => this.take([...raster.files]).then(() => (raster.value = "")));
    line.addEventListener("change", () => this.take([...line.files]).then(() => (line.value = "")));
    byId("sample").addEventListener("click", () => this.sample());
    byId("terrain-open").addEventListener("click", () => this.open());
    byId("start-close").addEventListener("click", () => (this.card.hidden = true));
    this.#drops();
  }

  #drops() {
    const { body } = document;
    body.addEventListener("dragover", (event) => {
      if (!event.dataTransfer?.types.includes("Files")) return;
      event.preventDefault();
      body.classList.add("dropping");
    });
    body.addEventListener("dragleave", (event) => event.relatedTarget === null && body.classList.remove("dropping"));
    body.addEventListener("drop", (event) => {
      if (!event.dataTransfer?.files.length) return;
      event.preventDefault();
      body.classList.remove("dropping");
      this.take([...event.dataTransfer.files]);
    });
  }

  /** Take files of whatever kind: rasters as terrain, lines as lines. @param {File[]} files */
  async take(files) {
    const { state } = this;
    const prj = files.find((file) => /\.prj$/i.test(file.name));
    const toml = files.filter((file) => /\.toml$/i.test(file.name));
    if (toml.length) await readFiles(state, files.filter((file) => toml.includes(file) || !LINES.test(file.name) && !RASTERS.test(file.name)));
    for (const file of files) {
      if (file === prj || toml.includes(file)) continue;
      try {
        if (LINES.test(file.name) && !RASTERS.test(file.name) && !(await holdsRaster(file))) await this.#line(file).catch((error) => this.areas(file, error));
        else await this.#raster(file, prj);
      } catch (error) {
        state.say(`“${file.name}”: ${/** @type {Error} */ (error).message}`, true);
      }
    }
  }

  /** @param {File} file @param {File | undefined} prj */
  async #raster(file, prj) {
    const { state } = this;
    state.say(`Bringing “${file.name}” in …`);
    const form = new FormData();
    form.append("file", file);
    if (prj) form.append("prj", prj);
    const terrain = await api.uploadTerrain(form);
    const known = this.#add(terrain);
    this.use(terrain.id);
    if (known) state.say(`“${file.name}” is here already, as “${terrain.name}”; it was not brought in twice.`);
  }

  /** Have a terrain in the list. @param {import("./types.js").Terrain} terrain @returns {boolean} whether it was there */
  #add(terrain) {
    const { state } = this;
    const known = state.terrains.some(({ id }) => id === terrain.id);
    if (!known) state.terrains = [terrain, ...state.terrains];
    state.tell("terrains");
    return known;
  }

  /** Open the sample: a valley, a line through it, and what is known of its pipe. */
  async sample() {
    const { state } = this;
    try {
      const { terrain, route, settings } = await api.sample();
      this.#add(terrain);
      this.card.hidden = true;
      state.change("Sample opened", planFrom(settings, pointsOf(route), [terrain.id]));
      state.setMode("edit");
      state.say("The sample is open. Drag a point, or a small ring between two, and watch the profile.");
      this.fitted();
    } catch (error) {
      state.say(/** @type {Error} */ (error).message, true);
    }
  }

  /** @param {File} file */
  async #line(file) {
    const { state } = this;
    const route = await api.importRoute(file);
    const points = pointsOf(route);
    const name = route.name || file.name.replace(/\.[^.]*$/, "");
    const { plan } = state;
    if (activeLine(plan).points.length) {
      const lines = [...plan.lines, { name, points, settings: activeLine(plan).settings }];
      state.change("Line brought in", { ...plan, lines, active: lines.length - 1 });
    } else state.change("Line brought in", withLine(withPoints(plan, points), { name }));
    state.setMode("edit");
    state.say(`“${name}” is in, ${points.length} points. The first one is the intake.`);
    this.fitted();
  }

  /** @param {string} id of a terrain */
  use(id) {
    const { state } = this;
    this.card.hidden = true;
    const { plan } = state;
    // A coordinate system that was given is that of the raster before.
    const lines = plan.terrain.includes(id) ? plan.lines : plan.lines.map((line) => ({ ...line, settings: withSetting(line.settings, "terrain", "crs", "") }));
    state.change("Terrain chosen", { ...plan, lines, terrain: [id] });
    if (!activeLine(state.plan).points.length) state.setMode("draw");
  }

  /** Show what there is to begin with. */
  async open() {
    const { state } = this;
    this.card.hidden = false;
    byId("start-close").hidden = !state.plan.terrain.length;
    const [terrains, studies] = await Promise.all([api.listTerrains(), api.listStudies()]);
    state.terrains = terrains;
    state.tell("terrains");
    const rows = terrains.map((/** @type {any} */ terrain) =>
      element("li", {}, button(terrain.name, () => this.use(terrain.id), { translate: "no" }), element("span", { class: "facts" }, facts(terrain))));
    byId("start-terrains").replaceChildren(...rows);
    byId("start-terrains-part").hidden = !rows.length;
    byId("start-studies").replaceChildren(...studies.slice(0, 8).map((/** @type {any} */ study) =>
      element("li", {}, element("a", { href: `/?study=${study.id}`, translate: "no" }, study.name), element("span", { class: "facts" }, moment(study.updated)))));
    byId("start-studies-part").hidden = !studies.length;
  }

  /** Begin with what the address names, and with work that the browser kept. */
  async begin() {
    const { state } = this;
    const query = new URLSearchParams(location.search);
    const id = query.get("study");
    const kept = this.keep.read(id);
    let back = null;
    try {
      state.terrains = await api.listTerrains();
      state.tell("terrains");
      if (id) back = await api.getStudy(id);
    } catch (error) {
      state.say(/** @type {Error} */ (error).message, true);
      if (!kept) return;
    }
    if (back) {
      const plan = planOf(back.study);
      state.saved = { id: back.study.id, etag: back.etag, revision: back.study.revision };
      state.savedPlan = plan;
      state.restart(plan);
      state.tell("saved");
    } else if (id && kept) state.saved = { id, etag: kept.etag, revision: kept.revision };
    const terrain = query.get("terrain");
    if (kept) this.#recover(kept, back !== null);
    else if (!id && terrain) this.use(terrain);
    else if (!id) await this.open();
    this.fitted();
  }

  /** @param {import("./keep.js").Kept} kept @param {boolean} step whether the saved plan lies beneath */
  #recover(kept, step) {
    const { state } = this;
    const when = moment(kept.when);
    if (step) {
      state.change("Unsaved work", kept.plan);
      if (state.saved && kept.etag) state.saved = { ...state.saved, etag: kept.etag, revision: kept.revision };
      state.say(`Unsaved work of ${when} is back. Undo shows the study as it was saved.`);
    } else {
      state.restart(kept.plan);
      state.say(`Unsaved work of ${when} is back.`);
      if (!activeLine(kept.plan).points.length && kept.plan.terrain.length) state.setMode("draw");
    }
  }

  /** Start over; what is unsaved goes only if the user says so. */
  fresh() {
    const { state } = this;
    const drawn = state.plan.lines.some((line) => line.points.length);
    if (state.dirty && drawn && !confirm("Leave the unsaved work of this page?")) return;
    this.keep.drop(state.saved?.id ?? null);
    state.saved = null;
    state.savedPlan = null;
    window.history.replaceState(null, "", "/");
    state.restart(emptyPlan());
    state.tell("saved");
    this.open();
  }
}

/** Whether a zip is a packed raster: its directory stands at its end. @param {File} file */
async function holdsRaster(file) {
  if (!/\.zip$/i.test(file.name)) return false;
  const names = await file.slice(-DIRECTORY_BYTES).text();
  return /\.(tiff?|asc|dem|hgt|img)(PK|\W)/i.test(names) && !/\.shp(PK|\W)/i.test(names); // PK: the next entry
}

/** @param {any} terrain */
function facts(terrain) {
  const { rows, columns, cell_m: cell, crs } = terrain.facts;
  return `${columns} × ${rows} cells${cell ? ` of ${Number(cell).toPrecision(2)} m` : ""}, ${crs ?? "no coordinate system"}`;
}
