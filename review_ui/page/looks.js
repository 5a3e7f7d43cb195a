// How things are drawn over the scan. Doubt shows by dash, width and a sign as well as by colour.

import Fill from 'ol/style/Fill.js';
import RegularShape from 'ol/style/RegularShape.js';
import CircleStyle from 'ol/style/Circle.js';
import Stroke from 'ol/style/Stroke.js';
import Style from 'ol/style/Style.js';
import Text from 'ol/style/Text.js';
import MultiPoint from 'ol/geom/MultiPoint.js';
import LineString from 'ol/geom/LineString.js';
import MultiLineString from 'ol/geom/MultiLineString.js';
import Point from 'ol/geom/Point.js';

/** @typedef {'said'|'sure'|'unsure'|'doubtful'} Doubt */

/** Ink of the reading for each doubt: [colour, width, dash]. Chosen to stay apart in greys and for the colour-blind. */
const INKS = {
  said: ['#00725a', 3.4, undefined],
  sure: ['#0b5fae', 2.2, undefined],
  unsure: ['#b36200', 3.2, [10, 6]],
  doubtful: ['#a3195b', 5, [3, 6]],
};

const HALO = new Stroke({color: 'rgba(255,255,255,0.75)', width: 7});

/** @type {Record<string, Style[]>} */
const lines = {};
/** @type {Record<string, Style[]>} */
const farLines = {};
/** @type {Record<string, Style[]>} */
const boxes = {};

for (const [doubt, [colour, width, dash]] of Object.entries(INKS)) {
  const stroke = new Stroke({color: /** @type {string} */ (colour), width: /** @type {number} */ (width), lineDash: /** @type {number[]|undefined} */ (dash)});
  lines[doubt] = [new Style({stroke, zIndex: doubt === 'sure' ? 1 : 2})];
  // seen from afar the same dashes, only finer, so that the scan stays readable between them
  farLines[doubt] = [new Style({stroke: new Stroke({color: /** @type {string} */ (colour), width: /** @type {number} */ (width) * 0.55, lineDash: /** @type {number[]|undefined} */ (dash)?.map((d) => d * 0.6)}), zIndex: doubt === 'sure' ? 1 : 2})];
  boxes[doubt] = [new Style({stroke, fill: new Fill({color: `${colour}14`}), zIndex: 3})];
}

const loose = new RegularShape({points: 4, radius: 8, radius2: 0, angle: Math.PI / 4, stroke: new Stroke({color: '#a3195b', width: 2.5})});

/**
 * @param {string} text
 * @param {string} colour
 */
function sign(text, colour) {
  return new Text({
    text, font: 'bold 15px system-ui, sans-serif', fill: new Fill({color: '#fff'}), backgroundFill: new Fill({color: colour}),
    padding: [1, 4, 0, 5], overflow: true,
  });
}

const asks = {unsure: sign('?', '#b36200'), doubtful: sign('??', '#a3195b')};

/** The middle of a wire's longest line. @param {import('ol/geom/Geometry.js').default|undefined} geometry */
function middle(geometry) {
  if (geometry instanceof LineString) return new Point(geometry.getCoordinateAt(0.5));
  if (geometry instanceof MultiLineString) {
    const line = geometry.getLineStrings().reduce((a, b) => (a.getLength() >= b.getLength() ? a : b));
    return new Point(line.getCoordinateAt(0.5));
  }
  return geometry;
}

const wireSigns = {
  unsure: new Style({text: asks.unsure, geometry: (f) => middle(/** @type {any} */ (f.getGeometry())), zIndex: 5}),
  doubtful: new Style({text: asks.doubtful, geometry: (f) => middle(/** @type {any} */ (f.getGeometry())), zIndex: 5}),
};
const looseEnds = new Style({
  image: loose, zIndex: 6,
  geometry: (f) => new MultiPoint(f.get('looseEnds') ?? []),
});

/** Map units per px above which signs are left out, because they would cover the sheet. */
const SIGNS_UP_TO = 3.2;

/**
 * @param {import('ol/Feature.js').FeatureLike} feature
 * @param {number} resolution
 * @returns {Style[]}
 */
