// @ts-check
/** What goes along the line in stretches: grades, pipes, bridges and what is crossed. Pure. */

import { KINDS } from "./land.js";

/** @typedef {import("./types.js").Model} Model */
/** ``look`` names the fill. @typedef {{from: number, to: number, words: string, short: string, look: string}} Stretch */

const FLAT = 0.0005;

/** @param {number} grade rise over length */
export function gradeWords(grade) {
  if (Math.abs(grade) < FLAT) return "level";
  const percent = Math.abs(grade) * 100;
  return `${grade < 0 ? "−" : "+"}${percent < 10 ? percent.toFixed(1) : Math.round(percent)} %`;
}

/** A pipe in few letters: its class and size. @param {import("./types.js").Pipe} pipe */
const pipeWords = ({ label }) => label.split(",")[0];

/**
 * Rows of stretches from the top: grade of each straight, pipe and its class, where no trench is dug
 * or others' land is crossed.
 * @param {Model} model @returns {{name: string, stretches: Stretch[]}[]}
 */
export function bandsOf(model) {
  const grades = (model.grades ?? []).map(({ from_m, to_m, grade }, i) => ({
    from: from_m, to: to_m, words: gradeWords(grade), short: "", look: grade > FLAT ? "rise" : i % 2 ? "odd" : "even",
  }));
  const pipes = model.pipes.map((pipe, i) => ({
    from: pipe.from_m, to: pipe.to_m, words: pipeWords(pipe), short: pipeWords(pipe).split(" ").slice(1, 2).join(""), look: i % 2 ? "odd" : "even",
  }));
  const spans = model.trench.spans.map(({ from_m, to_m }) => ({ from: from_m, to: to_m, words: "", short: "", look: "span" }));
  const crossed = (model.crossings ?? []).map((each) => ({
    from: each.station_m, to: each.to_m, words: `${each.id} ${each.name || KINDS[each.kind]?.words || each.kind}`, short: each.id, look: each.kind === "no-go" ? "no-go" : each.to_m > each.station_m ? "land" : "across",
  }));
  return [
    { name: "Grade", stretches: grades },
    { name: "Pipe", stretches: pipes },
    { name: "Land", stretches: crossed.toSorted((a, b) => Number(a.to === a.from) - Number(b.to === b.from)) },
    { name: "Bridge", stretches: spans },
  ].filter(({ stretches }) => stretches.length);
}
