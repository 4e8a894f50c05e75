// @ts-check
/**
 * What gauge readings say of the line: the rule of `works diagnose`, without reception. Every single
 * cause and every pair is tried in all places and sizes; errors of gauges and levels give the odds.
 */

import { between, inverse, logBetween, logSum } from "./odds.js";

export const [PREDICTED, LOW, AIR, LEAK, BLOCKED] = ["as predicted", "intake low", "air", "leak", "blockage"];
const ORDER = [PREDICTED, LOW, AIR, LEAK, BLOCKED];
const SIZES = 50; // of a leak and of trapped air
const HOPELESS = 90; // squares of standard errors worse than the best, from which a guess weighs nothing
const MOST_STATIC = 0.9; // of the pressure at rest that a leak may take

/**
 * @typedef {{id: string, station: number, level: number, scale_m: number, level_sd: number}} Tap heads in m
 * @typedef {{taps: Tap[], intake: number, range: number, gravity: number, weight: number, design: number | null,
 *   losses: {flow_m3_s: number[], at_m: number[], lost_m: {at_flow_m: number[]}[], area_m2: number[], static_m: number[], limbs: {from_m: number, to_m: number, height_m: number}[]},
 *   vents: [string, number][], number: {[name: string]: number}}} Model
 * @typedef {{tap: string, kpa: number, running: boolean}} Reading
 * @typedef {{causes: string[], n: number, effect: (i: number, j: number) => number, log: (i: number) => number, place: (i: number) => number[],
 *   size: (i: number) => number, limb: (i: number) => number, slope?: (i: number, j: number) => number, most?: (i: number) => number, per?: number, rows?: number, even?: boolean}} Guess
 * @typedef {{guess: Guess, log: Float64Array, best: Float64Array, misfit: Float64Array, total: number}} Fitted
 */

/** A cause in several places, each with an open size. @param {string} cause @param {number[][]} slope @param {number[]} most @param {number[][]} place @param {number[]} limb @param {number} range @returns {Guess} */
function even(cause, slope, most, place, limb, range) {
  const n = slope.length;
  return {
    causes: [cause], n, effect: () => 0, log: () => -Math.log(n), place: (i) => place[i], size: () => NaN,
    limb: (i) => limb[i], slope: (i, j) => slope[i][j], most: (i) => most[i], per: 1 / range,
  };
}

/** The same with every size written out. @param {Guess} one @returns {Guess} */
function spread(one) {
  const most = /** @type {(i: number) => number} */ (one.most), slope = /** @type {(i: number, j: number) => number} */ (one.slope);
  const size = (/** @type {number} */ i) => (most(Math.floor(i / SIZES)) * ((i % SIZES) + 0.5)) / SIZES;
  return {
    causes: one.causes, n: one.n * SIZES, size, effect: (i, j) => slope(Math.floor(i / SIZES), j) * size(i),
    log: (i) => one.log(0) + Math.log((most(Math.floor(i / SIZES)) * (one.per ?? 1)) / SIZES),
    place: (i) => one.place(Math.floor(i / SIZES)), limb: (i) => one.limb(Math.floor(i / SIZES)),
  };
}

/** A pair: the first cause's sizes written out, the second's open. @param {Guess} first @param {Guess} second @param {((i: number, j: number, slope: number) => number)} [scaled] @returns {Guess} */
function pair(first, second, scaled) {
  const k = second.n;
  const slope = /** @type {(i: number, j: number) => number} */ (second.slope);
  const [a, b] = [(/** @type {number} */ i) => Math.floor(i / k), (/** @type {number} */ i) => i % k];
  return {
    causes: [...first.causes, ...second.causes], n: first.n * k, effect: (i, j) => first.effect(a(i), j),
    log: (i) => first.log(a(i)) + second.log(b(i)), place: (i) => [...first.place(a(i)), ...second.place(b(i))],
    size: (i) => first.size(a(i)), limb: (i) => Math.max(first.limb(a(i)), second.limb(b(i))),
    slope: scaled ? (i, j) => scaled(i, j, slope(b(i), j)) : (i, j) => slope(b(i), j),
    most: (i) => /** @type {any} */ (second.most)(b(i)), per: second.per, rows: k, even: !scaled,
  };
}

