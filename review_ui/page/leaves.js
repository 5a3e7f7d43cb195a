// The pile of sheets at the side.

import {button, by, lettering, make} from './parts.js';

/** @typedef {import('./shapes.js').Leaf} Leaf */
/** @typedef {import('./shapes.js').Overview} Overview */

export class Leaves {
  /** @param {(sheet: string) => void} open */
  constructor(open) {
    this.open = open;
    /** @type {Leaf[]} */
    this.leaves = [];
    /** @type {string|null} */
    this.current = null;
    this.vehicle = '';
  }

  /** @param {Overview} overview */
  show(overview) {
    this.leaves = overview.sheets;
    this.vehicle = overview.name;
    const read = this.leaves.filter((l) => !l.failed);
    const progress = /** @type {HTMLProgressElement} */ (by('settled'));
    progress.max = Math.max(1, read.length);
    progress.value = read.filter((l) => l.done).length;
    progress.title = `${progress.value} of ${read.length} sheets are done`;
    by('leaves').replaceChildren(...this.leaves.map((leaf) => this.leaf(leaf)));
    const lost = by('lost');
    lost.hidden = overview.lost.length === 0;
    by('lost-list').replaceChildren(...overview.lost.map((l) => make('li', {}, l.says, make('small', {}, ` ${l.who}, ${l.when.slice(0, 10)}`))));
    this.mark();
  }

  /** @param {Leaf} leaf */
  leaf(leaf) {
    const title = this.short(leaf.title) ?? leaf.kind ?? 'not read';
    const inside = leaf.failed
      ? [make('span', {class: 'leaf-title failed'}, 'could not be read'), make('small', {}, `${leaf.failed} ${leaf.advice ?? ''}`)]
      : [make('span', {class: 'leaf-title'}, lettering(title)), make('small', {}, leaf.kind ?? '', leaf.doubts ? `, ${leaf.doubts} open` : ', nothing open')];
    return make('li', {}, make('button', {type: 'button', class: 'leaf', 'data-sheet': leaf.id, disabled: leaf.failed !== null, onclick: () => this.open(leaf.id)},
      make('span', {class: 'leaf-number'}, leaf.label ?? String(leaf.number)), make('span', {class: 'leaf-words'}, ...inside), leaf.done && make('span', {class: 'leaf-done', 'aria-label': 'done'}, '✓')));
  }

  /**
   * A title without the vehicle's name in front of it, which stands on every sheet.
   * @param {string|null} title
   */
  short(title) {
    if (title === null || !this.vehicle || !title.startsWith(this.vehicle)) return title;
    return title.slice(this.vehicle.length).replace(/^[\s,:–—-]+/, '') || title;
  }

  /** What a person calls a sheet: its page and its title. @param {string} sheet */
  name(sheet) {
    const leaf = this.leaves.find((l) => l.id === sheet);
    if (!leaf) return sheet;
    const title = this.short(leaf.title);
    return `page ${leaf.label ?? leaf.number}${title ? `, ${title}` : ''}`;
  }

  /** @param {string} sheet */
  at(sheet) {
    this.current = sheet;
    this.mark();
  }

  mark() {
    for (const element of by('leaves').querySelectorAll('button')) {
      const here = element.dataset.sheet === this.current;
      if (here) element.setAttribute('aria-current', 'page');
      else element.removeAttribute('aria-current');
      if (here) element.scrollIntoView({block: 'nearest'});
    }
    const leaf = this.leaves.find((l) => l.id === this.current);
    button('sheet-done').setAttribute('aria-pressed', String(leaf?.done ?? false));
  }

  /**
   * The sheet before or after the current one that was read.
   * @param {number} step
   */
  beside(step) {
    const read = this.leaves.filter((l) => !l.failed);
    const at = read.findIndex((l) => l.id === this.current);
    return read[at + step]?.id ?? null;
  }
}
