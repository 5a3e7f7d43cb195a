// Decisions of the person: made one after the other, taken back and brought back, each on the ground of the one before.

import {post} from './ask.js';
import {button, by} from './parts.js';
import {guarded, say} from './telling.js';

/** @typedef {import('./shapes.js').Done} Done */
/** @typedef {import('./shapes.js').Movable} Movable */
/** @typedef {{revision: number, undo: Movable, redo: Movable}} Standing */

export class Decisions {
  /**
   * @param {() => string|null} sheet the sheet that lies on the table
   * @param {(done: Done, order: Record<string, unknown>) => Promise<unknown>} made draws what a decision changed
   * @param {() => Promise<unknown>} moved draws everything anew after one was taken back or brought back
   */
  constructor(sheet, made, moved) {
    this.sheet = sheet;
    this.made = made;
    this.moved = moved;
    /** The revision of the manual that the page shows. */
    this.revision = 0;
    /** @type {Movable} */
    this.undoable = null;
    /** @type {Movable} */
    this.redoable = null;
    /** How many decisions the server has answered. */
    this.answered = 0;
    /** The last decision on its way. @type {Promise<unknown>} */
    this.last = Promise.resolve();
  }

  /**
   * Do it when all decisions before it are answered: a quick hand must not be told that somebody else was faster.
   * @template T
   * @param {() => Promise<T>} work
   * @returns {Promise<T>}
   */
  inTurn(work) {
    const mine = this.last.then(work);
    this.last = mine.catch(() => undefined); // told to whoever waits for it
    return mine;
  }

  /**
   * Where the manual stands, as the server told it.
   * @param {Standing} told
   * @param {number} [asked] what `answered` was when it was asked for; an answer from before a decision is no news
   */
  know(told, asked = this.answered) {
    if (asked !== this.answered) return;
    this.revision = told.revision;
    this.undoable = told.undo;
    this.redoable = told.redo;
    button('undo').disabled = !told.undo;
    button('redo').disabled = !told.redo;
    button('undo').title = told.undo ? `Take back: ${told.undo.says}` : '';
    button('redo').title = told.redo ? `Bring back: ${told.redo.says}` : '';
  }

  /** @param {Standing} told */
  answer(told) {
    this.answered += 1;
    this.know(told);
  }

  /** One decision of the person; true when it was made. @param {Record<string, unknown>} order */
  async decide(order) {
    by('trouble').hidden = true;
    const sheet = this.sheet();
    const path = sheet ? `/desk/decide?${new URLSearchParams({sheet})}` : '/desk/decide';
    const done = /** @type {Done|null} */ (await guarded(this.inTurn(async () => {
      const told = /** @type {Done} */ (await post(path, {revision: this.revision, order}));
      this.answer(told);
      return told;
    })));
    if (!done) return false;
    say(done.says);
    await guarded(this.made(done, order));
    return true;
  }

  /** Take the last decision back or bring it back again. @param {'undo'|'redo'} way */
  async move(way) {
    by('trouble').hidden = true;
    const done = await guarded(this.inTurn(async () => {
      const what = way === 'undo' ? this.undoable : this.redoable;
      if (!what) return {says: null};
      const told = await post(`/desk/${way}`, {group: what.group});
      this.answer(told);
      return told;
    }));
    if (!done) return;
    if (done.says === null) {
      say(way === 'undo' ? 'There is nothing to take back.' : 'There is nothing to bring back.');
      return;
    }
    say(`${way === 'undo' ? 'Taken back' : 'Brought back'}: ${done.says}`);
    await guarded(this.moved());
  }
}
