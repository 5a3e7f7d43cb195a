// What the pointer rests on, in a few words beside it. The slip says the same to those who do not see it.

import {by, lettering, make, word} from './parts.js';

const DOUBTS = {said: 'a person said so', sure: 'sure', unsure: 'not quite sure', doubtful: 'doubtful'};

/** @typedef {import('ol/Feature.js').FeatureLike} FeatureLike */

export class Tip {
  /**
   * @param {import('./atlas.js').Atlas} atlas
   * @param {string} [prefix] of the ids of its elements
   */
  constructor(atlas, prefix = '') {
    this.atlas = atlas;
    this.holder = by(`${prefix}tip`);
    this.frame = by(`${prefix}map`);
    /** One look a frame is enough, however fast the pointer runs. */
    this.waiting = false;
    atlas.map.on('pointermove', (event) => {
      if (event.dragging || this.waiting) return;
      this.waiting = true;
      const {pixel} = event;
      requestAnimationFrame(() => {
        this.waiting = false;
        this.look(/** @type {[number, number]} */ (pixel));
      });
    });
    this.frame.addEventListener('pointerleave', () => this.away());
  }

  away() {
    this.holder.hidden = true;
  }

  /** @param {[number, number]} pixel */
  look(pixel) {
    const feature = this.atlas.at(pixel);
    this.frame.style.cursor = feature && this.atlas.picking ? 'pointer' : '';
    if (!feature) {
      this.away();
      return;
    }
    this.holder.replaceChildren(...this.words(feature));
    this.holder.hidden = false;
    const left = Math.min(pixel[0] + 42, this.frame.clientWidth - this.holder.offsetWidth);
    this.holder.style.left = `${Math.max(26, left)}px`;
    this.holder.style.top = `${pixel[1] + 42 > this.frame.clientHeight - 30 ? pixel[1] - 20 : pixel[1] + 42}px`;
  }

  /** @param {FeatureLike} feature */
  words(feature) {
    const kind = String(feature.get('kind'));
    const doubt = /** @type {keyof typeof DOUBTS} */ (feature.get('doubt'));
    const about = kind === 'splice' ? make('span', {}, `${feature.get('degree')} wires meet`) : lettering(feature.get('text'));
    return [make('b', {}, word(kind)), ' ', about, make('span', {}, `, ${DOUBTS[doubt]}${feature.get('zone') ? `, ${feature.get('zone')}` : ''}`)];
  }
}