export function wireLook(feature, resolution) {
  const doubt = /** @type {Doubt} */ (feature.get('doubt'));
  if (resolution > SIGNS_UP_TO) return farLines[doubt] ?? [];
  const look = lines[doubt] ?? [];
  const extra = doubt === 'unsure' || doubt === 'doubtful' ? [wireSigns[doubt]] : [];
  return feature.get('looseEnds')?.length ? [...look, ...extra, looseEnds] : [...look, ...extra];
}

/**
 * @param {import('ol/Feature.js').FeatureLike} feature
 * @param {number} resolution
 * @returns {Style[]}
 */
export function placeLook(feature, resolution) {
  const doubt = /** @type {Doubt} */ (feature.get('doubt'));
  const colour = /** @type {string} */ (INKS[doubt][0]);
  if (feature.get('shape') === 'splice') {
    return [new Style({image: new CircleStyle({radius: 6, fill: new Fill({color: doubt === 'sure' || doubt === 'said' ? colour : '#fff'}), stroke: new Stroke({color: colour, width: 2.5})}), text: doubt === 'doubtful' || doubt === 'unsure' ? sideSign(doubt) : undefined, zIndex: 6})];
  }
  if (feature.get('shape') === 'edge') {
    return [new Style({image: new RegularShape({points: 3, radius: 11, rotation: turn(feature.get('side')), fill: new Fill({color: feature.get('other') ? colour : '#fff'}), stroke: new Stroke({color: colour, width: 2})}), zIndex: 6})];
  }
  const look = boxes[doubt] ?? [];
  if (resolution > SIGNS_UP_TO || (doubt !== 'unsure' && doubt !== 'doubtful')) return look;
  return [...look, new Style({text: asks[doubt], zIndex: 7, geometry: (f) => new Point(corner(/** @type {any} */ (f.getGeometry())))})];
}

/** @param {'unsure'|'doubtful'} doubt */
function sideSign(doubt) {
  const text = asks[doubt].clone();
  text.setOffsetX(16);
  text.setOffsetY(-12);
  return text;
}

/** @param {import('ol/geom/Geometry.js').default} geometry */
function corner(geometry) {
  const [, , x1, y1] = geometry.getExtent();
  return [/** @type {number} */ (x1), /** @type {number} */ (y1)];
}

/** @param {string} side */
function turn(side) {
  return {right: Math.PI / 2, bottom: Math.PI, left: -Math.PI / 2}[side] ?? 0;
}

const chosenInk = new Stroke({color: '#111', width: 3, lineDash: [2, 5]});
const glow = new Stroke({color: 'rgba(255, 214, 61, 0.85)', width: 13});

/** What is selected: a yellow glow under a black dotted line. */
export const chosenLook = [
  new Style({stroke: glow, image: new CircleStyle({radius: 12, stroke: new Stroke({color: 'rgba(255, 214, 61, 0.9)', width: 6})}), zIndex: 8}),
  new Style({stroke: chosenInk, fill: new Fill({color: 'rgba(255, 214, 61, 0.18)'}), zIndex: 9}),
];

/** What the open question is about. */
export const askedLook = [
  new Style({stroke: HALO, zIndex: 8}),
  new Style({stroke: new Stroke({color: 'rgba(255, 150, 30, 0.75)', width: 11}), image: new CircleStyle({radius: 14, stroke: new Stroke({color: 'rgba(255, 150, 30, 0.9)', width: 5})}), zIndex: 8}),
];

/** The way of a circuit: a broad green band under the lines. */
export const wayLook = [
  new Style({stroke: new Stroke({color: 'rgba(38, 150, 90, 0.55)', width: 15}), image: new CircleStyle({radius: 13, stroke: new Stroke({color: 'rgba(38, 150, 90, 0.8)', width: 5})}), zIndex: 7}),
];

/** What is being drawn. */
export const drawLook = [
  new Style({stroke: new Stroke({color: '#fff', width: 6})}),
  new Style({
    stroke: new Stroke({color: '#6a1fb0', width: 3, lineDash: [8, 4]}),
    image: new CircleStyle({radius: 6, fill: new Fill({color: '#fff'}), stroke: new Stroke({color: '#6a1fb0', width: 2.5})}),
  }),
];