/** A leak of each size in each place. @param {Model} model @param {number | null} flow @returns {Guess} */
function leaks(model, flow) {
  const { losses, taps, range, gravity } = model;
  const count = losses.at_m.length - taps.length, flows = losses.flow_m3_s, run = flow ?? 0;
  const columns = losses.at_m.map((_, p) => losses.lost_m.map((row) => row.at_flow_m[p]));
  const m = taps.length * (flow === null ? 1 : 2);
  /** @type {{place: number, size: number, log: number, effect: Float64Array}[]} */
  const rows = [];
  let places = 0;
  for (let p = 0; p < count; p += 1) {
    const rest = losses.static_m[p], drop = Math.min(MOST_STATIC * rest, columns[p][flows.length - 1]);
    if (drop <= 0) continue;
    places += 1;
    const ratio = flow === null ? 0 : Math.sqrt(Math.max(rest - between(run, flows, columns[p]), 0) / Math.max(rest, 1e-9));
    for (let s = 0; s < SIZES; s += 1) {
      const leak = between((drop * (s + 0.5)) / SIZES, columns[p], flows);
      const effect = new Float64Array(m);
      for (let state = 0; state * taps.length < m; state += 1) {
        const before = state * run, both = before + (state ? leak * ratio : leak);
        taps.forEach((tap, k) => {
          const column = tap.station >= losses.at_m[p] ? p : count + k;
          const more = between(both, flows, columns[column]) - between(before, flows, columns[column]);
          const fast = column === p ? 0 : (both ** 2 - before ** 2) / (2 * gravity * losses.area_m2[column] ** 2);
          effect[state * taps.length + k] = -more - fast;
        });
      }
      rows.push({ place: losses.at_m[p], size: leak, log: Math.log(drop / SIZES / range), effect });
    }
  }
  return {
    causes: [LEAK], n: rows.length, effect: (i, j) => rows[i].effect[j], log: (i) => rows[i].log - Math.log(places),
    place: (i) => [rows[i].place, rows[i].place], size: (i) => rows[i].size, limb: () => -1,
  };
}

/** The explanations asked for last: from keystroke to keystroke only the readings change. @type {{model: Model | null, flow: number | null, runs: boolean, guesses: Guess[]}} */
let known = { model: null, flow: null, runs: false, guesses: [] };

/** Every cause and every pair. @param {Model} model @param {number | null} flow @param {boolean} runs @returns {Guess[]} */
function explanations(model, flow, runs) {
  if (known.model !== model || known.flow !== flow || known.runs !== runs) known = { model, flow, runs, guesses: thought(model, flow, runs) };
  return known.guesses;
}

/** @param {Model} model @param {number | null} flow @param {boolean} runs @returns {Guess[]} */
function thought(model, flow, runs) {
  const { taps, range } = model, half = taps.length, limbs = model.losses.limbs;
  const at = flow === null ? taps.map((tap) => tap.station) : [...taps, ...taps].map((tap) => tap.station);
  const none = /** @type {Guess} */ ({ causes: [PREDICTED], n: 1, effect: () => 0, log: () => 0, place: () => [0, 0], size: () => 0, limb: () => -1 });
  const low = even(LOW, [at.map(() => -1)], [range], [[0, 0]], [-1], range);
  const leak = leaks(model, flow);
  const found = [none, low, leak, pair(leak, low)];
  const air = limbs.length
    ? even(AIR, limbs.map((limb) => at.map((s) => (s > limb.from_m ? -1 : 0))), limbs.map((limb) => limb.height_m), limbs.map((limb) => [limb.from_m, limb.to_m]), limbs.map((_, i) => i), range)
    : null;
  if (air) found.push(air, pair(spread(air), low), pair(leak, air));
  if (flow === null) return found;
  const ends = [...new Set(taps.map((tap) => tap.station))].filter((s) => s > 0).sort((a, b) => a - b);
  if (!ends.length) return found;
  const parts = ends.map((end, i) => [i ? ends[i - 1] : 0, end]);
  const blocked = even(BLOCKED, parts.map(([, end]) => at.map((s, j) => (s >= end && j >= half ? -1 : 0))), parts.map(() => range), parts, parts.map(() => -1), range);
  const running = (/** @type {number} */ b, /** @type {number} */ j) => /** @type {any} */ (blocked.slope)(b, half + (j % half));
  // A leak below a blockage draws more through it, and some at rest too.
  found.push(pair(leak, blocked, (i, j) => {
    const b = i % blocked.n, a = Math.floor(i / blocked.n), part = parts[b];
    const more = leak.place(a)[0] > 0.5 * (part[0] + part[1]) ? leak.size(a) / flow : 0;
    return running(b, j) * (j < half ? more ** 2 : (1 + more) ** 2);
  }));
  if (runs) {
    found.push(blocked, pair(spread(blocked), low));
    if (air) found.push(pair(spread(air), blocked));
  }
  return found;
}

