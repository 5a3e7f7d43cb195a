// The review desk: puts the parts together.

import {Atlas} from './atlas.js';
import {get, person, post, Refused} from './ask.js';
import {Book} from './book.js';
import {Cards} from './cards.js';
import {crossings, Facing} from './facing.js';
import {Intake} from './intake.js';
import {Keys} from './keys.js';
import {Leaves} from './leaves.js';
import {Margins} from './margins.js';
import {button, by, field, make} from './parts.js';
import {Seek} from './seek.js';
import {Slip} from './slip.js';
import {Hand} from './tools.js';
import {Tray} from './tray.js';
import {Tip} from './tip.js';
import {WayCard} from './way.js';

/** @typedef {import('./shapes.js').Overview} Overview */
/** @typedef {import('./shapes.js').Done} Done */
/** @typedef {import('./shapes.js').Movable} Movable */
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
let revision = 0;
/** @type {Movable} */
let undoable = null;
/** @type {Movable} */
let redoable = null;

/** @param {string} text */
function say(text) {
  by('says').textContent = text;
}

/** @param {unknown} fault */
function trouble(fault) {
  const words = fault instanceof Refused ? [fault.fault.what, fault.fault.advice] : ['The page met an unexpected fault.', String(fault)];
  const box = by('trouble');
  box.replaceChildren(make('strong', {}, words[0] ?? ''), ' ', words[1] ?? '', ' ', make('button', {type: 'button', onclick: () => { box.hidden = true; }}, 'Close'));
  box.hidden = false;
}

/**
 * Both versions of a stale edit, side by side.
 * @param {Refused} fault
 */
function clash(fault) {
  const dialog = /** @type {HTMLDialogElement} */ (by('clash'));
  dialog.replaceChildren(
    make('h2', {id: 'clash-title'}, 'Somebody changed it meanwhile'),
    make('p', {}, 'Your correction was not made, so that nothing is overwritten in silence.'),
    make('dl', {}, make('dt', {}, 'Yours'), make('dd', {id: 'clash-mine'}, String(fault.fault.more.mine ?? '')), make('dt', {}, 'Now'), make('dd', {id: 'clash-theirs'}, String(fault.fault.more.theirs ?? ''))),
    make('form', {method: 'dialog'}, make('button', {}, 'Look at it as it is now')),
  );
  dialog.addEventListener('close', () => void guarded(refreshAll()), {once: true});
  dialog.showModal();
}

/**
 * @template T
 * @param {Promise<T>} work
 * @returns {Promise<T|null>}
 */
async function guarded(work) {
  try {
    return await work;
  } catch (fault) {
    if (fault instanceof Refused && fault.fault.kind === 'stale') clash(fault);
    else trouble(fault);
    return null;
  }
}

/** @param {{revision: number, undo: Movable, redo: Movable}} told */
function moves(told) {
  revision = told.revision;
  undoable = told.undo;
  redoable = told.redo;
  button('undo').disabled = !undoable;
  button('redo').disabled = !redoable;
  button('undo').title = undoable ? `Take back: ${undoable.says}` : '';
  button('redo').title = redoable ? `Bring back: ${redoable.says}` : '';
}

/** One decision of the person; true when it was made. @param {Record<string, unknown>} order */
async function decide(order) {
  by('trouble').hidden = true;
  const sheet = atlas.sheet;
  const path = sheet ? `/desk/decide?${new URLSearchParams({sheet})}` : '/desk/decide';
  const done = /** @type {Done|null} */ (await guarded(post(path, {revision, order})));
  if (!done) return false;
  moves(done);
  if (done.changed) atlas.patch(done.changed, done.touched);
  if (['conventions', 'forget'].includes(String(order.do)) || order.teach) void intake.look();
  say(done.says);
  if (done.anew) {
    await guarded(refreshAll());
    return true;
  }
  await guarded(Promise.all([cards.refresh(), overview(), slip.refresh(), facing.refresh()]));
  return true;
}

const way = new WayCard((sheet, box, id) => void guarded(visit(sheet, box, id)), (ids) => atlas.mark(ids));
const slip = new Slip(decide, (sheet, box) => void guarded(visit(sheet, box)), (id) => void guarded(way.follow(id)));
const cards = new Cards(decide, (question) => void guarded(pointAt(question)), () => atlas.sheet);
const book = new Book(decide);
const intake = new Intake(() => guarded(renew()), say, trouble);
intake.go = (/** @type {string} */ sheet, /** @type {number[]} */ box) => void guarded(visit(sheet, box));
intake.name = (/** @type {string} */ sheet) => leaves.name(sheet);
const leaves = new Leaves((sheet) => void guarded(open(sheet)));
const hand = new Hand(atlas, decide, say);
const tray = new Tray(hand);
const seek = new Seek((sight) => void guarded(visit(sight.sheet, sight.box, ['zone', 'sheet'].includes(sight.kind) ? null : sight.id)));

