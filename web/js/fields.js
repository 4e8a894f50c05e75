// @ts-check
/** Fields of the panels: a label, an input, what is wrong with it beside it. */

import { element } from "./dom.js";
import { parse, unitOf } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./plan.js").Plan} Plan */

let count = 0;

/** @param {string} label @param {() => void} act @param {Record<string, string>} [attributes] */
export function button(label, act, attributes = {}) {
  const node = /** @type {HTMLButtonElement} */ (element("button", { type: "button", ...attributes }, label));
  node.addEventListener("click", act);
  return node;
}

/**
 * Replace what a container holds; focus stays with the node of the same ``data-key``.
 * @param {Element} container @param {Node[]} nodes
 */
export function swap(container, nodes) {
  const key = container.contains(document.activeElement)
    ? /** @type {HTMLElement} */ (document.activeElement).dataset.key
    : undefined;
  container.replaceChildren(...nodes);
  if (key) /** @type {HTMLElement | null} */ (container.querySelector(`[data-key="${CSS.escape(key)}"]`))?.focus();
}

/**
 * A field of text with a quantity, bound to the plan; a bare number is in the unit shown.
 * @param {State} state
 * @param {{label: string, hint?: string, key: string, read: (plan: Plan) => string | number | undefined,
 *   write: (plan: Plan, text: string) => Plan, step: string,
 *   dimension?: import("./units.js").Dimension, kind?: import("./units.js").Kind,
 *   placeholder?: (plan: Plan) => string, width?: string}} options
 */
export function bound(state, options) {
  const { label, hint, key, dimension, kind } = options;
  const id = `f${(count += 1)}`;
  const input = /** @type {HTMLInputElement} */ (
    element("input", { id, autocomplete: "off", spellcheck: "false", "data-key": key, "aria-describedby": `${id}-why` })
  );
  const why = element("span", { class: "why", id: `${id}-why` });
  const name = element("label", { for: id }, label, ...(hint ? [element("span", { class: "hint" }, ` ${hint}`)] : []));
  const node = element("div", { class: "field" }, name, input, why);

  const refresh = () => {
    input.placeholder = options.placeholder?.(state.plan) ?? "";
    if (document.activeElement === input && input.dataset.dirty) return;
    input.value = String(options.read(state.plan) ?? "");
    problem("");
  };
  const problem = (/** @type {string} */ text) => {
    why.textContent = text;
    input.setAttribute("aria-invalid", String(Boolean(text)));
  };
  input.addEventListener("input", () => (input.dataset.dirty = "1"));
  input.addEventListener("change", () => {
    delete input.dataset.dirty;
    const text = input.value.trim();
    try {
      const whole = text && dimension ? withUnit(text, dimension, kind ? unitOf(kind, state.plan.units) : "") : text;
      problem("");
      if (whole !== String(options.read(state.plan) ?? "")) state.change(options.step, options.write(state.plan, whole));
      else refresh();
    } catch (error) {
      problem(/** @type {Error} */ (error).message);
    }
  });
  state.on("plan", refresh);
  refresh();
  return node;
}

/** Add the unit that a bare number means; a text without meaning is an error. @param {string} text @param {import("./units.js").Dimension} dimension @param {string} bare */
function withUnit(text, dimension, bare) {
  const plain = { "°C": "degC", "°F": "degF" }[bare] ?? bare;
  parse(text, dimension, plain);
  return /^[+-]?[\d.]+$/.test(text) && plain ? `${text} ${plain}` : text;
}

/** A section with a heading. @param {string} title @param {...(Node | string)} children */
export const group = (title, ...children) =>
  element("section", { class: "group" }, element("h2", {}, title), ...children);