/**
 * Hold an explanation against readings. The integral over the open size is a normal density cut off at both ends.
 * @param {Guess} guess @param {number[]} seen @param {number[]} wet @param {number[][]} stiffness @param {{least: number}} best so far
 * @returns {Fitted}
 */
function fit(guess, seen, wet, stiffness, best) {
  const k = wet.length, { n } = guess, rows = guess.rows ?? 1; // guesses one after the other that share an effect
  const [log, size, misfit] = [new Float64Array(n), new Float64Array(n), new Float64Array(n)];
  const [rest, pull] = [new Float64Array(k), new Float64Array(k)];
  const flat = Float64Array.from(stiffness.flat());
  // Slopes of the open size, and how stiffly the readings hold it: the same for every first cause.
  const slopes = new Float64Array(rows * k), stiffs = new Float64Array(rows);
  let square = 0;
  for (let i = 0; i < n; i += 1) {
    const b = i % rows;
    if (b === 0) {
      square = 0;
      for (let r = 0; r < k; r += 1) rest[r] = seen[r] - guess.effect(i, wet[r]);
      for (let r = 0; r < k; r += 1) {
        let sum = 0;
        for (let c = 0; c < k; c += 1) sum += flat[r * k + c] * rest[c];
        pull[r] = sum;
        square += sum * rest[r];
      }
    }
    log[i] = guess.log(i) - 0.5 * square;
    misfit[i] = square;
    if (guess.slope && guess.most) {
      if (i < rows || !guess.even) {
        let stiff = 0;
        for (let r = 0; r < k; r += 1) slopes[b * k + r] = guess.slope(i, wet[r]);
        for (let r = 0; r < k; r += 1)
          if (slopes[b * k + r]) for (let c = 0; c < k; c += 1) stiff += slopes[b * k + r] * flat[r * k + c] * slopes[b * k + c];
        stiffs[b] = Math.max(stiff, 1e-12);
      }
      let along = 0;
      for (let r = 0; r < k; r += 1) along += slopes[b * k + r] * pull[r];
      const stiff = stiffs[b], middle = along / stiff, root = Math.sqrt(stiff), most = guess.most(i);
      size[i] = Math.min(Math.max(middle, 0), most);
      misfit[i] = square - size[i] * (2 * along - size[i] * stiff);
      if (misfit[i] > best.least + HOPELESS) log[i] = -Infinity;
      else log[i] += 0.5 * stiff * middle ** 2 + 0.5 * Math.log((2 * Math.PI) / stiff) + logBetween(-middle * root, (most - middle) * root) + Math.log(guess.per ?? 1);
    }
    if (misfit[i] < best.least) best.least = misfit[i];
  }
  return { guess, log, best: size, misfit, total: 0 };
}

/**
 * Return what readings say. Throws an Error in plain words where they cannot be.
 * @param {Model} model @param {Reading[]} readings @param {number | null} flow while it ran [m3/s]
 */
export function diagnose(model, readings, flow) {
  const runs = readings.some((each) => each.running);
  if (!readings.length) throw new Error("There is no reading yet.");
  if (runs && !flow) throw new Error("Give the flow at which it ran.");
  const { taps, number } = model, half = taps.length, given = flow ?? model.design;
  const fullScale = (/** @type {Tap} */ tap) => 1.5 * Math.max(tap.scale_m, 1e-3);
  const index = new Map(taps.map((tap, k) => [tap.id, k]));
  const spots = readings.map((each) => (index.get(each.tap) ?? 0) + half * Number(each.running));
  const seen = readings.map((each, r) => {
    const tap = taps[spots[r] % half], head = each.kpa / model.weight;
    if (!(each.kpa >= 0 && head <= fullScale(tap))) throw new Error(`${each.kpa} at ${tap.id} cannot be: check the unit and the gauge's zero.`);
    return head + tap.level;
  });
  const gauge = taps.map((tap) => (number.gauge_class / 100) * tap.scale_m);
  const error = taps.map((tap, k) => Math.hypot(gauge[k], tap.level_sd));
  const wetRows = readings.map((_, r) => r).filter((r) => readings[r].kpa > 0);
  const wet = wetRows.map((r) => spots[r]);
  const cover = wet.map((one, r) => wet.map((two, c) => (r === c ? gauge[one % half] ** 2 : 0) + (one % half === two % half ? taps[one % half].level_sd ** 2 : 0)));
  const base = baseHeads(model, given);
  const stiffness = wet.length ? inverse(cover) : [];
  const dry = spots.filter((_, r) => !(readings[r].kpa > 0));
  const differ = wetRows.map((r) => seen[r] - base[spots[r]]), least = { least: Infinity };
  const found = explanations(model, given, runs).map((guess) => {
    const fitted = fit(guess, differ, wet, stiffness, least);
    for (let i = 0; dry.length && i < guess.n; i += 1) {
      let square = 0;
      for (const spot of dry) square += (Math.max(base[spot] + added(fitted, i, spot) - taps[spot % half].level, 0) / error[spot % half]) ** 2;
      fitted.log[i] -= 0.5 * square;
      fitted.misfit[i] += square;
    }
    fitted.total = logSum(fitted.log);
    return fitted;
  });
  return weighed(model, found, base, error, spots);
}

