// @ts-check
/** The keys of a settings file in the words of the page's own fields. Pure. */

import { FIELDS } from "./setting-rows.js";
import { raised } from "./units.js";

/** What a table is called; one that is missing here goes by its key. @type {Record<string, string>} */
export const TITLES = {
  study: "Line", catchment: "Catchment", search: "Lines proposed", screen: "Valley screened", terrain: "Raster", intake: "Intake", outlet: "Outlet", trench: "Trench", flow: "Flow", pipe: "Pipes",
  valve: "Isolating valves", branch: "Branches", tap: "Gauge taps", relief: "Relief valves", turbine: "Turbine", surge: "Surge",
  site: "Ground and weather", test: "Testing", energy: "Stream and energy", prices: "Prices", sheet: "Papers", layer: "Land about the line",
  waive: "Answered for", survey: "Levels taken", "trench.limit": "Stretches with limits of their own", "trench.span": "Pipe bridges", "trench.ground": "Classes of ground",
  "intake.gauging": "Weir readings", "energy.curve": "Flow-duration curve", "surge.step": "Closure by steps", "sheet.revision": "Revision block",
};

const TABLE = "\\[\\[?([a-z_]+(?:\\.[a-z_]+)?)\\]\\]?";
const VALUE = '("[^"]*"|true|false|[\\d.]+)';
const PLAIN = { true: "yes", false: "no" };

/** Forms in which a message names a setting, with what of each is table, key and value. @type {[RegExp, (found: string[]) => (string | undefined)[]][]} */
const FORMS = [
  [new RegExp(`(?<![\\w.])([a-z_.]+) = ${VALUE} under ${TABLE}`, "g"), ([key, value, table]) => [`${table}.${key}`, value]],
  [new RegExp(`(?<![\\w.])([a-z_]+\\.[a-z_.]+) = ${VALUE}`, "g"), ([path, value]) => [path, value]],
  [new RegExp(`${TABLE} ([a-z_]+)`, "g"), ([table, key]) => [`${table}.${key}`]],
  [new RegExp(`(?<![\\w.])([a-z_]+) under ${TABLE}`, "g"), ([key, table]) => [`${table}.${key}`]],
  [new RegExp(`(?:\\ba |\\bseveral )?${TABLE}(?: tables?)?`, "g"), ([table]) => [table]],
  [/(?<![\w./])([a-z_]+(?:\.[a-z_]+)+)(?![\w/(])/g, ([path]) => [path]],
];

/**
 * A message in words of the page, and the rows of the settings that it names, in the order of the forms.
 * @param {string} text @param {(words: string) => string} [translate] puts a label into the reader's language
 * @returns {{text: string, rows: string[]}}
 */
export function named(text, translate = (words) => words) {
  /** @type {string[]} */
  const rows = [];
  const said = FORMS.reduce((now, [form, read]) => now.replace(form, (whole, ...found) => {
    const [path = "", value] = read(found);
    const label = FIELDS[path]?.label ?? TITLES[path];
    if (!label) return whole;
    rows.push(path);
    const plain = value?.replaceAll('"', "");
    return value ? `“${translate(label)}: ${translate(PLAIN[/** @type {keyof typeof PLAIN} */ (plain)] ?? plain)}”` : `“${translate(label)}”`;
  }), text);
  return { text: raised(said), rows };
}

/** @param {string} text */
export const settingWords = (text) => named(text).text;
