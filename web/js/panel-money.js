// @ts-check
/** Money: what the line costs, yields and pays back, and the price book behind it. */

import { byId, element } from "./dom.js";
import { bound, button, group, setting, swap } from "./fields.js";
import { account } from "./money.js";
import { activeLine, valueAt, withValue } from "./plan.js";
import { unitOf } from "./units.js";

/** @typedef {import("./state.js").State} State */

const BOOK = "leatline-prices";
/** Keys that are of the book and not prices. */
const ABOUT = ["date", "currency"];

/** @param {State} state @param {Storage | null} storage */
export function moneyPanel(state, storage) {
  const lines = element("dl", { class: "account" });
  const told = element("p", { class: "hint" });
  const lacking = element("ul", { class: "lacking", "aria-label": "Not priced" });
  const prices = element("div", { class: "prices" });
  const book = element("div", { class: "row" });
  const of = (/** @type {string} */ key) => bound(state, setting("energy", key));
  const unforeseen = bound(state, {
    ...setting("prices", "contingency"),
    read: (plan) => valueAt(plan, ["prices", "contingency"]),
    write: (plan, text) => withValue(plan, ["prices", "contingency"], text),
  });
  byId("panel-money").append(
    group("What it comes to", lines, told, lacking),
    group("Price book", prices, unforeseen, book, element("p", { class: "hint" }, "Prices stay with this study and, as your book, in this browser. Nothing is looked up anywhere.")),
    group("Energy and interest",
      element("div", { class: "pair" }, of("price_per_kwh"), of("availability")),
      element("div", { class: "pair" }, of("interest"), of("years")),
      element("div", { class: "pair" }, bound(state, setting("intake", "residual")), of("hours")),
      element("div", { class: "row" }, button("The stream over the year …", () => openSetting("energy")))),
  );
  const draw = () => {
    if (byId("panel-money").hidden || state.draft) return;
    const drawn = activeLine(state.plan).points.length >= 2 ? state.model : null;
    lines.replaceChildren(...account(drawn, activeLine(state.plan).settings.energy).flatMap(({ label, value, note }) =>
      [element("dt", {}, label), element("dd", {}, element("b", {}, value), ...(note ? [element("span", { class: "facts" }, ` ${note}`)] : []))]));
    const left = drawn?.cost?.not_priced ?? [];
    told.textContent = drawn?.cost ? priceWords(drawn.cost) : "Give a price, and the cost follows the line as it is dragged.";
    lacking.replaceChildren(...left.map((each) => element("li", {}, each)));
    if (!prices.contains(document.activeElement)) swap(prices, priceFields(state));
    swap(book, bookButtons(state, storage, draw));
  };
  state.on(["plan", "model"], draw);
  document.addEventListener("leatline:tab", draw);
  draw();
}

/** @param {import("./types.js").Cost} cost */
function priceWords({ currency, not_priced: left }) {
  const money = currency ? [] : ["The prices name no currency: sums are plain numbers."];
  return [...money, left.length ? "Not priced:" : "All of it is priced."].join(" ");
}

/** Open the settings at a table, or at a key of it. @param {string} path */
export function openSetting(path) {
  byId("tab-settings").click();
  const [table] = path.split(".");
  const fold = /** @type {HTMLDetailsElement | null} */ (document.querySelector(`[data-table="${table}"]`));
  if (!fold) return;
  fold.dispatchEvent(new Event("leatline:fill"));
  fold.open = true;
  const field = /** @type {HTMLElement | null} */ (fold.querySelector(`[data-key="all-${path.replaceAll(".", "-")}"]`));
  (field ?? fold.querySelector("summary"))?.focus();
  (field ?? fold).scrollIntoView({ block: field ? "center" : "start" });
}

/** Put prices in; the day they were asked is today unless told. @param {State} state @param {Record<string, any>} change */
function put(state, change) {
  const next = { ...state.plan.prices, ...change };
  for (const [key, value] of Object.entries(next)) if (value === "" || value === 0) delete next[key];
  if (priced(next) && !next.date) next.date = new Date().toISOString().slice(0, 10);
  state.change("Price changed", { ...state.plan, prices: next });
}

/** @param {Record<string, any>} prices */
const priced = (prices) => Object.keys(prices).some((key) => !ABOUT.includes(key));

