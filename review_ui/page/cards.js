// The open question as a card on the bench, and the stack of those that come next.

import {get} from './ask.js';
import {by, compared, field, lettering, make, percent, word} from './parts.js';

/** @typedef {import('./shapes.js').Question} Question */
/** @typedef {import('./tools.js').Decide} Decide */

const IN_STACK = 8;
const FETCHED = 60;

export class Cards {
  /**
   * @param {Decide} decide
   * @param {(question: Question|null, moved: boolean) => void} shown `moved`: the person has moved the view since it was asked for
   * @param {() => string|null} sheet
   * @param {() => number} moves how often the person has moved the view
   */
  constructor(decide, shown, sheet, moves) {
    this.decide = decide;
    this.shown = shown;
    this.sheet = sheet;
    this.moves = moves;
    this.holder = by('card');
    /** @type {Question[]} */
    this.queue = [];
    this.total = 0;
    /** Questions put aside in this session, by their targets. @type {Set<string>} */
    this.aside = new Set();
    /** @type {Question|null} */
    this.open = null;
    /** The question that was answered last. @type {Question|null} */
    this.answered = null;
    /** How many texts were sent to be parsed; only the answer to the last one counts. */
    this.asked = 0;
    field('only-here').addEventListener('change', () => void this.refresh());
  }

  /** Fetch the queue anew and keep the open question when it is still asked. */
  async refresh() {
    const here = field('only-here').checked ? this.sheet() : null;
    const moves = this.moves();
    const told = await get('/desk/doubts', here ? {most: FETCHED + this.aside.size, sheet: here} : {most: FETCHED + this.aside.size});
    this.total = told.total;
    this.queue = /** @type {Question[]} */ (told.doubts).filter((q) => !this.aside.has(keyOf(q)));
    if (this.open && this.open !== this.answered && document.activeElement?.id === 'typed') {
      this.stack(); // the question under a person's hands stays: the letters would become commands
      return;
    }
    const still = this.open && this.queue.find((q) => keyOf(q) === keyOf(/** @type {Question} */ (this.open)));
    this.show(still ?? this.queue[0] ?? null, this.moves() !== moves);
  }

  /**
   * @param {Question|null} question
   * @param {boolean} [moved] the person has moved the view meanwhile
   */
  show(question, moved = false) {
    const changed = !question || !this.open || keyOf(question) !== keyOf(this.open) || question.value !== this.open.value;
    this.open = question;
    this.stack();
    if (!changed && this.holder.childElementCount) return;
    this.holder.replaceChildren(...(question ? this.face(question) : this.empty()));
    this.shown(question, moved);
  }

  empty() {
    const words = this.aside.size ? `Nothing else is open; ${this.aside.size} put aside.` : 'Nothing is open. Every claim is sure or settled.';
    return [
      make('h2', {}, 'No open question'),
      make('p', {}, words),
      this.aside.size > 0 && make('button', {type: 'button', onclick: () => this.again()}, 'Ask those put aside again'),
    ].filter((e) => e !== false);
  }

  again() {
    this.aside.clear();
    void this.refresh();
  }

  /** Put the open question aside for now. */
  skip() {
    if (!this.open) return;
    this.aside.add(keyOf(this.open));
    const left = this.queue.filter((q) => q !== this.open);
    this.queue = left;
    this.show(left[0] ?? null);
    this.holder.focus();
  }

  stack() {
    const later = this.queue.filter((q) => q !== this.open).slice(0, IN_STACK);
    by('stack').replaceChildren(
      ...later.map((q) =>
        make('li', {}, make('button', {type: 'button', class: `lead doubt-${level(q.probability)}`, onclick: () => this.show(q)}, make('span', {class: 'lead-kind'}, word(q.kind)), ' ', q.value === null ? make('span', {class: 'nothing'}, q.why) : lettering(q.value), q.targets.length > 1 && make('span', {class: 'times'}, ` ×${q.targets.length}`))),
      ),
    );
  }

