// Every key of the desk and what it does: the sheet of keys is printed from this table.

import {by, field} from './parts.js';
import {guarded, say} from './telling.js';

/** @typedef {import('./keys.js').Key} Key */
/**
 * What the keys act on.
 * @typedef {{
 *   atlas: import('./atlas.js').Atlas, book: import('./book.js').Book, cards: import('./cards.js').Cards,
 *   decisions: import('./decisions.js').Decisions, intake: import('./intake.js').Intake, leaves: import('./leaves.js').Leaves,
 *   slip: import('./slip.js').Slip, tray: import('./tray.js').Tray, turning: import('./turning.js').Turning,
 *   way: import('./way.js').WayCard, explain: () => void, fadeBy: (by: number) => void,
 *   open: (sheet: string) => Promise<void>, pointAt: (question: import('./shapes.js').Question|null) => Promise<void>,
 *   remove: () => void,
 * }} Desk
 */

/**
 * @param {Desk} d
 * @returns {Key[]}
 */
export function keyTable(d) {
  const turn = (/** @type {number} */ step) => {
    const sheet = d.leaves.beside(step);
    if (sheet) void guarded(d.open(sheet));
  };
  return [
    {keys: ['1', '2', '3', '4', '5', '6', '7', '8', '9'], shown: '1 … 9', says: 'give this answer to the open question', act: () => undefined},
    {keys: ['0'], shown: '0', says: 'no code is printed', act: () => d.cards.nothing()},
    {keys: ['t'], shown: 'T', says: 'type the answer', act: () => d.cards.type()},
    {keys: ['s'], shown: 'S', says: 'ask this later', act: () => d.cards.skip()},
    {keys: ['u'], shown: 'U', says: 'nobody can read it', act: () => d.cards.unreadable()},
    {keys: ['r'], shown: 'R', says: 'retype what is selected', act: () => d.slip.type()},
    {keys: ['z', 'ctrl+z'], shown: 'Z', says: 'take the last correction back', act: () => d.decisions.move('undo')},
    {keys: ['y', 'ctrl+y', 'ctrl+shift+z'], shown: 'Y', says: 'bring it back again', act: () => d.decisions.move('redo')},
    {keys: ['g', '/'], shown: 'G', says: 'go to a zone, name, code or connector', act: () => field('seek-words').focus()},
    {keys: ['PageDown'], shown: 'Page down', says: 'next sheet', act: () => turn(1)},
    {keys: ['PageUp'], shown: 'Page up', says: 'sheet before', act: () => turn(-1)},
    {keys: ['o'], shown: 'O', says: 'follow the selected wire overleaf', act: () => guarded(d.turning.overleaf())},
    {keys: ['n'], shown: 'N', says: 'lay the sheet where it goes on next to this one, or put it away', act: () => guarded(d.turning.beside())},
    {keys: ['f'], shown: 'F', says: 'follow the circuit of what is selected', act: () => { if (d.atlas.chosen[0]) void guarded(d.way.follow(d.atlas.chosen[0])); }},
    {keys: ['h'], shown: 'H', says: 'show the whole sheet', act: () => d.atlas.whole()},
    {keys: ['q'], shown: 'Q', says: 'back to the open question', act: () => { void guarded(d.pointAt(d.cards.open)); by('card').focus(); }},
    {keys: ['['], shown: '[', says: 'fade towards the scan', act: () => d.fadeBy(-10)},
    {keys: [']'], shown: ']', says: 'fade towards what was read', act: () => d.fadeBy(10)},
    {keys: ['w'], shown: 'W', says: 'draw a wire that was missed', act: () => d.tray.take('wire')},
    {keys: ['b'], shown: 'B', says: 'box a part that was missed', act: () => d.tray.take('box')},
    {keys: ['j'], shown: 'J', says: 'join wires at a point', act: () => d.tray.take('join')},
    {keys: ['c'], shown: 'C', says: 'cut a wire', act: () => d.tray.take('cut')},
    {keys: ['e'], shown: 'E', says: 'move the end of a wire', act: () => d.tray.take('end')},
    {keys: ['m'], shown: 'M', says: 'two parts that were read are one', act: () => d.tray.take('merge')},
    {keys: ['d'], shown: 'D', says: 'one part that was read is two', act: () => d.tray.take('split')},
    {keys: ['p'], shown: 'P', says: 'set where a page edge goes on', act: () => d.tray.take('pair')},
    {keys: ['l'], shown: 'L', says: 'move the lines between the zones', act: () => d.tray.take('lines')},
    {keys: [], shown: 'Arrows, Space, Enter', says: 'with a tool: move the cross, set a point, end the line', act: () => undefined},
    {keys: ['Delete'], shown: 'Del', says: 'there is no such wire, join or part', act: () => d.remove()},
    {keys: ['Escape'], shown: 'Esc', says: 'put the tool down, select nothing', act: () => { d.tray.take('look'); d.atlas.choose(null); say(''); }},
    {keys: ['a'], shown: 'A', says: 'add pages', act: () => d.intake.open()},
    {keys: ['k'], shown: 'K', says: 'look at the conventions of this manual, correct them', act: () => guarded(d.book.open())},
    {keys: ['?'], shown: '?', says: 'this list', act: () => d.explain()},
  ];
}
