// @ts-check
/**
 * What people read, in their language: sentences are looked up with their numbers taken out, as in
 * routing/words. A page is watched as a whole: its text and its labels are put into the language as
 * they appear, and into another one when that is chosen. What no catalogue holds stays English;
 * what a person named (translate="no") is left alone.
 */

/**
 * @typedef {{code: string, direction: string, decimal_mark: string, status: string,
 *   date_form?: string, sentences: Record<string, string>}} Words
 */

const UNITS =
  "kWh|kW|MWh|MW|W|km²|km2|km|mm|cm|m³/s|m3/s|m/s²|m/s2|m/s|m³|m3|m²|m2|m|L/s/km²|L/s|L/min|litres|L|kPa|MPa|Pa|bar" +
  "|kN|N|kg/m³|kg/m|kg|ft³/min|ft³/s|ft/s²|ft/s|ft²|ft2|ft³|ft3|ft|yd³|gpm|gallons|US gal|gal|in|psi|lbf|lb|°C|°F|°|degC|degF|%" +
  "|min|mi|h|s|ms";
const WORD = "[\\p{L}\\p{N}_]";
const PIPE =
  "(?<![\\p{L}\\p{N}])(?:PE\\d+|PVC|DI|STEEL)(?: (?:Sch )?[A-Za-z]*[\\d.A-Z]+){1,2} (?:DN/OD [\\d.]+|[\\d./ ]+ in)(?:, " +
  "[A-Z]+ [A-Z]?[\\d.A-Z-]+(?: / (?:[A-Z]+ )?[A-Z]?[\\d.-]+)?(?: \\((?:ex [A-Z]\\d+, )?[A-Z/ -]+\\))?)?";
