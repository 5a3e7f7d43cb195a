// Making the page's elements. Text only ever goes in as text, never as markup.

/**
 * @param {string} id
 * @returns {HTMLElement}
 */
export function by(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no #${id}`);
  return found;
}

/**
 * @param {string} id
 * @returns {HTMLInputElement}
 */
export function field(id) {
  return /** @type {HTMLInputElement} */ (by(id));
}

/**
 * @param {string} id
 * @returns {HTMLButtonElement}
 */
export function button(id) {
  return /** @type {HTMLButtonElement} */ (by(id));
}

/**
 * An element with attributes and children; strings become text. `on*` attributes take functions.
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Record<string, any>} [attributes]
 * @param {...(Node|string|null|undefined|false)} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
    else if (name === 'class') element.className = value;
    else element.setAttribute(name, value === true ? '' : String(value));
  }
  element.append(...children.filter((c) => c !== null && c !== undefined && c !== false).map((c) => /** @type {Node|string} */ (c)));
  return element;
}

/** Longest lettering shown whole; the rest is behind its title. */
const LONGEST = 120;

/**
 * Lettering from a page: isolated, so that its direction cannot leak into ours, and cut when endless.
 * @param {string|null|undefined} text
 * @param {string} [nothing]
 * @returns {HTMLElement}
 */
export function lettering(text, nothing = 'no lettering') {
  if (text === null || text === undefined || text === '') return make('span', {class: 'nothing'}, nothing);
  const short = text.length > LONGEST ? `${text.slice(0, LONGEST)}…` : text;
  return make('bdi', {class: 'lettering', title: text.length > LONGEST ? `${text.length} characters` : null}, short);
}

/**
 * A reading with the letters marked in which it differs from another one.
 * @param {string} text
 * @param {string} other
 */
export function compared(text, other) {
  const holder = make('bdi', {class: 'lettering'});
  const shown = text.slice(0, LONGEST);
  [...shown].forEach((letter, i) => {
    holder.append(letter === [...other][i] ? letter : make('mark', {}, letter));
  });
  return holder;
}

/** @param {number} p */
export function percent(p) {
  return p >= 0.995 && p < 1 ? '> 99 %' : `${Math.round(p * 100)} %`;
}

/** Words for kinds of things and questions. */
export const WORDS = {
  wire: 'Wire', component: 'Part', connector: 'Connector', drawn_connector: 'Connector', splice: 'Join', ground: 'Ground',
  grommet: 'Grommet', link: 'Page edge', finding: 'Finding', sheet: 'Sheet', zone: 'Zone',
  code: 'Wire code', name: 'Name', join: 'Join or crossing', ends: 'Where a wire ends', edge: 'Page edge',
};

/** @param {string} kind */
export function word(kind) {
  return /** @type {Record<string, string>} */ (WORDS)[kind] ?? kind.replaceAll('_', ' ');
}
