// The way of a circuit over all sheets: hops to click through, cautions, and a sheet to print.

import {get} from './ask.js';
import {by, lettering, make, word} from './parts.js';

/** @typedef {{id: string, kind: string, printed: string|null, words: string, doubtful: boolean, sureness: string, from: string, to: string, sheet: string, page: string, zone: string|null, box: number[]|null, details: string[]}} Leg */
/** @typedef {{head: string, goal: string, found: boolean, missing: string, notes: string[], legs: Leg[]}} OneWay */
/** @typedef {{asked: string, start: string|null, candidates: {ask: string, kind: string, name: string, sheet: string, zone: string|null}[], cautions: string[], notes: string[], ways: OneWay[], serves: string[], rights: string, text: string}} Told */

export class WayCard {
  /**
   * @param {(sheet: string, box: number[], id: string) => void} go
   * @param {(ids: string[]) => void} mark
   */
  constructor(go, mark) {
    this.go = go;
    this.mark = mark;
    this.holder = by('way');
    /** Ids of everything on the way, so that each sheet can show them. @type {string[]} */
    this.ids = [];
  }

  /** @param {string} of an id or a name */
  async follow(of) {
    const told = /** @type {Told} */ (await get('/desk/trace', {of}));
    this.ids = told.ways.flatMap((w) => w.legs.map((l) => l.id));
    this.holder.replaceChildren(...this.face(told));
    this.holder.hidden = false;
    this.holder.scrollIntoView({block: 'nearest'});
    this.holder.focus();
    this.mark(this.ids);
  }

  away() {
    this.ids = [];
    this.holder.hidden = true;
    this.holder.replaceChildren();
    this.mark([]);
  }

  /** @param {Told} told */
  face(told) {
    return [
      make('header', {}, make('h2', {}, 'The way of ', lettering(told.start ?? told.asked)), make('button', {type: 'button', class: 'away', 'aria-label': 'Put the way away', onclick: () => this.away()}, '×')),
      make('p', {class: 'ways sheets'}, ...this.sheets(told), make('button', {type: 'button', id: 'print-way', onclick: () => window.print()}, 'Print')),
      told.candidates.length > 0 && make('div', {}, make('p', {}, 'It may mean:'), make('ul', {}, ...told.candidates.map((c) => make('li', {}, make('button', {type: 'button', onclick: () => void this.follow(c.ask)}, word(c.kind), ' ', lettering(c.name), ` ${c.zone ?? ''}`))))),
      make('ul', {class: 'cautions', 'aria-label': 'Cautions'}, ...told.cautions.map((c) => make('li', {}, c))),
      ...told.notes.map((n) => make('p', {class: 'why'}, n)),
      ...told.ways.map((w) => this.way(w)),
      told.serves.length > 0 && make('p', {}, `Serves: ${told.serves.join(', ')}`),
      told.rights !== '' && make('p', {class: 'was'}, told.rights),
    ].filter((e) => e instanceof Node);
  }

  /**
   * Sheets of their own: the way with the scan of every hop, and looking for a fault at what the way starts from.
   * @param {Told} told
   */
  sheets(told) {
    const to = (/** @type {string} */ path, /** @type {Record<string, string>} */ query) => `${path}?${new URLSearchParams(query).toString()}`;
    return [
      make('a', {id: 'way-sheet', href: to('/desk/way-sheet', {of: told.asked}), target: '_blank', rel: 'noopener'}, 'Sheet with scans'),
      make('a', {id: 'way-fault', href: to('/desk/fault', {dark: told.asked}), target: '_blank', rel: 'noopener'}, 'It does not work'),
    ];
  }

  /** @param {OneWay} way */
  way(way) {
    return make('section', {class: 'one-way'},
      make('h3', {}, way.head),
      way.missing !== '' && make('p', {class: 'why'}, way.missing),
      ...way.notes.map((n) => make('p', {class: 'was'}, n)),
      make('ol', {class: 'legs'}, ...way.legs.map((leg) => this.leg(leg))),
    );
  }

  /** @param {Leg} leg */
  leg(leg) {
    return make('li', {class: leg.doubtful ? 'doubt-unsure' : ''},
      make('button', {type: 'button', disabled: leg.box === null, onclick: () => leg.box && this.go(leg.sheet, leg.box, leg.id)},
        make('span', {class: 'leg-at'}, `${leg.page} ${leg.zone ?? ''}`), ' ', lettering(leg.printed, leg.kind), ' ', make('small', {}, leg.words)),
      make('small', {class: 'leg-more'}, [`${leg.from} → ${leg.to}`, leg.sureness, ...leg.details].join('; ')),
    );
  }
}
