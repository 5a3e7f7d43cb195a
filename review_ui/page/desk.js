// The review desk: puts the parts together.

import {Atlas} from './atlas.js';
import {get, person, Refused, waiting} from './ask.js';
import {Book} from './book.js';
import {Cards} from './cards.js';
import {Decisions} from './decisions.js';
import {Facing} from './facing.js';
import {Intake} from './intake.js';
import {Keys} from './keys.js';
import {keyTable} from './keytable.js';
import {Leaves} from './leaves.js';
import {Margins} from './margins.js';
import {PairTool} from './pairing.js';
import {button, by, field} from './parts.js';
import {Seek} from './seek.js';
import {Slip} from './slip.js';
import {after, guarded, say, trouble} from './telling.js';
import {Hand} from './tools.js';
import {Tray} from './tray.js';
import {Tip} from './tip.js';
import {Turning} from './turning.js';
import {WayCard} from './way.js';

/** @typedef {import('./shapes.js').Overview} Overview */
/** @typedef {import('./shapes.js').Done} Done */
/** @typedef {import('./shapes.js').Question} Question */

/** How often (ms) the page looks whether somebody else changed the manual. */
const LOOK_AGAIN = 4000;

const atlas = new Atlas(by('map'));
const margins = new Margins(atlas);
const tip = new Tip(atlas);
const facing = new Facing(atlas);
facing.chosen = (/** @type {string|null} */ id, /** @type {import('ol/Feature.js').default|null} */ feature) => atlas.choose(id, feature);
facing.name = (/** @type {string} */ sheet) => leaves.name(sheet);
atlas.laid = () => margins.label();
const decisions = new Decisions(() => atlas.sheet, made, moved);
const decide = (/** @type {Record<string, unknown>} */ order) => decisions.decide(order);

/**
 * Draw what a decision changed.
 * @param {Done} done
 * @param {Record<string, unknown>} order
 */
async function made(done, order) {
  if (done.changed && done.changed.sheet === atlas.sheet) atlas.patch(done.changed, done.touched);
  if (['conventions', 'forget'].includes(String(order.do)) || order.teach) void intake.look();
  if (done.anew) await refreshAll();
  else await Promise.all([cards.refresh(), overview(), slip.refresh(), facing.refresh()]);
}

async function moved() {
  await Promise.all([refreshAll(), intake.look()]);
}

const way = new WayCard((sheet, box, id) => void guarded(visit(sheet, box, id)), (ids) => atlas.mark(ids));
const slip = new Slip(decide, (sheet, box) => void guarded(visit(sheet, box)), (id) => void guarded(way.follow(id)));
const cards = new Cards(decide, (question, moved) => void guarded(pointAt(question, moved)), () => atlas.sheet, () => atlas.handled);
const book = new Book(decide);
const intake = new Intake(() => guarded(renew()), say, trouble);
intake.go = (/** @type {string} */ sheet, /** @type {number[]} */ box) => void guarded(visit(sheet, box));
intake.name = (/** @type {string} */ sheet) => leaves.name(sheet);
const leaves = new Leaves((sheet) => {
  if (!pairTool.takesSheet(sheet)) void guarded(open(sheet));
});
const hand = new Hand(atlas, decide, say);
const pairTool = new PairTool(hand, facing, leaves);
const tray = new Tray(hand, pairTool);
const turning = new Turning(atlas, facing, leaves, visit);
after.anew = () => refreshAll();
const seek = new Seek((sight) => void guarded(visit(sight.sheet, sight.box, ['zone', 'sheet'].includes(sight.kind) ? null : sight.id)));

async function overview() {
  const asked = decisions.answered;
  const told = /** @type {Overview} */ (await get('/desk/manual'));
  by('manual-name').textContent = told.name;
  by('manual-name').title = told.rights;
  document.title = `${told.name} – review desk`;
  decisions.know(told, asked);
  tray.box.kinds = told.kinds;
  tray.split.kinds = told.kinds.filter((k) => k !== 'connector');
  slip.kinds = told.kinds;
  leaves.show(told);
  by('welcome').hidden = told.sheets.length > 0;
  document.body.classList.toggle('empty', told.sheets.length === 0);
  return told;
}

