// @ts-check
/** From what a person typed to the body of a request. Pure: no document, no network. */

/**
 * @typedef {{terrain: string, route: object, settings: Record<string, any>, name?: string}} StudyBody
 */

/** Where each field of the form stands in the settings. */
const PLACES = /** @type {const} */ ({
  flow: ["flow", "design"],
  level: ["intake", "level"],
  cover: ["trench", "cover"],
  depth: ["trench", "max_depth"],
  units: ["study", "units"],
});

/**
 * @param {Record<string, string>} fields
 * @param {object} route
 * @param {Record<string, any>} settings
 * @returns {StudyBody}
 */
export function studyBody(fields, route, settings) {
  const tables = structuredClone(settings);
  for (const [field, [table, key]] of Object.entries(PLACES)) {
    const value = fields[field]?.trim();
    if (value) tables[table] = { ...tables[table], [key]: value };
  }
  const pipe = fields.pipe?.trim();
  if (pipe) tables.pipe = [{ catalogue: pipe }];
  const name = fields.name?.trim();
  return { terrain: fields.terrain, route, settings: tables, ...(name ? { name } : {}) };
}

/**
 * @param {string} text
 * @param {string} what
 * @returns {any}
 */
export function parsed(text, what) {
  try {
    return JSON.parse(text);
  } catch (error) {
    throw new Error(`${what} is not JSON: ${/** @type {Error} */ (error).message}`);
  }
}
