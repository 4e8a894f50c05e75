// @ts-check
/** Answers to lines that are not the one in hand, each asked for once. */

import * as api from "./api.js";
import { decode } from "./wire.js";

/** @typedef {import("./types.js").Model} Model */

const MOST = 40;
/** A page speaks of sequence numbers only for the line in hand. */
const NO_SEQUENCE = 0;
/** @type {Map<string, Promise<Model>>} */
const known = new Map();

/** @param {any} body of a preview @param {boolean} [rest] as of a line at rest, with every check @returns {Promise<Model>} */
export function ask(body, rest = false) {
  const key = JSON.stringify([body, rest]);
  let answer = known.get(key);
  if (!answer) {
    if (known.size > MOST) known.clear();
    answer = api.preview(body, NO_SEQUENCE, rest ? "rest" : "dragged").then(decode);
    answer.catch(() => known.delete(key));
    known.set(key, answer);
  }
  return answer;
}