const DATE = "(?<![\\p{L}\\p{N}_.-])\\d{4}-\\d{2}-\\d{2}(?: \\d{2}:\\d{2})?(?![\\p{N}-])";
/** The name of a currency, or a part of it: it stands behind its amount, after a no-break space. */
const NAMED = "\\p{L}[^\\s\\d,;:·()]*";
const VARIES = new RegExp(
  `“[^”]*”|${PIPE}|${DATE}` +
    `|(?<![\\p{L}\\p{N}])[A-Z]{1,2}\\d+(?!${WORD})` +
    `|(?<![\\p{L}\\p{N}_.])[-−+]?\\d+(?:[.,]\\d+)*(?:[ \u00a0]?(?:${UNITS})(?!${WORD})|(?:\u00a0${NAMED})+)?(?!\\d)`,
  "gu",
);
const SENTENCES = /(?<=[.!?])\s+(?=[A-Z“{])/u;
const JOINTS = [" · ", "; ", ": ", " – ", ", ", " (", " / "];
const ENDS = /^(\s*[(!]?\s*)([^]*?)(\s*[)…:,;.]*\s*)$/u;
/** Parts that are read from left to right as one, with the Latin letters before them. */
const TOGETHER = /(?:[A-Za-z]+(?:[ :]| = ))*\{\d+\}(?:(?: ?[×x±] ?|[:+/-])\{\d+\})*/g;
const LATIN = /[A-Za-z]/;
/** Letters of scripts that run to the left (Hebrew, Arabic and their neighbours). */
const LEFTWARD = /[\u0590-\u08ff]/;
const THOUSANDS = /^[-−+]?\d{1,3}(?:,\d{3})+(?![\d,])/u;
const CURRENCY = /(?<!\p{L})[A-Z]{3}(?!\p{L})/gu;
const UNIT = new RegExp(`^(?:${UNITS})$`, "u");
const LETTER = /\p{L}{2}/u;
const LABELS = ["aria-label", "title", "placeholder", "aria-valuetext", "alt"];

/** @param {string} text @returns {{key: string, parts: string[]}} */
export function normalForm(text) {
  /** @type {string[]} */
  const parts = [];
  const key = text.replace(VARIES, (part) => `{${parts.push(part)}}`);
  return { key, parts };
}

/** What is quoted may be a name of the page itself; where the language runs to the left each part is isolated (UAX 9). @param {Words} words @param {string} sentence @param {string[]} parts */
function filled(words, sentence, parts) {
  /** @param {string} part */
  const put = (part) => {
    if (part.startsWith("“")) return `“${known(words, part.slice(1, -1)) ?? part.slice(1, -1)}”`;
    const day = /^(\d{4})-(\d{2})-(\d{2})(?: |$)/.exec(part);
    if (day) return dated(words, day) + part.slice(10);
    const mark = words.decimal_mark;
    if (mark === "." || !/^[-−+]?\d/.test(part) || part.split(".").length > 2) return part; // a pipe's name or a release is no decimal
    const grouped = THOUSANDS.test(part) ? part.replaceAll(",", "\u00a0") : part;
    return grouped.replace(/(?<=\d)\.(?=\d)/g, mark);
  };
  /** @param {string} told */
  const back = (told) => told.replace(/\{(\d+)\}/g, (_, number) => put(parts[Number(number) - 1] ?? ""));
  if (words.direction === "ltr") return back(sentence);
  const apart = sentence.includes(" · ") || LEFTWARD.test(sentence);
  if (!apart && LATIN.test(sentence)) return isolated(back(sentence), words); // a place keeps its order as a whole
  return sentence.replace(TOGETHER, (told) => isolated(back(told), words));
}

/** @param {Words} words @param {RegExpExecArray} day */
const dated = ({ date_form: form = "{y}-{m}-{d}" }, [, y, m, d]) =>
  form.replace("{y}", y).replace("{m}", m).replace("{d}", d);

/** @param {Words} words @param {string} key */
function known(words, key) {
  const { sentences } = words;
  if (Object.hasOwn(sentences, key)) return sentences[key];
  const [, head = "", middle = "", tail = ""] = ENDS.exec(key) ?? [];
  if (!middle) return undefined;
  if (Object.hasOwn(sentences, middle)) return head + sentences[middle] + tail;
  const ended = middle + tail.trim().slice(0, 1);
  if (Object.hasOwn(sentences, ended)) return head + sentences[ended];
  const small = middle.slice(0, 1).toLowerCase() + middle.slice(1);
  if (!Object.hasOwn(sentences, small)) return undefined;
  const found = sentences[small];
  return head + found.slice(0, 1).toUpperCase() + found.slice(1) + tail;
}

/** @param {Words} words @param {string} text @returns {string | undefined} */
function whole(words, text) {
  const { key, parts } = normalForm(text);
  const wordless = UNIT.test(text) || !LETTER.test(key.replace(/\{\d+\}/g, "").replace(CURRENCY, ""));
  const found = wordless ? key : known(words, key);
  return found === undefined ? undefined : filled(words, found, parts);
}

/** @param {Words} words @param {string} text @returns {string | undefined} */
function piece(words, text) {
  const found = whole(words, text);
  if (found !== undefined) return found;
  for (const joint of JOINTS) {
    if (!text.includes(joint)) continue;
    const pieces = text.split(joint).map((part) => piece(words, part));
    if (!pieces.includes(undefined)) return pieces.join(joint);
  }
  return undefined;
}

/**
 * Return a text in a language; ``missing`` gets the key of what the catalogue does not hold.
 * @param {Words} words @param {string} text @param {(key: string) => void} [missing]
 * @returns {string}
 */
export function translated(words, text, missing) {
  if (words.code === "en" || !text.trim()) return text;
  const sentences = text.split(SENTENCES);
  const found = piece(words, text);
  if (found !== undefined) return found;
  if (sentences.length > 1) return sentences.map((part) => translated(words, part, missing)).join(" ");
  missing?.(normalForm(text).key);
  return text;
}

/** @type {Words} */
const ENGLISH = { code: "en", direction: "ltr", decimal_mark: ".", status: "source", sentences: {} };
let current = ENGLISH;
/** @type {Set<string>} */
export const missing = new Set();

/** The language of the page. */
export const spokenIn = () => current.code;

/** What the service said in the language of the page, the newest last. @type {string[]} */
const heard = [];
const MOST_HEARD = 20;

/** Keep what the service said in the language of the page from being taken for English. @param {string} text */
export function told(text) {
  if (current.code !== "en" && text) heard.splice(0, heard.push(text) - MOST_HEARD);
  return text;
}

/** @param {string} text */
const isHeard = (text) => heard.some((one) => text.includes(one));

/** Attributes of a part that is drawn from these words: marked where they stay English. @param {string} text */
export function drawnFrom(text) {
  lacking = false;
  const all = t(text) === text;
  if (!lacking || isHeard(text)) return { translate: "no" };
  return { translate: "no", "data-english": "", ...(all ? { lang: "en" } : {}) };
}

/** For text that is drawn and not written. @param {string} text */
export const t = (text) => translated(current, text, (key) => (lacking = Boolean(missing.add(key))));
let lacking = false;

/** A moment as sentences take it, by this machine's clock. @param {string | number} when */
export function moment(when) {
  const at = new Date(when);
  return new Date(at.getTime() - at.getTimezoneOffset() * 60000).toISOString().slice(0, 16).replace("T", " ");
}

const ONE_NUMBER = /^([-−+]?\d+)\.(\d+)(?= |$)/;

/** A quantity in a field with the language's decimal mark, if nobody could take it for thousands. @param {string} text */
export function marked(text) {
  const [, before = "", after = ""] = ONE_NUMBER.exec(text) ?? [];
  const thousands = after.length === 3 && /^[-−+]?[1-9]\d{0,2}$/.test(before);
  return thousands ? text : text.replace(ONE_NUMBER, `$1${current.decimal_mark}$2`);
}

/** @type {WeakMap<Node, {english: string, shown: string}>} */
const texts = new WeakMap();
/** @type {WeakMap<Element, Record<string, {english: string, shown: string}>>} */
const labels = new WeakMap();

/** Text whose marks stay with it where the text around runs to the left (UAX 9). @param {string} text @param {Words} [words] */
const isolated = (text, { direction } = current) => (direction === "rtl" ? `\u2066${text}\u2069` : text);

/** @param {string} english @param {Element | null} within */
function said(english, within) {
  const text = t(english);
  const alone = text === english || current.status === "confirmed" || !within?.closest(".caution, .cautions");
  if (alone) return text;
  return `${text} [${isolated(english)}]`;
}

/** @param {Node} node */
function text(node) {
  const now = node.nodeValue ?? "";
  const before = texts.get(node);
  const english = before && before.shown === now ? before.english : now.replace(/\s+/g, " ");
  lacking = false;
  const shown = current.code === "en" && !before ? now : said(english, node.parentElement);
  texts.set(node, { english, shown });
  if (shown !== now) node.nodeValue = shown;
  if (node.parentElement) markEnglish(node.parentElement, lacking && !isHeard(english), shown === english);
}

/**
 * Say of words that they are English for want of others, to the eye, and to what reads them aloud
 * (WCAG 2.2, 3.1.2). @param {Element} node @param {boolean} some @param {boolean} all
 */
function markEnglish(node, some, all) {
  if (some) {
    node.setAttribute("data-english", "");
    if (all) node.setAttribute("lang", "en");
  } else if (node.hasAttribute("data-english")) for (const name of ["data-english", "lang"]) node.removeAttribute(name);
}

/** @param {Element} node */
function label(node) {
  for (const name of LABELS) {
    const now = node.getAttribute(name);
    if (!now) continue;
    const kept = labels.get(node) ?? {};
    const english = kept[name]?.shown === now ? kept[name].english : now;
    const shown = t(english);
    kept[name] = { english, shown };
    labels.set(node, kept);
    if (shown !== now) node.setAttribute(name, shown);
  }
}

/** @param {Node} node */
const spared = (node) => {
  const within = node.nodeType === 1 ? /** @type {Element} */ (node) : node.parentElement;
  return Boolean(within?.closest("[translate=no], script, noscript, style, textarea, code, pre"));
};

/** @param {Node} root */
function put(root) {
  if (spared(root)) return;
  if (root.nodeType === 3) return text(root);
  if (root.nodeType !== 1 && root.nodeType !== 9) return;
  if (root.nodeType === 1) label(/** @type {Element} */ (root));
  const walk = document.createTreeWalker(root, NodeFilter.SHOW_ELEMENT | NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    if (spared(node)) continue;
    if (node.nodeType === 3) text(node);
    else label(/** @type {Element} */ (node));
  }
}

/** @type {MutationObserver | null} */
let watching = null;

/**
 * Put the page into a language, and keep it there.
 * @param {Words} words
 */
export function speak(words) {
  current = words;
  document.documentElement.lang = words.code;
  document.documentElement.dir = words.direction;
  put(document.body);
  if (words.code !== "en") watch();
  document.dispatchEvent(new Event("leatline:language")); // what is written anew then is watched already
}

/** Put into the language what appears from now on. */
function watch() {
  if (watching) return;
  watching = new MutationObserver((changes) => {
    for (const change of changes) {
      if (change.type === "childList") change.addedNodes.forEach(put);
      else if (change.type === "characterData") put(change.target);
      else if (!spared(change.target)) label(/** @type {Element} */ (change.target));
    }
  });
  const what = { childList: true, characterData: true, subtree: true, attributeFilter: LABELS };
  watching.observe(document.body, what);
}

/**
 * Put the page into a language when its letters are there: text that was shown without them stays
 * boxes in some browsers.
 * @param {Words} words
 */
export async function speakInLetters(words) {
  const some = Object.values(words.sentences).slice(0, 40).join("");
  await document.fonts.load("16px 'Leatline letters'", some).catch(() => []);
  speak(words);
}
