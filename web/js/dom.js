// @ts-check
/** Small helpers over the document; text goes in as text, never as markup. */

/**
 * @param {string} tag
 * @param {Record<string, string>} [attributes]
 * @param {...(Node | string)} children
 */
export function element(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  node.append(...children);
  return node;
}

/**
 * Put a text where another stands: the same text put again would lay the page out anew.
 * @param {Node} node @param {string} text
 */
export function write(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** @param {string} id @returns {any} */
export const byId = (id) => document.getElementById(id);

/** @param {string} text @param {boolean} [problem] */
export function say(text, problem = false) {
  const message = byId("message");
  message.textContent = text;
  message.hidden = !text;
  message.classList.toggle("problem", problem);
  if (problem) message.scrollIntoView({ block: "nearest" });
}
