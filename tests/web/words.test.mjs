import assert from "node:assert/strict";
import test from "node:test";

globalThis.document = { documentElement: {}, body: { nodeType: 0 }, createTreeWalker: () => ({ nextNode: () => null }), dispatchEvent() {} };
globalThis.MutationObserver = class { observe() {} };

const { marked, moment, speak, t } = await import("../../web/js/words.js");
const German = { code: "de", direction: "ltr", decimal_mark: ",", date_form: "{d}.{m}.{y}", status: "draft", sentences: { cover: "Überdeckung" } };

test("marked: the decimal mark of the language, unless it could be read as thousands", () => {
  speak(German);
  const shown = ["0.8 m", "1.25 m", "-0.005", "1.234 m", "12.345 L/s", "1234.5 m", "18 L/s", "", "PE100-SDR17-200", "0.1.0"].map(marked);
  assert.deepEqual(shown, ["0,8 m", "1,25 m", "-0,005", "1.234 m", "12.345 L/s", "1234,5 m", "18 L/s", "", "PE100-SDR17-200", "0.1.0"]);
});

test("t: words that are drawn are put into the language of the page", () => {
  speak(German);
  assert.equal(`${t("cover")} ${t("0.8 m")}`, "Überdeckung 0,8 m");
});

test("the name of a pipe keeps its points", () => {
  speak({ ...German, sentences: { "{1} holds {2}": "{1} hält {2}" } });
  assert.equal(t("STEEL Sch STD 4 in, ASME B36.10M holds 1.5 m"), "STEEL Sch STD 4 in, ASME B36.10M hält 1,5 m");
});

test("moment: by this machine's clock, in the order of the language", () => {
  const at = moment(new Date(2026, 10, 5, 14, 7).getTime());
  assert.equal(at, "2026-11-05 14:07");
  speak(German);
  assert.equal(t(at), "05.11.2026 14:07");
});

test("papers of a study speak the language of the page unless its settings name one", async () => {
  const { emptyPlan, withLine } = await import("../../web/js/plan.js");
  const { bodyOf } = await import("../../web/js/study-doc.js");
  const plan = emptyPlan();
  speak({ ...German, code: "en", sentences: {} });
  assert.equal(bodyOf(plan).settings.study.language, undefined);
  speak(German);
  assert.deepEqual(bodyOf(plan).settings.study, { language: "de", units: "metric" });
  const told = withLine(plan, { settings: { study: { language: "ne" } } });
  assert.equal(bodyOf(told).settings.study.language, "ne");
});

test("a line is called in the language of the page until it is named", async () => {
  const { emptyPlan, freshName } = await import("../../web/js/plan.js");
  speak({ ...German, code: "en", sentences: {} });
  assert.equal(emptyPlan().lines[0].name, "Line A");
  speak({ ...German, sentences: { Line: "Linie" } });
  assert.equal(emptyPlan().lines[0].name, "Linie A");
  assert.equal(freshName(emptyPlan()), "Linie B");
});
