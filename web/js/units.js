// @ts-check
/** SI numbers to what people read, and what people type to SI. Pure; the service does the same. */

/** @typedef {"metric" | "us"} Units */
/**
 * @typedef {"station"|"elevation"|"length"|"depth"|"diameter"|"pressure"|"head"|"flow"|"air"|"velocity"
 *   |"power"|"volume"|"water"|"concrete"|"temperature"} Kind
 */
/** @typedef {"length" | "area" | "volume" | "flow" | "temperature" | "pressure" | "time" | "angle" | "ratio" | "power"} Dimension */

const FOOT = 0.3048;
const INCH = 0.0254;
const PSI = 4.4482216152605 / INCH ** 2;
const GALLON = 231 * INCH ** 3;

/** Unit, factor from SI, decimals. @type {Record<Units, Record<Kind, [string, number, number]>>} */
export const FORMS = {
  metric: {
    station: ["m", 1, 1],
    elevation: ["m", 1, 2],
    length: ["m", 1, 1],
    depth: ["m", 1, 2],
    diameter: ["mm", 1e3, 0],
    pressure: ["kPa", 1e-3, 0],
    head: ["m", 1, 1],
    flow: ["L/s", 1e3, 1],
    air: ["L/s", 1e3, 1],
    velocity: ["m/s", 1, 2],
    power: ["kW", 1e-3, 2],
    volume: ["m³", 1, 1],
    water: ["m³", 1, 1],
    concrete: ["m³", 1, 3],
    temperature: ["°C", 1, 1],
  },
  us: {
    station: ["ft", 1 / FOOT, 0],
    elevation: ["ft", 1 / FOOT, 1],
    length: ["ft", 1 / FOOT, 0],
    depth: ["ft", 1 / FOOT, 1],
    diameter: ["in", 1 / INCH, 2],
    pressure: ["psi", 1 / PSI, 1],
    head: ["ft", 1 / FOOT, 1],
    flow: ["gpm", 60 / GALLON, 0],
    air: ["ft³/min", 60 / FOOT ** 3, 0],
    velocity: ["ft/s", 1 / FOOT, 2],
    power: ["kW", 1e-3, 2],
    volume: ["yd³", 1 / (3 * FOOT) ** 3, 1],
    water: ["gal", 1 / GALLON, 0],
    concrete: ["yd³", 1 / (3 * FOOT) ** 3, 3],
    temperature: ["°F", 1.8, 0],
  },
};

/** @type {Record<Dimension, Record<string, number>>} */
const FACTORS = {
  length: {
    m: 1, metre: 1, metres: 1, meter: 1, meters: 1, mm: 1e-3, cm: 1e-2, km: 1e3,
    ft: FOOT, foot: FOOT, feet: FOOT, in: INCH, inch: INCH, inches: INCH,
    "US survey foot": 1200 / 3937, "US survey feet": 1200 / 3937,
  },
  flow: {
    "m3/s": 1, "m³/s": 1, "m^3/s": 1, "m3/h": 1 / 3600, "L/s": 1e-3, "l/s": 1e-3,
    "L/min": 1e-3 / 60, "l/min": 1e-3 / 60, gpm: GALLON / 60, cfs: FOOT ** 3, "ft3/s": FOOT ** 3,
  },
  area: {
    m2: 1, "m²": 1, "m^2": 1, km2: 1e6, "km²": 1e6, ha: 1e4, ft2: FOOT ** 2, "ft²": FOOT ** 2, mi2: (5280 * FOOT) ** 2, "mi²": (5280 * FOOT) ** 2,
  },
  volume: { m3: 1, "m³": 1, "m^3": 1, L: 1e-3, l: 1e-3, ft3: FOOT ** 3, "ft³": FOOT ** 3, gal: GALLON },
  time: { s: 1, sec: 1, min: 60, h: 3600 },
  angle: { deg: 1, "°": 1, degree: 1, degrees: 1 },
  power: { W: 1, kW: 1e3, hp: 550 * FOOT * 4.4482216152605 },
  pressure: { Pa: 1, kPa: 1e3, MPa: 1e6, bar: 1e5, psi: PSI },
  ratio: { "%": 1e-2, "": 1 },
  temperature: {},
};

/** @type {Record<Dimension, string>} */
const EXAMPLES = {
  length: "0.9 m or 3 ft",
  flow: "18 L/s or 285 gpm",
  temperature: "8 degC or 46 degF",
  pressure: "10 bar or 160 psi",
  area: "1.2 m² or 13 ft²",
  volume: "6 m³ or 1600 gal",
  time: "8 s or 1.5 min",
  angle: "1 deg",
  power: "8 kW",
  ratio: "0.64 or 64 %",
};

/** @param {number} value @param {Kind} kind @param {Units} units */
export function toShown(value, kind, units) {
  const shown = value * FORMS[units][kind][1];
  return kind === "temperature" && units === "us" ? shown + 32 : shown;
}

/** @param {number} shown @param {Kind} kind @param {Units} units */
export function fromShown(shown, kind, units) {
  const plain = kind === "temperature" && units === "us" ? shown - 32 : shown;
  return plain / FORMS[units][kind][1];
}

/** @param {Kind} kind @param {Units} units */
export const unitOf = (kind, units) => FORMS[units][kind][0];

/**
 * Return a value as text for people; what is missing is a dash.
 * @param {number | null | undefined} value @param {Kind} kind @param {Units} units
 */