  /** @param {Question} q */
  face(q) {
    const head = make('header', {}, make('h2', {}, word(q.kind)), make('span', {class: 'left'}, `${this.total} open`));
    const why = make('p', {class: 'why'}, q.why);
    const what = make('p', {class: 'follows'}, q.targets.length < 2 ? '' : q.value === null ? `${q.targets.length} symbols at which no letters could be read: one answer for all of them. ` : `${q.targets.length} places read the same: one answer for all. `, `Settles ${q.follows} ${q.follows === 1 ? 'claim' : 'claims'}.`);
    return [head, this.pictures(q), why, what, ...this.answers(q), this.ways(q)];
  }

  /** @param {Question} q */
  pictures(q) {
    // symbols without letters must all be seen, because one answer is for all of them
    const spots = q.spots.slice(0, q.value === null ? 12 : 4);
    const holder = make('div', {class: spots.length > 4 ? 'crops many' : 'crops'});
    for (const spot of spots) {
      const box = spot.mm.map((v) => v.toFixed(2)).join(',');
      const source = `/desk/sheets/${encodeURIComponent(spot.sheet)}/crop.jpg?${new URLSearchParams({box, margin: q.kind === 'code' ? '6' : '10'})}`;
      holder.append(make('img', {src: source, alt: `Scan around it on ${spot.sheet}`, loading: 'lazy'}));
    }
    if (q.places > spots.length) holder.append(make('p', {class: 'more'}, `and ${q.places - spots.length} more places`));
    return holder;
  }

  /** @param {Question} q */
  answers(q) {
    if (['code', 'connector', 'name', 'ground'].includes(q.kind)) return this.readings(q);
    if (q.offers.length) {
      const offered = this.numbered(q.offers.map((o) => ({show: o.says, order: o.order})));
      return q.kind === 'finding' ? [offered, this.reason(q)] : [offered];
    }
    /** @type {[string, Record<string, unknown>][]} */
    let choices = [];
    if (q.kind === 'edge') {
      const paired = q.spots.length > 1;
      choices = [[paired ? 'Yes, one wire' : 'It goes on nowhere in this manual', {do: 'confirm', targets: q.targets}]];
      if (paired) choices.push(['No, these are two wires', {do: 'partner', target: q.targets[0], partner: null}]);
      for (const p of q.partners ?? []) choices.push([`It goes on at ${p.text ?? 'the edge'} on ${p.sheet}${p.zone ? `, ${p.zone}` : ''}`, {do: 'partner', target: q.targets[0], partner: p.id}]);
    }
    if (q.kind === 'finding') return [this.reason(q)];
    return [this.numbered(choices.map(([text, order]) => ({show: text, order})))];
  }

