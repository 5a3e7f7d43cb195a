// Scan pixels (origin top left, y down) and map coordinates (y up): the one pair of functions between them.

/** @typedef {[number, number]} Pair */

/**
 * @param {number[]} at scan px
 * @returns {Pair} map coordinate
 */
export function toMap(at) {
  return [/** @type {number} */ (at[0]), -(/** @type {number} */ (at[1]))];
}

/**
 * @param {number[]} at map coordinate
 * @returns {Pair} scan px
 */
export function toScan(at) {
  return [/** @type {number} */ (at[0]), -(/** @type {number} */ (at[1])) || 0];
}

/**
 * @param {number[]} box [x0, y0, x1, y1] in scan px
 * @returns {[number, number, number, number]} map extent
 */
export function extentOf(box) {
  const [x0, y0, x1, y1] = /** @type {[number, number, number, number]} */ (box);
  return [x0, -y1, x1, -y0];
}
