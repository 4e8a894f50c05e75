// @ts-check
/** Records on this device: in the browser's database, or its small store where that is refused. */

import { fromTicks } from "./records.js";

/** @typedef {import("./records.js").Said} Said */

const NAME = "leatline-field";
const OWN = "photo:"; // a photograph that is kept here and not yet with the service

/** @returns {Promise<IDBDatabase>} */
function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 2);
    request.onupgradeneeded = (event) => {
      const database = request.result;
      if (event.oldVersion < 1) database.createObjectStore("ticks"); // of older sheets; read once
      database.createObjectStore("records");
      database.createObjectStore("photos");
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("blocked"));
  });
}

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
const answer = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

export class Store {
  /** @param {string} study */
  constructor(study) {
    this.study = study;
    /** @type {IDBDatabase | null} */
    this.database = null;
    /** Photographs where there is no database: as long as the page lasts. @type {Map<string, string>} */
    this.loose = new Map();
  }

  async open() {
    try {
      this.database = await opened();
      // A browser that is short of room asks before it takes these away.
      await navigator.storage?.persist?.().catch(() => false);
    } catch {
      this.database = null;
    }
  }

  /** @param {string} name @param {IDBTransactionMode} mode */
  #box(name, mode = "readonly") {
    return /** @type {IDBDatabase} */ (this.database).transaction(name, mode).objectStore(name);
  }

  /** Records of a list: "own" not yet with the service, "known" from there. @param {"own" | "known"} list @returns {Promise<Said[]>} */
  async read(list) {
    const name = `${this.study}:${list}`;
    if (this.database) {
      const found = (await answer(this.#box("records").get(name))) ?? [];
      return list === "own" ? [...(await this.#older()), ...found] : found;
    }
    try {
      return JSON.parse(localStorage.getItem(`${NAME}:${name}`) ?? "[]");
    } catch {
      return [];
    }
  }

  /** What an older sheet kept of this study, taken over once. @returns {Promise<Said[]>} */
  async #older() {
    const ticks = (await answer(this.#box("ticks").get(this.study))) ?? [];
    if (!ticks.length) return [];
    const found = fromTicks(ticks);
    for (const said of found) if (said.photo) said.photo = await this.keepPhoto(said.photo);
    await answer(this.#box("ticks", "readwrite").delete(this.study));
    return found;
  }

  /** Keep a list; return whether it could be kept. @param {"own" | "known"} list @param {Said[]} records @returns {Promise<boolean>} */
  async write(list, records) {
    const name = `${this.study}:${list}`;
    try {
      if (this.database) await answer(this.#box("records", "readwrite").put(records, name));
      else localStorage.setItem(`${NAME}:${name}`, JSON.stringify(records));
      return true;
    } catch {
      return false; // the sheet says so, and the file still takes everything home
    }
  }

  /** Keep a photograph; return the name that stands for it in a record. @param {string} data */
  async keepPhoto(data) {
    const name = `${OWN}${this.study}:${hex(8)}`;
    if (this.database) await answer(this.#box("photos", "readwrite").put(data, name));
    else this.loose.set(name, data);
    return name;
  }

  /** The picture behind a name of a record; null where only the service has it. @param {string} name @returns {Promise<string | null>} */
  async photo(name) {
    if (!name.startsWith(OWN)) return name.startsWith("data:") ? name : null;
    if (this.database) return (await answer(this.#box("photos").get(name))) ?? null;
    return this.loose.get(name) ?? null;
  }

  /** @param {string} name */
  async dropPhoto(name) {
    if (this.database && name.startsWith(OWN)) await answer(this.#box("photos", "readwrite").delete(name));
    else this.loose.delete(name);
  }

  /** What was typed and not yet recorded, kept at every keystroke. @returns {{[box: string]: string}} */
  drafts() {
    try {
      return JSON.parse(localStorage.getItem(`${NAME}:${this.study}:drafts`) ?? "{}");
    } catch {
      return {};
    }
  }

  /** @param {string} box @param {string | null} text null once it is recorded */
  draft(box, text) {
    const all = this.drafts();
    if (text === null) delete all[box];
    else all[box] = text;
    try {
      localStorage.setItem(`${NAME}:${this.study}:drafts`, JSON.stringify(all));
    } catch {
      // Refused: the words are recorded when the box is left.
    }
  }

  /** A name for this device that stays the same. */
  device() {
    const fresh = `device-${hex(6)}`;
    try {
      const known = localStorage.getItem(`${NAME}:device`);
      if (known) return known;
      localStorage.setItem(`${NAME}:device`, fresh);
    } catch {
      // Refused: the name lasts as long as the page.
    }
    return fresh;
  }
}

/** @param {number} bytes */
const hex = (bytes) => Array.from(crypto.getRandomValues(new Uint8Array(bytes)), (byte) => byte.toString(16).padStart(2, "0")).join("");

/** Make a photograph small enough to keep and to send. @param {File} file @returns {Promise<string>} */
export async function shrunk(file) {
  const picture = await createImageBitmap(file);
  for (const [side, quality] of [[2048, 0.8], [1600, 0.72], [1000, 0.6]]) {
    const scale = Math.min(1, side / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d")).drawImage(picture, 0, 0, canvas.width, canvas.height);
    const data = canvas.toDataURL("image/jpeg", quality);
    if (data.length < 3_000_000 || side === 1000) return data;
  }
  throw new Error("unreachable");
}
