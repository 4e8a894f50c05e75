// @ts-check
/** The dialog of pipes: those that hold the line, best first; the others only where asked for. */

import * as api from "./api.js";
import { picked, restOnly, rowWords } from "./choice.js";
import { byId, element } from "./dom.js";
import { button } from "./fields.js";
import { lineFirst } from "./panel-pipes.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./panel-pipes.js").Trial} Trial */

const MOST = 80;
const ALL = "1000";

export class Chooser {
  /** @param {State} state @param {Trial} trial */
  constructor(state, trial) {
    this.state = state;
    this.trial = trial;
    this.dialog = /** @type {HTMLDialogElement} */ (byId("catalogue"));
    this.query = byId("catalogue-query");
    this.material = byId("catalogue-material");
    this.others = byId("catalogue-others");
    this.list = byId("catalogue-list");
    /** @type {any[]} */
    this.pipes = [];
    /** @type {(id: string) => void} */
    this.done = () => {};
    for (const node of [this.query, this.material, this.others]) node.addEventListener("input", () => this.#draw());
    trial.heard.push(() => this.dialog.open && this.#draw());
    this.dialog.addEventListener("close", () => this.done(""));
  }

  /** @returns {Promise<string>} the id chosen, or empty */
  ask() {
    this.query.value = "";
    this.others.checked = false;
    this.dialog.showModal();
    this.query.focus();
    this.trial.ask(false);
    this.#draw();
    if (!this.pipes.length) this.#look();
    return new Promise((resolve) => (this.done = resolve));
  }

  /** The catalogue as it is, for a line without a flow. */
  async #look() {
    try {
      this.pipes = await api.catalogue({ limit: ALL });
      this.#draw();
    } catch (error) {
      this.list.replaceChildren(element("li", { class: "empty" }, /** @type {Error} */ (error).message));
    }
  }

  #draw() {
    const { units } = this.state.plan;
    const { question, choice, trouble } = this.trial;
    const plain = Boolean(question.why);
    const still = this.state.model?.summary.max_static_pressure_kpa ?? null;
    const sweep = choice?.sweep ?? (plain || trouble ? restOnly(this.pipes, still) : []);
    const shown = picked(sweep, { words: this.query.value, material: this.material.value, all: this.others.checked });
    const held = choice && (choice.fitting ? `${choice.fitting} of ${choice.tried} pipes hold this line; the best were laid and their surges followed.` : `None of ${choice.tried} pipes holds this line.`);
    byId("catalogue-told").textContent = held ?? question.why ?? (trouble || "Trying the whole catalogue on this line …");
    const rows = shown.slice(0, MOST).map((row) => {
      const take = button("", () => this.#take(row.id), { class: `hit${row.fits ? "" : " unfit"}` });
      take.append(element("b", {}, row.label), element("span", { class: "facts" }, choice ? `${rowWords(choice, row, units)}, ${row.id}` : `${row.verdict}, ${row.id}`));
      return element("li", {}, take);
    });
    if (shown.length > MOST) rows.push(element("li", { class: "empty" }, `${shown.length - MOST} more: type a word to find them.`));
    this.list.replaceChildren(...(rows.length ? rows : [element("li", { class: "empty" }, this.#none(sweep))]));
  }

  /** Why no pipe is shown. @param {import("./choice.js").Tried[]} sweep */
  #none(sweep) {
    if (!sweep.length) return "One moment …";
    if (sweep.some(({ fits }) => fits)) return "No pipe has all these words. Fewer words find more.";
    return lineFirst(this.state) ? "The line rises above the intake's water, so no pipe holds it: mend the line first, or tick the box above and choose one all the same."
      : "No pipe holds this line: tick the box above to see each with its reason.";
  }

  /** @param {string} id */
  #take(id) {
    const { done } = this;
    this.done = () => {};
    this.dialog.close();
    done(id);
  }
}
