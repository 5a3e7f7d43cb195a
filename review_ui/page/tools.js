// The tools: one class for each gesture.

import Draw, {createBox} from 'ol/interaction/Draw.js';
import Feature from 'ol/Feature.js';
import Point from 'ol/geom/Point.js';
import LineString from 'ol/geom/LineString.js';
import VectorLayer from 'ol/layer/Vector.js';
import VectorSource from 'ol/source/Vector.js';
import {by, make} from './parts.js';
import {toScan} from './frame.js';
import {drawLook} from './looks.js';

/** @typedef {import('./atlas.js').Atlas} Atlas */
/** @typedef {{node: string, terminal: string}|{wire: string, end: number}|{line: string}} Hook */
/** @typedef {(order: Record<string, unknown>) => Promise<boolean>} Decide */

/** Screen px within which a drawn end takes hold of a terminal, a join, a loose end or a line. */
export const GRIP = 12;

/** What a tool needs from the desk. */
export class Hand {
  /**
   * @param {Atlas} atlas
   * @param {Decide} decide
   * @param {(text: string) => void} say
   */
  constructor(atlas, decide, say) {
    this.atlas = atlas;
    this.decide = decide;
    this.say = say;
    this.sketch = new VectorSource();
    atlas.map.addLayer(new VectorLayer({source: this.sketch, style: drawLook, zIndex: 20}));
  }

  get sheet() {
    return this.atlas.sheet ?? '';
  }

  /**
   * What lies at a map coordinate: a terminal, join or loose end first, else a wire's line.
   * @param {number[]} at
   * @returns {Hook|null}
   */
  hook(at) {
    const reach = GRIP * (this.atlas.map.getView().getResolution() ?? 1);
    const point = nearest(this.atlas.points, at, reach);
    if (point) return point.get('hook');
    const wire = nearest(this.atlas.wires, at, reach);
    return wire ? {line: wire.get('id')} : null;
  }

  /**
   * The coordinate that a point at ``at`` takes hold of: a terminal, join or loose end, else a line, else itself.
   * @param {number[]} at
   */
  grip(at) {
    const reach = GRIP * (this.atlas.map.getView().getResolution() ?? 1);
    const found = nearest(this.atlas.points, at, reach) ?? nearest(this.atlas.wires, at, reach);
    return found?.getGeometry()?.getClosestPoint(at) ?? at;
  }

  /**
   * The wire end nearest to a map coordinate, loose or not.
   * @param {number[]} at
   * @returns {{wire: string, end: number, at: number[]}|null}
   */
  wireEnd(at) {
    const reach = 2 * GRIP * (this.atlas.map.getView().getResolution() ?? 1);
    let best = null;
    let least = reach;
    for (const wire of this.atlas.wires.getFeatures()) {
      const ends = /** @type {import('./shapes.js').End[]} */ (wire.get('ends'));
      for (const [i, end] of ends.entries()) {
        if (!end.here) continue;
        const [x, y] = /** @type {[number, number]} */ (end.at);
        const foot = wire.getGeometry()?.getClosestPoint(at) ?? [x, -y];
        // where two wires end at one point, the side on which the hand points decides
        const away = Math.hypot(x - /** @type {number} */ (at[0]), -y - /** @type {number} */ (at[1])) + Math.hypot(/** @type {number} */ (foot[0]) - /** @type {number} */ (at[0]), /** @type {number} */ (foot[1]) - /** @type {number} */ (at[1]));
        if (away < least) {
          least = away;
          best = {wire: /** @type {string} */ (wire.get('id')), end: i, at: [x, -y]};
        }
      }
    }
    return best;
  }
}

/**
 * @param {VectorSource} source
 * @param {number[]} at
 * @param {number} reach map units
 */
function nearest(source, at, reach) {
  const [x, y] = /** @type {[number, number]} */ (at);
  let best = null;
  let least = reach;
  source.forEachFeatureInExtent([x - reach, y - reach, x + reach, y + reach], (feature) => {
    const foot = feature.getGeometry()?.getClosestPoint(at);
    if (!foot) return;
    const away = Math.hypot(/** @type {number} */ (foot[0]) - x, /** @type {number} */ (foot[1]) - y);
    if (away <= least) {
      least = away;
      best = feature;
    }
  });
  return /** @type {Feature|null} */ (best);
}

