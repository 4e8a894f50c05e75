// @ts-check
/**
 * Asks for the newest only. One question is under way at a time, or as many as it is told; what
 * comes in between replaces what waits, so that the service is never flooded. No answer is shown
 * after a newer one. The next question goes out before the answer is drawn. Where nothing newer
 * comes for a moment, what an answer left out is asked for; while all goes on moving it is asked
 * for beside the rest, and nothing waits for it.
 */

const FIRST_WAIT_MS = 400;
/** A hand that rests so long has stopped dragging. */
const PAUSE_MS = 120;
const LONGEST_WAIT_MS = 4000;

/**
 * @template Q, A
 */
export class Live {
  /**
   * @param {(question: Q, sequence: number) => Promise<A>} ask
   * @param {(answer: A, sequence: number, question: Q) => void} show
   * @param {(error: any, question: Q) => "again" | "drop"} fail what to do when an answer fails
   * @param {(act: () => void, ms: number) => any} [later]
   * @param {number} [atOnce] how many questions may be under way
   */
  constructor(ask, show, fail, later = (act, ms) => setTimeout(act, ms), atOnce = 1) {
    this.ask = ask;
    this.show = show;
    this.fail = fail;
    /** What to ask after an answer that leaves something out, or null. @type {(question: Q) => Q | null} */
    this.more = () => null;
    /** What to do with an answer that a newer one overtook. @type {(answer: A, question: Q) => void} */
    this.overtaken = () => {};
    this.later = later;
    this.atOnce = atOnce;
    this.sequence = 0;
    this.shown = 0;
    /** The newest question that is forgotten, with all before it. */
    this.forgotten = 0;
    this.underWay = 0;
    this.wait = FIRST_WAIT_MS;
    /** @type {{question: Q, sequence: number} | null} */
    this.next = null;
    /** What an answer left out, to be asked for after a pause. @type {{question: Q, sequence: number} | null} */
    this.rest = null;
    this.paused = false;
    /** Whether something is asked for beside the rest. */
    this.aside = false;
  }

  /** Whether a question would have to wait. */
  get busy() {
    return this.underWay >= this.atOnce;
  }

  /** Whether nothing is under way and nothing waits. */
  get idle() {
    return this.underWay === 0 && this.next === null && this.rest === null && !this.aside;
  }

  /** @param {Q} question @returns {number} its sequence number */
  want(question) {
    this.sequence += 1;
    this.rest = null;
    this.next = { question, sequence: this.sequence };
    if (!this.busy && !this.paused) this.#go();
    return this.sequence;
  }

  /**
   * Ask for what the answers of a moving line leave out. One such question is under way at a time;
   * its answer is taken as one that a newer one overtook. What fails here fails for the line, too.
   * @param {Q} question @param {number} sequence of the question it belongs to
   */
  async beside(question, sequence) {
    if (this.aside || this.paused) return;
    this.aside = true;
    const answer = await this.ask(question, sequence).catch(() => null);
    this.aside = false;
    if (answer !== null && sequence > this.forgotten) this.overtaken(answer, question);
  }

  /** Forget what waits, and do not show what is under way. */
  forget() {
    this.sequence += 1;
    this.shown = this.forgotten = this.sequence;
    this.next = this.rest = null;
  }

  async #go() {
    const now = this.next;
    if (now === null) return;
    this.next = null;
    this.underWay += 1;
    const { question, sequence } = now;
    const [answer, error] = await this.ask(question, sequence).then((got) => [got, null], (wrong) => [null, wrong]);
    this.underWay -= 1;
    const fresh = sequence >= this.shown;
    if (fresh && error === null) this.#answered(now);
    if (fresh && error !== null) this.#failed(error, now);
    if (this.next !== null && !this.busy && !this.paused) this.#go();
    if (fresh && error === null) this.show(answer, sequence, question);
    else if (error === null && sequence > this.forgotten) this.overtaken(answer, question);
  }

  /** Note that a question has its answer. @param {{question: Q, sequence: number}} now */
  #answered({ question, sequence }) {
    this.wait = FIRST_WAIT_MS;
    this.shown = sequence;
    const more = this.next === null && sequence === this.sequence ? this.more(question) : null;
    if (more === null) return;
    const rest = { question: more, sequence };
    this.rest = rest;
    this.later(() => {
      if (this.rest !== rest) return;
      this.rest = null;
      this.next = rest;
      if (!this.busy && !this.paused) this.#go();
    }, PAUSE_MS);
  }

  /** @param {any} error @param {{question: Q, sequence: number}} now */
  #failed(error, now) {
    if (this.fail(error, now.question) === "again") this.#again(now);
    else this.shown = now.sequence; // what was asked before it is no longer of use
  }

  /** @param {{question: Q, sequence: number}} now */
  #again(now) {
    if (this.next === null || this.next.sequence < now.sequence) this.next = now;
    if (this.paused) return;
    this.paused = true;
    this.later(() => {
      this.paused = false;
      if (!this.busy) this.#go();
    }, this.wait);
    this.wait = Math.min(2 * this.wait, LONGEST_WAIT_MS);
  }
}
