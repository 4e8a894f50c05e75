// @ts-check
/** Where a position lies on the line. Pure: metres on a plane that touches the Earth at the line. */

const EQUATOR_M = 6378137;
const FLATTENING = 1 / 298.257223563;

/**
 * Return the plane at a place: metres east and north of it, true to centimetres over kilometres.
 * @param {number} lon @param {number} lat
 */
export function plane(lon, lat) {
  const squared = FLATTENING * (2 - FLATTENING);
  const sine = Math.sin((lat * Math.PI) / 180);
  const root = Math.sqrt(1 - squared * sine * sine);
  const across = (EQUATOR_M / root) * Math.cos((lat * Math.PI) / 180) * (Math.PI / 180);
  const along = ((EQUATOR_M * (1 - squared)) / root ** 3) * (Math.PI / 180);
  return (/** @type {number} */ toLon, /** @type {number} */ toLat) => {
    const turned = toLon - 360 * Math.round((toLon - lon) / 360);
    return { x: (turned - lon) * across, y: (toLat - lat) * along };
  };
}

/**
 * @typedef {{station: number[], lon: number[], lat: number[]}} Line
 * @typedef {{station: number, offset: number, side: "left" | "right", leg: number, share: number}} Fix
 */

/**
 * Return the nearest place on the line: its station, how far off, and on which side looking down it.
 * @param {Line} line @param {number} lon @param {number} lat
 * @returns {Fix}
 */
export function locate(line, lon, lat) {
  const flat = plane(lon, lat);
  const points = line.lon.map((value, i) => flat(value, line.lat[i]));
  let best = { station: line.station[0], offset: Infinity, leg: 0, share: 0 };
  for (let i = 0; i + 1 < points.length; i += 1) {
    const a = points[i], b = points[i + 1];
    const dx = b.x - a.x, dy = b.y - a.y;
    const length = dx * dx + dy * dy;
    const share = length ? Math.min(1, Math.max(0, -(a.x * dx + a.y * dy) / length)) : 0;
    const offset = Math.hypot(a.x + share * dx, a.y + share * dy);
    if (offset < best.offset) {
      const station = line.station[i] + share * (line.station[i + 1] - line.station[i]);
      best = { station, offset, leg: i, share };
    }
  }
  const a = points[best.leg], b = points[best.leg + 1];
  // The sign of the cross product of the leg and the way from it to the position, at 0, 0.
  const turn = (b.x - a.x) * -a.y - (b.y - a.y) * -a.x;
  return { ...best, side: turn >= 0 ? "left" : "right" };
}

/** The value of a column at a fix; null where either end is missing. @param {(number | null)[]} values @param {Fix} fix */
export function at(values, fix) {
  const a = values[fix.leg], b = values[fix.leg + 1];
  if (a === null || b === null) return null;
  return a + fix.share * (b - a);
}

/**
 * Return distance [m] and bearing [degrees clockwise from north] from one place to another.
 * @param {number} lon @param {number} lat @param {number} toLon @param {number} toLat
 */
export function way(lon, lat, toLon, toLat) {
  const { x, y } = plane(lon, lat)(toLon, toLat);
  return { distance: Math.hypot(x, y), bearing: (Math.atan2(x, y) * (180 / Math.PI) + 360) % 360 };
}

const POINTS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];

/** A bearing in words. @param {number} bearing */
export const compassPoint = (bearing) => POINTS[Math.round(bearing / 45) % 8];

/**
 * Return the next place of each kind in the direction of travel, the nearest first.
 * @template {{kind: string, station: number}} P
 * @param {P[]} places @param {number} station @param {boolean} down whether the water's way is walked
 * @returns {P[]}
 */
export function ahead(places, station, down) {
  /** @type {Map<string, P>} */
  const next = new Map();
  for (const place of places) {
    const gap = down ? place.station - station : station - place.station;
    if (gap < 0) continue;
    const known = next.get(place.kind);
    const before = known && (down ? known.station - station : station - known.station);
    if (before === undefined || gap < before) next.set(place.kind, place);
  }
  return [...next.values()].sort((a, b) => Math.abs(a.station - station) - Math.abs(b.station - station));
}

/** Whether the walker goes down the line, by stations seen lately, the newest last. @param {number[]} seen @param {boolean} before */
export function goesDown(seen, before) {
  if (seen.length < 2) return before;
  const moved = seen[seen.length - 1] - seen[0];
  return Math.abs(moved) < 8 ? before : moved > 0;
}

/**
 * A level read on the ground as text with its unit; null for what is no level.
 * @param {string} text @param {string} unit of a plain number
 */
export function reading(text, unit) {
  const found = /^\s*([+\-\u2212]?\d+(?:[.,]\d+)?)\s*(m|ft)?\s*$/.exec(text);
  if (!found) return null;
  return `${found[1].replace(",", ".").replace("\u2212", "-")} ${found[2] ?? unit}`;
}

/** @typedef {{kind: string, station: number, advised?: boolean, words: string}} Listed */

/**
 * Return whether a place is asked for: its kind, needed only, not done, ahead within so far, words.
 * @param {Listed} place @param {boolean} done
 * @param {{kind: string, needed: boolean, open: boolean, ahead: number | null, from: number | null, down: boolean, words: string}} asked
 */
export function wanted(place, done, asked) {
  if (asked.kind !== "all" && place.kind !== asked.kind) return false;
  if (asked.needed && place.advised) return false;
  if (asked.open && (done || place.kind === "end")) return false;
  if (asked.ahead !== null && asked.from !== null) {
    const gap = asked.down ? place.station - asked.from : asked.from - place.station;
    if (gap < -5 || gap > asked.ahead) return false; // what one stands on is still ahead
  }
  return asked.words.split(/\s+/).every((word) => place.words.includes(word));
}

/** Nearer than this the walker stands at a place, however well the position is known [m]. */
const AT_M = 5;

/**
 * Return the place at which the walker stands: the nearest within the position's accuracy or 5 m.
 * @template {{kind: string, station: number, lon: number, lat: number}} P
 * @param {P[]} places @param {number} lon @param {number} lat @param {number | null} accuracy [m]
 * @returns {P | null}
 */
export function here(places, lon, lat, accuracy) {
  const within = Math.max(accuracy ?? 0, AT_M);
  let found = null, nearest = Infinity;
  for (const place of places) {
    const { distance } = way(lon, lat, place.lon, place.lat);
    if (distance <= within && distance < nearest) [found, nearest] = [place, distance];
  }
  return found;
}

/** What stands nearer than this to another is at the same place [m]. */
const TOGETHER_M = 1;

/**
 * Return all that stands where the walker does, what lets air out and water off first.
 * @template {{kind: string, station: number, lon: number, lat: number}} P
 * @param {P[]} places @param {number} lon @param {number} lat @param {number | null} accuracy [m]
 * @returns {P[]}
 */
export function standsHere(places, lon, lat, accuracy) {
  const nearest = here(places, lon, lat, accuracy);
  if (!nearest) return [];
  const rank = (/** @type {P} */ place) => ["vent", "drain"].indexOf(place.kind) < 0 ? 1 : 0;
  return places.filter((place) => way(nearest.lon, nearest.lat, place.lon, place.lat).distance <= TOGETHER_M).sort((a, b) => rank(a) - rank(b));
}

/** Farther off the line than this and the position's accuracy, its depth here means nothing [m]. */
const OFF_M = 10;

/** Whether a depth may be shown so far off the line. @param {number} offset [m] @param {number | null} accuracy [m] */
export const depthShown = (offset, accuracy) => offset <= Math.max(OFF_M, accuracy ?? 0);
