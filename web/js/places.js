// @ts-check
/** Where signs stand on the map: beside their place, clear of the vertices and of each other. Pure. */

/** @typedef {{x: number, y: number}} Point */
/** A sign: its place, the size of its box, the way it stands where there is room [px]. @typedef {Point & {wide: number, tall: number, up: boolean}} Item */
/** @typedef {{left: number, top: number, right: number, bottom: number}} Box */

/** How far from its place a sign may stand, and how far aside of upright [px, deg]. */
const REACHES = [30, 46, 66, 84];
const ASIDE = [0, 14, -14, 28, -28, 41, -41, 54, -54, 68, -68, 82, -82];
const ROOM = 2;

/** @param {Box} a @param {Box} b */
const meet = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;

/** On which side of a line a point lies. @param {Point} a @param {Point} b @param {Point} p */
const side = (a, b, p) => Math.sign((b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x));

/** Whether two leaders cross between their ends. @param {[Point, Point]} one @param {[Point, Point]} other */
const cross = ([a, b], [c, d]) => side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;

/** Whether a leader runs over a box. @param {[Point, Point]} leader @param {Box} box */
const over = (leader, { left, top, right, bottom }) =>
  (leader[0].x > left && leader[0].x < right && leader[0].y > top && leader[0].y < bottom) ||
  cross(leader, [{ x: left, y: top }, { x: right, y: bottom }]) || cross(leader, [{ x: left, y: bottom }, { x: right, y: top }]);

/** @param {Point} at @param {number} wide @param {number} tall @returns {Box} */
export const boxAt = ({ x, y }, wide, tall) => ({ left: x - wide / 2 - ROOM, right: x + wide / 2 + ROOM, top: y - tall / 2 - ROOM, bottom: y + tall / 2 + ROOM });

/**
 * Offsets from each place to the middle of its sign, null where there is no room near; the first
 * items have the first choice. No leader crosses another, so that no fan of them is made, or runs over
 * another's sign.
 * @param {Item[]} items @param {Box[]} taken what signs keep clear of @param {Box} within where they must lie
 * @returns {(Point | null)[]}
 */
export function signPlaces(items, taken, within) {
  const full = [...taken];
  /** @type {[Point, Point][]} */
  const leaders = [];
  /** @type {Box[]} */
  const signs = [];
  return items.map((item) => {
    const inside = item.x >= within.left && item.x <= within.right && item.y >= within.top && item.y <= within.bottom;
    for (const side of item.up ? [1, -1] : [-1, 1])
      for (const reach of REACHES)
        for (const degrees of ASIDE) {
          const turn = (degrees * Math.PI) / 180;
          const off = { x: reach * Math.sin(turn), y: -side * reach * Math.cos(turn) };
          const box = boxAt({ x: item.x + off.x, y: item.y + off.y }, item.wide, item.tall);
          const out = inside && (box.left < within.left || box.right > within.right || box.top < within.top || box.bottom > within.bottom);
          if (out || full.some((other) => meet(box, other))) continue;
          const leader = /** @type {[Point, Point]} */ ([item, { x: item.x + off.x, y: item.y + off.y }]);
          if (leaders.some((other) => cross(leader, other) || over(other, box)) || signs.some((other) => over(leader, other))) continue;
          leaders.push(leader);
          signs.push(box);
          full.push(box);
          return off;
        }
    return null;
  });
}
