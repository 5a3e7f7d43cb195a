// The tray with the tools. Snap is made once and added last.

import Snap from 'ol/interaction/Snap.js';
import {Cross} from './cross.js';
import {LinesTool} from './lines.js';
import {by, make} from './parts.js';
import {PairTool} from './pairing.js';
import {BoxTool, CutTool, EndTool, GRIP, JoinTool, WirePen} from './tools.js';
import {MergeTool, SplitTool} from './whole.js';

/** @typedef {import('./tools.js').Hand} Hand */
/** @typedef {import('./tools.js').ClickTool} ClickTool */
/** @typedef {{id: string, key: string, name: string, tool: WirePen|BoxTool|ClickTool|LinesTool|PairTool|null}} Slot */

/** The tray: one tool is in the hand at a time, or none. */
export class Tray {
  /**
   * @param {Hand} hand
   * @param {PairTool} pair
   */
  constructor(hand, pair) {
    this.hand = hand;
    this.box = new BoxTool(hand);
    this.split = new SplitTool(hand);
    this.cross = new Cross(hand);
    /** @type {Slot[]} */
    this.slots = [
      {id: 'look', key: 'Esc', name: 'Look', tool: null},
      {id: 'wire', key: 'W', name: 'Draw wire', tool: new WirePen(hand)},
      {id: 'box', key: 'B', name: 'Box part', tool: this.box},
      {id: 'join', key: 'J', name: 'Join', tool: new JoinTool(hand)},
      {id: 'cut', key: 'C', name: 'Cut', tool: new CutTool(hand)},
      {id: 'end', key: 'E', name: 'Move end', tool: new EndTool(hand)},
      {id: 'merge', key: 'M', name: 'One part', tool: new MergeTool(hand)},
      {id: 'split', key: 'D', name: 'Divide', tool: this.split},
      {id: 'pair', key: 'P', name: 'Pair edges', tool: pair},
      {id: 'lines', key: 'L', name: 'Zone lines', tool: new LinesTool(hand)},
    ];
    this.taken = /** @type {Slot} */ (this.slots[0]);
    this.buttons = new Map(this.slots.map((slot) => [slot.id, make('button', {type: 'button', id: `tool-${slot.id}`, 'aria-pressed': 'false', 'aria-keyshortcuts': slot.key, onclick: () => this.take(slot.id)}, slot.name, ' ', make('kbd', {}, slot.key))]));
    by('tools').append(...this.buttons.values());
    // made once: taking it out of a large sheet and putting it back is slow
    this.snaps = [
      new Snap({source: hand.atlas.wires, pixelTolerance: 9, intersection: true}),
      new Snap({source: hand.atlas.points, pixelTolerance: GRIP, edge: false}),
    ];
    this.snapping = false;
    this.take('look');
  }

  /** @param {string} id */
  take(id) {
    const slot = this.slots.find((s) => s.id === id) ?? /** @type {Slot} */ (this.slots[0]);
    this.taken.tool?.stop();
    this.taken = slot;
    this.cross.hide();
    for (const [name, element] of this.buttons) element.setAttribute('aria-pressed', String(name === slot.id));
    this.hand.atlas.picking = slot.tool === null;
    by('map').classList.toggle('drawing', slot.tool !== null);
    if (!slot.tool) return;
    by('map').focus();
    slot.tool.start();
    this.snapLast(!(slot.tool instanceof BoxTool) && !(slot.tool instanceof LinesTool) && !(slot.tool instanceof PairTool));
    this.hand.say(slot.tool.hint);
  }

  /**
   * Snap must come after the interaction that draws.
   * @param {boolean} wanted
   */
  snapLast(wanted) {
    const map = this.hand.atlas.map;
    if (this.snapping) for (const snap of this.snaps) map.removeInteraction(snap);
    if (wanted) for (const snap of this.snaps) map.addInteraction(snap);
    this.snapping = wanted;
  }

  /**
   * Keys that belong to the tool in the hand: arrows move the cross, Space sets a point, Enter ends a line, Backspace takes
   * the last point back.
   * @param {KeyboardEvent} event
   * @returns {boolean} whether it was one
   */
  key(event) {
    const tool = this.taken.tool;
    if (!tool || tool instanceof LinesTool) return false;
    if (tool instanceof PairTool) return tool.key(event);
    if (event.key.startsWith('Arrow') && this.cross.mark.hidden) {
      this.cross.show();
      return true;
    }
    if (this.cross.move(event.key, event.shiftKey ? 40 : 6)) return true;
    if (event.key === ' ') {
      if (this.cross.mark.hidden) this.cross.show();
      const [free, held] = this.cross.point();
      tool.set(/** @type {number[]} */ (free), /** @type {number[]} */ (held));
      return true;
    }
    if (!(tool instanceof WirePen)) return false;
    if (event.key === 'Backspace') tool.back();
    else if (event.key === 'Enter') tool.end();
    else return false;
    return true;
  }
}
