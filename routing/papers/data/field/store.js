// @ts-check
/** Ticks on this device: in the browser's database, or its small store where that is refused. */

/** @typedef {import("./place.js").Tick} Tick */

const NAME = "leatline-field";

/** @returns {Promise<IDBDatabase>} */
function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore("ticks");
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

  /** @returns {Promise<Tick[]>} */
  async read() {
    if (this.database) {
      const store = this.database.transaction("ticks").objectStore("ticks");
      return (await answer(store.get(this.study))) ?? [];
    }
    try {
      return JSON.parse(localStorage.getItem(`${NAME}:${this.study}`) ?? "[]");
    } catch {
      return [];
    }
  }

  /**
   * Keep the ticks; return whether all of it could be kept, photographs included.
   * @param {Tick[]} ticks @returns {Promise<boolean>}
   */
  async write(ticks) {
    if (this.database) {
      const change = this.database.transaction("ticks", "readwrite");
      await answer(change.objectStore("ticks").put(ticks, this.study));
      return true;
    }
    const key = `${NAME}:${this.study}`;
    try {
      localStorage.setItem(key, JSON.stringify(ticks));
      return true;
    } catch {
      const bare = ticks.map((tick) => ({ ...tick, photo: null }));
      try {
        localStorage.setItem(key, JSON.stringify(bare));
      } catch {
        // Nothing can be kept: the sheet says so, and the file still takes everything home.
      }
      return false;
    }
  }

  /** A name for this device that stays the same. */
  device() {
    const fresh = `device-${Array.from(crypto.getRandomValues(new Uint8Array(6)), (byte) => byte.toString(16).padStart(2, "0")).join("")}`;
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

/** Make a photograph small enough to keep and to send. @param {File} file @returns {Promise<string>} */
export async function shrunk(file) {
  const picture = await createImageBitmap(file);
  for (const [side, quality] of [[1280, 0.72], [900, 0.6], [600, 0.5]]) {
    const scale = Math.min(1, side / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d")).drawImage(picture, 0, 0, canvas.width, canvas.height);
    const data = canvas.toDataURL("image/jpeg", quality);
    if (data.length < 1_000_000 || side === 600) return data;
  }
  throw new Error("unreachable");
}
