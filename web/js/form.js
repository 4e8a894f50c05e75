// @ts-check
/** From what a person typed to the body of a request. Pure: no document, no network. */

/**
 * @typedef {{terrain: string, route: object, settings: Record<string, any>, name?: string}} StudyBody
 */

/**
 * The body of a request; a field of the settings is named by table and key, as ``flow.design``.
 * @param {Record<string, string>} fields
 * @param {object} route
 * @param {Record<string, any>} settings
 * @returns {StudyBody}
 */
export function studyBody(fields, route, settings) {
  const tables = structuredClone(settings);
  for (const [field, value] of Object.entries(fields)) {
    const [table, key] = field.split(".");
    if (key && value.trim()) tables[table] = { ...tables[table], [key]: value.trim() };
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
