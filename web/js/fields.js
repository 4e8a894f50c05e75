// @ts-check
/** Fields of the panels: a label, an input, what is wrong with it beside it. */

import { element, write } from "./dom.js";
import { activeLine, withLine, withSetting } from "./plan.js";
import { FIELDS } from "./setting-rows.js";
import { settingWords } from "./setting-words.js";
import { inUnits, parse, unitOf } from "./units.js";
import { marked, t } from "./words.js";

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

/** What to do where the width of a field changes. @type {WeakMap<Element, () => void>} */
const fits = new WeakMap();
const widths = new ResizeObserver((entries) => entries.forEach(({ target }) => fits.get(target)?.()));
const ruler = /** @type {CanvasRenderingContext2D} */ (document.createElement("canvas").getContext("2d"));

/**
 * Return how to say what an empty field means: within it, or whole below it where it is too narrow.
 * @param {HTMLInputElement} input @param {HTMLElement} below
 */
function placeholderOf(input, below) {
  let text = "";
  const put = () => {
    const { fontSize, fontFamily, paddingLeft, paddingRight } = getComputedStyle(input);
    const room = input.clientWidth - parseFloat(paddingLeft) - parseFloat(paddingRight);
    ruler.font = `${fontSize} ${fontFamily}`; // all of the font in one is empty where digits are tabular
    const long = room > 0 && ruler.measureText(t(text)).width > room;
    below.hidden = !long;
    write(below, long ? text : "");
    input.placeholder = long ? "" : text;
  };
  fits.set(input, put);
  widths.observe(input);
  return (/** @type {string} */ told, again = false) => {
    if (told === text && !again) return;
    text = told;
    put();
  };
}

/** In which unit a bare number of a quantity is meant. */
const KINDS = /** @type {const} */ ({ length: "depth", flow: "flow", temperature: "temperature", pressure: "pressure" });
/** The same for quantities that the page does not show. @type {Record<string, string>} */
const BARE = { area: "m2", volume: "m3", time: "s", angle: "deg", power: "kW" };

/**
 * @typedef {{label: string, hint?: string, key: string, read: (plan: Plan) => string | number | boolean | undefined,
 *   write: (plan: Plan, text: string) => Plan, step: string, ends?: number[], takes?: string, choices?: string[],
 *   dimension?: import("./units.js").Dimension | "", placeholder?: (plan: Plan) => string, live?: boolean}} Options
 * ``live``: the placeholder tells what the newest answer has.
 */

/**
 * What a field needs to know of a key of the settings, from the key's own row.
 * @param {string} table @param {string} key @returns {Options}
 */
export function setting(table, key) {
  const told = FIELDS[`${table}.${key}`];
  const put = (/** @type {Plan} */ plan, /** @type {any} */ value) =>
    withLine(plan, { settings: withSetting(activeLine(plan).settings, table, key, value) });
  return {
    ...told,
    key: `${table}-${key}`,
    step: `“${told.label}” changed`,
    read: (plan) => activeLine(plan).settings[table]?.[key],
    write: (plan, text) => put(plan, told.dimension === "" && text !== "" ? Number(text.replace(",", ".")) : text),
    placeholder: ({ units }) => inUnits(settingWords(told.without), units).split(/[:;] |, (?!\d)/)[0],
  };
}

/**
 * A choice of one word, bound to the plan; the first choice is none, and says what that means.
 * @param {State} state @param {Options} options @param {string | ((plan: Plan) => string)} none
 */
export function chosen(state, options, none) {
  const id = `f${(count += 1)}`;
  const select = /** @type {HTMLSelectElement} */ (element("select", { id, "data-key": options.key },
    ...["", ...(options.choices ?? [])].map((word) => element("option", { value: word }, word))));
  const draw = () => {
    select.options[0].textContent = typeof none === "string" ? none : none(state.plan);
    select.value = String(options.read(state.plan) ?? "");
  };
  select.addEventListener("change", () => state.change(options.step, options.write(state.plan, select.value)));
  state.on("plan", draw);
  draw();
  return element("div", { class: "field" }, element("label", { for: id }, options.label), select);
}

/**
 * A field of text with a quantity, bound to the plan; a bare number is in the unit shown.
 * @param {State} state @param {Options} options
 */
export function bound(state, options) {
  const { label, hint, key, dimension } = options;
  const id = `f${(count += 1)}`;
  const input = /** @type {HTMLInputElement} */ (
    element("input", { id, autocomplete: "off", spellcheck: "false", "data-key": key, "aria-describedby": `${id}-why` })
  );
  const why = element("span", { class: "why", id: `${id}-why` });
  const below = element("span", { class: "hint", hidden: "" });
  const name = element("label", { for: id }, label, ...(hint ? [element("span", { class: "hint" }, ` ${hint}`)] : []));
  const node = element("div", { class: "field" }, name, input, below, why);
  const say = placeholderOf(input, below);

  const refresh = (again = false) => {
    say(options.placeholder?.(state.plan) ?? "", again);
    if (document.activeElement === input && input.dataset.dirty) return;
    input.value = marked(String(options.read(state.plan) ?? ""));
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
      const kind = KINDS[/** @type {keyof typeof KINDS} */ (dimension)];
      const bare = kind ? unitOf(kind, state.plan.units) : BARE[dimension ?? ""] ?? "";
      const whole = text && dimension !== undefined ? withUnit(text, options, bare) : text;
      problem("");
      if (text === marked(String(options.read(state.plan) ?? ""))) refresh();
      else if (whole !== String(options.read(state.plan) ?? "")) state.change(options.step, options.write(state.plan, whole));
      else refresh();
    } catch (error) {
      problem(/** @type {Error} */ (error).message);
    }
  });
  state.on(options.live ? ["plan", "model"] : "plan", () => refresh());
  document.addEventListener("leatline:language", () => refresh(true));
  refresh();
  return node;
}

/** Add the unit that a bare number means; a text without meaning or out of range is an error. @param {string} text @param {Options} options @param {string} bare */
function withUnit(text, { dimension, ends, takes }, bare) {
  const plain = { "°C": "degC", "°F": "degF" }[bare] ?? bare;
  const value = dimension ? parse(text, dimension, plain) : Number(text.replace(",", "."));
  if (Number.isNaN(value)) throw new Error(`“${text}” is not a number.`);
  if (ends && (value < ends[0] || value > ends[1])) throw new Error(`${text} is out of range: ${takes} is taken.`);
  const pointed = text.replace(/^([+-]?\d*),(\d+)/, "$1.$2");
  return /^[+-]?[\d.]+$/.test(pointed) && plain ? `${pointed} ${plain}` : pointed;
}

/** A section with a heading. @param {string} title @param {...(Node | string)} children */
export const group = (title, ...children) =>
  element("section", { class: "group" }, element("h2", {}, title), ...children);
