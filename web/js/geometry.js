// @ts-check
/** Plane and sphere, as far as a page needs them; what is exact comes from the service. Pure. */

/** @typedef {[number, number]} Position */

const RADIUS_M = 6371008.8;
const DEGREE = Math.PI / 180;

/** Great-circle distance [m]; within 0.6 % of the ellipsoid's. @param {Position} a @param {Position} b */
export function distance(a, b) {
  const dLat = (b[1] - a[1]) * DEGREE;
  const dLon = (b[0] - a[0]) * DEGREE;
  const h =
    Math.sin(dLat / 2) ** 2 +
    Math.cos(a[1] * DEGREE) * Math.cos(b[1] * DEGREE) * Math.sin(dLon / 2) ** 2;
  return 2 * RADIUS_M * Math.asin(Math.min(1, Math.sqrt(h)));
}

/**
 * The place on a chain of pixels nearest to a pixel: which piece, which share of it, how far off.
 * @param {{x: number, y: number}[]} track @param {{x: number, y: number}} point
 */
export function nearestOn(track, point) {
  let best = { piece: 0, share: 0, off: Infinity };
  for (let i = 1; i < track.length; i += 1) {
    const a = track[i - 1];
    const dx = track[i].x - a.x;
    const dy = track[i].y - a.y;
    const square = dx * dx + dy * dy;
    const along = square ? ((point.x - a.x) * dx + (point.y - a.y) * dy) / square : 0;
    const share = Math.min(1, Math.max(0, along));
    const off = Math.hypot(a.x + dx * share - point.x, a.y + dy * share - point.y);
    if (off < best.off) best = { piece: i - 1, share, off };
  }
  return best;
}

/**
 * Which points of a line, left to right, to draw: chords between them pass all others by no more
 * than ``off``, up or down.
 * @param {ArrayLike<number>} x @param {ArrayLike<number>} y @param {number} off
 * @returns {number[]} places in the columns, the first and the last among them
 */
export function thinned(x, y, off) {
  const last = x.length - 1;
  const kept = last >= 0 ? [0] : [];
  let [from, low, high] = [0, -Infinity, Infinity];
  for (let i = 1; i <= last; i += 1) {
    const slope = (y[i] - y[from]) / (x[i] - x[from]);
    if (!(slope >= low && slope <= high)) {
      from = i - 1;
      kept.push(from);
      [low, high] = [-Infinity, Infinity];
    }
    const run = x[i] - x[from];
    low = Math.max(low, (y[i] - y[from] - off) / run);
    high = Math.min(high, (y[i] - y[from] + off) / run);
  }
  if (last > 0) kept.push(last);
  return kept;
}

/**
 * Lowest and highest pixel of a line in each column of pixels; a gap is Infinity.
 * @param {ArrayLike<number>} across @param {ArrayLike<number | null>} up both rising in ``across`` [px]
 * @param {number} left first column @param {number} width columns
 */
export function columnsOf(across, up, left, width) {
  const low = new Float64Array(width).fill(Infinity);
  const high = new Float64Array(width).fill(-Infinity);
  for (let i = 0; i + 1 < across.length; i += 1) {
    const [a, b] = [across[i] - left, across[i + 1] - left];
    const [start, end] = [up[i], up[i + 1]];
    if (start === null || end === null) continue;
    const slope = b > a ? (end - start) / (b - a) : 0;
    const last = Math.min(width - 1, Math.floor(b));
    for (let k = Math.max(0, Math.floor(a)); k <= last; k += 1) {
      const [p, q] = [start + slope * (Math.max(a, k) - a), start + slope * (Math.min(b, k + 1) - a)];
      low[k] = Math.min(low[k], p, q);
      high[k] = Math.max(high[k], p, q);
    }
  }
  return { low, high };
}

/**
 * Where a value lies in a rising column: the piece and the share of it.
 * @param {ArrayLike<number>} column @param {number} value
 */
export function locate(column, value) {
  let low = 0;
  let high = column.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (column[middle] <= value) low = middle;
    else high = middle;
  }
  const length = column[high] - column[low];
  const share = length > 0 ? Math.min(1, Math.max(0, (value - column[low]) / length)) : 0;
  return { low, high, share };
}

/**
 * @param {ArrayLike<number> | undefined} column
 * @param {{low: number, high: number, share: number}} at
 * @returns {number | null}
 */
export function between(column, { low, high, share }) {
  if (!column) return null;
  const value = share === 0 ? column[low] : column[low] + (column[high] - column[low]) * share;
  return Number.isFinite(value) ? value : null;
}

/**
 * Read what a person typed as a place: "lat, lon" with N/S/E/W letters in any order, or lon, lat
 * numbers as the files have them.
 * @param {string} text @returns {Position}
 */
export function parsePlace(text) {
  const parts = [...text.matchAll(/([+-]?\d+(?:\.\d+)?)\s*°?\s*([NSEWnsew])?/g)];
  if (parts.length !== 2) throw new Error("Give two numbers: longitude, then latitude, in degrees.");
  const values = parts.map(([, number, letter]) => {
    const sign = /[SWsw]/.test(letter ?? "") ? -1 : 1;
    return { value: sign * Number(number), axis: /[NSns]/.test(letter ?? "") ? "lat" : letter ? "lon" : "" };
  });
  if (values[0].axis === "lat" || values[1].axis === "lon") values.reverse();
  const [lon, lat] = values.map((part) => part.value);
  if (Math.abs(lat) > 90 || Math.abs(lon) > 180)
    throw new Error(`${lon}, ${lat} is no place: longitude comes first, then latitude.`);
  return [lon, lat];
}