/** @param {string} sheet */
async function open(sheet) {
  if (atlas.sheet === sheet) return;
  if (facing.shown) facing.away();
  tray.take('look');
  by('map').setAttribute('aria-busy', 'true');
  leaves.at(sheet);
  const read = await atlas.open(sheet).finally(() => by('map').removeAttribute('aria-busy'));
  if (!read) return;
  atlas.choose(null);
  atlas.mark(way.ids);
  if (field('only-here').checked) await cards.refresh();
  if (cards.open) atlas.ask(cards.open.targets);
  history.replaceState(null, '', `#${encodeURIComponent(sheet)}`);
}

/**
 * @param {string} sheet
 * @param {number[]} box scan px
 * @param {string|null} [id]
 */
async function visit(sheet, box, id = null) {
  await open(sheet);
  atlas.go(box);
  if (id) atlas.choose(id);
}

/**
 * @param {Question|null} question
 * @param {boolean} [moved] the person has moved the view since the question was asked for: it stays with them
 */
async function pointAt(question, moved = false) {
  atlas.ask(question?.targets ?? []);
  if (!question || tray.taken.tool || moved) return;
  const spot = question.spots.find((s) => s.sheet === atlas.sheet) ?? question.spots[0];
  if (!spot) return;
  await open(spot.sheet);
  atlas.ask(question.targets);
  atlas.go(around(question.spots.filter((s) => s.sheet === spot.sheet).map((s) => s.box)));
}

/** The smallest box around all of them, so that every place of one question is in view. @param {number[][]} boxes */
function around(boxes) {
  const side = (/** @type {number} */ i, /** @type {(...v: number[]) => number} */ most) => most(...boxes.map((b) => /** @type {number} */ (b[i])));
  return [side(0, Math.min), side(1, Math.min), side(2, Math.max), side(3, Math.max)];
}

/** Draw what was read of the sheet on the table; when a decision came between asking and answer, ask again. @param {string} sheet */
async function redraw(sheet) {
  const asked = decisions.answered;
  const read = await get(`/desk/sheets/${encodeURIComponent(sheet)}/read`);
  if (atlas.sheet !== sheet) return;
  if (decisions.answered === asked) atlas.draw(read);
  else await redraw(sheet);
}

async function refreshAll() {
  const sheet = atlas.sheet;
  await overview();
  if (sheet) await redraw(sheet);
  await Promise.all([cards.refresh(), slip.refresh(), facing.refresh()]);
  if (cards.open) atlas.ask(cards.open.targets);
}

/** After a run: new pages or new readings. The first page that can be read is laid out when none lies there. */
async function renew() {
  if (atlas.sheet) {
    await refreshAll();
    return;
  }
  const told = await overview();
  const readable = told.sheets.filter((s) => !s.failed);
  const first = readable.find((s) => s.kind === 'diagram') ?? readable[0];
  if (first) await open(first.id);
  await cards.refresh();
}

function lamp() {
  const night = document.documentElement.dataset.lamp !== 'night';
  document.documentElement.dataset.lamp = night ? 'night' : 'day';
  localStorage.setItem('desk.lamp', night ? 'night' : 'day');
  button('lamp').setAttribute('aria-pressed', String(night));
}

/** @param {number} by_ */
function fadeBy(by_) {
  const slider = field('fade');
  slider.value = String(Math.max(0, Math.min(100, Number(slider.value) + by_)));
  atlas.fade(Number(slider.value));
}

const keys = new Keys(
  keyTable({atlas, book, cards, decisions, intake, leaves, slip, tray, turning, way, explain, fadeBy, open, pointAt, remove}),
  (event) => tray.key(event) || (/^[1-9]$/.test(event.key) && cards.choose(Number(event.key))),
);

function explain() {
  keys.explain();
}

