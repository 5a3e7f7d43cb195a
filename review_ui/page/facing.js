// Two sheets side by side at a page edge, like two leaves of a road map: their edges meet, and one height is one height.

import {Atlas} from './atlas.js';
import {get} from './ask.js';
import {button, by} from './parts.js';
import {Margins} from './margins.js';
import {Tip} from './tip.js';

/** @typedef {{sheet: string, at: number[], edge: string, zone: string|null}} Edge */
/** @typedef {{link: string, text: string|null, side: string, here: Edge, there: Edge}} Crossing */

/** Map units per px of the screen at which two sheets are laid side by side, at most: codes can still be read. */
const READABLE = 1.6;

/**
 * Where a sheet goes on.
 * @param {string} sheet
 * @param {string|null} of a wire or page edge; null: every page edge
 * @returns {Promise<Crossing[]>}
 */
export async function crossings(sheet, of) {
  return (await get(`/desk/sheets/${encodeURIComponent(sheet)}/overleaf`, of ? {of} : {})).crossings;
}

/**
 * The page edges of a sheet without a partner, each with the lone edge elsewhere that is most like it.
 * @param {string} sheet
 * @param {string|null} of a page edge; null: every one
 * @returns {Promise<(Omit<Crossing, 'there'> & {there: Edge|null})[]>}
 */
export async function loneEdges(sheet, of) {
  return (await get(`/desk/sheets/${encodeURIComponent(sheet)}/overleaf`, of ? {of} : {})).lone;
}

export class Facing {
  /** @param {Atlas} main the sheet on which the tools work */
  constructor(main) {
    this.main = main;
    /** @type {Atlas|null} */
    this.second = null;
    /** @type {Crossing|null} */
    this.crossing = null;
    this.pair = by('pair');
    this.holder = by('facing');
    /** Called with the id that was clicked on the second sheet. @type {(id: string|null, feature: import('ol/Feature.js').default|null) => void} */
    this.chosen = () => {};
    /** Name of a sheet, for its head. @type {(sheet: string) => string} */
    this.name = (sheet) => sheet;
    this.pulling = false;
    button('facing-away').addEventListener('click', () => this.away());
    main.choosers.push((id) => {
      if (!this.second) return;
      this.second.chosen = id ? [id] : [];
      this.second.showChosen();
    });
    main.map.on('change:view', () => this.watch(main));
    this.watch(main);
  }

  get shown() {
    return this.crossing !== null;
  }

  /** The second map is made when it is first needed. */
  atlas() {
    if (this.second) return this.second;
    const second = new Atlas(by('facing-map'), {bounded: false});
    const margins = new Margins(second, 'facing-');
    void new Tip(second, 'facing-');
    second.laid = () => margins.label();
    second.choosers.push((id, feature) => this.chosen(id, feature));
    second.map.on('change:view', () => this.watch(second));
    this.second = second;
    return second;
  }

  /**
   * Lay the sheet where a page edge goes on next to this one.
   * @param {Crossing} crossing on the sheet of the main map
   */
  async lay(crossing) {
    this.crossing = crossing;
    this.pair.dataset.side = crossing.side === 'left' ? 'left' : 'right';
    this.holder.hidden = false;
    button('beside').setAttribute('aria-pressed', 'true');
    by('facing-name').textContent = this.name(crossing.there.sheet);
    this.main.map.updateSize();
    const second = this.atlas();
    second.map.updateSize();
    await second.open(crossing.there.sheet);
    second.chosen = [...this.main.chosen];
    second.showChosen();
    this.align();
  }

  /**
   * Lay any sheet next to this one, at the height of a page edge of which nobody knows where it goes on.
   * @param {string} sheet
   * @param {Edge} here
   */
  async layAny(sheet, here) {
    const ground = /** @type {import('./shapes.js').Ground} */ (await get(`/desk/sheets/${encodeURIComponent(sheet)}/ground`));
    const scale = ground.px_per_mm / (this.main.ground?.px_per_mm ?? ground.px_per_mm);
    const height = Math.min(ground.height, /** @type {number} */ (here.at[1]) * scale);
    const side = here.edge === 'left' ? 'left' : 'right';
    await this.lay({link: '', text: null, side, here, there: {sheet, at: [side === 'left' ? ground.width : 0, height], edge: side === 'left' ? 'right' : 'left', zone: null}});
  }