export function show(value, kind, units) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const [unit, , decimals] = FORMS[units][kind];
  return `${fixed(toShown(value, kind, units), decimals).replace("-", "−")} ${unit}`;
}

/** @param {number} value @param {number} decimals */
export function fixed(value, decimals) {
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? text.replace("-", "") : text;
}

/**
 * Return a value as the settings take it: a number with its unit, no more digits than it needs.
 * @param {number} value @param {Kind} kind @param {Units} units @param {number} [digits]
 */
export function quantity(value, kind, units, digits) {
  const [unit, , decimals] = FORMS[units][kind];
  const shown = Number(toShown(value, kind, units).toFixed(digits ?? decimals));
  const plain = { "°C": "degC", "°F": "degF" }[unit] ?? unit;
  return `${shown} ${plain}`;
}

/** As the service reads numbers: the mark of decimals is a point or a comma. */
const NUMBER = /^\s*([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$/;
const TWO_WAYS = /^[+-]?(?:[1-9]\d{0,2},\d{3}(?![\d.,])|\d+[.,][\d.,]*[.,]\d*)/;

/**
 * Return the SI value of what a person typed; a bare number is in the unit that is shown.
 * @param {string} text @param {Dimension} dimension @param {string} [bare]
 */
export function parse(text, dimension, bare = "") {
  const match = /^\s*([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$/.exec(text);
  if (/^[+-]?(?:[1-9]\d{0,2},\d{3}(?![\d.,])|\d+[.,][\d.,]*[.,]\d*)/.test(text.trim())) {
    throw new Error(`“${text}” can be read in two ways: write 1234 or 1.234.`);
  }
  if (!match) throw new Error(`“${text}” is not a number with a unit, such as ${EXAMPLES[dimension]}.`);
  const value = Number(match[1].replace(",", "."));
  const unit = match[2] || bare;
  if (dimension === "temperature") {
    if (/^(deg ?|°)?C$/.test(unit)) return value;
    if (/^(deg ?|°)?F$/.test(unit)) return (value - 32) / 1.8;
  }
  const factor = FACTORS[dimension][unit];
  if (factor === undefined) {
    const what = unit ? `the unit “${unit}” is not known here` : "a unit is missing";
    throw new Error(`${text}: ${what}. Write it as, for example, ${EXAMPLES[dimension]}.`);
  }
  return value * factor;
}

/** @param {string} text @param {Dimension} dimension @param {string} [bare] @returns {number | null} */
export function parsedOrNull(text, dimension, bare) {
  try {
    return parse(text, dimension, bare);
  } catch {
    return null;
  }
}

/** Units of written quantities, and what a reader of US units has for them with the factor. @type {Record<string, [string, number]>} */
const WRITTEN = {
  mm: ["in", 1e-3 / INCH], m: ["ft", 1 / FOOT], km: ["mi", 1e3 / (5280 * FOOT)], "m²": ["ft²", 1 / FOOT ** 2], "km²": ["mi²", 1e6 / (5280 * FOOT) ** 2],
  "m³": ["yd³", 1 / (3 * FOOT) ** 3], kPa: ["psi", 1e3 / PSI], "L/s": ["gpm", 6e-2 / GALLON], "°C": ["°F", 1.8],
};
const AMOUNTS = /(?<![\p{L}\p{N}.,])(\d+(?:\.\d+)?(?:(?:, | or | to )\d+(?:\.\d+)?)*) (mm|km²|km|m³|m²|m|kPa|L\/s|°C)(?![\p{L}\p{N}²³/])/gu;

/**
 * Words with metric quantities in the reader's units, to as many figures.
 * @param {string} text @param {Units} units
 */
export function inUnits(text, units) {
  if (units === "metric") return text;
  return text.replace(AMOUNTS, (_, numbers, unit) => {
    const [other, factor] = WRITTEN[unit];
    const more = unit === "°C" ? 32 : 0;
    const put = (/** @type {string} */ each) => {
      const figures = Math.max(2, each.replace(/^0?\.?0*/, "").replace(".", "").length);
      return String(Number((Number(each) * factor + more).toPrecision(figures)));
    };
    return `${numbers.replace(/\d+(?:\.\d+)?/g, put)} ${other}`;
  });
}

const POWER = /((?<=[\d}] )(?:k?m|mm|ft|yd|mi)|(?<=\/)(?:m|s|ft|km))([23])\b/g;

/** Words with raised powers, and degrees as a sign, as on the papers. @param {string} text */
export const raised = (text) =>
  text.replace(POWER, (_, unit, power) => unit + (power === "2" ? "²" : "³")).replaceAll("degC", "°C").replaceAll("degF", "°F");

const PARTED = /(?<=\d) (?=(?:[kM]?Pa|k?N|k?m|mm|ft|in|yd|psi|lbf|gpm|L\/s|s|h|min|kg|kW|kWh)[²³]?(?![\p{L}\p{N}])|[%°])/gu;

/** Words whose numbers are not parted from their units at the end of a row. @param {string} text */
export const together = (text) => text.replace(PARTED, "\u00a0");

/** What is counted in where nothing has a price: no currency, its words are spoken in each language. */
const DIGGING = /^m3 of trench$/;

/**
 * An amount of money; the no-break space makes the currency, whatever its name, a part of the number.
 * @param {string} figure @param {string | null | undefined} currency
 */
export const priced = (figure, currency) =>
  DIGGING.test(currency ?? "") ? raised(`${figure} ${currency}`) : `${figure} ${currency ?? ""}`.trim().replaceAll(" ", "\u00a0");
