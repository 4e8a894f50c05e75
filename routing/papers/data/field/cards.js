// @ts-check
/** The cards: tick, note, photograph and time of each place. */

import { reading } from "./place.js";
import { shrunk } from "./store.js";

/** @typedef {import("./place.js").Tick} Tick */
/** @typedef {{id: string, kind: string, title: string, station: number}} Place */

const COUNTED = new Set(["vent", "drain", "bend", "pipe"]);

export class Cards {
  /**
   * @param {Place[]} places
   * @param {(id: string, change: Partial<Tick>) => void} change @param {(id: string) => void} find
   * @param {(text: string) => void} say
   */
  constructor(places, change, find, say) {
    this.places = places;
    this.shown = "all";
    /** @type {Map<string, Tick>} */
    this.ticks = new Map();
    /** @type {Map<string, HTMLElement>} */
    this.cards = new Map();
    for (const card of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".card"))) {
      const id = card.dataset.id ?? "";
      this.cards.set(id, card);
      const work = /** @type {HTMLElement} */ (card.querySelector(".work"));
      work.hidden = false;
      const [done, note, photo] = this.#fields(card);
      done.addEventListener("change", () => change(id, { done: done.checked }));
      note.addEventListener("change", () => {
        const { unit } = note.dataset;
        const level = unit && note.value.trim() ? reading(note.value, unit) : note.value;
        if (level === null) return say("That is no level: give a number, such as 412.31.");
        note.value = level;
        change(id, { note: level });
      });
      photo.addEventListener("change", async () => {
        const file = photo.files?.[0];
        if (!file) return;
        try {
          change(id, { photo: await shrunk(file) });
        } catch {
          say("That picture cannot be read.");
        }
      });
      card.querySelector(".find")?.addEventListener("click", () => find(id));
    }
    for (const chip of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-show]")))
      chip.addEventListener("click", () => this.filter(chip.dataset.show ?? "all"));
  }

  /** @param {HTMLElement} card @returns {[HTMLInputElement, HTMLTextAreaElement, HTMLInputElement]} */
  #fields(card) {
    const one = (/** @type {string} */ what) => /** @type {any} */ (card.querySelector(what));
    return [one(".done input"), one(".note textarea, .note input"), one(".photo input")];
  }

  /** @param {Map<string, Tick>} ticks the newest of each place */
  show(ticks) {
    this.ticks = ticks;
    for (const [id, card] of this.cards) {
      const tick = ticks.get(id);
      const [done, note] = this.#fields(card);
      done.checked = Boolean(tick?.done);
      if (document.activeElement !== note) note.value = tick?.note ?? "";
      card.classList.toggle("is-done", Boolean(tick?.done));
      const state = /** @type {HTMLElement} */ (card.querySelector(".state"));
      state.textContent = tick?.done ? `done ${clock(tick.time)}` : tick?.note || tick?.photo ? "noted" : "";
      const picture = /** @type {HTMLImageElement} */ (card.querySelector(".work img"));
      picture.hidden = !tick?.photo;
      if (tick?.photo && picture.src !== tick.photo) picture.src = tick.photo;
    }
    const counted = this.places.filter((place) => COUNTED.has(place.kind));
    const finished = counted.filter((place) => ticks.get(place.id)?.done).length;
    /** @type {HTMLElement} */ (document.getElementById("tally")).textContent = `${finished} of ${counted.length} done`;
    this.filter(this.shown);
  }

  /** @param {string} which */
  filter(which) {
    this.shown = which;
    for (const chip of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-show]")))
      chip.setAttribute("aria-pressed", String(chip.dataset.show === which));
    for (const place of this.places) {
      const card = this.cards.get(place.id);
      if (!card) continue;
      const open = !this.ticks.get(place.id)?.done;
      card.hidden = which === "open" ? !open || !COUNTED.has(place.kind) : which !== "all" && place.kind !== which;
    }
  }

  /** Open a card and bring it into view. @param {string} id */
  open(id) {
    this.filter("all");
    const card = this.cards.get(id);
    const details = card?.querySelector("details");
    if (details) details.open = true;
    card?.scrollIntoView({ block: "start" });
  }
}

/** @param {string} time */
function clock(time) {
  const moment = new Date(time);
  const today = moment.toDateString() === new Date().toDateString();
  const hour = moment.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  return today ? hour : `${moment.toLocaleDateString([], { day: "numeric", month: "short" })} ${hour}`;
}
