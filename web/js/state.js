// @ts-check
/** All that the page knows, in one place; views subscribe and draw themselves anew. */

import { History } from "./history.js";
import { emptyPlan } from "./plan.js";
import { carried } from "./wire.js";

/** @typedef {import("./plan.js").Plan} Plan */
/** @typedef {import("./types.js").Model} Model */
/** @typedef {"edit" | "draw" | "span" | "nogo" | "measure"} Mode */
/** @typedef {{id: string, etag: string, revision: number}} Saved */
/**
 * What may change: the plan, the answer to it (each for the long section alone, which is drawn as
 * fast as may be), the place under the pointer, the tool in hand, the vertex in hand, the stretch of
 * profile in view, whether all is saved, what is said to the user.
 * @typedef {"plan" | "draft" | "look" | "model" | "hover" | "mode" | "vertex" | "view" | "saved" | "say" | "terrains"} Topic
 */

/**
 * While a line is dragged, all but its long section is drawn so often [ms]: a screen is put together
 * anew by the one rectangle that holds all changes, and nobody reads figures faster.
 */
const DRAGGED_MS = 200;

/** Once the long section is painted and nothing else is to be done, or soon all the same. @param {() => void} act */
const atLeisure = (act) => ("requestIdleCallback" in window ? requestIdleCallback(() => act(), { timeout: DRAGGED_MS }) : setTimeout(act));

export class State extends EventTarget {
  /** @param {(act: () => void) => void} [later] how what may wait for the long section is put off */
  constructor(later = atLeisure) {
    super();
    this.later = later;
    /** @type {History<Plan>} */
    this.history = new History(emptyPlan());
    /** The line under the pointer while it is dragged, else null. @type {[number, number][] | null} */
    this.draft = null;
    /** @type {Model | null} */
    this.model = null;
    /** The newest answer, where it is a first look without fittings. @type {Model | null} */
    this.firstLook = null;
    /** What went wrong with the newest line, else empty. */
    this.trouble = "";
    this.told = -Infinity;
    /** @type {number | null} */
    this.hover = null;
    /** @type {Mode} */
    this.mode = "edit";
    /** @type {"intake" | "outlet"} */
    this.drawEnd = "outlet";
    /** @type {number | null} */
    this.vertex = null;
    /** Stations in view, or null for the whole line. @type {[number, number] | null} */
    this.view = null;
    /** @type {Saved | null} */
    this.saved = null;
    /** The plan as it was last saved. @type {Plan | null} */
    this.savedPlan = null;
    /** @type {import("./types.js").Terrain[]} */
    this.terrains = [];
    this.message = { text: "", problem: false };
  }

  /** @returns {Plan} */
  get plan() {
    return this.history.value;
  }

  get dirty() {
    return this.plan !== this.savedPlan;
  }

  /** @param {Topic | Topic[]} topics @param {() => void} act */
  on(topics, act) {
    for (const topic of [topics].flat()) this.addEventListener(topic, act);
  }

  /** @param {Topic} topic */
  tell(topic) {
    this.dispatchEvent(new Event(topic));
  }

  /** Change the plan by one step that can be taken back. @param {string} label @param {Plan} plan @param {string} [merge] */
  change(label, plan, merge) {
    this.history.add(label, plan, merge);
    this.draft = null;
    this.tell("plan");
  }

  /** @param {Plan} plan */
  restart(plan) {
    this.history = new History(plan);
    this.draft = null;
    this.model = null;
    this.vertex = null;
    this.view = null;
    this.tell("plan");
    this.tell("look");
    this.tell("model");
    this.tell("view");
  }

  undo() {
    const label = this.history.undoLabel;
    if (!label) return;
    this.history.undo();
    this.#stepped(`Taken back: ${label}.`);
  }

  redo() {
    const label = this.history.redoLabel;
    if (!label) return;
    this.history.redo();
    this.#stepped(`Done again: ${label}.`);
  }

  /** @param {string} text */
  #stepped(text) {
    this.draft = null;
    this.vertex = null;
    this.say(text);
    this.tell("plan");
  }

  /** @param {[number, number][] | null} points */
  setDraft(points) {
    this.draft = points;
    this.tell("draft");
  }

  /** @param {Model | null} model @param {string} trouble */
  setModel(model, trouble = "") {
    const before = this.trouble;
    if (model) this.model = carried(model, this.model);
    this.firstLook = model?.fitted === false ? model : null;
    this.trouble = trouble;
    this.tell("look");
    const now = performance.now();
    if (model?.fitted === false && this.draft && trouble === before && now - this.told < DRAGGED_MS) return;
    this.told = now;
    if (this.draft) this.later(() => this.tell("model"));
    else this.tell("model");
  }

  /** Take the fittings of an answer that first looks overtook; the line stays theirs. @param {Model} model */
  setFittings(model) {
    const { firstLook, draft } = this;
    if (!firstLook || !draft) return;
    this.model = carried(firstLook, carried(model, this.model));
    this.told = performance.now();
    this.tell("look");
    this.later(() => this.tell("model"));
  }

  /** @param {number | null} station */
  setHover(station) {
    if (station === this.hover) return;
    this.hover = station;
    this.tell("hover");
  }

  /** @param {Mode} mode @param {"intake" | "outlet"} [end] */
  setMode(mode, end = "outlet") {
    this.mode = mode;
    this.drawEnd = end;
    this.tell("mode");
  }

  /** @param {number | null} vertex */
  setVertex(vertex) {
    this.vertex = vertex;
    this.tell("vertex");
  }

  /** @param {[number, number] | null} view */
  setView(view) {
    this.view = view;
    this.tell("view");
  }

  /** @param {string} text @param {boolean} [problem] */
  say(text, problem = false) {
    this.message = { text, problem };
    this.tell("say");
  }
}
