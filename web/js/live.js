// @ts-check
/**
 * Asks for the newest only. One question is under way at a time; what comes in between replaces
 * what waits, so that no answer is painted after a newer one and the service is never flooded. Where
 * nothing newer waits, what an answer left out is asked for.
 */

const FIRST_WAIT_MS = 400;
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
   */
  constructor(ask, show, fail, later = (act, ms) => setTimeout(act, ms)) {
    this.ask = ask;
    this.show = show;
    this.fail = fail;
    /** What to ask after an answer that leaves something out, or null. @type {(question: Q) => Q | null} */
    this.more = () => null;
    this.later = later;
    this.sequence = 0;
    this.shown = 0;
    this.busy = false;
    this.wait = FIRST_WAIT_MS;
    /** @type {{question: Q, sequence: number} | null} */
    this.next = null;
    this.paused = false;
  }

  /** Whether nothing is under way and nothing waits. */
  get idle() {
    return !this.busy && this.next === null;
  }

  /** @param {Q} question @returns {number} its sequence number */
  want(question) {
    this.sequence += 1;
    this.next = { question, sequence: this.sequence };
    if (!this.busy && !this.paused) this.#go();
    return this.sequence;
  }

  /** Forget what waits, and do not show what is under way. */
  forget() {
    this.sequence += 1;
    this.shown = this.sequence;
    this.next = null;
  }

  async #go() {
    const now = this.next;
    if (now === null) return;
    this.next = null;
    this.busy = true;
    try {
      const answer = await this.ask(now.question, now.sequence);
      this.wait = FIRST_WAIT_MS;
      if (now.sequence >= this.shown) {
        this.shown = now.sequence;
        this.show(answer, now.sequence, now.question);
        const more = this.next === null && now.sequence === this.sequence ? this.more(now.question) : null;
        if (more !== null) this.next = { question: more, sequence: now.sequence };
      }
    } catch (error) {
      if (now.sequence >= this.shown && this.fail(error, now.question) === "again") this.#again(now);
    } finally {
      this.busy = false;
    }
    if (this.next !== null && !this.paused) this.#go();
  }

  /** @param {{question: Q, sequence: number}} now */
  #again(now) {
    this.next ??= now;
    this.paused = true;
    this.later(() => {
      this.paused = false;
      if (!this.busy) this.#go();
    }, this.wait);
    this.wait = Math.min(2 * this.wait, LONGEST_WAIT_MS);
  }
}
