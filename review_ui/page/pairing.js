// Setting the partner of a page edge: a thread drawn from an edge on one sheet to an edge on the one beside it, or by keys.

import Feature from 'ol/Feature.js';
import Point from 'ol/geom/Point.js';
import {loneEdges} from './facing.js';
import {by} from './parts.js';
import {askedLook} from './looks.js';
import {guarded} from './telling.js';

/** @typedef {import('./atlas.js').Atlas} Atlas */
/** @typedef {{id: string, text: string|null, at: number[], atlas: Atlas}} Hold map coordinate ``at`` */

/** Screen px within which a page edge is taken hold of: a fingertip. */
const NEAR = 22;

/** Screen px that the pointer moves before it draws a thread rather than clicks. */
const DRAWN = 6;

export class PairTool {
  /**
   * @param {import('./tools.js').Hand} hand
   * @param {import('./facing.js').Facing} facing
   * @param {import('./leaves.js').Leaves} leaves
   */
  constructor(hand, facing, leaves) {
    this.hand = hand;
    this.facing = facing;
    this.leaves = leaves;
    this.hint = 'Drag from a lone page edge to the one where it goes on; or arrow keys and Space. Page down lays another sheet beside.';
    /** The edge whose partner is wanted. @type {Hold|null} */
    this.held = null;
    /** The edge on which the keys stand. @type {Hold|null} */
    this.stood = null;
    /** Where the button went down, in screen px. @type {number[]|null} */
    this.from = null;
    this.thread = by('thread');
    this.down = (/** @type {PointerEvent} */ event) => this.press(event);
    this.move = (/** @type {PointerEvent} */ event) => this.drag(event);
    this.up = (/** @type {PointerEvent} */ event) => this.release(event);
    this.drop = () => this.rest();
  }

  start() {
    by('pair').addEventListener('pointerdown', this.down, true);
    document.addEventListener('pointermove', this.move, true);
    document.addEventListener('pointerup', this.up, true);
    document.addEventListener('pointercancel', this.drop, true);
  }

  stop() {
    by('pair').removeEventListener('pointerdown', this.down, true);
    document.removeEventListener('pointermove', this.move, true);
    document.removeEventListener('pointerup', this.up, true);
    document.removeEventListener('pointercancel', this.drop, true);
    this.rest();
    this.letGo();
  }

  /** A point set by key means nothing here: the keys go from edge to edge. */
  set() {}

  letGo() {
    this.held = null;
    this.stood = null;
    this.hand.sketch.clear();
    this.facing.second?.ask([]);
  }

  rest() {
    this.from = null;
    this.thread.toggleAttribute('hidden', true);
  }

  /** The sheet on which the keys go from edge to edge now. */
  get side() {
    return this.held && this.facing.shown && this.facing.second ? this.facing.second : this.hand.atlas;
  }

  /**
   * The page edges of a sheet without a partner, from the top down.
   * @param {Atlas} atlas
   * @returns {Hold[]}
   */
  lone(atlas) {
    const all = atlas.places.getFeatures().filter((f) => f.get('shape') === 'edge' && !f.get('other'));
    const holds = all.map((f) => ({id: f.get('id'), text: f.get('text'), at: /** @type {Point} */ (f.getGeometry()).getCoordinates(), atlas}));
    return holds.sort((a, b) => /** @type {number} */ (b.at[1]) - /** @type {number} */ (a.at[1]));
  }

  /**
   * The page edge under the pointer, lone or not.
   * @param {PointerEvent} event
   * @returns {{hold: Hold, other: string|null}|null}
   */
  under(event) {
    let best = null;
    let least = NEAR;
    for (const atlas of [this.hand.atlas, this.facing.shown ? this.facing.second : null]) {
      if (!atlas) continue;
      const box = /** @type {HTMLElement} */ (atlas.map.getTargetElement()).getBoundingClientRect();
      if (event.clientX < box.left || event.clientX > box.right || event.clientY < box.top || event.clientY > box.bottom) continue;
      for (const f of atlas.places.getFeatures()) {
        if (f.get('shape') !== 'edge') continue;
        const at = /** @type {Point} */ (f.getGeometry()).getCoordinates();
        const [x, y] = atlas.map.getPixelFromCoordinate(at);
        const away = Math.hypot(box.left + /** @type {number} */ (x) - event.clientX, box.top + /** @type {number} */ (y) - event.clientY);
        if (away < least) {
          least = away;
          best = {hold: {id: f.get('id'), text: f.get('text'), at, atlas}, other: f.get('other')};
        }
      }
    }
    return best;
  }

