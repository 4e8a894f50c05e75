// @ts-check
/** Undo and redo over values that are never altered. Pure. */

const MOST_STEPS = 300;

/**
 * @template T
 * @typedef {{label: string, value: T, merge: string}} Step
 */

/** @template T */
export class History {
  /** @param {T} value */
  constructor(value) {
    /** @type {Step<T>[]} */
    this.steps = [{ label: "", value, merge: "" }];
    this.at = 0;
  }

  get value() {
    return this.steps[this.at].value;
  }

  /** What undo would take back; empty where there is nothing. */
  get undoLabel() {
    return this.at > 0 ? this.steps[this.at].label : "";
  }

  get redoLabel() {
    return this.steps[this.at + 1]?.label ?? "";
  }

  /**
   * Add a step. Steps in a row with the same ``merge`` (a slider being pulled) become one.
   * @param {string} label @param {T} value @param {string} [merge]
   */
  add(label, value, merge = "") {
    if (Object.is(value, this.value)) return;
    const last = this.steps[this.at];
    this.steps.length = this.at + 1;
    if (merge && last.merge === merge) {
      this.steps[this.at] = { label, value, merge };
    } else {
      this.steps.push({ label, value, merge });
      if (this.steps.length > MOST_STEPS) this.steps.shift();
      this.at = this.steps.length - 1;
    }
  }

  /** End a run of merged steps: the next one stands by itself. */
  settle() {
    this.steps[this.at] = { ...this.steps[this.at], merge: "" };
  }

  undo() {
    if (this.at > 0) this.at -= 1;
    this.settle();
    return this.value;
  }

  redo() {
    if (this.at < this.steps.length - 1) this.at += 1;
    this.settle();
    return this.value;
  }
}
