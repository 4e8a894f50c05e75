// @ts-check
/** The language of the page: a person's own choice, kept in the browser, else the browser's. */

import { byId } from "./dom.js";
import { speakInLetters } from "./words.js";

/** @typedef {import("./words.js").Words} Words */

const KEPT = "leatline-language";

/** @returns {string[]} */
function wished() {
  const asked = new URLSearchParams(location.search).get("language");
  let kept = null;
  try {
    kept = localStorage.getItem(KEPT);
  } catch {
    // A browser that keeps nothing speaks its own language.
  }
  return [asked, kept, ...navigator.languages].flatMap((code) => (code ? [code, code.split("-")[0]] : []));
}

/** Fill the control and put the page into the language that is wished for. */
export async function languages() {
  const control = byId("language");
  const codes = [...control.options].map((option) => option.value);
  const start = wished().find((code) => codes.includes(code)) ?? "en";
  control.value = start;
  control.addEventListener("change", () => {
    try {
      localStorage.setItem(KEPT, control.value);
    } catch {
      // It then holds until the page is closed.
    }
    turn(control.value);
  });
  if (start !== "en") await turn(start);
}

/** @param {string} code */
async function turn(code) {
  const answer = await fetch(`/words/${code}.json`).catch(() => null);
  if (answer?.ok) await speakInLetters(/** @type {Words} */ (await answer.json()));
}
