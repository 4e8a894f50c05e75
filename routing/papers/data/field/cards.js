// @ts-check
/** The cards: tick, note, photographs and what was built of each place. */

import { builtForm } from "./built.js";
import { reading, wanted } from "./place.js";
import { standing } from "./records.js";
import { shrunk } from "./store.js";

/** @typedef {import("./records.js").Said} Said */
/** @typedef {import("./records.js").Words} Words */
/** @typedef {{id: string, kind: string, title: string, station: number, advised?: boolean}} Place */

/** How far ahead "next" looks [m]. */
const AHEAD_M = 100;
const counted = (/** @type {Place} */ place) => place.kind !== "end";

export class Cards {
  /**
   * @param {any} data of the sheet @param {import("./log.js").Log} log
   * @param {{find: (id: string) => void, say: (text: string) => void, station: (metres: number) => string, me: () => any}} asked
   */
  constructor(data, log, { find, say, station, me }) {
    /** @type {Place[]} */
    this.places = data.places;
    this.data = data;
    this.log = log;
    this.say = say;
    this.station = station;
    this.me = me;
    this.asked = { kind: "all", needed: false, open: false, ahead: /** @type {number | null} */ (null), from: /** @type {number | null} */ (null), down: true, words: "" };
    /** What a search looks into. @type {Map<string, string>} */
    this.words = new Map();
    /** @type {Map<string, Words>} */
    this.said = new Map();
    /** @type {Map<string, HTMLElement>} */
    this.cards = new Map();
    for (const card of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".card"))) {
      const id = card.dataset.id ?? "";
      this.cards.set(id, card);
      this.words.set(id, (card.querySelector("summary")?.textContent ?? "").toLowerCase());
      card.querySelector("summary")?.addEventListener("click", () => this.#fill(id, card));
      card.querySelector("details")?.addEventListener("toggle", () => this.#opened(id, card));
    }
    this.find = find;
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

  /** What a closed card keeps as one text becomes its body, once. @param {string} id @param {HTMLElement} card */
  #fill(id, card) {
    const held = card.querySelector("noscript");
    if (!held) return;
    held.insertAdjacentHTML("beforebegin", held.textContent ?? ""); // escaped where the sheet was made
    held.remove();
    /** @type {HTMLElement} */ (card.querySelector(".work")).hidden = false;
    card.querySelector(".find")?.addEventListener("click", () => this.find(id));
    this.#listen(id, card);
    this.#tell(id, card);
  }

  /** Show what was recorded in the fields of a card that has them. @param {string} id @param {HTMLElement} card */
  #tell(id, card) {
    const place = this.places.find((each) => each.id === id);
    if (!place || card.querySelector("noscript")) return;
    const words = this.said.get(id);
    const [done, note] = this.#fields(card);
    done.checked = standing(words?.tick, place).done;
    if (document.activeElement !== note) note.value = words?.note?.note ?? "";
    if (card.querySelector("details")?.open) this.#pictures(id, card);
  }

  /** @param {string} id @param {HTMLElement} card */
  #listen(id, card) {
    const { log, say } = this;
    const at = { of: id, station_m: this.places.find((place) => place.id === id)?.station ?? null };
    const [done, note, photo] = this.#fields(card);
    done.addEventListener("change", () => log.add({ kind: "tick", done: done.checked, ...at }));
    const box = `note ${id}`;
    note.addEventListener("input", () => log.store.draft(box, note.value));
    note.addEventListener("change", () => {
      log.store.draft(box, null);
      const { unit } = note.dataset;
      const level = unit && note.value.trim() ? reading(note.value, unit) : note.value;
      if (level === null) return say("That is no level: give a number, such as 412.31.");
      note.value = level;
      log.add({ kind: "note", note: level, ...at });
    });
    photo.addEventListener("change", async () => {
      for (const file of photo.files ?? [])
        try {
          await log.add({ kind: "photo", photo: await shrunk(file), ...at });
        } catch {
          say("That picture cannot be read.");
        }
      photo.value = "";
    });
  }

  /** What was typed before the page went away is recorded now. */
  recover() {
    for (const [box, text] of Object.entries(this.log.store.drafts())) {
      const id = box.startsWith("note ") ? box.slice(5) : "";
      const card = this.cards.get(id);
      if (!card) continue;
      this.#fill(id, card);
      const note = this.#fields(card)[1];
      note.value = text;
      note.dispatchEvent(new Event("change"));
    }
  }

  /** Make what only an open card needs. @param {string} id @param {HTMLElement} card */
  #opened(id, card) {
    const place = this.places.find((each) => each.id === id);
    const details = card.querySelector("details");
    if (!place || !details?.open) return;
    this.#fill(id, card);
    if (place.kind !== "level" && !card.querySelector(".built"))
      card.querySelector(".find")?.before(builtForm(this.data, this.log, place, this));
    this.#pictures(id, card);
  }

  /** @param {string} id @param {HTMLElement} card */
  async #pictures(id, card) {
    const words = this.said.get(id);
    const strip = /** @type {HTMLElement} */ (card.querySelector(".photos"));
    const names = (words?.photos ?? []).map((said) => said.photo ?? "");
    if (strip.dataset.names === names.join(" ")) return;
    strip.dataset.names = names.join(" ");
    const pictures = await Promise.all(names.map(async (name) => (await this.log.store.photo(name)) ?? (this.data.service ? `${this.data.service}/${name}` : null)));
    strip.replaceChildren(
      ...pictures.map((address, i) => {
        if (!address) return Object.assign(document.createElement("p"), { textContent: "A photograph is with the service." });
        return Object.assign(document.createElement("img"), { src: address, alt: `Photograph ${i + 1} of ${id}` });
      }),
    );
  }

  /** @param {HTMLElement} card @returns {[HTMLInputElement, HTMLTextAreaElement, HTMLInputElement]} */
  #fields(card) {
    const one = (/** @type {string} */ what) => /** @type {any} */ (card.querySelector(what));
    return [one(".done input"), one(".note textarea, .note input"), one(".photo input")];
  }

  /** Show what is recorded. */
  show() {
    const { words: said, conflicts } = this.log;
    this.said = said;
    for (const place of this.places) {
      const card = this.cards.get(place.id);
      if (!card) continue;
      const words = said.get(place.id);
      const now = standing(words?.tick, place);
      this.#tell(place.id, card);
      card.classList.toggle("is-done", now.done);
      const differ = conflicts.get(place.id);
      card.classList.toggle("has-moved", now.was !== null || differ !== undefined);
      const state = /** @type {HTMLElement} */ (card.querySelector(".state"));
      if (now.was !== null) state.textContent = `was at ${this.station(now.was)}, now ${this.station(place.station)}: check`;
      else if (differ) state.textContent = `${differ.map((each) => this.#told(each)).join("; ")}: settle`;
      else state.textContent = now.done ? `done ${clock(words?.tick?.time ?? "")}` : words?.built ? "as built" : words?.note?.note || words?.photos.length ? "noted" : "";
    }
    const all = this.places.filter(counted);
    const finished = all.filter((place) => standing(said.get(place.id)?.tick, place).done).length;
    /** @type {HTMLElement} */ (document.getElementById("tally")).textContent = `${finished} of ${all.length} done`;
    this.filter({});
  }

  /** What one device says, where two differ. @param {Said} said */
  #told(said) {
    const what = said.kind === "tick" ? (said.done ? "done" : "not done") : `invert ${shownIn(this.data, said.invert_m, "elevation", 2)}`;
    return `${said.device} says ${what} ${clock(said.time)}`;
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
      const there = wanted(listed, standing(this.said.get(place.id)?.tick, place).done, this.asked);
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
    if (card && details) {
      this.#fill(id, card);
      details.open = true;
    }
    card?.scrollIntoView({ block: "start" });
  }
}

/** A number of the study in its reader's unit. @param {any} data @param {number | null | undefined} value @param {string} kind @param {number} digits */
export function shownIn(data, value, kind, digits) {
  const { factor, unit } = data.units[kind];
  return value === null || value === undefined ? "–" : `${(value * factor).toFixed(digits)} ${unit}`;
}

/** @param {string} time */
export function clock(time) {
  const local = (/** @type {Date} */ at) => new Date(at.getTime() - at.getTimezoneOffset() * 60000).toISOString();
  const [day, hour] = local(new Date(time)).slice(0, 16).split("T");
  return day === local(new Date()).slice(0, 10) ? hour : `${day} ${hour}`;
}