/** @param {State} state */
function priceFields(state) {
  const { prices, units } = state.plan;
  const metre = units === "us" ? 0.3048 : 1;
  const yard = units === "us" ? (3 * 0.3048) ** 3 : 1;
  const pipes = new Map((state.model?.pipes ?? []).flatMap(({ id, label }) => (id ? [[id, label]] : [])));
  for (const id of Object.keys(prices.per_metre ?? {})) if (!pipes.has(id)) pipes.set(id, id);
  const materials = new Set([...(state.model?.pipes ?? []).map(({ material }) => material), ...Object.keys(prices.per_kg ?? {})].filter(Boolean));
  const price = (/** @type {string} */ label, /** @type {string} */ key, per = 1) =>
    field(label, prices.currency, money((prices[key] ?? 0) * per), (text) => put(state, { [key]: amount(text) / per }));
  const within = (/** @type {string} */ table, /** @type {string} */ name, /** @type {string} */ label, per = 1) =>
    field(label, prices.currency, money((prices[table]?.[name] ?? 0) * per), (text) => {
      const { [name]: _, ...rest } = prices[table] ?? {};
      const own = amount(text) / per;
      const all = own > 0 ? { ...rest, [name]: own } : rest;
      put(state, { [table]: Object.keys(all).length ? all : "" });
    });
  return [
    field("Currency", "", prices.currency ?? "", (text) => put(state, { currency: text.slice(0, 12) }), "text"),
    field("Asked on", "", prices.date ?? "", (text) => put(state, { date: text }), "text"),
    ...[...pipes].map(([id, label]) => within("per_metre", id, `${label}, per ${unitOf("length", units)}`, metre)),
    ...[...materials].map((material) => within("per_kg", material, `Other pipe of ${material}, per kg`)),
    price(`Trench, per ${unitOf("volume", units)}`, "trench_per_m3", yard), price(`Bench, per ${unitOf("volume", units)}`, "bench_per_m3", yard),
    price("Each vent", "vent"), price("Each drain", "drain"), price("Each isolating valve", "valve"), price("Each relief valve", "relief"),
    price("Each gauge tap", "tap"), price("Each bend from 11.25°", "bend"), price("Each change of pipe", "joint"), price("Each adapter", "adapter"),
    price(`Concrete, per ${unitOf("volume", units)}`, "concrete_per_m3", yard), price(`Pipe bridge, per ${unitOf("length", units)}`, "span_per_m", metre),
    price("Each support of a bridge", "support"),
  ];
}

/** Keep the prices for other studies, and take them from there. @param {State} state @param {Storage | null} storage @param {() => void} draw */
function bookButtons(state, storage, draw) {
  const kept = read(storage);
  const { prices } = state.plan;
  const nodes = [];
  const keep = button("Keep these prices", () => {
    try {
      storage?.setItem(BOOK, JSON.stringify(prices));
      state.say("The prices are kept in this browser, for other studies.");
    } catch {
      state.say("This browser keeps nothing; write the settings file out instead.", true);
    }
    draw();
  }, { "data-key": "keep-prices" });
  keep.disabled = !priced(prices) || JSON.stringify(prices) === JSON.stringify(kept);
  nodes.push(keep);
  if (kept && JSON.stringify(kept) !== JSON.stringify(prices))
    nodes.push(button(`Take the kept ones of ${kept.date ?? "no date"}`, () => state.change("Price book taken", { ...state.plan, prices: kept }), { "data-key": "take-prices" }));
  nodes.push(button("By ground, by crossing, other sums …", () => openSetting("prices")));
  return nodes;
}

/** @param {Storage | null} storage @returns {Record<string, any> | null} */
function read(storage) {
  try {
    return JSON.parse(storage?.getItem(BOOK) ?? "null");
  } catch {
    return null;
  }
}

/** @param {number} value */
const money = (value) => (value > 0 ? String(Number(value.toFixed(2))) : "");

/** @param {string} text */
const amount = (text) => Math.max(0, Number(text.replace(",", ".")) || 0);

/** @param {string} label @param {string} currency @param {string} value @param {(text: string) => void} put @param {string} [mode] */
function field(label, currency, value, put, mode = "decimal") {
  const input = /** @type {HTMLInputElement} */ (element("input", { value, autocomplete: "off", inputmode: mode, "data-key": `price-${label}` }));
  input.addEventListener("change", () => put(input.value.trim()));
  const money = element("span", { class: "hint", translate: "no" }, currency ? ` ${currency}` : "");
  return element("label", { class: "field" }, element("span", {}, label, money), input);
}
