// @ts-check
/** Rows of red bars at the foot of the long section: what room they and their words take. Pure. */

/** Height of a row of bars under its own words, of one without, and of a line of the words of all. */
export const [ROW_PX, LOW_ROW_PX, LINE_PX] = [23, 10, 14];
/** Share of a chart's height that rows under their own words may take; lines of the words of all where they may not. */
const [MOST_SHARE, MOST_LINES] = [0.3, 2];

/** Whether rows of bars have each its words above it. @param {number} count @param {number} height of the chart [px] */
export const rowsApart = (count, height) => count * ROW_PX <= MOST_SHARE * height;

/** Room that rows of bars take with their words [px]. @param {number} count @param {number} height of the chart [px] */
export const rowsRoom = (count, height) =>
  rowsApart(count, height) ? count * ROW_PX : count * LOW_ROW_PX + MOST_LINES * LINE_PX;

/** Words of several kinds in as few lines as hold them. @param {string[]} texts @param {(text: string) => boolean} fits @returns {string[]} */
export function inLines(texts, fits) {
  /** @type {string[]} */
  const lines = [];
  for (const text of texts) {
    const joined = lines.length ? `${lines.at(-1)} · ${text}` : text;
    if (lines.length && (fits(joined) || lines.length === MOST_LINES)) lines.splice(-1, 1, joined);
    else lines.push(text);
  }
  return lines;
}
