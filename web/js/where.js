// @ts-check
/** "Where from": how a number came about, in a dialog. */

import * as api from "./api.js";
import { byId, element } from "./dom.js";

/** @typedef {import("./state.js").State} State */

/** @param {State} state */
export function whereFrom(state) {
  const dialog = /** @type {HTMLDialogElement} */ (byId("where"));
  document.addEventListener("click", async (event) => {
    const target = /** @type {Element} */ (event.target).closest("[data-where]");
    if (!target) return;
    const key = /** @type {HTMLElement} */ (target).dataset.where ?? "";
    const label = target.querySelector(".label")?.textContent ?? target.firstChild?.textContent ?? key;
    byId("where-title").textContent = label.trim();
    byId("where-body").replaceChildren(element("p", {}, "Looking it up …"));
    dialog.showModal();
    try {
      byId("where-body").replaceChildren(...told(await api.whereFrom(key), state));
    } catch (error) {
      byId("where-body").replaceChildren(element("p", {}, /** @type {Error} */ (error).message));
    }
  });
}

/** @param {any} record @param {State} state */
function told(record, state) {
  const parts = [];
  const section = (/** @type {string} */ title, /** @type {Node} */ body) => parts.push(element("h3", {}, title), body);
  if (record.meaning) parts.push(element("p", {}, sentence(record.meaning)));
  if (record.formula) section("Formula", element("p", { class: "formula" }, record.formula));
  for (const equation of record.equations ?? []) parts.push(element("div", { class: "formula", tabindex: "0" }, mathematics(equation)));
  if (record.inputs?.length)
    section("From", element("ul", {}, ...record.inputs.map((/** @type {any} */ input) => element("li", {}, inputText(input, state)))));
  if (record.notes) section("Holds for", element("p", {}, record.notes));
  if (record.source?.length) section("Source", element("ul", {}, ...record.source.map((/** @type {string} */ text) => element("li", {}, text))));
  const taken = state.model?.assumptions ?? [];
  if (taken.length) section("Taken for this line", element("ul", {}, ...taken.map((text) => element("li", {}, text))));
  return parts;
}

/** A docstring's first sentence as one for readers of pages. @param {string} text */
function sentence(text) {
  const plain = text.replace(/^Return /, "");
  return plain.charAt(0).toUpperCase() + plain.slice(1);
}

/** A formula from the service, as nodes of this page: MathML and nothing else. @param {string} text */
function mathematics(text) {
  const parsed = new DOMParser().parseFromString(text, "application/xml").documentElement;
  if (parsed.namespaceURI !== "http://www.w3.org/1998/Math/MathML") return text;
  return document.importNode(parsed, true);
}

/** An input with its value on this line, where the answer has it. @param {any} input @param {State} state */
function inputText(input, state) {
  const { model } = state;
  const value = [model?.summary, model?.flow, model?.trench, model?.water]
    .map((part) => /** @type {any} */ (part)?.[input.name])
    .find((found) => typeof found === "number");
  const unit = input.unit && input.unit !== "-" ? ` [${input.unit}]` : "";
  const now = value === undefined ? "" : ` = ${value}`;
  return `${input.words}${unit}${now}: ${input.meaning}`;
}
