// What the desk says: the status line, what went wrong, and both versions of an edit made on stale ground.

import {Refused} from './ask.js';
import {by, make} from './parts.js';

/** @param {string} text */
export function say(text) {
  by('says').textContent = text;
}

/** @param {unknown} fault */
export function trouble(fault) {
  const words = fault instanceof Refused ? [fault.fault.what, fault.fault.advice] : ['The page met an unexpected fault.', String(fault)];
  const box = by('trouble');
  box.replaceChildren(make('strong', {}, words[0] ?? ''), ' ', words[1] ?? '', ' ', make('button', {type: 'button', onclick: () => { box.hidden = true; }}, 'Close'));
  box.hidden = false;
}

/** What is done once a person has seen that somebody else was faster. @type {{anew: () => Promise<unknown>}} */
export const after = {anew: async () => {}};

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
  if (dialog.open) return; // two refusals at once: one answer to both
  dialog.addEventListener('close', () => void guarded(after.anew()), {once: true});
  dialog.showModal();
}

/**
 * Wait for something; what goes wrong is told.
 * @template T
 * @param {Promise<T>} work
 * @returns {Promise<T|null>} null when it went wrong
 */
export async function guarded(work) {
  try {
    return await work;
  } catch (fault) {
    if (fault instanceof Refused && fault.fault.kind === 'stale') clash(fault);
    else trouble(fault);
    return null;
  }
}
