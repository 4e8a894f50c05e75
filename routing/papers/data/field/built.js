// @ts-check
/** What was built: levels, position and marks of a fitting, or of a joint at a station. */

/** @typedef {{id: string | null, station: number | null}} At */

/** Member of a record, what to call it, kind of quantity (none: words), digits shown. @type {[string, string, string, number][]} */
const FIELDS = [
  ["station_m", "Station", "station", 1],
  ["invert_m", "Level of the invert", "elevation", 3],
  ["depth_m", "Ground to invert", "depth", 2],
  ["offset_m", "Off the line (right +)", "length", 2],
  ["rating_kpa", "Rating on the mark", "pressure", 0],
  ["make", "Mark", "", 0],
  ["serial", "Number or batch", "", 0],
  ["who", "Who", "", 0],
  ["note", "Joint or weld", "", 0],
];

/**
 * Return the form for what was built at a place; ``id`` null: at a station of the line.
 * @param {any} data of the sheet @param {import("./log.js").Log} log @param {At} place
 * @param {{say: (text: string) => void, me: () => any}} asked
 */
export function builtForm(data, log, place, { say, me }) {
  const box = document.createElement("fieldset");
  box.className = "built";
  box.append(Object.assign(document.createElement("legend"), { textContent: place.id ? "As built" : "Joint, weld or level at a station" }));
  const known = (place.id && log.words.get(place.id)?.built) || {};
  const drafts = log.store.drafts();
  /** @type {Map<string, HTMLInputElement>} */
  const inputs = new Map();
  for (const [name, words, kind, digits] of FIELDS) {
    const input = document.createElement("input");
    const draft = `${name} ${place.id ?? ""}`;
    const value = /** @type {any} */ (known)[name] ?? (name === "station_m" ? place.station : null);
    if (kind) input.inputMode = "decimal";
    input.autocomplete = "off";
    input.maxLength = 200;
    input.value = drafts[draft] ?? (value === null || value === undefined ? "" : kind ? (value * data.units[kind].factor).toFixed(digits) : value);
    input.addEventListener("input", () => log.store.draft(draft, input.value));
    const label = document.createElement("label");
    label.append(kind ? `${words}, ${data.units[kind].unit}` : words, input);
    box.append(label);
    inputs.set(name, input);
  }
  const here = Object.assign(document.createElement("button"), { type: "button", textContent: "Take my position for it" });
  /** @type {{lon: number, lat: number, accuracy: number | null} | null} */
  let taken = null;
  here.addEventListener("click", () => {
    taken = me();
    here.textContent = taken ? `Position taken${taken.accuracy === null ? "" : `, ±${Math.round(taken.accuracy)} m`}` : "No position yet";
  });
  const save = Object.assign(document.createElement("button"), { type: "button", textContent: place.id ? "Record as built" : "Record it" });
  save.addEventListener("click", async () => {
    const part = read(data, inputs, say);
    if (!part) return;
    if (taken) Object.assign(part, { lon: taken.lon, lat: taken.lat, ...(taken.accuracy === null ? {} : { accuracy_m: taken.accuracy }) });
    await log.add({ kind: "asbuilt", of: place.id, ...part });
    for (const [name] of FIELDS) log.store.draft(`${name} ${place.id ?? ""}`, null);
    say("Recorded");
  });
  box.append(here, save);
  return box;
}

/** What stands in the boxes, in SI; null where one is no number. @param {any} data @param {Map<string, HTMLInputElement>} inputs @param {(text: string) => void} say @returns {any} */
function read(data, inputs, say) {
  /** @type {any} */
  const part = {};
  for (const [name, words, kind] of FIELDS) {
    const text = inputs.get(name)?.value.trim() ?? "";
    if (!text) continue;
    const number = Number(text.replace(",", ".").replace("\u2212", "-"));
    if (kind && !Number.isFinite(number)) return say(`${words} is no number: ${text}`), null;
    part[name] = kind ? number / data.units[kind].factor : text;
  }
  const said = Object.keys(part).some((name) => name !== "station_m" && name !== "who");
  if (!said) return say("Nothing to record yet: give a level, a mark or a joint."), null;
  if (part.station_m === undefined) return say("Give the station."), null;
  return part;
}
