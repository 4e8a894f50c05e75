// @ts-check
/** The crew's log: what is recorded here, what others recorded, and the way home. */

import { batches, blank, conflicts, fromTicks, key, lastWords, merged } from "./records.js";

/** @typedef {import("./records.js").Said} Said */

const RETRY_MS = 30_000;
const BATCH_BYTES = 5_000_000;

export class Log {
  /**
   * @param {any} data of the sheet @param {import("./store.js").Store} store
   * @param {() => void} paint @param {(text: string) => void} say
   */
  constructor(data, store, paint, say) {
    this.data = data;
    this.store = store;
    this.paint = paint;
    this.say = say;
    this.device = store.device();
    /** @type {Said[]} */
    this.own = [];
    /** @type {Said[]} */
    this.known = data.records;
    this.sending = false;
  }

  get all() {
    return merged(this.known, this.own);
  }

  get words() {
    return lastWords(this.all);
  }

  get conflicts() {
    return conflicts(this.all);
  }

  get waiting() {
    return this.data.service ? this.own.length : 0;
  }

  /** Record something, here and now. @param {Partial<Said>} part */
  async add(part) {
    const now = new Date();
    // A clock that runs behind another device's must not make the newest word the older one.
    const before = this.all.filter((said) => said.of === part.of && said.kind === part.kind).pop();
    if (before && now.toISOString() <= before.time) now.setTime(Date.parse(before.time) + 1);
    const said = blank({ ...part, time: now.toISOString(), device: this.device });
    if (this.data.revision) said.revision = this.data.revision;
    if (said.photo) {
      try {
        said.photo = await this.store.keepPhoto(said.photo);
      } catch {
        return this.say("No room for photographs: save the records as a file.");
      }
    }
    await this.#take([said]);
    this.send();
  }

  /** @param {Said[]} more */
  async #take(more) {
    this.own = merged(this.own, more);
    this.paint();
    if (!(await this.store.write("own", this.own))) this.say("No room on this device: save the records as a file.");
  }

  /** Send what waits, and fetch what others recorded. */
  async send() {
    const { service } = this.data;
    if (!service || this.sending) return;
    this.sending = true;
    try {
      const whole = await this.#whole(this.own);
      /** @type {string[]} */
      const refused = [];
      for (const batch of batches(whole, BATCH_BYTES)) await this.#post(batch, refused);
      const all = await fetch(`${service}/records`, { cache: "no-store" });
      if (all.ok) {
        this.known = (await all.json()).records;
        await this.store.write("known", this.known);
      }
      this.say(refused[0] ? `The service refuses a record: ${refused[0]}` : "In step with the service");
    } catch {
      this.say(this.own.length ? "No reception: records kept here" : "");
    } finally {
      this.sending = false;
      this.paint();
    }
  }

  /** Send a batch; where it is refused, one by one, so that one record holds up no other. @param {Said[]} batch @param {string[]} refused */
  async #post(batch, refused) {
    const answer = await fetch(`${this.data.service}/records`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ records: batch }),
    });
    if (answer.ok) return this.#sent(batch);
    if (answer.status >= 500) throw new Error(String(answer.status));
    if (batch.length > 1) for (const said of batch) await this.#post([said], refused);
    else refused.push((await answer.json().catch(() => ({}))).detail ?? String(answer.status));
  }

  /** Records with their photographs in them, to send or to save. @param {Said[]} records @returns {Promise<Said[]>} */
  async #whole(records) {
    return Promise.all(records.map(async (said) => (said.photo ? { ...said, photo: (await this.store.photo(said.photo)) ?? said.photo } : said)));
  }

  /** The service has them: they are no longer ours alone. @param {Said[]} batch */
  async #sent(batch) {
    const gone = new Set(batch.map(key));
    const left = this.own.filter((said) => !gone.has(key(said)));
    const photos = this.own.filter((said) => gone.has(key(said)) && said.photo).map((said) => said.photo ?? "");
    this.known = merged(this.known, batch.map((said) => ({ ...said, photo: null })));
    this.own = left;
    await this.store.write("own", left);
    for (const name of photos) await this.store.dropPhoto(name);
  }

  /** Everything recorded, as a file takes it home. @returns {Promise<string>} */
  async file() {
    const { study, name, revision } = this.data;
    return JSON.stringify({ leatline_records: 1, study, name, revision, records: await this.#whole(this.all) }, null, 1);
  }

  /** Bring in a file of records, or of an older sheet's ticks. @param {string} text @param {(of: string | null) => boolean} here */
  async bring(text, here) {
    const found = JSON.parse(text);
    const all = found.leatline_ticks === 1 ? fromTicks(found.ticks) : found.records;
    if (!Array.isArray(all)) throw new Error("no records");
    if (found.name && found.name !== this.data.name && !confirm(`These records are of “${found.name}”. Bring them in?`)) return;
    const ours = all.filter((said) => here(said.of)).map((said) => blank({ time: new Date().toISOString(), device: "not named", ...said }));
    const known = new Set(this.all.map(key));
    const news = ours.filter((said) => !known.has(key(said)));
    for (const said of news) if (said.photo?.startsWith("data:")) said.photo = await this.store.keepPhoto(said.photo);
    await this.#take(news);
    const strange = all.length - ours.length;
    this.say(`${news.length} records brought in${strange ? `, ${strange} left out: not in this study` : ""}`);
    this.send();
  }

  async start() {
    await this.store.open();
    this.own = merged(await this.store.read("own"), this.own);
    const kept = await this.store.read("known");
    if (this.data.service) this.known = merged(this.known, kept);
    await this.store.write("own", this.own);
    this.paint();
    if (!this.data.service) return;
    window.addEventListener("online", () => this.send());
    setInterval(() => this.own.length && this.send(), RETRY_MS);
    await this.send();
  }
}