async function overview() {
  const told = /** @type {Overview} */ (await get('/desk/manual'));
  by('manual-name').textContent = told.name;
  by('manual-name').title = told.rights;
  document.title = `${told.name} – review desk`;
  moves(told);
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
  if (read.revision !== undefined) revision = read.revision;
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

/** @param {Question|null} question */
async function pointAt(question) {
  atlas.ask(question?.targets ?? []);
  if (!question || tray.taken.tool) return;
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

async function refreshAll() {
  const sheet = atlas.sheet;
  await overview();
  if (sheet) {
    const read = await get(`/desk/sheets/${encodeURIComponent(sheet)}/read`);
    revision = read.revision;
    atlas.draw(read);
  }
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

/**
 * @param {'undo'|'redo'} way
 */
async function move(way) {
  const what = way === 'undo' ? undoable : redoable;
  if (!what) {
    say(way === 'undo' ? 'There is nothing to take back.' : 'There is nothing to bring back.');
    return;
  }
  const done = await guarded(post(`/desk/${way}`, {group: what.group}));
  if (!done) return;
  await guarded(refreshAll());
  await intake.look();
  say(`${way === 'undo' ? 'Taken back' : 'Brought back'}: ${done.says}`);
}

/** Turn to the sheet where the selected wire or page edge goes on; with two sheets open, the next one is laid beside. */
async function overleaf() {
  const id = atlas.chosen[0] ?? (facing.shown ? facing.crossing?.link : null);
  const sheet = atlas.sheet;
  if (!id || !sheet) return;
  const [first, ...others] = await crossings(sheet, id);
  const way_ = [first, ...others].find((c) => c?.there.sheet === facing.crossing?.there.sheet) ?? first;
  if (!way_) {
    say('It stays on this sheet.');
    return;
  }
  const two = facing.shown;
  if (two) facing.away();
  const [x, y] = /** @type {[number, number]} */ (way_.there.at);
  await visit(way_.there.sheet, [x - 40, y - 40, x + 40, y + 40], id);
  say(`Now on ${leaves.name(way_.there.sheet)}.`);
  if (!two) return;
  const on = await crossings(way_.there.sheet, id);
  const next = on.find((c) => c.there.sheet !== sheet) ?? on[0];
  if (next) await facing.lay(next);
}

/** Lay the sheet where the selected wire goes on beside this one, or put it away again; else that of the nearest page edge. */
async function beside() {
  if (facing.shown) {
    facing.away();
    return;
  }
  const sheet = atlas.sheet;
  if (!sheet) return;
  const mine = atlas.chosen[0] ? await crossings(sheet, atlas.chosen[0]) : [];
  const all = mine.length ? mine : await crossings(sheet, null);
  const [x, y] = atlas.middle();
  const away = (/** @type {{here: {at: number[]}}} */ c) => Math.hypot(/** @type {number} */ (c.here.at[0]) - x, /** @type {number} */ (c.here.at[1]) - y);
  const nearest = all.reduce((/** @type {typeof all[0]|null} */ a, c) => (a && away(a) <= away(c) ? a : c), null);
  if (!nearest) {
    say('No wire of this sheet goes on on another one.');
    return;
  }
  await facing.lay(nearest);
  say(`Beside it: ${leaves.name(nearest.there.sheet)}, at ${nearest.text ?? 'a wire without a code'}. O turns to it.`);
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
  [
    {keys: ['1', '2', '3', '4', '5', '6', '7', '8', '9'], shown: '1 … 9', says: 'give this answer to the open question', act: () => undefined},
    {keys: ['0'], shown: '0', says: 'no code is printed', act: () => cards.nothing()},
    {keys: ['t'], shown: 'T', says: 'type the answer', act: () => cards.type()},
    {keys: ['s'], shown: 'S', says: 'ask this later', act: () => cards.skip()},
    {keys: ['u'], shown: 'U', says: 'nobody can read it', act: () => cards.unreadable()},
    {keys: ['r'], shown: 'R', says: 'retype what is selected', act: () => slip.type()},
    {keys: ['z', 'ctrl+z'], shown: 'Z', says: 'take the last correction back', act: () => move('undo')},
    {keys: ['y', 'ctrl+y', 'ctrl+shift+z'], shown: 'Y', says: 'bring it back again', act: () => move('redo')},
    {keys: ['g', '/'], shown: 'G', says: 'go to a zone, name, code or connector', act: () => field('seek-words').focus()},
    {keys: ['PageDown'], shown: 'Page down', says: 'next sheet', act: () => turn(1)},
    {keys: ['PageUp'], shown: 'Page up', says: 'sheet before', act: () => turn(-1)},
    {keys: ['o'], shown: 'O', says: 'follow the selected wire overleaf', act: () => guarded(overleaf())},
    {keys: ['n'], shown: 'N', says: 'lay the sheet where it goes on next to this one, or put it away', act: () => guarded(beside())},
    {keys: ['f'], shown: 'F', says: 'follow the circuit of what is selected', act: () => { if (atlas.chosen[0]) void guarded(way.follow(atlas.chosen[0])); }},
    {keys: ['h'], shown: 'H', says: 'show the whole sheet', act: () => atlas.whole()},
    {keys: ['q'], shown: 'Q', says: 'back to the open question', act: () => { void guarded(pointAt(cards.open)); by('card').focus(); }},
    {keys: ['['], shown: '[', says: 'fade towards the scan', act: () => fadeBy(-10)},
    {keys: [']'], shown: ']', says: 'fade towards what was read', act: () => fadeBy(10)},
    {keys: ['w'], shown: 'W', says: 'draw a wire that was missed', act: () => tray.take('wire')},
    {keys: ['b'], shown: 'B', says: 'box a part that was missed', act: () => tray.take('box')},
    {keys: ['j'], shown: 'J', says: 'join wires at a point', act: () => tray.take('join')},
    {keys: ['c'], shown: 'C', says: 'cut a wire', act: () => tray.take('cut')},
    {keys: ['e'], shown: 'E', says: 'move the end of a wire', act: () => tray.take('end')},
    {keys: ['m'], shown: 'M', says: 'two parts that were read are one', act: () => tray.take('merge')},
    {keys: ['d'], shown: 'D', says: 'one part that was read is two', act: () => tray.take('split')},
    {keys: ['l'], shown: 'L', says: 'move the lines between the zones', act: () => tray.take('lines')},
    {keys: [], shown: 'Arrows, Space, Enter', says: 'with a tool: move the cross, set a point, end the line', act: () => undefined},
    {keys: ['Delete'], shown: 'Del', says: 'there is no such wire, join or part', act: () => remove()},
    {keys: ['Escape'], shown: 'Esc', says: 'put the tool down, select nothing', act: () => { tray.take('look'); atlas.choose(null); say(''); }},
    {keys: ['a'], shown: 'A', says: 'add pages', act: () => intake.open()},
    {keys: ['k'], shown: 'K', says: 'look at the conventions of this manual, correct them', act: () => guarded(book.open())},
    {keys: ['?'], shown: '?', says: 'this list', act: () => explain()},
  ],
  (event) => tray.key(event) || (/^[1-9]$/.test(event.key) && cards.choose(Number(event.key))),
);

function explain() {
  keys.explain();
}

/** @param {number} step */
function turn(step) {
  const sheet = leaves.beside(step);
  if (sheet) void guarded(open(sheet));
}

function remove() {
  const element = document.getElementById('delete-wire') ?? document.getElementById('unsplice') ?? document.getElementById('remove-part');
  if (element instanceof HTMLButtonElement) element.click();
}

function wire() {
  button('undo').addEventListener('click', () => void move('undo'));
  button('redo').addEventListener('click', () => void move('redo'));
  button('lamp').addEventListener('click', lamp);
  button('help-open').addEventListener('click', explain);
  button('follow').addEventListener('click', () => void guarded(overleaf()));
  button('beside').addEventListener('click', () => void guarded(beside()));
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
  const told = await get('/desk/manual').catch(() => null);
  if (told && told.revision !== revision && document.activeElement?.tagName !== 'INPUT') await guarded(renew());
}

async function start() {
  wire();
  const wanted = decodeURIComponent(location.hash.slice(1));
  const pile = /** @type {{sheets: {id: string, kind: string|null, failed: string|null}[]}} */ (await get('/desk/pile'));
  const readable = pile.sheets.filter((s) => !s.failed);
  const first = readable.find((s) => s.id === wanted) ?? readable.find((s) => s.kind === 'diagram') ?? readable[0];
  await Promise.all([first && open(first.id), overview()]);
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
Object.assign(window, {
  deskPixel: (/** @type {number} */ x, /** @type {number} */ y) => atlas.map.getPixelFromCoordinate([x, -y]),
  deskFacingPixel: (/** @type {number} */ x, /** @type {number} */ y) => facing.second?.map.getPixelFromCoordinate([x, -y]),
  deskFade: () => [atlas.tiles.getOpacity(), atlas.wireLayer.getOpacity()],
  deskTilesFailed: () => tilesFailed,
  deskLimit: (/** @type {number} */ bytes) => {
    intake.most = bytes;
  },
});
atlas.tileTrouble = () => {
  tilesFailed += 1;
  trouble(new Refused({kind: 'tiles', what: 'A part of the scan could not be loaded.', advice: 'Reload the page.', more: {}}));
};