  away() {
    this.crossing = null;
    this.holder.hidden = true;
    delete this.pair.dataset.side;
    button('beside').setAttribute('aria-pressed', 'false');
    this.main.map.updateSize();
    this.main.fill();
    by('map').focus();
  }

  /** What was read of the second sheet, after an edit. */
  async refresh() {
    if (!this.shown || !this.second?.sheet) return;
    this.second.draw(await get(`/desk/sheets/${encodeURIComponent(this.second.sheet)}/read`));
  }

  /** Bring the two page edges to the middle, at one height. */
  align() {
    const {crossing, main, second} = this;
    const [width] = main.map.getSize() ?? [0];
    if (!crossing || !second?.ground || !main.ground || !width) return;
    const view = main.map.getView();
    view.cancelAnimations();
    const resolution = Math.min(view.getResolution() ?? 1, READABLE, main.ground.width / width);
    const half = (width / 2) * resolution;
    const across = {left: half, right: main.ground.width - half}[crossing.side];
    this.pulling = true;
    view.setResolution(resolution);
    view.setCenter([across ?? at(crossing.here)[0], -at(crossing.here)[1]]);
    this.pulling = false;
    const other = second.map.getView();
    const scale = this.scale(main);
    const [room] = second.map.getSize() ?? [0];
    const far = (/** @type {number} */ (room) / 2) * resolution * scale;
    const beyond = {left: second.ground.width - far, right: far}[crossing.side];
    this.pulling = true;
    other.setResolution(resolution * scale);
    other.setCenter([beyond ?? at(crossing.there)[0], 0]);
    this.pulling = false;
    this.pull(main);
  }

  /** Pixels of the other scan for one pixel of this one. @param {Atlas} from */
  scale(from) {
    const to = from === this.main ? this.second : this.main;
    return to?.ground && from.ground ? to.ground.px_per_mm / from.ground.px_per_mm : 1;
  }

  /** Follow the view of a map, which is new with every sheet. @param {Atlas} atlas */
  watch(atlas) {
    const follow = () => this.pull(atlas);
    atlas.map.getView().on(['change:center', 'change:resolution'], follow);
  }

  /** Bring the other map to the height and the size of this one; its inner border stays. @param {Atlas} from */
  pull(from) {
    const {crossing, main, second} = this;
    if (!crossing || this.pulling || !second?.ground || main.sheet !== crossing.here.sheet || second.sheet !== crossing.there.sheet) return;
    const to = from === main ? second : main;
    const [ours, theirs] = from === main ? [crossing.here, crossing.there] : [crossing.there, crossing.here];
    const scale = this.scale(from);
    const [a, b] = [from.map.getView(), to.map.getView()];
    const [, y] = /** @type {[number, number]} */ (a.getCenter() ?? [0, 0]);
    const [x] = /** @type {[number, number]} */ (b.getCenter() ?? [0, 0]);
    const before = b.getResolution() ?? 1;
    const after = (a.getResolution() ?? 1) * scale;
    const [width] = to.map.getSize() ?? [0];
    const inner = (to === main) === (crossing.side === 'left') ? -1 : 1; // which border of it touches the other map
    const kept = x + inner * (/** @type {number} */ (width) / 2) * (before - after);
    this.pulling = true;
    b.setResolution(after);
    b.setCenter([kept, -at(theirs)[1] + (y + at(ours)[1]) * scale]);
    this.pulling = false;
  }
}

/** @param {Edge} edge @returns {[number, number]} scan px */
function at(edge) {
  return /** @type {[number, number]} */ (edge.at);
}
