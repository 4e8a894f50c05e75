// @ts-check
/** Every setting that a study may be told, one field for each row, folded by subject; the settings file. */

import * as api from "./api.js";
import { byId, element } from "./dom.js";
import { bound, button, chosen, group, swap } from "./fields.js";
import { activeLine, previewBody, valueAt, withLine, withValue } from "./plan.js";
import { FIELDS, TABLES } from "./setting-rows.js";
import { TITLES, settingWords } from "./setting-words.js";
import { apart } from "./study-doc.js";
import { toToml } from "./toml.js";
import { inUnits, quantity } from "./units.js";

/** @typedef {import("./state.js").State} State */
/** @typedef {import("./plan.js").Path} Path */
/** @typedef {import("./setting-rows.js").Field} Field */

/** Words in which a flag is set. @type {Record<string, boolean>} */
const FLAGS = { yes: true, no: false };

/** @param {State} state */
export function settingsPanel(state) {
  const find = /** @type {HTMLInputElement} */ (element("input", { type: "search", "aria-label": "Find a setting", placeholder: "Find a setting", "data-key": "find-setting" }));
  const file = /** @type {HTMLInputElement} */ (element("input", { type: "file", accept: ".toml,.csv", multiple: "", hidden: "", id: "settings-file", "aria-label": "Settings file", tabindex: "-1" }));
  const folds = Object.entries(TABLES).filter(([path]) => !path.includes(".")).map(([path, told]) => fold(state, path, told.several));
  file.addEventListener("change", () => readFiles(state, [...(file.files ?? [])]).then(() => (file.value = "")));
  find.addEventListener("input", () => {
    const words = find.value.toLowerCase().trim();
    for (const each of folds) each.find(words);
  });
  byId("panel-settings").append(
    group("Settings file", element("div", { class: "row" }, button("Bring one in …", () => file.click()), button("Write it out", () => writeFile(state))), file,
      element("p", { class: "hint" }, "TOML, as for the command line. Files that it names, such as levels or flows, are chosen together with it.")),
    group("Every setting", element("div", { class: "row" }, find), ...folds.map(({ node }) => node)));
}

/** The fields of a table, made when it is opened first. @param {State} state @param {string} path @param {boolean} several */
function fold(state, path, several) {
  const set = element("span", { class: "facts" });
  const body = element("div", { class: "settings" });
  const node = /** @type {HTMLDetailsElement} */ (element("details", { class: "fold", "data-table": path },
    element("summary", {}, element("b", {}, TITLES[path] ?? path), set), body));
  const fill = () => {
    if (!body.childElementCount) body.append(...(several ? [listOf(state, [path], path)] : tableFields(state, [path], path)));
  };
  const count = () => {
    const found = valueAt(state.plan, [path]);
    const own = Array.isArray(found) ? found.length : Object.keys(found ?? {}).length;
    set.textContent = own ? ` ${own} set` : " as assumed";
  };
  node.addEventListener("toggle", () => node.open && fill());
  node.addEventListener("leatline:fill", fill);
  state.on("plan", count);
  count();
  /** @param {string} words */
  const find = (words) => {
    const hit = words !== "" && rowsOf(path).some(([key, told]) => textOf(key, told).includes(words));
    node.hidden = words !== "" && !hit;
    node.open = hit;
    if (hit) fill();
    for (const field of body.querySelectorAll(".setting"))
      /** @type {HTMLElement} */ (field).hidden = hit && !(field.getAttribute("data-words") ?? "").includes(words);
  };
  return { node, find };
}

/** All rows of a table and the tables within. @param {string} path @returns {[string, Field][]} */
const rowsOf = (path) => Object.entries(FIELDS).filter(([key]) => key.startsWith(`${path}.`));

/** @param {string} key @param {Field} told */
const textOf = (key, told) => `${key} ${told.label} ${told.hint} ${told.meaning}`.toLowerCase();

