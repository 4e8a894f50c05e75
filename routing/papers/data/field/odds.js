// @ts-check
/** The mathematics of odds: logarithms of normal probabilities, sums, straight lines, small matrices. Pure. */

/** Straight between points of a rising column. @param {number} x @param {number[]} xs @param {number[]} ys */
export function between(x, xs, ys) {
  let low = 0, high = xs.length - 1;
  if (x <= xs[0]) return ys[0];
  if (x >= xs[high]) return ys[high];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (xs[middle] <= x) low = middle;
    else high = middle;
  }
  return ys[low] + ((ys[high] - ys[low]) * (x - xs[low])) / (xs[high] - xs[low] || 1);
}

/** Logarithm of the complementary error function of z >= 0: a Chebyshev fit, good to 1.2e-7 (Numerical Recipes). @param {number} z */
function logErfc(z) {
  const t = 1 / (1 + 0.5 * z);
  return Math.log(t) - z * z - 1.26551223 + t * (1.00002368 + t * (0.37409196 + t * (0.09678418 + t * (-0.18628806 +
    t * (0.27886807 + t * (-1.13520398 + t * (1.48851587 + t * (-0.82215223 + t * 0.17087277))))))));
}

/** Logarithm of the normal probability below x, also far out. @param {number} x */
export const logBelow = (x) => (x < 0 ? logErfc(-x * Math.SQRT1_2) - Math.LN2 : Math.log1p(-0.5 * Math.exp(logErfc(x * Math.SQRT1_2))));

/** Logarithm of the normal probability between two bounds. @param {number} low @param {number} high */
export function logBetween(low, high) {
  const [a, b] = low > 0 ? [-high, -low] : [low, high];
  const upper = logBelow(b);
  return upper + Math.log(-Math.expm1(Math.min(logBelow(a) - upper, -1e-300)));
}

/** @param {Float64Array | number[]} values */
export function logSum(values) {
  let most = -Infinity;
  for (const value of values) most = Math.max(most, value);
  if (most === -Infinity) return most;
  let sum = 0;
  for (const value of values) sum += Math.exp(value - most);
  return most + Math.log(sum);
}

/** Inverse of a small matrix by elimination. @param {number[][]} matrix */
export function inverse(matrix) {
  const n = matrix.length;
  const rows = matrix.map((row, i) => [...row, ...row.map((_, j) => (i === j ? 1 : 0))]);
  for (let c = 0; c < n; c += 1) {
    const pivot = rows.slice(c).reduce((best, row, k) => (Math.abs(row[c]) > Math.abs(rows[best][c]) ? c + k : best), c);
    [rows[c], rows[pivot]] = [rows[pivot], rows[c]];
    const lead = rows[c][c];
    rows[c] = rows[c].map((value) => value / lead);
    for (let r = 0; r < n; r += 1) if (r !== c) rows[r] = rows[r].map((value, k) => value - rows[r][c] * rows[c][k]);
  }
  return rows.map((row) => row.slice(n));
}
