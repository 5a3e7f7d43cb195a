// Turning the leaves: the sheet where a wire goes on, in the place of this one or beside it.

import {crossings, loneEdges} from './facing.js';
import {say} from './telling.js';

/** @typedef {import('./facing.js').Crossing} Crossing */

export class Turning {
  /**
   * @param {import('./atlas.js').Atlas} atlas
   * @param {import('./facing.js').Facing} facing
   * @param {import('./leaves.js').Leaves} leaves
   * @param {(sheet: string, box: number[], id: string) => Promise<void>} visit
   */
  constructor(atlas, facing, leaves, visit) {
    this.atlas = atlas;
    this.facing = facing;
    this.leaves = leaves;
    this.visit = visit;
  }

  /** Turn to the sheet where the selected wire or page edge goes on; with two sheets open, the next one is laid beside. */
  async overleaf() {
    const {atlas, facing} = this;
    const id = atlas.chosen[0] ?? (facing.shown ? facing.crossing?.link : null);
    const sheet = atlas.sheet;
    if (!id || !sheet) return;
    const [first, ...others] = await crossings(sheet, id);
    const way = [first, ...others].find((c) => c?.there.sheet === facing.crossing?.there.sheet) ?? first;
    if (!way) {
      say('It stays on this sheet.');
      return;
    }
    const two = facing.shown;
    if (two) facing.away();
    const [x, y] = /** @type {[number, number]} */ (way.there.at);
    await this.visit(way.there.sheet, [x - 40, y - 40, x + 40, y + 40], id);
    say(`Now on ${this.leaves.name(way.there.sheet)}.`);
    if (!two) return;
    const on = await crossings(way.there.sheet, id);
    const next = on.find((c) => c.there.sheet !== sheet) ?? on[0];
    if (next) await facing.lay(next);
  }

  /** Lay the sheet where the selected wire goes on beside this one, or put it away again; else that of the nearest page edge. */
  async beside() {
    const {atlas, facing} = this;
    if (facing.shown) {
      facing.away();
      return;
    }
    const sheet = atlas.sheet;
    if (!sheet) return;
    const mine = atlas.chosen[0] ? await crossings(sheet, atlas.chosen[0]) : [];
    const chosen = atlas.chosen[0];
    const [lone] = chosen && !mine.length ? await loneEdges(sheet, chosen) : [];
    if (lone?.there) {
      await facing.lay(/** @type {Crossing} */ (lone));
      say(`No partner is set. Perhaps it goes on at ${this.leaves.name(lone.there.sheet)}: P pairs two edges.`);
      return;
    }
    const all = mine.length ? mine : await crossings(sheet, null);
    const [x, y] = atlas.middle();
    const away = (/** @type {Crossing} */ c) => Math.hypot(/** @type {number} */ (c.here.at[0]) - x, /** @type {number} */ (c.here.at[1]) - y);
    const nearest = all.reduce((/** @type {Crossing|null} */ a, c) => (a && away(a) <= away(c) ? a : c), null);
    if (!nearest) {
      say('No wire of this sheet goes on on another one.');
      return;
    }
    await facing.lay(nearest);
    say(`Beside it: ${this.leaves.name(nearest.there.sheet)}, at ${nearest.text ?? 'a wire without a code'}. O turns to it.`);
  }
}