/** @param {State} state @param {Path} at @param {string} path of the table */
function tableFields(state, at, path) {
  const depth = path.split(".").length;
  const own = rowsOf(path).filter(([key]) => key.split(".").length === depth + 1);
  const within = Object.keys(TABLES).filter((key) => key.startsWith(`${path}.`));
  return [
    ...own.map(([key, told]) => field(state, [...at, key.split(".")[depth]], key, told)),
    ...within.map((key) => element("div", { class: "setting", "data-words": rowsOf(key).map(([row, told]) => textOf(row, told)).join(" ") },
      element("h3", {}, TITLES[key] ?? key), listOf(state, [...at, key.split(".")[depth]], key))),
  ];
}

/** @param {State} state @param {Path} at @param {string} key @param {Field} told */
function field(state, at, key, told) {
  const options = {
    ...told,
    key: `all-${at.join("-")}`,
    step: `“${told.label}” changed`,
    read: (/** @type {import("./plan.js").Plan} */ plan) => shown(valueAt(plan, at)),
    write: (/** @type {import("./plan.js").Plan} */ plan, /** @type {string} */ text) => withValue(plan, at, given(told, text)),
    placeholder: (/** @type {import("./plan.js").Plan} */ { units }) => inUnits(settingWords(told.without), units) || (told.needed ? "needed" : "none"),
  };
  const without = key === "study.language" ? "that of the page" : settingWords(told.without) || "–"; // as bodyOf saves it
  const control = {
    choice: () => chosen(state, options, without),
    flag: () => chosen(state, { ...options, choices: Object.keys(FLAGS) }, settingWords(told.without) || "–"),
    file: () => fileField(state, at, told),
    map: () => mapField(state, at, told),
  }[/** @type {string} */ (told.kind)];
  const node = element("div", { class: "setting", "data-words": textOf(key, told) }, control ? control() : bound(state, options));
  node.append(element("p", { class: "hint" }, settingWords(told.meaning)));
  return node;
}

/** @param {any} value */
const shown = (value) => (typeof value === "boolean" ? (value ? "yes" : "no") : value);

/** What the settings take for what was typed. @param {Field} told @param {string} text */
function given(told, text) {
  if (text === "") return "";
  if (told.kind === "flag") return FLAGS[text];
  return told.kind === "number" ? Number(text.replace(",", ".")) : text;
}

/** Rows of a list of tables, each with its fields. @param {State} state @param {Path} at @param {string} path */
function listOf(state, at, path) {
  const rows = element("ol", { class: "setting-rows" });
  let count = -1;
  const draw = () => {
    const now = (valueAt(state.plan, at) ?? []).length;
    if (now === count) return;
    count = now;
    swap(rows, Array.from({ length: now }, (_, i) => element("li", {}, element("div", { class: "settings" }, ...tableFields(state, [...at, i], path)),
      button("Take it out", () => state.change("Setting taken out", withValue(state.plan, [...at, i], "")), { "data-key": `drop-${path}-${i}` }))));
  };
  state.on("plan", draw);
  draw();
  return element("div", {}, rows, button("Another one", () => {
    const next = (valueAt(state.plan, at) ?? []).length;
    state.change("Setting put in", withValue(state.plan, [...at, next], fresh(state, path)));
  }, { "data-key": `add-${path}` }));
}

/** A new row with what it must have: stations about the place in hand, else the examples. @param {State} state @param {string} path */
function fresh(state, path) {
  const middle = state.hover ?? (state.model?.summary.plan_length_m ?? 20) / 2;
  const stations = /** @type {Record<string, number>} */ ({ at: middle, from: Math.max(0, middle - 5), to: middle + 5 });
  const own = rowsOf(path).map(([key, told]) => /** @type {const} */ ([key.split(".").at(-1) ?? "", told]));
  const needed = own.filter(([, told]) => told.needed);
  return Object.fromEntries((needed.length ? needed : own.slice(0, 1)).map(([key, told]) =>
    [key, key in stations ? quantity(stations[key], "station", "metric", 1) : told.example]));
}