  /** @param {PointerEvent} event */
  press(event) {
    const found = event.button === 0 ? this.under(event) : null;
    if (!found) return; // the map's own: it is moved
    event.stopPropagation();
    event.preventDefault();
    if (found.other) {
      this.hand.say(`It goes on at ${this.leaves.name(found.other)} already. Part the two edges on its slip first.`);
      return;
    }
    this.from = [event.clientX, event.clientY];
    if (!this.held || found.hold.atlas === this.held.atlas) this.take(found.hold);
  }

  /** @param {PointerEvent} event */
  drag(event) {
    if (!this.from || !this.held) return;
    event.stopPropagation();
    const [x, y] = /** @type {[number, number]} */ (this.from);
    const room = by('pair').getBoundingClientRect();
    const line = /** @type {Element} */ (this.thread.firstElementChild);
    for (const [name, value] of [['x1', x - room.left], ['y1', y - room.top], ['x2', event.clientX - room.left], ['y2', event.clientY - room.top]]) line.setAttribute(String(name), String(value));
    this.thread.toggleAttribute('hidden', Math.hypot(event.clientX - x, event.clientY - y) < DRAWN);
    const found = this.under(event);
    if (found && found.hold.atlas !== this.held.atlas) this.stand(found.hold);
  }

  /** @param {PointerEvent} event */
  release(event) {
    if (!this.from) return;
    event.stopPropagation();
    const [x, y] = /** @type {[number, number]} */ (this.from);
    const clicked = Math.hypot(event.clientX - x, event.clientY - y) < DRAWN;
    this.rest();
    const found = this.under(event);
    if (this.held && found && found.hold.atlas !== this.held.atlas) void this.pair(found.hold, found.other);
    else if (clicked) void guarded(this.layLikely());
    else this.hand.say('There is no lone page edge at this point.');
  }

  /** @param {Hold} hold */
  take(hold) {
    this.held = hold;
    this.stood = null;
    this.hand.sketch.clear();
    if (hold.atlas === this.hand.atlas) this.ring(hold);
    else hold.atlas.ask([hold.id]);
    this.hand.say(`Holding page edge ${called(hold)}. Now the one where it goes on.`);
  }

  /** Stand on an edge without taking it. @param {Hold} hold */
  stand(hold) {
    if (this.stood?.id === hold.id && this.stood.atlas === hold.atlas) return;
    this.stood = hold;
    if (hold.atlas === this.hand.atlas) {
      this.hand.sketch.clear();
      this.ring(hold);
      if (this.held && this.held.atlas === this.hand.atlas) this.ring(this.held);
    } else hold.atlas.ask([hold.id]);
  }

  /** @param {Hold} hold */
  ring(hold) {
    const feature = new Feature(new Point(hold.at));
    feature.setStyle(askedLook);
    this.hand.sketch.addFeature(feature);
  }

  /**
   * @param {Hold} hold
   * @param {string|null} [other] sheet where it goes on already
   */
  async pair(hold, other = null) {
    if (!this.held) return;
    if (other) {
      this.hand.say(`It goes on at ${this.leaves.name(other)} already. Part the two edges on its slip first.`);
      return;
    }
    const target = this.held.id;
    this.letGo();
    await this.hand.decide({do: 'partner', target, partner: hold.id});
  }

