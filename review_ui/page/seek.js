// Going to a place by typing.

import {get} from './ask.js';
import {by, field, lettering, make, word} from './parts.js';

/** @typedef {import('./shapes.js').Sight} Sight */

const PAUSE_MS = 120;

export class Seek {
  /** @param {(sight: Sight) => void} go */
  constructor(go) {
    this.go = go;
    this.input = field('seek-words');
    this.list = by('seek-found');
    /** @type {Sight[]} */
    this.found = [];
    this.at = 0;
    /** @type {number|undefined} */
    this.timer = undefined;
    this.input.addEventListener('input', () => {
      clearTimeout(this.timer);
      this.timer = window.setTimeout(() => void this.look(), PAUSE_MS);
    });
    this.input.addEventListener('keydown', (event) => this.key(event));
    this.input.addEventListener('blur', () => window.setTimeout(() => this.close(), 150));
    by('seek').addEventListener('submit', (event) => {
      event.preventDefault();
      void this.enter();
    });
  }

  async look() {
    const words = this.input.value.trim();
    this.found = words ? (await get('/desk/seek', {words})).found : [];
    this.at = 0;
    this.list.replaceChildren(
      ...this.found.map((s, i) => make('li', {role: 'option', id: `found-${i}`, 'aria-selected': String(i === 0), onmousedown: () => this.take(i)}, make('span', {class: 'found-kind'}, word(s.kind)), ' ', lettering(s.text), make('small', {}, ` ${s.sheet}${s.zone ? ` ${s.zone}` : ''}`))),
    );
    if (words && !this.found.length) this.list.replaceChildren(make('li', {class: 'none', role: 'option', 'aria-selected': 'false'}, 'Nothing like it was read.'));
    this.list.hidden = !words;
    this.input.setAttribute('aria-expanded', String(Boolean(words)));
  }

  async enter() {
    clearTimeout(this.timer);
    const at = this.at;
    await this.look();
    this.take(Math.min(at, this.found.length - 1));
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    if (event.key === 'Escape') {
      this.close();
      by('map').focus();
    }
    if (event.key !== 'ArrowDown' && event.key !== 'ArrowUp') return;
    event.preventDefault();
    const n = this.found.length;
    if (!n) return;
    this.at = (this.at + (event.key === 'ArrowDown' ? 1 : n - 1)) % n;
    [...this.list.children].forEach((li, i) => li.setAttribute('aria-selected', String(i === this.at)));
    this.input.setAttribute('aria-activedescendant', `found-${this.at}`);
    this.list.children[this.at]?.scrollIntoView({block: 'nearest'});
  }

  /** @param {number} i */
  take(i) {
    const sight = this.found[i];
    if (!sight) return;
    this.close();
    by('map').focus(); // so that the next key is a tool's, not another letter
    this.go(sight);
  }

  close() {
    this.list.hidden = true;
    this.input.setAttribute('aria-expanded', 'false');
  }
}