  /** @param {Question} q */
  readings(q) {
    const asked = q.value ?? '';
    const choices = q.alternatives.slice(0, 6).map((a) => ({
      show: make('span', {class: 'reading'}, a.text === asked ? lettering(a.text) : compared(a.text, asked), make('span', {class: 'share'}, percent(a.probability))),
      order: a.text === q.value ? {do: 'confirm', targets: q.targets, aspect: q.kind === 'code' ? 'code' : 'all'} : this.retyped(q, a.text),
    }));
    for (const text of q.nearby) {
      choices.push({show: make('span', {class: 'reading'}, lettering(text), make('span', {class: 'share'}, 'printed near')), order: this.retyped(q, text)});
    }
    for (const o of q.offers) choices.push({show: make('span', {class: 'reading'}, o.says), order: o.order});
    if (q.value === null && q.kind === 'ground') choices.unshift({show: make('span', {class: 'reading'}, 'Nothing is printed there'), order: {do: 'confirm', targets: q.targets, aspect: 'all'}});
    const input = make('input', {id: 'typed', type: 'text', maxlength: 200, value: asked.slice(0, 200), spellcheck: 'false', 'aria-describedby': 'parsed', autocapitalize: 'characters'});
    const parsed = make('output', {id: 'parsed', class: 'parsed'});
    input.addEventListener('input', () => void this.parse(q.kind, input.value, parsed));
    const form = make('form', {class: 'typing', onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      const text = input.value.trim();
      if (text) void this.answer(this.retyped(q, text));
    }}, make('label', {for: 'typed'}, 'Type it ', make('kbd', {}, 'T')), input, make('button', {type: 'submit'}, 'Use'), parsed);
    return [this.numbered(choices), form];
  }

  /**
   * @param {string} kind
   * @param {string} text
   * @param {HTMLOutputElement} parsed
   */
  async parse(kind, text, parsed) {
    if (!text.trim() || (kind !== 'code' && kind !== 'connector')) {
      parsed.replaceChildren();
      return;
    }
    this.asked += 1;
    const mine = this.asked;
    const told = await get('/desk/parse', {text: text.trim(), as: kind});
    if (mine !== this.asked) return; // an answer to what stood there before
    const mark = told.fits ? '✓ fits the conventions' : told.shape ? '≈ right shape, but not all in the tables' : '✗ not the shape of the conventions';
    parsed.replaceChildren(mark, told.words ? `: ${told.words}` : '');
    parsed.dataset.fits = told.fits ? 'yes' : told.shape ? 'nearly' : 'no';
  }

  /**
   * @param {Question} q
   * @param {string} text
   * @returns {Record<string, unknown>}
   */
  retyped(q, text) {
    if (q.kind === 'code') return {do: 'code', targets: q.targets, code: text};
    if (q.kind === 'connector') return {do: 'connector', targets: q.targets, label: text};
    return {do: 'name', targets: q.targets, name: text};
  }

  /** @param {{show: string|Node, order: Record<string, unknown>}[]} choices */
  numbered(choices) {
    return make('ol', {class: 'choices'}, ...choices.map((c, i) => make('li', {}, make('button', {type: 'button', 'data-choice': i + 1, 'aria-keyshortcuts': String(i + 1), onclick: () => void this.answer(c.order)}, make('kbd', {}, String(i + 1)), ' ', c.show))));
  }

  /** @param {Question} q */
  reason(q) {
    const input = make('input', {id: 'typed', type: 'text', maxlength: 200, placeholder: 'why it may stay'});
    return make('form', {class: 'typing', onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      const reason = input.value.trim();
      if (reason) void this.answer({do: 'accept', target: q.targets[0], reason});
    }}, make('label', {for: 'typed'}, 'Reason ', make('kbd', {}, 'T')), input, make('button', {type: 'submit'}, 'Accept'));
  }

  /** @param {Question} q */
  ways(q) {
    const lettered = ['code', 'connector', 'name', 'ground'].includes(q.kind);
    return make('div', {class: 'ways'},
      make('button', {type: 'button', id: 'skip', 'aria-keyshortcuts': 'S', onclick: () => this.skip()}, 'Later ', make('kbd', {}, 'S')),
      lettered && make('button', {type: 'button', id: 'unreadable', 'aria-keyshortcuts': 'U', onclick: () => this.unreadable()}, 'Not readable ', make('kbd', {}, 'U')),
      q.kind === 'code' && make('button', {type: 'button', id: 'no-code', 'aria-keyshortcuts': '0', onclick: () => this.nothing()}, 'No code ', make('kbd', {}, '0')),
    );
  }

  unreadable() {
    if (this.open && ['code', 'connector', 'name', 'ground'].includes(this.open.kind)) void this.answer({do: 'unreadable', targets: this.open.targets});
  }

  /** Nothing is printed on this wire. */
  nothing() {
    if (this.open?.kind === 'code') void this.answer({do: 'code', targets: this.open.targets, code: null});
  }

  /** @param {number} n the number of a choice, from 1 */
  choose(n) {
    const choice = this.holder.querySelector(`[data-choice="${n}"]`);
    if (choice instanceof HTMLButtonElement) choice.click();
    return choice !== null;
  }

  /** Put the caret into the field for typing. */
  type() {
    const input = document.getElementById('typed');
    if (input instanceof HTMLInputElement) {
      input.focus();
      input.select();
    }
  }

  /**
   * One answer to a question as it stands here: a key pressed twice is no answer to a question that nobody has seen yet.
   * @param {Record<string, unknown>} order
   */
  async answer(order) {
    const question = this.open;
    if (question && this.answered === question) return;
    this.answered = question;
    const done = await this.decide(order);
    if (done) this.holder.focus();
    else if (this.answered === question) this.answered = null;
  }
}

/** @param {Question} q */
function keyOf(q) {
  return `${q.kind} ${q.targets.join(' ')}`;
}

/** @param {number} p */
export function level(p) {
  return p >= 0.9 ? 'sure' : p >= 0.6 ? 'unsure' : 'doubtful';
}