/** Draw the line of a wire that was missed; its ends take hold of what they touch. */
export class WirePen {
  /** @param {Hand} hand */
  constructor(hand) {
    this.hand = hand;
    this.hint = 'Click along the wire; double-click (or Enter) at its end. Ends take hold of terminals, joins, loose ends and lines.';
    this.draw = new Draw({source: hand.sketch, type: 'LineString', style: drawLook, stopClick: true});
    this.draw.on('drawend', (event) => {
      const line = /** @type {LineString} */ (event.feature.getGeometry());
      void this.finish(line.getCoordinates());
    });
  }

  start() {
    this.hand.atlas.map.addInteraction(this.draw);
  }

  stop() {
    this.draw.abortDrawing();
    this.hand.atlas.map.removeInteraction(this.draw);
    this.hand.sketch.clear();
  }

  /**
   * Set a point by key.
   * @param {number[]} _free
   * @param {number[]} held
   */
  set(_free, held) {
    this.draw.appendCoordinates([held]);
  }

  /** Take the last point back while drawing. */
  back() {
    this.draw.removeLastPoint();
  }

  /** End the line where it is. */
  end() {
    this.draw.finishDrawing();
  }

  /** @param {number[][]} line */
  async finish(line) {
    const first = line[0];
    const last = line[line.length - 1];
    if (!first || !last || line.length < 2) return;
    const ends = [this.hand.hook(first), this.hand.hook(last)];
    await this.hand.decide({do: 'wire', sheet: this.hand.sheet, points: line.map(toScan), ends, code: null});
    setTimeout(() => this.hand.sketch.clear(), 0);
  }
}

/** Box a symbol that was missed: drag over it, then say what it is. */
export class BoxTool {
  /** @param {Hand} hand */
  constructor(hand) {
    this.hand = hand;
    this.hint = 'Click one corner of the part, then the opposite one.';
    this.title = 'A part that was missed';
    /** Whether other drawings like the boxed one can be looked for. */
    this.teachable = true;
    /** @type {string[]} */
    this.kinds = [];
    /** The first corner, when it was set by key. @type {number[]|null} */
    this.corner = null;
    this.draw = new Draw({source: hand.sketch, type: 'Circle', geometryFunction: createBox(), style: drawLook, stopClick: true});
    this.draw.on('drawend', (event) => {
      const [x0, y0, x1, y1] = /** @type {[number, number, number, number]} */ (event.feature.getGeometry()?.getExtent());
      this.ask([[x0, -y1], [x1, -y0]]);
    });
  }

  start() {
    this.hand.atlas.map.addInteraction(this.draw);
  }

  stop() {
    this.draw.abortDrawing();
    this.hand.atlas.map.removeInteraction(this.draw);
    this.hand.sketch.clear();
  }

  /**
   * Set a corner by key.
   * @param {number[]} free
   */
  set(free) {
    if (!this.corner) {
      this.corner = free;
      this.hand.sketch.addFeature(new Feature(new Point(free)));
      this.hand.say('One corner is set. Move to the opposite one.');
      return;
    }
    const [ax, ay] = /** @type {[number, number]} */ (this.corner);
    const [bx, by_] = /** @type {[number, number]} */ (free);
    this.corner = null;
    this.ask([[Math.min(ax, bx), -Math.max(ay, by_)], [Math.max(ax, bx), -Math.min(ay, by_)]]);
  }

  /** @param {number[][]} box two corners in scan px */
  ask(box) {
    const dialog = /** @type {HTMLDialogElement} */ (by('part'));
    const kind = make('select', {id: 'part-kind'}, ...this.kinds.map((k) => make('option', {value: k, selected: k === 'unknown'}, k.replaceAll('_', ' '))));
    const name = make('input', {id: 'part-name', type: 'text', maxlength: 200});
    this.teach = make('input', {id: 'part-teach', type: 'checkbox'});
    const form = make('form', {method: 'dialog', class: 'part'},
      make('label', {for: 'part-kind'}, 'It is a'), kind, make('label', {for: 'part-name'}, 'Name or id'), name,
      this.teachable && make('label', {class: 'teach'}, this.teach, ' Look for this symbol on all sheets too'),
      make('button', {value: 'use'}, 'Use'), make('button', {value: 'no', type: 'button', onclick: () => dialog.close('no')}, 'Leave it'));
    dialog.replaceChildren(make('h2', {id: 'part-title'}, this.title), form);
    dialog.returnValue = '';
    dialog.addEventListener('close', () => {
      this.hand.sketch.clear();
      if (dialog.returnValue !== 'use') return;
      void this.hand.decide(this.order(box, kind.value, name.value.trim() || null));
    }, {once: true});
    dialog.showModal();
    kind.focus();
  }

