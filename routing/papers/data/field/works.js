// @ts-check
/** The plan of works: acts ticked off, gauges read, and what the readings mean. */

import { shownIn } from "./cards.js";
import { diagnose } from "./diagnose.js";
import { frontAt } from "./front.js";

const PATIENCE_MS = 400; // after the last keystroke
const IDLE_MS = 1500; // after opening, until the rule is run once on what is expected
const RUNS = 3; // so that the browser has it ready when the first reading comes

export class Works {
  /** @param {any} data of the sheet @param {import("./log.js").Log} log @param {(text: string) => void} say */
  constructor(data, log, say) {
    this.data = data;
    this.log = log;
    this.say = say;
    /** @type {HTMLInputElement[]} */
    this.acts = [...document.querySelectorAll("[data-act]")].map((box) => /** @type {HTMLInputElement} */ (box));
    /** @type {HTMLInputElement[]} */
    this.boxes = [...document.querySelectorAll("[data-tap]")].map((box) => /** @type {HTMLInputElement} */ (box));
    for (const box of this.acts) box.addEventListener("change", () => log.add({ kind: "tick", of: box.dataset.act ?? null, done: box.checked }));
    this.flow = /** @type {HTMLInputElement | null} */ (document.getElementById("ran"));
    const drafts = log.store.drafts();
    let late = 0;
    for (const box of [...this.boxes, ...(this.flow ? [this.flow] : [])]) {
      const draft = `gauge ${box.dataset.tap ?? "flow"} ${box.dataset.state ?? ""}`;
      box.value = drafts[draft] ?? "";
      box.addEventListener("input", () => {
        log.store.draft(draft, box.value || null);
        clearTimeout(late);
        late = window.setTimeout(() => this.judge(), PATIENCE_MS);
      });
    }
    if (this.flow) {
      this.flow.placeholder = data.units.flow.unit;
      for (const box of this.boxes) box.placeholder = data.units.pressure.unit;
    }
    const front = /** @type {HTMLInputElement | null} */ (document.getElementById("front-gauge"));
    if (front) {
      front.placeholder = data.units.pressure.unit;
      front.value = drafts["front"] ?? "";
      front.addEventListener("input", () => (log.store.draft("front", front.value || null), this.front(front.value)));
      this.front(front.value);
    }
    document.getElementById("log-readings")?.addEventListener("click", () => this.record());
    this.judge();
    if (data.diagnosis) setTimeout(() => this.#ready(), IDLE_MS);
  }

  /** Run the rule before it is asked, as a browser makes code fast only once it has run. */
  #ready() {
    const { taps, intake, weight, design } = this.data.diagnosis;
    const rest = taps.map((/** @type {any} */ tap) => ({ tap: tap.id, kpa: Math.max(intake - tap.level, 0) * weight, running: false }));
    const all = design ? [...rest, ...rest.map((/** @type {any} */ each) => ({ ...each, running: true }))] : rest;
    try {
      for (let i = 0; i < RUNS; i += 1) diagnose(this.data.diagnosis, all, design);
    } catch {
      // What the readings mean is told when there are some.
    }
  }

  /** Show what is ticked off. @param {Map<string, import("./records.js").Words>} words */
  show(words) {
    for (const box of this.acts) box.checked = Boolean(words.get(box.dataset.act ?? "")?.tick?.done);
  }

  /** Tell how far up the water stands while the line fills. @param {string} text */
  front(text) {
    const told = /** @type {HTMLElement} */ (document.getElementById("front-told"));
    const { front, units } = this.data;
    if (!text.trim()) return void (told.textContent = "");
    const found = frontAt(front, Number(text.trim().replace(",", ".")) / units.pressure.factor);
    if (!found) {
      const most = shownIn(this.data, front.gauge_kpa[front.gauge_kpa.length - 1], "pressure", 0);
      return void (told.textContent = `The water of the intake can give 0 to ${most} there: check the gauge.`);
    }
    const shown = (/** @type {number} */ value, /** @type {string} */ kind) => shownIn(this.data, value, kind, 1);
    told.textContent = found.level_m <= front.level_m[0]
      ? "No water stands at the powerhouse yet."
      : `Stage ${found.stage}: the water stands up to ${shown(found.station_m, "station")}, at ${shown(found.level_m, "elevation")}; ${shown(found.volume_m3, "water")} are in. Where less has been let in, the gauge presses on trapped air; where more, water is lost or held back.`;
  }

  /** What stands in the boxes, in SI; null where one is no number. */
  #readings() {
    const number = (/** @type {string} */ text) => Number(text.trim().replace(",", "."));
    const given = this.boxes.filter((box) => box.value.trim());
    const readings = given.map((box) => ({
      tap: box.dataset.tap ?? "", running: box.dataset.state === "running", kpa: number(box.value) / this.data.units.pressure.factor,
    }));
    const flow = this.flow?.value.trim() ? number(this.flow.value) / this.data.units.flow.factor : null;
    const sound = readings.every((each) => Number.isFinite(each.kpa)) && (flow === null || (Number.isFinite(flow) && flow > 0));
    return sound ? { readings, flow } : null;
  }

  judge() {
    const verdict = document.getElementById("verdict"), list = document.getElementById("causes");
    if (!verdict || !list || !this.data.diagnosis) return;
    const given = this.#readings();
    list.replaceChildren();
    if (!given) return (verdict.textContent = "One of the boxes holds no number."), undefined;
    if (!given.readings.length) return (verdict.textContent = ""), undefined;
    try {
      const found = diagnose(this.data.diagnosis, given.readings, given.flow);
      const next = found.read.length ? `Read the gauge at ${found.read[0]} ${found.running ? "with water running" : "with the outlet shut"}.` : "";
      verdict.textContent = !found.fits ? "Nothing that was tried agrees with the readings: read the gauges again." : found.decided ? "Decided." : ["Not decided.", next].filter(Boolean).join(" ");
      list.replaceChildren(...found.causes.map((cause) => this.#line(cause)));
    } catch (error) {
      verdict.textContent = error instanceof Error ? error.message : String(error);
    }
  }

  /** @param {ReturnType<typeof diagnose>["causes"][number]} cause */
  #line(cause) {
    const shown = (/** @type {number | null} */ value, /** @type {string} */ kind, /** @type {number} */ digits) => shownIn(this.data, value, kind, digits);
    const words = [`${Math.round(100 * cause.odds)} % ${cause.cause}`];
    if (cause.from_m !== null) words.push(`${shown(cause.from_m, "station", 0)} to ${shown(cause.to_m, "station", 0)}`);
    if (cause.vent_id) words.push(`below ${cause.vent_id}`);
    if (cause.height_m !== null) words.push(shown(cause.height_m, "length", 1));
    if (cause.flow_m3_s !== null) words.push(`${shown(cause.flow_m3_s, "leak", 0)} at rest`);
    return Object.assign(document.createElement("li"), { textContent: `${words.join(", ")}. ${cause.next}` });
  }

  async record() {
    const given = this.#readings();
    if (!given?.readings.length) return this.say("Give a reading first.");
    for (const each of given.readings)
      await this.log.add({ kind: "reading", of: each.tap, gauge_kpa: each.kpa, flow_m3_s: each.running ? given.flow : 0 });
    this.say("Readings recorded");
  }
}
