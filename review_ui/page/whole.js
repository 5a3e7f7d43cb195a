// Tools for what is one part and what is two.

import {BoxTool, ClickTool} from './tools.js';

/** @typedef {import('./tools.js').Hand} Hand */
/** @typedef {import('ol/Feature.js').default} Feature */

/**
 * The smallest component that is drawn around a map coordinate.
 * @param {Hand} hand
 * @param {number[]} at
 * @returns {Feature|null}
 */
function partAt(hand, at) {
  const room = (/** @type {Feature} */ f) => {
    const [x0, y0, x1, y1] = /** @type {[number, number, number, number]} */ (f.getGeometry()?.getExtent());
    return (x1 - x0) * (y1 - y0);
  };
  const found = hand.atlas.places.getFeaturesAtCoordinate(at).filter((f) => f.get('shape') === 'component');
  return found.sort((a, b) => room(a) - room(b))[0] ?? null;
}

/** @param {Feature} part */
function called(part) {
  return part.get('text') ?? `a ${String(part.get('kind')).replaceAll('_', ' ')} without a name`;
}

/** Two parts that are one: click the one that stays, then the one that goes up in it. */
export class MergeTool extends ClickTool {
  /** @param {Hand} hand */
  constructor(hand) {
    super(hand, 'Click the part that stays, then the one that belongs to it.');
    /** @type {Feature|null} */
    this.held = null;
  }

  stop() {
    this.held = null;
    super.stop();
  }

  /**
   * @param {number[]} _at
   * @param {number[]} free
   */
  async at(_at, free) {
    const part = partAt(this.hand, free);
    if (!part) {
      this.hand.say('There is no part at this point.');
      return;
    }
    if (!this.held) {
      this.held = part;
      this.hand.say(`Holding ${called(part)}. Now click what belongs to it.`);
      const copy = part.clone();
      copy.setId(undefined);
      this.hand.sketch.addFeature(copy);
      return;
    }
    const target = this.held.get('id');
    this.held = null;
    this.hand.sketch.clear();
    await this.hand.decide({do: 'merge_parts', target, other: part.get('id')});
  }
}

/** One part that is two: box the one that comes off, then say what it is. */
export class SplitTool extends BoxTool {
  /** @param {Hand} hand */
  constructor(hand) {
    super(hand);
    this.hint = 'Box the piece of a part that is a part of its own: one corner, then the opposite one.';
    this.title = 'A part of its own';
    this.teachable = false;
  }

  /** @param {number[][]} box two corners in scan px */
  ask(box) {
    const [[x0, y0], [x1, y1]] = /** @type {[[number, number], [number, number]]} */ (box);
    this.part = partAt(this.hand, [(x0 + x1) / 2, -(y0 + y1) / 2]);
    if (this.part) super.ask(box);
    else {
      this.hand.say('The middle of the box lies on no part.');
      setTimeout(() => this.hand.sketch.clear(), 0);
    }
  }

  /**
   * @param {number[][]} box
   * @param {string} kind
   * @param {string|null} name
   */
  order(box, kind, name) {
    return {do: 'split_part', target: this.part?.get('id'), sheet: this.hand.sheet, box, kind, name};
  }
}