  /**
   * @param {number[][]} box
   * @param {string} kind
   * @param {string|null} name
   * @returns {Record<string, unknown>}
   */
  order(box, kind, name) {
    return {do: 'part', sheet: this.hand.sheet, box, kind, name, teach: this.teach?.checked ?? false};
  }
}

/** A click does one thing at one place. */
export class ClickTool {
  /**
   * @param {Hand} hand
   * @param {string} hint
   */
  constructor(hand, hint) {
    this.hand = hand;
    this.hint = hint;
    /** When the button or finger went down with this tool in the hand. @type {number|null} */
    this.pressed = null;
    this.onPress = (/** @type {import('ol/MapBrowserEvent.js').default} */ event) => {
      this.pressed = event.originalEvent.timeStamp;
    };
    this.onClick = (/** @type {import('ol/MapBrowserEvent.js').default} */ event) => {
      // the map tells of a click a quarter of a second late: one made before the tool was taken is not the tool's
      if (this.pressed === null || event.originalEvent.timeStamp < this.pressed) return;
      void this.at(event.coordinate, this.hand.atlas.map.getEventCoordinate(/** @type {MouseEvent} */ (event.originalEvent)));
    };
  }

  start() {
    this.pressed = null;
    // told by the map, though its types do not name it
    this.hand.atlas.map.on(/** @type {any} */ ('pointerdown'), this.onPress);
    this.hand.atlas.map.on('singleclick', this.onClick);
  }

  /**
   * Act by key.
   * @param {number[]} free
   * @param {number[]} held
   */
  set(free, held) {
    void this.at(held, free);
  }

  stop() {
    this.hand.atlas.map.un(/** @type {any} */ ('pointerdown'), this.onPress);
    this.hand.atlas.map.un('singleclick', this.onClick);
    this.hand.sketch.clear();
  }

  /**
   * @param {number[]} _at map coordinate, snapped
   * @param {number[]} _free map coordinate, as pointed at
   */
  async at(_at, _free) {}
}

/** Join wires at a point: where two cross, or two loose ends that belong together. */
export class JoinTool extends ClickTool {
  /** @param {Hand} hand */
  constructor(hand) {
    super(hand, 'Click where wires meet: on a crossing, or between two loose ends.');
  }

  /** @param {number[]} at */
  async at(at) {
    await this.hand.decide({do: 'splice', sheet: this.hand.sheet, at: toScan(at)});
  }
}

/** Cut a wire. */
export class CutTool extends ClickTool {
  /** @param {Hand} hand */
  constructor(hand) {
    super(hand, 'Click a wire where it is not one conductor.');
  }

  /** @param {number[]} at */
  async at(at) {
    const reach = GRIP * (this.hand.atlas.map.getView().getResolution() ?? 1);
    const wire = nearest(this.hand.atlas.wires, at, reach);
    if (!wire) {
      this.hand.say('There is no wire at this point.');
      return;
    }
    await this.hand.decide({do: 'cut', target: wire.get('id'), sheet: this.hand.sheet, at: toScan(at)});
  }
}

/** Move an end of a wire to another terminal: click the end, then where it belongs. */
export class EndTool extends ClickTool {
  /** @param {Hand} hand */
  constructor(hand) {
    super(hand, 'Click the end of a wire, then the terminal where it belongs.');
    /** @type {{wire: string, end: number, at: number[]}|null} */
    this.held = null;
  }

  stop() {
    this.held = null;
    super.stop();
  }

  /**
   * @param {number[]} at
   * @param {number[]} free
   */
  async at(at, free) {
    if (!this.held) {
      this.held = this.hand.wireEnd(free);
      this.hand.say(this.held ? 'Holding this end. Now click where it belongs.' : 'There is no wire end at this point.');
      if (this.held) this.hand.sketch.addFeature(new Feature(new Point(this.held.at)));
      return;
    }
    const {wire, end} = this.held;
    const hook = this.hand.hook(at);
    const to = hook && 'node' in hook ? hook : null;
    this.held = null;
    this.hand.sketch.clear();
    await this.hand.decide({do: 'move_end', target: wire, end, sheet: this.hand.sheet, to, at: toScan(at)});
  }
}
