// @ts-check
/** Search in the guide: words of what is typed, wherever they stand; works from a file too. */

/** @typedef {{page: string, title: string, heading: string, id: string, text: string}} Part */

(() => {
  const field = /** @type {HTMLInputElement | null} */ (document.getElementById("guide-search"));
  const list = document.getElementById("guide-found");
  if (!field || !list) return;
  const MOST = 12;

  /** @param {Part} part @param {string[]} words */
  const weight = (part, words) => {
    const [title, heading, text] = [part.title, part.heading, part.text].map((each) => each.toLowerCase());
    let sum = 0;
    for (const word of words) {
      const here = (heading.includes(word) ? 8 : 0) + (title.includes(word) ? 4 : 0);
      const told = text.split(word).length - 1;
      if (!here && !told) return 0;
      sum += here + Math.min(told, 3);
    }
    return sum;
  };

  /** @param {Part} part @param {string} word */
  const around = (part, word) => {
    const at = Math.max(part.text.toLowerCase().indexOf(word) - 40, 0);
    return `${at ? "… " : ""}${part.text.slice(at, at + 140)} …`;
  };

  field.addEventListener("input", () => {
    /** @type {Part[]} */
    const parts = /** @type {any} */ (window).leatlineGuide ?? [];
    const words = field.value.toLowerCase().split(/\s+/).filter((word) => word.length > 1);
    const found = words.length ? parts.map((part) => ({ part, sum: weight(part, words) })) : [];
    const best = found.filter(({ sum }) => sum).sort((one, other) => other.sum - one.sum);
    const rows = best.slice(0, MOST).map(({ part }) => {
      const row = document.createElement("li");
      const link = document.createElement("a");
      const text = document.createElement("p");
      link.href = part.page + (part.id ? `#${part.id}` : "");
      link.textContent = part.heading === part.title ? part.title : `${part.title}: ${part.heading}`;
      text.textContent = around(part, words[0]);
      row.append(link, text);
      return row;
    });
    if (words.length && !rows.length) {
      const row = document.createElement("li");
      row.textContent = "Nothing in the guide has all these words.";
      rows.push(row);
    }
    list.replaceChildren(...rows);
    list.hidden = !rows.length;
  });
})();
