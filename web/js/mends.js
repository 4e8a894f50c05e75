// @ts-check
/** Which control of the page mends a finding: a page of the ledger and a field on it. */

import { byId } from "./dom.js";
import { openSetting } from "./panel-money.js";
import { FIELDS } from "./setting-rows.js";
import { TITLES, named } from "./setting-words.js";

/** ``field`` is the key of a field; where the page is "settings", a table or a key of one. @typedef {{words: string, tab: string, field: string}} Mend */

/** @type {Record<string, Mend>} */
const CONTROLS = {
  pipe: { words: "Another pipe", tab: "water", field: "all-pipes" },
  flow: { words: "Design flow", tab: "water", field: "flow-design" },
  closing: { words: "Closing time", tab: "water", field: "turbine-closure_time" },
  efficiency: { words: "Efficiency", tab: "water", field: "turbine-efficiency" },
  depth: { words: "Greatest depth", tab: "trench", field: "trench-max_depth" },
  cover: { words: "Least cover", tab: "trench", field: "trench-cover" },
  land: { words: "Layers and consents", tab: "trench", field: "lay-over" },
  bridge: { words: "Bridges", tab: "trench", field: "pick-bridge" },
  turn: { words: "Turn the line round", tab: "line", field: "turn-round" },
  intake: { words: "Water at the intake", tab: "line", field: "intake-level" },
  unit: { words: "Unit of heights", tab: "line", field: "terrain-unit" },
  error: { words: "Error of heights", tab: "line", field: "terrain-rmse" },
  datum: { words: "Heights measured from", tab: "line", field: "terrain-vertical_datum" },
  residual: { words: "Residual flow", tab: "money", field: "intake-residual" },
  stream: { words: "The stream over the year", tab: "settings", field: "energy" },
  site: { words: "Ground and weather", tab: "settings", field: "site" },
  screen: { words: "Intake", tab: "settings", field: "intake" },
  pipes: { words: "Pipes", tab: "settings", field: "pipe" },
  supports: { words: "Pipe bridges", tab: "settings", field: "trench.span" },
  relief: { words: "Relief valves", tab: "settings", field: "relief" },
  levels: { words: "Levels to take first", tab: "fittings", field: "shoot-here" },
};

/** Codes of findings by the control that mends them. @type {Record<keyof typeof CONTROLS, string>} */
const CODES = {
  pipe: "over_rating class_exceeded loss_high velocity_high velocity_low vacuum_collapse test_over_class no_rating pipe_assumed flow_without_pipe siphon no_class_holds vents_must_work relief_cannot_be_set",
  flow: "flow_exceeds residual_first residual_low",
  closing: "closing_too_fast closure_instant column_separation subatmospheric surge_peaks_unreliable",
  efficiency: "efficiency_assumed",
  depth: "cover_governs depth_for_people arc_leaves_trench grade_below_least low_pressure",
  cover: "cover_in_frost pipe_floats road_cover bed_cover",
  land: "no_go_crossed consent_missing service_near",
  bridge: "span_below_ground span_outside_line span_freezes",
  turn: "line_drawn_uphill uphill",
  intake: "above_intake no_fall",
  unit: "unit_assumed unit_doubtful",
  error: "accuracy_typical",
  datum: "datum_unknown survey_datum_mixed",
  residual: "residual_missing",
  stream: "energy_not_estimated record_short",
  site: "soil_unknown frost_unknown soil_no_bearing block_wide",
  screen: "screen_loss_missing bars_wide crest_narrow screen_small grains_stay storage_small gauging_outside_range vortex mouth_too_shallow",
  pipes: "surge_factor_high rating_too_high nominal_bore turn_cannot_be_made",
  supports: "span_fails span_long",
  relief: "relief_too_small relief_lifts relief_too_high",
  levels: "summit_doubtful coarse_terrain stair_steps gap_bridged",
};

const BY_CODE = new Map(Object.entries(CODES).flatMap(([name, codes]) => codes.split(" ").map((code) => /** @type {const} */ ([code, CONTROLS[name]]))));

/** What a sudden blockage does, no closing time mends: it is no closing. */
const BLOCKED = /if the outlet is blocked at once/i;

/**
 * The control that mends a finding: by its code, else the field of the setting that it names.
 * @param {string} code @param {string} [message] @returns {Mend | undefined}
 */
export function mendOf(code, message = "") {
  if (BLOCKED.test(message) && BY_CODE.get(code) === CONTROLS.closing) return undefined;
  const [row] = named(message).rows;
  return BY_CODE.get(code) ?? (row ? { words: FIELDS[row]?.label ?? TITLES[row], tab: "settings", field: row } : undefined);
}

/** Bring a control to hand. @param {Mend} mend */
export function open({ tab, field }) {
  if (tab === "settings") return openSetting(field);
  const page = byId(`tab-${tab}`);
  if (page.getAttribute("aria-selected") !== "true") page.click();
  const node = /** @type {HTMLElement | null} */ (document.querySelector(`#panel-${tab} [data-key="${field}"]`));
  node?.scrollIntoView({ block: "center" });
  node?.focus();
}