/** Head of every reading with nothing wrong: each tap shut, then each running. @param {Model} model @param {number | null} flow */
function baseHeads(model, flow) {
  const { taps, losses } = model, first = losses.at_m.length - taps.length;
  const rest = taps.map(() => model.intake);
  if (flow === null) return rest;
  return [...rest, ...taps.map((_, k) => {
    const lost = between(flow, losses.flow_m3_s, losses.lost_m.map((row) => row.at_flow_m[first + k]));
    return model.intake - lost - flow ** 2 / (2 * model.gravity * losses.area_m2[first + k] ** 2);
  })];
}

/** What a guess adds to a head, its open size at its best. @param {Fitted} fitted @param {number} i @param {number} j */
const added = ({ guess, best }, i, j) => guess.effect(i, j) + (guess.slope ? guess.slope(i, j) * best[i] : 0);

/** @param {Model} model @param {Fitted[]} found @param {number[]} base @param {number[]} error @param {number[]} spots */
function weighed(model, found, base, error, spots) {
  const { number, taps } = model, half = taps.length;
  const before = (/** @type {string[]} */ causes) => Math.log(causes[0] === PREDICTED ? number.odds_predicted : causes.length === 1 ? number.odds_one : number.odds_two);
  const totals = found.map((each) => each.total + before(each.guess.causes));
  const all = logSum(totals), share = totals.map((total) => Math.exp(total - all));
  /** @type {{[cause: string]: number}} */
  const odds = Object.fromEntries(ORDER.map((cause) => [cause, 0]));
  found.forEach((each, e) => each.guess.causes.forEach((cause) => (odds[cause] += share[e])));
  const top = share.indexOf(Math.max(...share)), best = found[top];
  const misfit = best.misfit.reduce((a, b) => Math.min(a, b), Infinity);
  const fits = misfit <= spots.length + 4 * Math.sqrt(2 * spots.length);
  const causes = ORDER.filter((cause) => odds[cause] >= 0.005 || best.guess.causes.includes(cause))
    .map((cause) => told(model, cause, odds[cause], found, share))
    .sort((a, b) => b.odds - a.odds);
  const unnamed = causes.some((each) => each.cause === AIR && each.odds > 0.5 && each.vent_id === null);
  const rival = rivals(model, found, top, misfit, base, error, spots);
  const wholly = spots.every((spot) => spot < half);
  if (wholly && rival.slice(0, half).some(Boolean)) rival.fill(0, half); // water at rest is read first
  const overturned = rival.some(Boolean);
  const read = overturned ? rival.indexOf(Math.max(...rival)) : telling(found, share, base, error, spots);
  // However unlikely before: what fits so much better has not been ruled out.
  const closest = found.reduce((least, each) => each.misfit.reduce((a, b) => Math.min(a, b), least), Infinity);
  // A leak below a blockage reads like that blockage with air: the leak's flow is taken without it.
  const alike = best.guess.causes.length === 2 && [AIR, BLOCKED].every((each) => best.guess.causes.includes(each));
  const sure = !alike && share[top] >= number.odds_decided && fits && misfit - closest <= number.rival_misfit;
  const decided = sure && !overturned && !(unnamed && read !== null);
  return {
    decided, fits, causes,
    read: decided || read === null ? [] : [taps[read % half].id],
    running: !decided && read !== null && read >= half,
  };
}

/** How far each reading yet to be taken could overturn the best explanation. @param {Model} model @param {Fitted[]} found @param {number} top @param {number} misfit @param {number[]} base @param {number[]} error @param {number[]} spots */
function rivals(model, found, top, misfit, base, error, spots) {
  const half = error.length, best = found[top], rival = base.map(() => 0);
  const peak = best.log.indexOf(best.log.reduce((a, b) => Math.max(a, b), -Infinity));
  const heads = base.map((_, j) => added(best, peak, j));
  found.forEach((each, e) => {
    if (e === top) return;
    for (let i = 0; i < each.guess.n; i += 1) {
      if (each.misfit[i] > misfit + model.number.rival_misfit) continue;
      const near = Math.exp(-0.5 * (each.misfit[i] - misfit));
      for (let j = 0; j < base.length; j += 1) {
        const apart = Math.abs(added(each, i, j) - heads[j]) / error[j % half];
        if (apart > 2 * model.number.gauge_sigmas) rival[j] = Math.max(rival[j], apart * near);
      }
    }
  });
  for (const spot of spots) rival[spot] = 0;
  return rival;
}