/** A value that comes from a file. @param {State} state @param {Path} at @param {Field} told */
function fileField(state, at, told) {
  const input = /** @type {HTMLInputElement} */ (element("input", { type: "file", hidden: "", tabindex: "-1", "aria-label": told.label, "data-file": at.join(".") }));
  const facts = element("span", { class: "facts" });
  const drop = button("Take it out", () => state.change(`${told.label} taken out`, withValue(state.plan, at, "")));
  const draw = () => {
    const value = valueAt(state.plan, at);
    const rows = value?.features ?? value?.flows ?? value;
    facts.textContent = value ? `${rows.length} rows` : settingWords(told.without);
    drop.hidden = !value;
  };
  input.addEventListener("change", async () => {
    const [file] = input.files ?? [];
    if (!file) return;
    const [table, key] = at.map(String);
    try {
      const beside = Object.fromEntries(Object.entries(valueAt(state.plan, [table]) ?? {}).filter(([name]) => ["unit", "crs"].includes(name)));
      const { settings } = await api.readSettings(toToml({ [table]: { ...beside, [key]: plain(file.name) } }), { [plain(file.name)]: await file.text() });
      state.change(`${told.label} brought in`, withValue(state.plan, [table], { ...valueAt(state.plan, [table]), ...settings[table] }));
    } catch (error) {
      state.say(/** @type {Error} */ (error).message, true);
    }
    input.value = "";
  });
  state.on("plan", draw);
  draw();
  return element("div", { class: "field" }, element("span", {}, told.label), element("div", { class: "row" }, button("From a file …", () => input.click()), drop, facts), input);
}

/** Names with a number each. @param {State} state @param {Path} at @param {Field} told */
function mapField(state, at, told) {
  const rows = element("ul", { class: "rows" });
  const draw = () => swap(rows, Object.entries(valueAt(state.plan, at) ?? {}).map(([name, value]) => {
    const input = /** @type {HTMLInputElement} */ (element("input", { value: String(value), inputmode: "decimal", "aria-label": `${told.label}: ${name}`, "data-key": `map-${at.join("-")}-${name}` }));
    input.addEventListener("change", () => state.change(`“${told.label}” changed`, withValue(state.plan, [...at, name], Number(input.value.replace(",", ".")) || "")));
    return element("li", {}, element("span", {}, name), input);
  }));
  const name = /** @type {HTMLInputElement} */ (element("input", { "aria-label": `${told.label}: name`, placeholder: Object.keys(told.example)[0], "data-key": `new-${at.join("-")}` }));
  const add = () => name.value.trim() && state.change(`${told.label} put in`, withValue(state.plan, [...at, name.value.trim()], Object.values(told.example)[0]));
  state.on("plan", draw);
  draw();
  return element("div", { class: "field" }, element("span", {}, told.label), rows, element("div", { class: "row" }, name, button("Add", add)));
}

/** A name that may stand in a settings file and in a folder. @param {string} name */
const plain = (name) => name.replace(/[^A-Za-z0-9 ._-]/g, "-").replace(/^[ .]+/, "").slice(-80) || "file";

/** Take a settings file for the line in hand, with the files that it names. @param {State} state @param {File[]} files */
export async function readFiles(state, files) {
  const toml = files.find((file) => /\.toml$/i.test(file.name));
  if (!toml) return state.say("None of these is a settings file; it ends in .toml.", true);
  try {
    const beside = files.filter((file) => file !== toml);
    const texts = Object.fromEntries(await Promise.all(beside.map(async (file) => [file.name, await file.text()])));
    const { settings } = await api.readSettings(await toml.text(), texts);
    const { plan } = state;
    const { name, units = plan.units, nogo, prices, layers, settings: own } = apart(settings);
    const whole = { ...plan, layers: layers.length ? layers : plan.layers, name: name || plan.name, units, nogo: nogo.length ? nogo : plan.nogo, prices: Object.keys(prices).length ? prices : plan.prices };
    state.change("Settings brought in", withLine(whole, { settings: own }));
    state.say(`“${toml.name}” is in: ${Object.keys(settings).length} tables.`);
  } catch (error) {
    state.say(`“${toml.name}”: ${/** @type {Error} */ (error).message}`, true);
  }
}

/** @param {State} state */
function writeFile(state) {
  const { plan } = state;
  const line = activeLine(plan);
  const name = plan.name || line.name;
  const { study, ...tables } = previewBody(plan, line).settings;
  const text = toToml({ study: { name, ...study }, ...tables }, `Settings of ${name}`);
  const href = URL.createObjectURL(new Blob([text], { type: "application/toml" }));
  element("a", { href, download: "settings.toml" }).click();
  setTimeout(() => URL.revokeObjectURL(href), 1000);
}
