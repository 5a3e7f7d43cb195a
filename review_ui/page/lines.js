// Moving the lines between the zones: a grip on the margin for each, to be dragged or moved with the arrow keys.

import Feature from 'ol/Feature.js';
import LineString from 'ol/geom/LineString.js';
import {by, make} from './parts.js';
import {toMap, toScan} from './frame.js';

/** @typedef {import('./tools.js').Hand} Hand */
/** @typedef {{axis: 'across'|'down', line: number, at: number, name: string, grip: HTMLElement, feature: Feature}} Line */

/** Sheet mm by which an arrow key moves a line, and with Shift. */
const STEP_MM = 0.5;
const LEAP_MM = 5;

export class LinesTool {
  /** @param {Hand} hand */
  constructor(hand) {
    this.hand = hand;
    this.hint = 'Drag the grip of a zone line in the margin; or Tab to it, move it with the arrow keys, and set it with Enter.';
    this.holder = by('zone-lines');
    /** @type {Line[]} */
    this.lines = [];
    this.place = () => this.lines.forEach((line) => this.show(line));
  }

  start() {
    this.lay();
    this.holder.hidden = false;
    this.hand.atlas.map.on('postrender', this.place);
    this.lines[0]?.grip.focus();
  }

  stop() {
    this.hand.atlas.map.un('postrender', this.place);
    this.holder.hidden = true;
    this.holder.replaceChildren();
    this.lines = [];
    this.hand.sketch.clear();
  }

  /** A point set by key means nothing here. */
  set() {}

  /** Grips for the lines as they are now; the line that was held stays held. */
  lay() {
    const held = this.lines.findIndex((l) => l.grip === document.activeElement);
    this.hand.sketch.clear();
    this.lines = [];
    const zones = this.hand.atlas.ground?.zones;
    for (const [axis, bands, word] of /** @type {['across'|'down', import('./shapes.js').Band[], string][]} */ ([['across', zones?.columns ?? [], 'column'], ['down', zones?.rows ?? [], 'row']])) {
      for (let line = 0; line <= bands.length && bands.length; line += 1) {
        const [before, after] = [bands[line - 1], bands[line]];
        const name = before && after ? `Line between ${word} ${before.label} and ${after.label}` : `Outer line of ${word} ${(before ?? after)?.label}`;
        const grip = make('div', {class: `grip grip-${axis}`, role: 'slider', tabindex: 0, 'aria-label': name, 'aria-orientation': axis === 'across' ? 'horizontal' : 'vertical', 'data-line': `${axis} ${line}`});
        const feature = new Feature();
        const made = {axis, line, at: /** @type {number} */ (after?.start ?? before?.end), name, grip, feature};
        grip.addEventListener('pointerdown', (event) => this.drag(made, event));
        grip.addEventListener('keydown', (event) => this.key(made, event));
        this.lines.push(made);
        this.hand.sketch.addFeature(feature);
      }
    }
    this.holder.replaceChildren(...this.lines.map((l) => l.grip));
    this.place();
    if (held >= 0) this.lines[held]?.grip.focus();
  }

  /** Put the grip and the line where the line is now. @param {Line} line */
  show(line) {
    const {map, ground} = this.hand.atlas;
    if (!ground) return;
    const across = line.axis === 'across';
    const ends = across ? [[line.at, 0], [line.at, ground.height]] : [[0, line.at], [ground.width, line.at]];
    line.feature.setGeometry(new LineString(ends.map(toMap)));
    const pixel = map.getPixelFromCoordinate(toMap(/** @type {number[]} */ (ends[0])));
    const size = map.getSize() ?? [0, 0];
    const frame = by('map');
    if (!pixel) return;
    const on = /** @type {number} */ (pixel[across ? 0 : 1]);
    line.grip.hidden = on < 0 || on > /** @type {number} */ (size[across ? 0 : 1]);
    if (across) line.grip.style.left = `${frame.offsetLeft + on}px`;
    else line.grip.style.top = `${frame.offsetTop + on}px`;
    const mm = line.at / ground.px_per_mm;
    line.grip.setAttribute('aria-valuenow', mm.toFixed(1));
    line.grip.setAttribute('aria-valuetext', `${mm.toFixed(1)} mm`);
    line.grip.setAttribute('aria-valuemin', '0');
    line.grip.setAttribute('aria-valuemax', ((across ? ground.width : ground.height) / ground.px_per_mm).toFixed(0));
  }

  /**
   * @param {Line} line
   * @param {PointerEvent} event
   */
  drag(line, event) {
    event.preventDefault();
    line.grip.focus();
    line.grip.setPointerCapture(event.pointerId);
    const before = line.at;
    const move = (/** @type {PointerEvent} */ e) => {
      const [x, y] = toScan(this.hand.atlas.map.getEventCoordinate(e));
      line.at = line.axis === 'across' ? x : y;
      this.show(line);
    };
    line.grip.addEventListener('pointermove', move);
    line.grip.addEventListener('pointerup', () => {
      line.grip.removeEventListener('pointermove', move);
      if (line.at !== before) void this.commit(line);
    }, {once: true});
  }

  /**
   * @param {Line} line
   * @param {KeyboardEvent} event
   */
  key(line, event) {
    const way = {ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1}[event.key];
    if (way) {
      line.at += way * (event.shiftKey ? LEAP_MM : STEP_MM) * (this.hand.atlas.ground?.px_per_mm ?? 1);
      this.show(line);
    } else if (event.key === 'Enter' || event.key === ' ') void this.commit(line);
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  /** @param {Line} line */
  async commit(line) {
    const {ground} = this.hand.atlas;
    if (!ground) return;
    const at = line.axis === 'across' ? [line.at, ground.height / 2] : [ground.width / 2, line.at];
    await this.hand.decide({do: 'zone_line', sheet: ground.sheet, axis: line.axis, line: line.line, at});
    this.lay();
  }
}
