// @ts-check
/** One long job of the service at a time: begun, watched, stopped; what it found or why not. */

import * as api from "./api.js";
import { named } from "./setting-words.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {{id: string, state: string, progress: number, doing: string, result: any, problem: any}} Job */

const POLL_MS = 300;

/** @template Result */
export class Errand {
  /**
   * @param {State} state @param {(body: any) => Promise<Job>} send begins the job
   * @param {(found: Result) => string} done what is said once it is done @param {string} stopped what is said once it was cancelled
   */
  constructor(state, send, done, stopped) {
    this.state = state;
    this.send = send;
    this.said = { done, stopped };
    /** @type {Job | null} */
    this.job = null;
    /** @type {Result | null} */
    this.found = null;
    this.running = false;
    /** Whether it was stopped, perhaps before the service had answered that it began. */
    this.unwanted = false;
    this.words = "";
    /** Settings that would help. @type {string[]} */
    this.lift = [];
    /** Where it failed. @type {[number, number] | null} */
    this.barrier = null;
    this.terrain = "";
    this.heard = () => {};
  }

  /** What was found is of one terrain: another one puts it away. */
  follow() {
    if (this.found && this.terrain !== this.state.plan.terrain.join()) this.forget();
  }

  forget() {
    Object.assign(this, { found: null, words: "", lift: [], barrier: null });
    this.heard();
  }

  /** @param {any} body */
  async begin(body) {
    Object.assign(this, { running: true, unwanted: false, job: null, found: null, words: "", lift: [], barrier: null, terrain: this.state.plan.terrain.join() });
    this.heard();
    try {
      this.job = await this.send(body);
      if (this.unwanted) await this.stop();
      while (this.job && ["waiting", "running"].includes(this.job.state)) {
        this.heard();
        await new Promise((done) => setTimeout(done, POLL_MS));
        this.job = await api.job(this.job.id);
      }
      this.#end(/** @type {Job} */ (this.job));
    } catch (error) {
      this.words = /** @type {Error} */ (error).message;
    }
    this.running = false;
    this.heard();
  }

  /** @param {Job} job */
  #end({ state, result, problem }) {
    if (state === "stopped") this.words = this.said.stopped;
    else if (problem) {
      const { text, rows } = named([problem.detail, problem.hint].filter(Boolean).join(" "));
      Object.assign(this, { words: text, lift: [...new Set(rows)], barrier: typeof problem.lon === "number" ? [problem.lon, problem.lat] : null });
    } else if (result) Object.assign(this, { found: result, words: this.said.done(result) });
  }

  async stop() {
    this.unwanted = true;
    if (this.job) await api.stopJob(this.job.id).catch(() => {});
  }
}
