// @ts-check
/** How many signs are only dots for want of room, on the map and on the profile: said between the two. */

import { byId } from "./dom.js";

const now = { map: 0, profile: 0 };
let said = "";

/** @param {{map: number, profile: number}} dots how many there are on each */
export function dotWords({ map, profile }) {
  if (map && profile) return `Signs drawn as dots for want of room: ${map} here, ${profile} on the profile`;
  if (map) return `Signs drawn as dots for want of room: ${map} here`;
  return profile ? `Signs drawn as dots for want of room: ${profile} on the profile` : "";
}

/** @param {"map" | "profile"} where @param {number} count */
export function tellDots(where, count) {
  now[where] = count;
  const words = dotWords(now);
  if (words === said) return; // a chart is drawn many times a second
  said = words;
  byId("dots").textContent = words;
}