  /** With an edge in the hand and no sheet beside it: the one where it most likely goes on. */
  async layLikely() {
    const {held} = this;
    if (!held || this.facing.shown) return;
    const [first] = await loneEdges(this.hand.sheet, held.id);
    if (this.held !== held) return;
    if (!first?.there) {
      await this.layNext(1);
      return;
    }
    await this.facing.lay(/** @type {import('./facing.js').Crossing} */ (first));
    this.hand.say(`Holding page edge ${called(held)}. Beside it: ${this.leaves.name(first.there.sheet)}. Now the edge where it goes on.`);
  }

  /** Lay the next sheet of the manual beside, or the one before. @param {number} step */
  async layNext(step) {
    const sheets = this.leaves.leaves.filter((l) => !l.failed && l.id !== this.hand.sheet).map((l) => l.id);
    const at = sheets.indexOf(this.facing.crossing?.there.sheet ?? '');
    const sheet = sheets[at < 0 ? (step > 0 ? 0 : sheets.length - 1) : (at + step + sheets.length) % sheets.length];
    if (sheet) await this.layBeside(sheet);
    else this.hand.say('The manual has no other sheet.');
  }

  /**
   * Lay a sheet beside that one, at the height of the edge in the hand.
   * @param {string} sheet
   */
  async layBeside(sheet) {
    const {held} = this;
    if (!held || held.atlas !== this.hand.atlas) return;
    const edge = this.hand.atlas.places.getFeatureById(held.id);
    const side = edge && 'get' in edge ? String(edge.get('side')) : 'right';
    const [x, y] = /** @type {[number, number]} */ (held.at);
    await this.facing.layAny(sheet, {sheet: this.hand.sheet, at: [x, -y], edge: side, zone: null});
    const found = this.facing.second ? this.lone(this.facing.second).length : 0;
    this.hand.say(`Beside it: ${this.leaves.name(sheet)}, ${found === 1 ? '1 lone page edge' : `${found} lone page edges`}.`);
  }

  /** A sheet picked from the pile while an edge is in the hand is laid beside. @param {string} sheet @returns {boolean} whether it was */
  takesSheet(sheet) {
    if (!this.held || sheet === this.hand.sheet || this.held.atlas !== this.hand.atlas) return false;
    void guarded(this.layBeside(sheet));
    return true;
  }

  /**
   * @param {KeyboardEvent} event
   * @returns {boolean} whether the key was the tool's
   */
  key(event) {
    const step = {ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1}[event.key];
    if (step) this.walk(step);
    else if (event.key === ' ' || event.key === 'Enter') this.choose();
    else if (event.key === 'Backspace') this.letGo();
    else if (this.held && (event.key === 'PageDown' || event.key === 'PageUp')) void guarded(this.layNext(event.key === 'PageDown' ? 1 : -1));
    else return false;
    return true;
  }

  /** @param {number} step */
  walk(step) {
    const edges = this.lone(this.side).filter((e) => e.id !== this.held?.id);
    if (!edges.length) {
      this.hand.say('No page edge of this sheet is without a partner.');
      return;
    }
    const at = edges.findIndex((e) => e.id === this.stood?.id && e.atlas === this.stood.atlas);
    const to = at < 0 ? (step > 0 ? 0 : edges.length - 1) : (at + step + edges.length) % edges.length;
    const edge = /** @type {Hold} */ (edges[to]);
    this.stand(edge);
    const [x, y] = /** @type {[number, number]} */ (edge.at);
    if (edge.atlas === this.hand.atlas && !this.facing.shown) edge.atlas.go([x - 40, -y - 40, x + 40, -y + 40], 1.6);
    this.hand.say(`Page edge ${called(edge)}, ${to + 1} of ${edges.length} without a partner. Space takes it.`);
  }

  choose() {
    const edge = this.stood;
    if (!edge) return;
    if (this.held && edge.atlas !== this.held.atlas) void this.pair(edge);
    else {
      this.take(edge);
      void guarded(this.layLikely());
    }
  }
}

/** @param {Hold} hold */
function called(hold) {
  return hold.text ? `“${hold.text}”` : 'without a code';
}
