// @ts-check
/** The dialog that looks a pipe up in the catalogue. */

import * as api from "./api.js";
import { byId, element } from "./dom.js";
import { button } from "./fields.js";
import { show } from "./units.js";

/** @typedef {import("./state.js").State} State */

const WAIT_MS = 150;
const MOST = "60";

export class Chooser {
  /** @param {State} state */
  constructor(state) {
    this.state = state;
    this.dialog = /** @type {HTMLDialogElement} */ (byId("catalogue"));
    this.query = byId("catalogue-query");
    this.material = byId("catalogue-material");
    this.list = byId("catalogue-list");
    this.asked = 0;
    /** @type {(id: string) => void} */
    this.done = () => {};
    let timer = 0;
    const soon = () => {
      clearTimeout(timer);
      timer = window.setTimeout(() => this.#look(), WAIT_MS);
    };
    this.query.addEventListener("input", soon);
    this.material.addEventListener("change", soon);
    this.dialog.addEventListener("close", () => this.done(""));
  }

  /** @param {string} [now] id of the present pipe @returns {Promise<string>} the id chosen, or empty */
  ask(now = "") {
    this.query.value = now;
    this.dialog.showModal();
    this.query.select();
    this.#look();
    return new Promise((resolve) => (this.done = resolve));
  }

  async #look() {
    const ticket = (this.asked += 1);
    try {
      const answer = await api.catalogue({ q: this.query.value, limit: MOST, ...(this.material.value && { material: this.material.value }) });
      if (ticket === this.asked) this.#show(answer.pipes ?? answer);
    } catch (error) {
      this.list.replaceChildren(element("li", { class: "empty" }, /** @type {Error} */ (error).message));
    }
  }

  /** @param {any[]} pipes */
  #show(pipes) {
    const { units } = this.state.plan;
    const rows = pipes.map((pipe) => {
      const rating = pipe.rating_kpa ?? (pipe.rating_pa === null || pipe.rating_pa === undefined ? null : pipe.rating_pa / 1000);
      const take = button("", () => this.#take(pipe.id), { class: "hit" });
      take.append(
        element("b", {}, pipe.label ?? pipe.id),
        element("span", { class: "facts" },
          `${show(pipe.inside_diameter_m, "diameter", units)} bore, wall ${show(pipe.wall_m, "diameter", units)}, ` +
          `${rating === null ? "rating not known" : show(rating * 1000, "pressure", units)}, ${pipe.id}`));
      return element("li", {}, take);
    });
    this.list.replaceChildren(...(rows.length ? rows : [element("li", { class: "empty" }, "No pipe answers to that. Fewer words find more.")]));
  }

  /** @param {string} id */
  #take(id) {
    const { done } = this;
    this.done = () => {};
    this.dialog.close();
    done(id);
  }
}
