// The map: the scan in tiles, what was read drawn over it, and what is selected.

import Feature from 'ol/Feature.js';
import OlMap from 'ol/Map.js';
import View from 'ol/View.js';
import LineString from 'ol/geom/LineString.js';
import MultiLineString from 'ol/geom/MultiLineString.js';
import Point from 'ol/geom/Point.js';
import Polygon from 'ol/geom/Polygon.js';
import TileLayer from 'ol/layer/Tile.js';
import VectorLayer from 'ol/layer/Vector.js';
import VectorImageLayer from 'ol/layer/VectorImage.js';
import DragPan from 'ol/interaction/DragPan.js';
import Projection from 'ol/proj/Projection.js';
import TileImage from 'ol/source/TileImage.js';
import VectorSource from 'ol/source/Vector.js';
import TileGrid from 'ol/tilegrid/TileGrid.js';
import {defaults as controls} from 'ol/control/defaults.js';
import {defaults as interactions} from 'ol/interaction/defaults.js';
import {get} from './ask.js';
import {extentOf, toMap, toScan} from './frame.js';
import {askedLook, chosenLook, placeLook, wayLook, wireLook} from './looks.js';

/** @typedef {import('./shapes.js').Ground} Ground */
/** @typedef {import('./shapes.js').Read} Read */

/** How near (px on the screen) the pointer must be to touch a thing. */
const TOUCH = 7;

/** How much larger than the view what was read is drawn, so that it does not end at once where the map is dragged. */
const AROUND = 1.25;

/** So long (ms) what was read waits for the scan. */
const OVERDUE = 1000;

const still = matchMedia('(prefers-reduced-motion: reduce)');

export class Atlas {
  /**
   * @param {HTMLElement} target
   * @param {{bounded: boolean}} [how] bounded: the middle of the view stays on the sheet
   */
  constructor(target, how = {bounded: true}) {
    this.bounded = how.bounded;
    /** @type {Ground|null} */
    this.ground = null;
    /** @type {string[]} */
    this.chosen = [];
    /** @type {((id: string|null, feature: Feature|null) => void)[]} */
    this.choosers = [];
    /** Called when a sheet's scan was laid out. */
    this.laid = () => {};
    /** Called when a tile does not come. */
    this.tileTrouble = () => {};
    this.wires = new VectorSource();
    this.places = new VectorSource();
    /** Terminals, joins and loose ends: what drawing snaps to first. */
    this.points = new VectorSource();
    /** What is drawn of each thing, by its id, so that an edit need not look through all. @type {Map<string, [VectorSource, Feature][]>} */
    this.drawn = new Map();
    this.tiles = new TileLayer({preload: 1, className: 'scan'});
    // drawn as pictures: while a hand moves the map they are only shifted, however many lines the sheet has
    this.wireLayer = new VectorImageLayer({source: this.wires, style: wireLook, imageRatio: AROUND});
    this.placeLayer = new VectorImageLayer({source: this.places, style: placeLook, imageRatio: AROUND});
    this.askedSource = new VectorSource();
    this.chosenSource = new VectorSource();
    this.waySource = new VectorSource();
    this.map = new OlMap({
      target,
      keyboardEventTarget: target,
      // the map has a tab stop, but wheel and drag must work before it was focused
      // and it stays where the hand lets go of it, it does not glide on
      interactions: interactions({onFocusOnly: false, altShiftDragRotate: false, pinchRotate: false, dragPan: false}).extend([new DragPan()]),
      controls: controls({attribution: false, rotate: false, zoom: false}),
      layers: [
        this.tiles,
        new VectorLayer({source: this.askedSource, style: askedLook}),
        new VectorLayer({source: this.waySource, style: wayLook}),
        this.wireLayer,
        this.placeLayer,
        new VectorLayer({source: this.chosenSource, style: chosenLook}),
      ],
    });
    this.map.on('click', (event) => {
      if (this.picking) this.touch(event.pixel);
    });
    /** False while a tool draws: then a click is the tool's. */
    this.picking = true;
    /** How often a person has moved the view. What comes late must not take it away under their hands. */
    this.handled = 0;
    for (const how of ['pointerdown', 'wheel']) target.addEventListener(how, () => this.touched(), {capture: true, passive: true});
    target.addEventListener('keydown', (event) => {
      if (/^(Arrow|[+=-]$)/.test(event.key)) this.touched();
    }, {capture: true});
    /** Settled when the scan of the sheet is in sight, or long overdue. @type {Promise<unknown>} */
    this.sight = Promise.resolve();
    /** The same for the first sheet of all. @type {Promise<unknown>} */
    this.firstSight = new Promise((settle) => {
      this.seen = settle;
    });
  }

  /** A person moves the view. */
  touched() {
    this.handled += 1;
  }

  get sheet() {
    return this.ground?.sheet ?? null;
  }