/** The reading on which what is left differs most; null where none tells anything. @param {Fitted[]} found @param {number[]} share @param {number[]} base @param {number[]} error @param {number[]} spots */
function telling(found, share, base, error, spots) {
  const [sums, squares] = [base.map(() => 0), base.map(() => 0)];
  found.forEach((each, e) => {
    if (share[e] < 1e-4) return;
    for (let i = 0; i < each.guess.n; i += 1) {
      if (each.log[i] === -Infinity) continue;
      const own = Math.exp(each.log[i] - each.total) * share[e];
      if (own < 1e-7) continue;
      for (let j = 0; j < base.length; j += 1) {
        const change = added(each, i, j);
        sums[j] += own * change;
        squares[j] += own * change ** 2;
      }
    }
  });
  const spreads = base.map((_, j) => (spots.includes(j) ? 0 : Math.sqrt(Math.max(squares[j] - sums[j] ** 2, 0)) / error[j % error.length]));
  const most = spreads.indexOf(Math.max(...spreads));
  return spreads[most] >= 1 ? most : null;
}

/** One cause with place and size. @param {Model} model @param {string} cause @param {number} odds @param {Fitted[]} found @param {number[]} share */
function told(model, cause, odds, found, share) {
  const empty = { cause, odds, from_m: /** @type {number | null} */ (null), to_m: /** @type {number | null} */ (null), height_m: /** @type {number | null} */ (null), flow_m3_s: /** @type {number | null} */ (null), vent_id: /** @type {string | null} */ (null), next: NEXT[cause] };
  /** @type {{own: number, from: number, to: number, size: number, limb: number}[]} */
  const held = [];
  found.forEach((each, e) => {
    const at = each.guess.causes.indexOf(cause);
    if (at < 0 || share[e] < 1e-9 || cause === PREDICTED) return;
    const open = Boolean(each.guess.slope) && at === each.guess.causes.length - 1;
    for (let i = 0; i < each.guess.n; i += 1) {
      if (each.log[i] === -Infinity) continue;
      const own = Math.exp(each.log[i] - each.total) * share[e];
      if (own < 1e-7) continue;
      const place = each.guess.place(i);
      held.push({ own, from: place[2 * at], to: place[2 * at + 1], size: open ? each.best[i] : each.guess.size(i), limb: each.guess.limb(i) });
    }
  });
  const whole = held.reduce((sum, each) => sum + each.own, 0);
  if (!whole) return empty;
  const size = held.reduce((sum, each) => sum + each.own * each.size, 0) / whole;
  const at = (/** @type {"from" | "to"} */ end, /** @type {number} */ part) => {
    const sorted = [...held].sort((a, b) => a[end] - b[end]);
    let sum = 0;
    for (const each of sorted) if ((sum += each.own / whole) >= part) return each[end];
    return sorted[sorted.length - 1][end];
  };
  const cause1 = { ...empty, ...(cause === LEAK ? { flow_m3_s: size } : { height_m: size }) };
  if (cause !== LOW) Object.assign(cause1, { from_m: at("from", 0.025), to_m: at("to", 0.975) });
  if (cause === AIR) {
    const by = model.losses.limbs.map((_, l) => held.filter((each) => each.limb === l).reduce((sum, each) => sum + each.own, 0) / whole);
    const likely = by.indexOf(Math.max(...by)), limb = model.losses.limbs[likely];
    if (by[likely] >= model.number.odds_decided)
      Object.assign(cause1, { from_m: limb.from_m, to_m: limb.to_m, vent_id: model.vents.find(([, serves]) => Math.abs(serves - limb.from_m) < 1)?.[0] ?? null });
  }
  return cause1;
}

/** What to do about each cause. @type {{[cause: string]: string}} */
const NEXT = {
  [PREDICTED]: "Nothing these gauges can show is wrong. A blockage shows only while water runs, a small leak only as water lost over hours with the intake shut.",
  [LOW]: "Look at the water level at the intake, and whether its screen is clean.",
  [AIR]: "Open the vent there until solid water runs, stand clear of its jet, and read again.",
  [LEAK]: "Walk the stretch for wet ground with the outlet shut; shut the next valve and read on.",
  [BLOCKED]: "See that every valve there is wide open; read on both sides; flush the stretch.",
};
