// The slip for what is selected: what it is, why the program believes it, its story, and how to put it right.

import {get, Refused} from './ask.js';
import {by, lettering, make, percent, word} from './parts.js';
import {level} from './cards.js';

/** @typedef {import('./tools.js').Decide} Decide */
/** @typedef {{kind: string, says: string, probability: number, by: string, sheet: string|null, zone: string|null}} Evidence */
/** @typedef {{id: string, kind: string, gone: boolean, says: string|null, part: string|null, lesson: string|null, claim: {value: string|null, probability: number}|null, digitized: string|null, words: string|null, alternatives: import('./shapes.js').Alternative[], evidence: Evidence[], edits: {number: number, who: string, when: string, state: string, says: string}[], places: {sheet: string, zone: string|null, box: number[]}[]}} Thing */

const SOURCES = {
  read: 'read here', edge: 'partner at the page edge', chart: 'connector chart', index: 'index', repeat: 'printed again on it',
  drawn: 'as drawn', person: 'a person',
};

export class Slip {
  /**
   * @param {Decide} decide
   * @param {(sheet: string, box: number[]) => void} go
   * @param {(id: string) => void} follow
   */
  constructor(decide, go, follow) {
    this.follow = follow;
    this.decide = decide;
    this.go = go;
    this.holder = by('slip');
    /** @type {string[]} */
    this.kinds = [];
    /** @type {string|null} */
    this.id = null;
    /** Whose slip is drawn. @type {string|null} */
    this.shown = null;
  }

  /** @param {string|null} id */
  async show(id) {
    this.id = id;
    if (!id) {
      this.shown = null;
      this.holder.hidden = true;
      this.holder.replaceChildren();
      return;
    }
    const thing = /** @type {Thing} */ (await get('/desk/thing', {id}));
    if (this.id !== id) return;
    const back = this.keepPlace(id);
    this.holder.replaceChildren(...this.face(thing));
    this.holder.hidden = false;
    this.shown = id;
    back();
  }

  /**
   * What is drawn anew must not take the caret away from a person who is typing: the letters would become commands.
   * @param {string} id
   * @returns {() => void} brings the focus and what was typed back
   */
  keepPlace(id) {
    const at = document.activeElement;
    if (!(at instanceof HTMLElement) || !this.holder.contains(at) || this.shown !== id) return () => {};
    const typed = at instanceof HTMLInputElement ? {value: at.value, start: at.selectionStart, end: at.selectionEnd} : null;
    return () => {
      const again = at.id ? document.getElementById(at.id) : null;
      (again ?? this.holder).focus();
      if (!typed || !(again instanceof HTMLInputElement)) return;
      again.value = typed.value;
      again.setSelectionRange(typed.start, typed.end);
    };
  }

  async refresh() {
    if (!this.id) return;
    try {
      await this.show(this.id);
    } catch (problem) {
      if (!(problem instanceof Refused) || problem.fault.kind !== 'not_found') throw problem;
      await this.show(null); // it is gone since: taken back, or put into another one
    }
  }

  /** @param {Thing} t */
  face(t) {
    const value = t.claim?.value ?? null;
    const sure = t.claim ? level(t.claim.probability) : 'sure';
    const byPerson = t.evidence.some((e) => e.kind === 'person');
    const zones = [...new Set(t.places.map((p) => `${p.sheet}${p.zone ? `, ${p.zone}` : ''}`))];
    return [
      make('header', {}, make('h2', {}, word(t.kind)), make('button', {type: 'button', class: 'away', 'aria-label': 'Put the slip away', onclick: () => void this.show(null)}, '×')),
      make('p', {class: 'value'}, lettering(value)),
      t.words && make('p', {class: 'words'}, t.words),
      t.claim && make('p', {class: `sureness doubt-${byPerson ? 'said' : sure}`}, byPerson ? 'a person said so' : `${percent(t.claim.probability)} sure`),
      t.digitized !== value && make('p', {class: 'was'}, 'the program read ', lettering(t.digitized)),
      make('p', {class: 'zones'}, ...zones.slice(0, 6).map((z, i) => make('button', {type: 'button', class: 'zone', onclick: () => {
        const place = t.places.find((p) => `${p.sheet}${p.zone ? `, ${p.zone}` : ''}` === z);
        if (place) this.go(place.sheet, place.box);
      }}, i ? ` ${z}` : z)), zones.length > 6 && ` and ${zones.length - 6} more`),
      this.repair(t),
      this.story(t),
    ].filter((e) => e instanceof Node);
  }

