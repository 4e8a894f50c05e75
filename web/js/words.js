// @ts-check
/** The words of the page in the reader's language; English is what stands in the code. */

/** @typedef {{name: string, dir?: "rtl", words: () => Promise<Record<string, string>>}} Language */

/** A language is one row: its own name, and where its words are. @type {Record<string, Language>} */
export const LANGUAGES = {
  en: { name: "English", words: async () => ({}) },
};

const KEY = "leatline-language";
const ATTRIBUTES = ["aria-label", "title", "placeholder"];
/** @type {Record<string, string>} */
let spoken = {};

/** A sentence in the reader's language; ``{name}`` in it is replaced. @param {string} english @param {Record<string, string | number>} [values] */
export function t(english, values) {
  const text = spoken[english] ?? english;
  return values ? text.replace(/\{(\w+)\}/g, (whole, name) => String(values[name] ?? whole)) : text;
}

/** @param {Storage | null} storage */
export function languageOf(storage) {
  const kept = storage?.getItem(KEY);
  const own = [kept, ...navigator.languages.map((tag) => tag.split("-")[0])];
  return own.find((code) => code && code in LANGUAGES) ?? "en";
}

/** Speak a language from here on: the document says which, its own words are put into it. @param {string} code */
export async function speak(code) {
  const { dir = "ltr", words } = LANGUAGES[code];
  spoken = await words();
  Object.assign(document.documentElement, { lang: code, dir });
  if (Object.keys(spoken).length) translate(document.body);
}

/** @param {HTMLElement} root */
function translate(root) {
  const walk = document.createTreeWalker(root, NodeFilter.SHOW_TEXT | NodeFilter.SHOW_ELEMENT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    if (node instanceof Element) {
      for (const name of ATTRIBUTES) {
        const words = node.getAttribute(name);
        if (words) node.setAttribute(name, t(words));
      }
    } else {
      const words = node.nodeValue?.trim();
      if (words) node.nodeValue = (node.nodeValue ?? "").replace(words, t(words));
    }
  }
}

/** The control that chooses; the page begins anew in the language chosen. @param {HTMLSelectElement} select @param {Storage | null} storage */
export function languages(select, storage) {
  select.replaceChildren(...Object.entries(LANGUAGES).map(([code, { name }]) => new Option(name, code)));
  select.value = document.documentElement.lang;
  select.addEventListener("change", () => {
    storage?.setItem(KEY, select.value);
    location.reload();
  });
}
