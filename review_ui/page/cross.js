// Drawing without a mouse.

import {by, make} from './parts.js';

/** @typedef {import('./tools.js').Hand} Hand */

/** A cross that the arrow keys move, for drawing without a mouse. Space sets a point where it stands. */
export class Cross {
  /** @param {Hand} hand */
  constructor(hand) {
    this.hand = hand;
    this.mark = make('div', {id: 'cross', 'aria-hidden': 'true', hidden: true});
    by('map').append(this.mark);
    /** @type {[number, number]} screen px in the map */
    this.at = [0, 0];
  }

  show() {
    const [width, height] = this.hand.atlas.map.getSize() ?? [0, 0];
    this.at = [/** @type {number} */ (width) / 2, /** @type {number} */ (height) / 2];
    this.place();
  }

  hide() {
    this.mark.hidden = true;
  }

  place() {
    this.mark.hidden = false;
    this.mark.style.left = `${this.at[0]}px`;
    this.mark.style.top = `${this.at[1]}px`;
  }

  /**
   * @param {string} key
   * @param {number} step px
   * @returns {boolean} whether it was an arrow
   */
  move(key, step) {
    const way = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]}[key];
    if (!way) return false;
    const [width, height] = this.hand.atlas.map.getSize() ?? [0, 0];
    this.at = [
      Math.max(0, Math.min(/** @type {number} */ (width), this.at[0] + step * /** @type {number} */ (way[0]))),
      Math.max(0, Math.min(/** @type {number} */ (height), this.at[1] + step * /** @type {number} */ (way[1]))),
    ];
    this.place();
    return true;
  }

  /** Where it stands on the map, and where it takes hold: [free, snapped]. */
  point() {
    const free = this.hand.atlas.map.getCoordinateFromPixel(this.at);
    return [free, this.hand.grip(free)];
  }
}