  /** @param {Thing} t */
  repair(t) {
    const order = {
      wire: (/** @type {string} */ text) => ({do: 'code', targets: [t.id], code: text || null}),
      drawn_connector: (/** @type {string} */ text) => ({do: 'connector', targets: [t.id], label: text}),
      component: (/** @type {string} */ text) => ({do: 'name', targets: [t.id], name: text}),
      ground: (/** @type {string} */ text) => ({do: 'name', targets: [t.id], name: text}),
      grommet: (/** @type {string} */ text) => ({do: 'name', targets: [t.id], name: text}),
      connector: (/** @type {string} */ text) => ({do: 'name', targets: [t.id], name: text}),
    }[t.kind];
    const input = make('input', {id: 'slip-text', type: 'text', maxlength: 200, value: (t.claim?.value ?? '').slice(0, 200), spellcheck: 'false'});
    const form = order && make('form', {class: 'typing', onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      const text = input.value.trim();
      this.holder.focus(); // it is said: the next key is a command again
      if (text || t.kind === 'wire') void this.decide(order(text));
    }}, make('label', {for: 'slip-text'}, t.kind === 'wire' ? 'Code' : t.kind === 'drawn_connector' ? 'Connector id' : 'Name', ' ', make('kbd', {}, 'R')), input, make('button', {type: 'submit'}, 'Use'));
    const kind = t.part === null ? null : make('label', {class: 'kind'}, 'It is a ', make('select', {id: 'slip-kind', onchange: (/** @type {Event} */ event) => {
      void this.decide({do: 'kind', target: t.id, kind: /** @type {HTMLSelectElement} */ (event.target).value});
    }}, ...[...new Set([t.part, ...this.kinds.filter((k) => k !== 'connector')])].map((k) => make('option', {value: k, selected: k === t.part}, k.replaceAll('_', ' ')))));
    const acts = make('div', {class: 'ways'},
      t.claim !== null && make('button', {type: 'button', onclick: () => void this.decide({do: 'confirm', targets: [t.id]})}, 'It is right'),
      t.kind === 'wire' && make('button', {type: 'button', id: 'delete-wire', 'aria-keyshortcuts': 'Delete', onclick: () => void this.decide({do: 'delete', target: t.id})}, 'No such wire ', make('kbd', {}, 'Del')),
      ['component', 'drawn_connector', 'ground'].includes(t.kind) && make('button', {type: 'button', id: 'remove-part', 'aria-keyshortcuts': 'Delete', onclick: () => void this.decide({do: 'remove', target: t.id})}, 'No such part ', make('kbd', {}, 'Del')),
      t.kind === 'splice' && make('button', {type: 'button', id: 'unsplice', 'aria-keyshortcuts': 'Delete', onclick: () => void this.decide({do: 'unsplice', target: t.id})}, 'They pass, no join ', make('kbd', {}, 'Del')),
      ['component', 'wire', 'drawn_connector', 'splice', 'ground'].includes(t.kind) && make('button', {type: 'button', id: 'follow-circuit', 'aria-keyshortcuts': 'F', onclick: () => this.follow(t.id)}, 'Follow the circuit ', make('kbd', {}, 'F')),
      t.lesson !== null && make('button', {type: 'button', id: 'forget-symbol', onclick: () => void this.decide({do: 'forget', target: t.lesson})}, 'Forget this symbol'),
      t.kind === 'link' && make('button', {type: 'button', onclick: () => void this.decide({do: 'partner', target: t.id, partner: null})}, 'Part the two edges'),
    );
    return make('div', {class: 'repair'}, form ?? null, kind, acts);
  }

  /** @param {Thing} t */
  story(t) {
    const evidence = t.evidence.map((e) => make('li', {class: `by-${e.kind}`},
      make('b', {}, /** @type {Record<string, string>} */ (SOURCES)[e.kind] ?? e.kind), ': ', lettering(e.says), ` ${percent(e.probability)}`,
      make('small', {}, ` ${e.by}${e.sheet ? `, ${e.sheet}` : ''}${e.zone ? ` ${e.zone}` : ''}`)));
    const rivals = t.alternatives.filter((a) => a.text !== t.claim?.value);
    const edits = t.edits.map((e) => make('li', {class: e.state === 'active' ? '' : 'taken-back'}, e.says, make('small', {}, ` ${e.who}, ${e.when.slice(0, 16).replace('T', ' ')}${e.state === 'active' ? '' : ', taken back'}`)));
    return make('details', {class: 'story', open: true},
      make('summary', {}, 'Why it is so'),
      evidence.length ? make('ul', {}, ...evidence) : make('p', {}, 'Only its drawing speaks for it.'),
      rivals.length > 0 && make('p', {}, 'It could also be ', ...rivals.slice(0, 5).flatMap((a, i) => [i ? ', ' : '', lettering(a.text), ` ${percent(a.probability)}`])),
      edits.length > 0 && make('h3', {}, 'Corrections'),
      edits.length > 0 && make('ol', {}, ...edits),
    );
  }

  /** Put the caret into the slip's field. */
  type() {
    const input = document.getElementById('slip-text');
    if (!(input instanceof HTMLInputElement)) return false;
    input.focus();
    input.select();
    return true;
  }
}
