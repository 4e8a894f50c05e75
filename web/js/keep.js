// @ts-check
/** Unsaved work in the browser: written at every change, there again when the page is opened. */

/** @typedef {import("./plan.js").Plan} Plan */
/** @typedef {{plan: Plan, etag: string, revision: number, when: string}} Kept */

const PREFIX = "leatline.plan.";
const NEW = "new";

/** @param {string | null} study */
const keyOf = (study) => PREFIX + (study ?? NEW);

export class Keep {
  /** @param {Storage | null} storage */
  constructor(storage) {
    this.storage = storage;
  }

  /** Pictures go first where there is no room for all. @param {string | null} study @param {Kept} kept @returns {boolean} whether there was room */
  write(study, kept) {
    const { pictures, ...plan } = kept.plan;
    return this.#put(study, kept) || (pictures !== undefined && this.#put(study, { ...kept, plan }));
  }

  /** @param {string | null} study @param {Kept} kept */
  #put(study, kept) {
    try {
      this.storage?.setItem(keyOf(study), JSON.stringify(kept));
      return this.storage !== null;
    } catch {
      return false;
    }
  }

  /** @param {string | null} study @returns {Kept | null} */
  read(study) {
    try {
      const text = this.storage?.getItem(keyOf(study));
      const kept = text ? JSON.parse(text) : null;
      return kept?.plan?.lines ? kept : null;
    } catch {
      return null;
    }
  }

  /** @param {string | null} study */
  drop(study) {
    this.storage?.removeItem(keyOf(study));
  }
}

/** @returns {Storage | null} the browser's store, or null where the browser refuses one */
export function browserStore() {
  try {
    return window.localStorage;
  } catch {
    return null;
  }
}