  /**
   * Lay a sheet on the table: its scan at once, what was read as soon as it comes.
   * @param {string} sheet
   * @returns {Promise<Read|null>} null when another sheet was laid out meanwhile
   */
  async open(sheet) {
    const ground = /** @type {Ground} */ (await get(`/desk/sheets/${encodeURIComponent(sheet)}/ground`));
    this.lay(ground);
    for (const source of [this.wires, this.places, this.points, this.askedSource, this.chosenSource, this.waySource]) source.clear(true);
    await this.sight; // the scan first: what was read is much, and the server is one
    if (this.ground !== ground) return null;
    const read = /** @type {Read} */ (await get(`/desk/sheets/${encodeURIComponent(sheet)}/read`));
    if (this.ground !== ground) return null;
    this.draw(read);
    return read;
  }

  /** @param {Ground} ground */
  lay(ground) {
    this.ground = ground;
    const extent = [0, -ground.height, ground.width, 0];
    const projection = new Projection({code: 'scan', units: 'pixels', extent});
    const resolutions = Array.from({length: ground.levels}, (_, z) => 2 ** (ground.levels - 1 - z));
    const source = new TileImage({
        projection,
        tileGrid: new TileGrid({extent, origin: [0, 0], resolutions, tileSize: ground.side}),
        tileUrlFunction: ([z, x, y]) => `/desk/sheets/${encodeURIComponent(ground.sheet)}/tiles/${z}/${x}/${y}.jpg?of=${ground.mark}`,
        transition: still.matches ? 0 : 120,
      });
    source.once('tileloadend', () => {
      document.body.dataset.tiles = 'yes';
    });
    source.on('tileloaderror', () => this.tileTrouble());
    this.sight = new Promise((settle) => {
      source.once('tileloadend', settle);
      source.once('tileloaderror', settle);
      setTimeout(settle, OVERDUE);
    });
    void this.sight.then(this.seen);
    this.tiles.setExtent(extent);
    this.tiles.setSource(source);
    this.map.setView(
      new View({projection, ...(this.bounded ? {extent} : {}), showFullExtent: true, constrainOnlyCenter: true, minResolution: this.bounded ? 0.2 : 0.05, maxResolution: (this.bounded ? 2 : 8) * (resolutions[0] ?? 1), constrainResolution: false}),
    );
    this.map.getView().fit(extent, {padding: [8, 8, 8, 8]});
    this.laid();
  }

  /** @param {Read} read */
  draw(read) {
    if (this.ground && read.zones) {
      this.ground.zones = read.zones;
      this.laid();
    }
    this.wires.clear(true);
    this.places.clear(true);
    this.points.clear(true);
    this.drawn.clear();
    this.add(read);
    this.showChosen();
  }

  /** @param {Read} read */
  add(read) {
    const made = featuresOf(read);
    for (const [source, features] of /** @type {[VectorSource, Feature[]][]} */ ([[this.wires, made.wires], [this.places, made.places], [this.points, made.points]])) {
      source.addFeatures(features);
      for (const feature of features) {
        for (const of of new Set([feature.get('id'), feature.get('connector')])) {
          if (!of) continue;
          const known = this.drawn.get(of);
          if (known) known.push([source, feature]);
          else this.drawn.set(of, [[source, feature]]);
        }
      }
    }
  }

  /**
   * Draw again what an edit touched.
   * @param {Read} changed
   * @param {string[]} touched
   */
  patch(changed, touched) {
    for (const id of new Set(touched)) {
      for (const [source, feature] of this.drawn.get(id) ?? []) {
        if (source.hasFeature(feature)) source.removeFeature(feature);
      }
      this.drawn.delete(id);
    }
    this.add(changed);
    this.showChosen();
  }

  /**
   * The thing at a pixel of the map; a place before a wire.
   * @param {number[]} pixel
   * @returns {Feature|null}
   */
  at(pixel) {
    const found = this.map.forEachFeatureAtPixel(pixel, (feature) => feature, {
      hitTolerance: TOUCH,
      layerFilter: (layer) => layer === this.placeLayer || layer === this.wireLayer,
    });
    return found instanceof Feature ? found : null;
  }

  /** @param {number[]} pixel */
  touch(pixel) {
    const found = this.at(pixel);
    this.choose(found ? found.get('id') : null, found);
  }

  /**
   * @param {string|null} id
   * @param {Feature|null} [feature]
   */
  choose(id, feature = null) {
    this.chosen = id ? [id] : [];
    this.showChosen();
    for (const told of this.choosers) told(id, feature ?? (id ? this.feature(id) : null));
  }

  showChosen() {
    this.chosenSource.clear(true);
    this.chosenSource.addFeatures(this.copies(this.chosen));
  }

  /** @param {string[]} ids */
  ask(ids) {
    this.askedSource.clear(true);
    this.askedSource.addFeatures(this.copies(ids));
  }

