// @ts-check
/** The test of each section: what the gauge, the drum and the watch showed, and what that comes to. */

import { shownIn } from "./cards.js";
import { judgeSection, sectionSaid } from "./verdict.js";

/** Member of a record, kind of quantity, digits shown. @type {[string, string][]} */
const READ = [["gauge_kpa", "pressure"], ["water_m3", "drum"], ["lasted_s", "minutes"]];

export class Tests {
  /** @param {any} data of the sheet @param {import("./log.js").Log} log @param {(text: string) => void} say */
  constructor(data, log, say) {
    this.data = data;
    this.log = log;
    this.say = say;
    /** @type {HTMLElement[]} */
    this.forms = [...document.querySelectorAll("[data-test]")].map((form) => /** @type {HTMLElement} */ (form));
    const drafts = log.store.drafts();
    for (const form of this.forms) {
      for (const box of this.#boxes(form)) {
        const draft = ["test", form.dataset.test, box.name].join(" ");
        box.value = drafts[draft] ?? box.value;
        box.addEventListener("input", () => log.store.draft(draft, box.value || null));
      }
      const asks = () => {
        const step = this.#boxes(form).find((box) => box.name === "step")?.value;
        for (const each of /** @type {NodeListOf<HTMLElement>} */ (form.querySelectorAll("[data-step]"))) each.hidden = each.dataset.step !== step;
      };
      form.addEventListener("input", asks);
      asks();
      form.querySelector("button")?.addEventListener("click", () => this.#record(form));
    }
  }

  /** @param {HTMLElement} form */
  #boxes(form) {
    const boxes = /** @type {(HTMLInputElement | HTMLSelectElement)[]} */ ([.../** @type {HTMLFieldSetElement} */ (form).elements]);
    return boxes.filter((box) => box.name);
  }

  /** @param {HTMLElement} form */
  async #record(form) {
    const boxes = new Map(this.#boxes(form).map((box) => [box.name, box]));
    /** @type {any} */
    const part = { kind: "reading", of: form.dataset.test ?? null, step: boxes.get("step")?.value };
    for (const [name, kind] of READ) {
      const text = boxes.get(name)?.value.trim() ?? "";
      if (!text) continue;
      const number = Number(text.replace(",", ".").replace("\u2212", "-")) / this.data.units[kind].factor;
      if (!Number.isFinite(number) || (kind !== "pressure" && number < 0)) return this.say(`That is no number: ${text}`);
      part[name] = number;
    }
    if (part.gauge_kpa === undefined) return this.say("Give what the gauge at the pump shows.");
    await this.log.add(part);
    for (const [name] of READ) {
      const box = boxes.get(name);
      if (box) box.value = "";
      this.log.store.draft(["test", form.dataset.test, name].join(" "), null);
    }
    this.say("Recorded");
  }

  /** Tell what the readings of each section come to. @param {import("./records.js").Said[]} records by time */
  show(records) {
    for (const form of this.forms) {
      const test = this.data.tests.find((/** @type {any} */ each) => each.id === form.dataset.test);
      const read = records.filter((said) => said.kind === "reading" && said.of === test.id && said.step && said.time > this.data.tested_until);
      const told = judgeSection(test.steps, /** @type {any} */ (read), test.error_kpa);
      const words = sectionSaid(told, (value, kind) => shownIn(this.data, value, kind, kind === "drum" ? 1 : 0));
      const line = /** @type {HTMLElement} */ (form.querySelector("[role=status]"));
      line.textContent = words;
      line.className = /^fail|^air/.test(words) ? "is-bad" : told.verdict === "passed" ? "is-good" : "";
    }
  }
}
