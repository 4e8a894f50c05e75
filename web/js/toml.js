// @ts-check
/** A settings file of what the page holds, as TOML 1.0. Pure. */

/** @param {any} value @returns {value is Record<string, any>} */
const isTable = (value) => typeof value === "object" && value !== null && !Array.isArray(value);
/** @param {any} value */
const isTables = (value) => Array.isArray(value) && value.length > 0 && value.every(isTable);
/** Whether a value can stand in a line; features and records are objects of their own kind. @param {any} value */
const inline = (value) => !isTable(value) && !isTables(value);
/** @param {string} name */
const keyOf = (name) => (/^[A-Za-z0-9_-]+$/.test(name) ? name : JSON.stringify(name));

/** JSON's strings are TOML's, but for a character that TOML wants escaped; a gap in a row of numbers is nan. @param {any} value @returns {string} */
function written(value) {
  if (typeof value === "string") return JSON.stringify(value).replaceAll("\u007f", "\\u007f");
  if (Array.isArray(value)) return `[${value.map((each) => (each === null ? "nan" : written(each))).join(", ")}]`;
  if (isTable(value)) return `{ ${Object.entries(value).filter(([, each]) => each !== null).map(([key, each]) => `${keyOf(key)} = ${written(each)}`).join(", ")} }`;
  return String(value);
}

/**
 * Tables as TOML text: lines first, then the tables within; GeoJSON in a line of its own.
 * @param {Record<string, any>} tables @param {string} [head] a comment on top
 */
export function toToml(tables, head = "") {
  const parts = head ? [`# ${head}\n`] : [];
  for (const [name, value] of Object.entries(tables)) table(keyOf(name), value, parts);
  return parts.join("\n");
}

/** @param {string} path @param {any} value @param {string[]} parts */
function table(path, value, parts) {
  for (const each of Array.isArray(value) ? value : [value]) {
    const entries = Object.entries(each).filter(([, item]) => item !== null && item !== undefined);
    const own = entries.filter(([key, item]) => inline(item) || key === "features" || key === "record");
    const lines = own.map(([key, item]) => `${keyOf(key)} = ${written(item)}\n`).join("");
    parts.push(`${Array.isArray(value) ? `[[${path}]]` : `[${path}]`}\n${lines}`);
    for (const [key, item] of entries) if (!own.some(([taken]) => taken === key)) table(`${path}.${keyOf(key)}`, item, parts);
  }
}
