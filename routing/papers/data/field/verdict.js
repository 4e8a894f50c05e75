// @ts-check
/** What the readings of a section's test come to, as the study's own rule has it. Pure. */

/**
 * @typedef {{name: string, label: string, time_s: number, start_kpa: number, end_kpa: number,
 *   most_m3: number | null, least_kpa: number | null, most_kpa: number | null}} Step
 * @typedef {{step: string, gauge_kpa: number, water_m3: number | null, lasted_s: number | null}} StepRead
 * @typedef {{verdict: string, step: string, found: number | null, limit: number | null}} Verdict
 */

const DROP_M3 = 5e-5;
const FILLED = ["soak", "raise"];

/** The readings since the section was last filled or raised after another step. @param {StepRead[]} readings by time */
export function lastAttempt(readings) {
  let begins = 0;
  for (let i = 1; i < readings.length; i += 1)
    if (FILLED.includes(readings[i].step) && !FILLED.includes(readings[i - 1].step)) begins = i;
  return readings.slice(begins);
}

/**
 * Return what readings come to by the steps of a test: passed, failed, or what is still to be done.
 * @param {Step[]} steps @param {StepRead[]} readings by time @param {number} error of the gauge [kPa]
 * @returns {Verdict}
 */
export function judgeSection(steps, readings, error) {
  const said = lastAttempt(readings);
  const step = (/** @type {string} */ name) => steps.find((each) => each.name === name);
  const of = (/** @type {string} */ name) => said.filter((each) => each.step === name);
  const last = (/** @type {string} */ name, /** @type {"water_m3" | "lasted_s" | "gauge_kpa"} */ what) =>
    of(name).map((each) => each[what]).filter((value) => value !== null && value !== undefined).pop() ?? null;
  const told = (/** @type {string} */ verdict, /** @type {string} */ name, /** @type {number | null} */ found = null, /** @type {number | null} */ limit = null) => ({ verdict, step: name, found, limit });

  if (!said.length) return told("not begun", steps[0].name);
  const raise = step("raise"), taken = last("raise", "water_m3");
  if (raise && raise.most_m3 !== null && taken !== null && taken > raise.most_m3 + DROP_M3) return told("air", "raise", taken, raise.most_m3);
  const hold = /** @type {Step} */ (step("hold"));
  for (const { gauge_kpa } of of("hold")) {
    if (hold.least_kpa !== null && gauge_kpa < hold.least_kpa) return told("failed by pressure", "hold", gauge_kpa, hold.least_kpa);
    if (hold.most_kpa !== null && gauge_kpa > hold.most_kpa) return told("failed by pressure", "hold", gauge_kpa, hold.most_kpa);
  }
  const added = last("hold", "water_m3");
  if (hold.most_m3 !== null && added !== null && added > hold.most_m3 + DROP_M3) return told("failed by water", "hold", added, hold.most_m3);
  for (const name of ["stretch", "hold"]) {
    const asked = step(name)?.time_s, lasted = last(name, "lasted_s");
    if (asked !== undefined && (lasted === null || lasted < asked)) return told("under way", name, lasted, asked);
  }
  if (hold.most_m3 && added === null) return told("under way", "hold");
  const off = step("let off");
  if (!off) return told("passed", "hold");
  const gauge = last("let off", "gauge_kpa");
  return told(gauge !== null && gauge <= off.end_kpa + error ? "passed" : "let it off", "let off", gauge, off.end_kpa + error);
}

/** A time as people on site say it. @param {number} seconds */
export function minutesSaid(seconds) {
  const whole = Math.max(Math.round(seconds / 60), 1);
  return whole < 60 ? `${whole} min` : `${Math.floor(whole / 60)} h ${String(whole % 60).padStart(2, "0")} min`;
}

/**
 * Return that as a sentence; the works plan says the same.
 * @param {Verdict} told @param {(value: number, kind: "pressure" | "drum") => string} shown
 */
export function sectionSaid({ verdict, step, found, limit }, shown) {
  const done = step === "stretch" ? "topped up" : "held";
  if (verdict === "not begun") return "not tested yet";
  if (verdict === "let it off") return "it holds: let the pressure off slowly";
  if (verdict === "passed") return "pass";
  if (verdict === "under way") {
    if (limit === null) return "under way: the water added is not recorded";
    if (found === null) return `under way: how long it was ${done} is not recorded`;
    return `under way: ${done} for ${minutesSaid(found)} of ${minutesSaid(limit)}`;
  }
  if (verdict === "failed by pressure")
    return `fail: the gauge stood at ${shown(found ?? 0, "pressure")}, ${(found ?? 0) < (limit ?? 0) ? "below" : "above"} ${shown(limit ?? 0, "pressure")}`;
  const water = shown(found ?? 0, "drum"), most = limit ? `at most ${shown(limit, "drum")}` : "nothing may be";
  if (verdict === "air") return `air in it: ${water} went in, ${most}. Let it off, drive the air out, begin again`;
  return `fail: ${water} were added, ${most}`;
}