function remove() {
  const element = document.getElementById('delete-wire') ?? document.getElementById('unsplice') ?? document.getElementById('remove-part');
  if (element instanceof HTMLButtonElement) element.click();
}

function wire() {
  button('undo').addEventListener('click', () => void decisions.move('undo'));
  button('redo').addEventListener('click', () => void decisions.move('redo'));
  button('lamp').addEventListener('click', lamp);
  button('help-open').addEventListener('click', explain);
  button('follow').addEventListener('click', () => void guarded(turning.overleaf()));
  button('beside').addEventListener('click', () => void guarded(turning.beside()));
  button('sheet-done').addEventListener('click', () => {
    const done = button('sheet-done').getAttribute('aria-pressed') !== 'true';
    if (atlas.sheet) void decide({do: 'sheet', target: atlas.sheet, done});
  });
  field('fade').addEventListener('input', () => atlas.fade(Number(field('fade').value)));
  const who = field('who');
  who.value = person.name;
  who.addEventListener('change', () => {
    person.name = who.value.trim();
  });
  atlas.choosers.push((id, feature) => {
    const kind = feature?.get('kind');
    button('follow').disabled = kind !== 'wire' && kind !== 'link';
    void guarded(slip.show(id));
  });
  if (localStorage.getItem('desk.lamp') === 'night' || (!localStorage.getItem('desk.lamp') && matchMedia('(prefers-color-scheme: dark)').matches)) lamp();
}

/** Somebody else's corrections show up without a reload; a person in the middle of typing is left in peace. */
async function lookAgain() {
  if (document.hidden || document.querySelector('dialog[open]') || tray.taken.tool) return;
  const asked = decisions.answered;
  const told = await get('/desk/manual').catch(() => null); // a desk that is gone is told of at the next thing asked of it
  if (told && asked === decisions.answered && told.revision !== decisions.revision && document.activeElement?.tagName !== 'INPUT') await guarded(renew());
}

async function start() {
  wire();
  const wanted = decodeURIComponent(location.hash.slice(1));
  const pile = /** @type {{sheets: {id: string, kind: string|null, failed: string|null}[]}} */ (await get('/desk/pile'));
  const readable = pile.sheets.filter((s) => !s.failed);
  const first = readable.find((s) => s.id === wanted) ?? readable.find((s) => s.kind === 'diagram') ?? readable[0];
  const opening = first && open(first.id);
  if (opening) await Promise.race([atlas.firstSight, opening.catch(() => undefined)]); // a sheet that fails is told below; the others are listed
  await Promise.all([opening, overview()]);
  intake.start({empty: pile.sheets.length === 0});
  await cards.refresh();
  document.body.dataset.ready = 'yes';
  setInterval(() => void lookAgain(), LOOK_AGAIN);
}

void guarded(start());
void seek;
void tip;

// For the stories that drive the desk by mouse: where a scan pixel stands on the screen, and what is drawn how strongly.
let tilesFailed = 0;
const moving = () => [atlas, facing.second].some((a) => a?.map.getView().getAnimating() || a?.map.getView().getInteracting());
Object.assign(window, {
  deskPixel: (/** @type {number} */ x, /** @type {number} */ y) => atlas.map.getPixelFromCoordinate([x, -y]),
  deskFacingPixel: (/** @type {number} */ x, /** @type {number} */ y) => facing.second?.map.getPixelFromCoordinate([x, -y]),
  deskFade: () => [atlas.tiles.getOpacity(), atlas.wireLayer.getOpacity()],
  deskMoving: () => moving(),
  deskStill: () => waiting.answers === 0 && !by('map').hasAttribute('aria-busy') && !moving(),
  deskTilesFailed: () => tilesFailed,
  deskLimit: (/** @type {number} */ bytes) => {
    intake.most = bytes;
  },
});
atlas.tileTrouble = () => {
  tilesFailed += 1;
  trouble(new Refused({kind: 'tiles', what: 'A part of the scan could not be loaded.', advice: 'Reload the page.', more: {}}));
};