  /** The way of a circuit, as far as it runs over this sheet. @param {string[]} ids */
  mark(ids) {
    this.waySource.clear(true);
    this.waySource.addFeatures(this.copies(ids));
  }

  /** @param {string[]} ids */
  copies(ids) {
    return ids.flatMap((id) => {
      const feature = this.feature(id);
      const geometry = feature?.getGeometry();
      return geometry ? [new Feature(geometry.clone())] : [];
    });
  }

  /** @param {string} id */
  feature(id) {
    const found = this.wires.getFeatureById(id) ?? this.places.getFeatureById(id);
    return found instanceof Feature ? found : null;
  }

  /**
   * Bring a part of the sheet into view, with room around it.
   * @param {number[]} box scan px
   * @param {number} [closest] map units per px
   */
  go(box, closest = 0.7) {
    const view = this.map.getView();
    view.cancelAnimations();
    view.fit(extentOf(box), {padding: [90, 90, 120, 90], minResolution: closest, duration: still.matches ? 0 : 260});
  }

  /** Show the whole sheet. */
  whole() {
    if (!this.ground) return;
    this.touched();
    const {width, height} = this.ground;
    this.map.getView().cancelAnimations();
    this.map.getView().fit(extentOf([0, 0, width, height]), {padding: [8, 8, 8, 8], duration: still.matches ? 0 : 260});
  }

  /** A sheet that lies small in the middle of more room than before takes the room. */
  fill() {
    const [across, down] = this.map.getSize() ?? [0, 0];
    if (!this.ground || !across || !down) return;
    const needed = Math.max(this.ground.width / across, this.ground.height / down);
    if ((this.map.getView().getResolution() ?? 0) > 1.1 * needed) this.whole();
  }

  /** The scan point in the middle of the view. */
  middle() {
    return toScan(this.map.getView().getCenter() ?? [0, 0]);
  }

  /**
   * Fade: 0 shows the scan alone, 50 both, 100 what was read alone.
   * @param {number} value
   */
  fade(value) {
    const read = Math.min(1, value / 50);
    this.wireLayer.setOpacity(read);
    this.placeLayer.setOpacity(read);
    this.tiles.setOpacity(Math.min(1, (100 - value) / 50));
  }
}

/**
 * @param {Read} read
 * @returns {{wires: Feature[], places: Feature[], points: Feature[]}}
 */
function featuresOf(read) {
  const wires = [];
  const places = [];
  const points = [];
  for (const wire of read.wires) {
    const lines = wire.lines.map((line) => line.map(toMap));
    const geometry = lines.length === 1 ? new LineString(lines[0] ?? []) : new MultiLineString(lines);
    const feature = new Feature({geometry, kind: 'wire', ...pick(wire)});
    const looseEnds = wire.ends.flatMap((end, i) => (end.node === null && end.here ? [{end: i, at: toMap(end.at)}] : []));
    feature.set('looseEnds', looseEnds.map((e) => e.at), true);
    feature.set('ends', wire.ends, true);
    feature.setId(wire.id);
    wires.push(feature);
    for (const end of looseEnds) points.push(new Feature({geometry: new Point(end.at), id: wire.id, hook: {wire: wire.id, end: end.end}}));
  }
  for (const [shape, drawn] of /** @type {[string, import('./shapes.js').Drawn[]][]} */ ([['component', read.components], ['connector', read.connectors], ['grommet', read.grommets], ['ground', read.grounds]])) {
    for (const thing of drawn) {
      const ring = thing.box.map(toMap);
      const feature = new Feature({geometry: new Polygon([[...ring, /** @type {[number, number]} */ (ring[0])]]), shape, kind: thing.kind, connector: thing.connector, zone: thing.zone, ...pick(thing)});
      feature.setId(thing.id);
      places.push(feature);
      for (const terminal of thing.terminals) {
        points.push(new Feature({geometry: new Point(toMap(terminal.at)), id: thing.id, hook: {node: thing.id, terminal: terminal.id}}));
      }
    }
  }
  for (const splice of read.splices) {
    const geometry = new Point(toMap(splice.at));
    const feature = new Feature({geometry, shape: 'splice', kind: 'splice', zone: splice.zone, degree: splice.degree, id: splice.id, text: null, doubt: splice.doubt});
    feature.setId(splice.id);
    places.push(feature);
    points.push(new Feature({geometry: geometry.clone(), id: splice.id, hook: {node: splice.id, terminal: '*'}}));
  }
  for (const edge of read.edges) {
    const feature = new Feature({geometry: new Point(toMap(edge.at)), shape: 'edge', kind: 'link', side: edge.side, other: edge.other, ...pick(edge)});
    feature.setId(edge.id);
    places.push(feature);
  }
  return {wires, places, points};
}

/** @param {{id: string, text: string|null, doubt: string}} thing */
function pick(thing) {
  return {id: thing.id, text: thing.text, doubt: thing.doubt};
}
