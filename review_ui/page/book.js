// The conventions of the manual as text, corrected at the desk: all readings are decoded again with them at once.

import {get, post, Refused} from './ask.js';
import {button, by, make} from './parts.js';

/** @typedef {import('./tools.js').Decide} Decide */

const SOURCES = {
  corrected: 'These were corrected at the desk.',
  proposed: 'These were worked out from the pages. Behind each line stands what speaks for it; check them against the legend page.',
  stated: 'These were stated when the pages were read.',
};

/** Pause (ms) in typing after which a draft is checked. */
const PAUSE = 350;

export class Book {
  /** @param {Decide} decide */
  constructor(decide) {
    this.decide = decide;
    this.dialog = /** @type {HTMLDialogElement} */ (by('book'));
    /** @type {number|undefined} */
    this.timer = undefined;
    this.asked = 0;
    button('book-open').addEventListener('click', () => void this.open());
  }

  async open() {
    const told = await get('/desk/conventions');
    this.text = make('textarea', {id: 'book-text', rows: 22, cols: 88, spellcheck: 'false', 'aria-describedby': 'book-faults', wrap: 'off'});
    this.text.value = told.text;
    this.text.addEventListener('input', () => {
      clearTimeout(this.timer);
      this.timer = window.setTimeout(() => void this.check(), PAUSE);
    });
    this.faults = make('div', {id: 'book-faults', class: 'book-faults', role: 'status'});
    this.dialog.replaceChildren(
      make('h2', {id: 'book-title'}, 'Conventions of this manual'),
      make('p', {}, /** @type {Record<string, string>} */ (SOURCES)[told.source] ?? ''),
      make('label', {for: 'book-text', class: 'unseen'}, 'Conventions'),
      this.text, this.faults,
      make('div', {class: 'ways'},
        make('button', {type: 'button', id: 'book-use', onclick: () => void this.use()}, 'Use these'),
        make('button', {type: 'button', id: 'book-leave', onclick: () => this.dialog.close()}, 'Leave them'),
        make('small', {}, 'All pages are decoded again; corrections stay. It can be taken back.')),
    );
    this.dialog.showModal();
    this.text.focus();
    this.text.setSelectionRange(0, 0);
    this.text.scrollTop = 0;
  }

  /** @returns {Promise<boolean>} whether the draft is right */
  async check() {
    if (!this.text || !this.faults) return false;
    this.asked += 1;
    const mine = this.asked;
    try {
      await post('/desk/conventions/check', {text: this.text.value});
      if (mine === this.asked) this.tell('✓ The file is right.', true);
      return true;
    } catch (fault) {
      if (mine === this.asked) this.tell(fault instanceof Refused ? fault.fault.what.trim() : String(fault), false);
      return false;
    }
  }

  /**
   * @param {string} words
   * @param {boolean} right
   */
  tell(words, right) {
    if (!this.faults) return;
    this.faults.textContent = words;
    this.faults.dataset.fits = right ? 'yes' : 'no';
  }

  async use() {
    clearTimeout(this.timer);
    if (!this.text || !(await this.check())) {
      this.text?.focus();
      const line = Number(/line (\d+)/.exec(this.faults?.textContent ?? '')?.[1] ?? 0);
      if (this.text && line) {
        const lines = this.text.value.split('\n');
        const start = lines.slice(0, line - 1).reduce((n, l) => n + l.length + 1, 0);
        this.text.setSelectionRange(start, start + (lines[line - 1]?.length ?? 0));
      }
      return;
    }
    this.dialog.close();
    await this.decide({do: 'conventions', text: this.text.value});
  }
}
