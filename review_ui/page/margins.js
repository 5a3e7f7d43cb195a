// The zones along the edges of the view, like the letters and numbers in the margin of a road map.

import {by, make} from './parts.js';
import {toMap, toScan} from './frame.js';

/** @typedef {import('./shapes.js').Band} Band */

export class Margins {
  /**
   * @param {import('./atlas.js').Atlas} atlas
   * @param {string} [prefix] of the ids of its elements
   */
  constructor(atlas, prefix = '') {
    this.atlas = atlas;
    this.where = /** @type {HTMLOutputElement} */ (by(`${prefix}where`));
    this.columns = by(`${prefix}columns`);
    this.rows = by(`${prefix}rows`);
    /** @type {{band: Band, element: HTMLElement, across: boolean}[]} */
    this.bands = [];
    /** Where the pointer was last, scan px. @type {number[]|null} */
    this.last = null;
    atlas.map.on('postrender', () => this.follow());
    atlas.map.on('pointermove', (event) => this.point(toScan(event.coordinate)));
  }

  /** New labels for the sheet on the table. */
  label() {
    const zones = this.atlas.ground?.zones;
    const {columns, rows} = this;
    columns.replaceChildren();
    rows.replaceChildren();
    this.bands = [];
    if (!zones) return;
    for (const [bands, holder, across] of /** @type {[Band[], HTMLElement, boolean][]} */ ([[zones.columns, columns, true], [zones.rows, rows, false]])) {
      for (const band of bands) {
        const element = make('span', {class: zones.nominal ? 'band nominal' : 'band'}, band.label);
        holder.append(element);
        this.bands.push({band, element, across});
      }
    }
    this.follow();
    if (this.last) this.point(this.last);
  }

  follow() {
    const size = this.atlas.map.getSize();
    if (!size) return;
    for (const {band, element, across} of this.bands) {
      const from = this.atlas.map.getPixelFromCoordinate(toMap(across ? [band.start, 0] : [0, band.start]));
      const to = this.atlas.map.getPixelFromCoordinate(toMap(across ? [band.end, 0] : [0, band.end]));
      if (!from || !to) continue;
      const axis = across ? 0 : 1;
      const start = Math.max(0, /** @type {number} */ (from[axis]));
      const stop = Math.min(/** @type {number} */ (size[axis]), /** @type {number} */ (to[axis]));
      element.hidden = stop - start < 4;
      if (across) {
        element.style.left = `${start}px`;
        element.style.width = `${stop - start}px`;
      } else {
        element.style.top = `${start}px`;
        element.style.height = `${stop - start}px`;
      }
    }
  }

  /** @param {number[]} at scan px */
  point(at) {
    this.last = at;
    const here = {column: '', row: ''};
    for (const {band, element, across} of this.bands) {
      const value = /** @type {number} */ (across ? at[0] : at[1]);
      const inside = band.start <= value && value < band.end;
      element.classList.toggle('here', inside);
      if (inside && across) here.column = band.label;
      if (inside && !across) here.row = band.label;
    }
    const number = /^\d/.test(here.column) ? here.column : here.row;
    const letter = number === here.column ? here.row : here.column;
    this.where.value = here.column && here.row ? `Zone ${letter}${number}` : '';
  }
}
