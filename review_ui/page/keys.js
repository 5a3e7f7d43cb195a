// The keys of the desk, in one table: what they do, and the sheet that explains them.

import {by, make} from './parts.js';

/** @typedef {{keys: string[], shown: string, says: string, act: () => unknown}} Key */

/** True while a person types into a field. @param {EventTarget|null} target */
function typing(target) {
  return (target instanceof HTMLInputElement && target.type === 'text') || target instanceof HTMLTextAreaElement || target instanceof HTMLSelectElement;
}

/** Arrows, Enter and Space on a grip are the grip's own. @param {KeyboardEvent} event */
function owned(event) {
  return event.target instanceof HTMLElement && event.target.getAttribute('role') === 'slider' && (event.key.startsWith('Arrow') || event.key === 'Enter' || event.key === ' ');
}

export class Keys {
  /**
   * @param {Key[]} table
   * @param {(event: KeyboardEvent) => boolean} first asked first, for the tool in the hand
   */
  constructor(table, first) {
    this.table = table;
    // before the map gets it: with a tool in the hand the arrows move the cross, not the map
    document.addEventListener('keydown', (event) => {
      if (document.querySelector('dialog[open]')) return;
      if (typing(event.target)) {
        if (event.key === 'Escape' && event.target !== by('seek-words')) by('card').focus();
        return;
      }
      if (owned(event)) return;
      const combined = event.ctrlKey || event.metaKey;
      if (event.altKey) return;
      const name = combined ? `ctrl+${event.shiftKey ? 'shift+' : ''}${event.key.toLowerCase()}` : event.key.length === 1 ? event.key.toLowerCase() : event.key;
      if (!combined && this.buttonOwns(event)) return;
      if (!combined && first(event)) {
        event.stopPropagation();
        event.preventDefault();
        return;
      }
      const found = this.table.find((k) => k.keys.includes(name));
      if (!found) return;
      event.preventDefault();
      found.act();
    }, true);
  }

  /** Enter and Space on a button are the button's own. @param {KeyboardEvent} event */
  buttonOwns(event) {
    return (event.key === 'Enter' || event.key === ' ') && event.target instanceof HTMLButtonElement;
  }

  explain() {
    const dialog = /** @type {HTMLDialogElement} */ (by('help'));
    dialog.replaceChildren(
      make('h2', {id: 'help-title'}, 'Keys'),
      make('table', {}, make('tbody', {}, ...this.table.map((k) => make('tr', {}, make('th', {scope: 'row'}, make('kbd', {}, k.shown)), make('td', {}, k.says))))),
      make('h2', {}, 'How doubt is drawn'),
      make('ul', {class: 'legend'},
        make('li', {}, make('span', {class: 'sample doubt-sure'}), 'thin solid line: the program is sure'),
        make('li', {}, make('span', {class: 'sample doubt-unsure'}), 'dashed, with “?”: not quite sure'),
        make('li', {}, make('span', {class: 'sample doubt-doubtful'}), 'wide dots, with “??”: doubtful'),
        make('li', {}, make('span', {class: 'sample doubt-said'}), 'strong solid line: a person said so'),
        make('li', {}, make('span', {class: 'sample-x'}, '✕'), 'a wire end that hangs on nothing')),
      make('form', {method: 'dialog'}, make('button', {}, 'Close')),
    );
    dialog.showModal();
    dialog.scrollTop = 0; // the focus on the button below must not hide the beginning
  }
}
