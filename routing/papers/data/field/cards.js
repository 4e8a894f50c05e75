// @ts-check
/** The cards: tick, note, photograph and time of each place. */

import { reading, standing, wanted } from "./place.js";
import { shrunk } from "./store.js";

/** @typedef {import("./place.js").Tick} Tick */
/** @typedef {{id: string, kind: string, title: string, station: number, advised?: boolean}} Place */

/** How far ahead "next" looks [m]. */
const AHEAD_M = 100;
const counted = (/** @type {Place} */ place) => place.kind !== "end";

export class Cards {
  /**
   * @param {Place[]} places
   * @param {(id: string, change: Partial<Tick>) => void} change @param {(id: string) => void} find
   * @param {(text: string) => void} say @param {(metres: number) => string} station
   */
  constructor(places, change, find, say, station) {
    this.places = places;
    this.station = station;
    this.asked = { kind: "all", needed: false, open: false, ahead: /** @type {number | null} */ (null), from: /** @type {number | null} */ (null), down: true, words: "" };
    /** What a search looks into. @type {Map<string, string>} */
    this.words = new Map();
    /** @type {Map<string, Tick>} */
    this.ticks = new Map();
    /** @type {Map<string, HTMLElement>} */
    this.cards = new Map();
    for (const card of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".card"))) {
      const id = card.dataset.id ?? "";
      this.cards.set(id, card);
      this.words.set(id, (card.querySelector("summary")?.textContent ?? "").toLowerCase());
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
      chip.addEventListener("click", () => this.filter({ kind: chip.dataset.show ?? "all" }));
    for (const chip of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-only]")))
      chip.addEventListener("click", () => {
        const on = chip.getAttribute("aria-pressed") !== "true";
        const which = chip.dataset.only;
        this.filter(which === "needed" ? { needed: on } : which === "open" ? { open: on } : { ahead: on ? AHEAD_M : null });
      });
    const search = /** @type {HTMLInputElement} */ (document.getElementById("search"));
    search.addEventListener("input", () => this.filter({ words: search.value.trim().toLowerCase() }));
  }

  /** @param {HTMLElement} card @returns {[HTMLInputElement, HTMLTextAreaElement, HTMLInputElement]} */
  #fields(card) {
    const one = (/** @type {string} */ what) => /** @type {any} */ (card.querySelector(what));
    return [one(".done input"), one(".note textarea, .note input"), one(".photo input")];
  }

  /** @param {Map<string, Tick>} ticks the newest of each place */
  show(ticks) {
    this.ticks = ticks;
    for (const place of this.places) {
      const card = this.cards.get(place.id);
      if (!card) continue;
      const tick = ticks.get(place.id);
      const now = standing(tick, place);
      const [done, note] = this.#fields(card);
      done.checked = now.done;
      if (document.activeElement !== note) note.value = tick?.note ?? "";
      card.classList.toggle("is-done", now.done);
      card.classList.toggle("has-moved", now.was !== null);
      const state = /** @type {HTMLElement} */ (card.querySelector(".state"));
      if (now.was !== null) state.textContent = `was at ${this.station(now.was)}, now ${this.station(place.station)}: check`;
      else state.textContent = now.done ? `done ${clock(tick?.time ?? "")}` : tick?.note || tick?.photo ? "noted" : "";
      const picture = /** @type {HTMLImageElement} */ (card.querySelector(".work img"));
      picture.hidden = !tick?.photo;
      if (tick?.photo && picture.src !== tick.photo) picture.src = tick.photo;
    }
    const all = this.places.filter(counted);
    const finished = all.filter((place) => standing(ticks.get(place.id), place).done).length;
    /** @type {HTMLElement} */ (document.getElementById("tally")).textContent = `${finished} of ${all.length} done`;
    this.filter({});
  }

  /** Where the walker is, for what comes next. @param {number} station @param {boolean} down */
  walked(station, down) {
    const before = this.asked.from;
    this.asked = { ...this.asked, from: station, down };
    if (this.asked.ahead !== null && (before === null || Math.abs(before - station) > 1)) this.filter({});
  }

  /** @param {Partial<Cards["asked"]>} change */
  filter(change) {
    this.asked = { ...this.asked, ...change };
    const { kind, needed, open, ahead } = this.asked;
    for (const chip of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-show]")))
      chip.setAttribute("aria-pressed", String(chip.dataset.show === kind));
    const on = { needed, open, ahead: ahead !== null };
    for (const chip of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-only]")))
      chip.setAttribute("aria-pressed", String(on[/** @type {keyof typeof on} */ (chip.dataset.only)]));
    let shown = 0;
    for (const place of this.places) {
      const card = this.cards.get(place.id);
      if (!card) continue;
      const listed = { ...place, words: this.words.get(place.id) ?? "" };
      const there = wanted(listed, standing(this.ticks.get(place.id), place).done, this.asked);
      if (card.hidden === there) card.hidden = !there;
      if (there) shown += 1;
    }
    const nothing = ahead !== null && this.asked.from === null ? "No position yet: everything is shown." : shown ? "" : "Nothing here is asked for.";
    /** @type {HTMLElement} */ (document.getElementById("found")).textContent = nothing;
  }

  /** Open a card and bring it into view. @param {string} id */
  open(id) {
    /** @type {HTMLInputElement} */ (document.getElementById("search")).value = "";
    this.filter({ kind: "all", needed: false, open: false, ahead: null, words: "" });
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
