// Adding pages: files dropped on the desk or chosen, how far each has come, the run that reads them, and stopping it.

import {get, handIn, post, Refused} from './ask.js';
import {button, by, field, make, percent} from './parts.js';

/** @typedef {{name: string, size: number, pages: number, fault: string|null}} Handed */
/** @typedef {{sheet: string, zone?: string|null, box?: number[], probability: number}} Found */
/** @typedef {{do: string, state: string, pages: number|null, done: number, share: number|null, left_s: number|null, read: {sheet: string, seconds: number}[], failed: {sheet: string, what: string, advice: string}[], notes: string[], found: Found[], fault: string|null}} Run */
/** @typedef {{files: Handed[], run: Run|null, most_bytes: number, most_files: number}} Told */
/** @typedef {{file: File, share: number, request: XMLHttpRequest|null, fault: string|null}} Coming */

/** How often (ms) the page asks how far a run is, while there is one. */
const ASK_AGAIN = 600;

const KINDS = '.png,.jpg,.jpeg,.tif,.tiff,.bmp,.webp,.pbm,.pgm,.ppm,.pdf';

export class Intake {
  /**
   * @param {() => Promise<unknown>} changed called when the manual may have got pages or other readings
   * @param {(text: string) => void} say
   * @param {(fault: unknown) => void} trouble
   */
  constructor(changed, say, trouble) {
    this.changed = changed;
    this.say = say;
    this.trouble = trouble;
    this.dialog = /** @type {HTMLDialogElement} */ (by('intake'));
    /** @type {Told|null} */
    this.told = null;
    /** Files on their way, by name. @type {Map<string, Coming>} */
    this.coming = new Map();
    /** Files refused before they were sent, by name. @type {Map<string, string>} */
    this.refused = new Map();
    this.empty = false;
    /** A smaller limit for one file, bytes. */
    this.most = Infinity;
    /** Goes to where a taught symbol was found. @type {(sheet: string, box: number[]) => void} */
    this.go = () => {};
    /** Name of a sheet. @type {(sheet: string) => string} */
    this.name = (sheet) => sheet;
    /** @type {number|undefined} */
    this.timer = undefined;
    /** What of the run the page has shown already. */
    this.seen = '';
    this.chooser = make('input', {type: 'file', multiple: true, accept: KINDS, id: 'chosen-files', class: 'unseen', tabindex: -1, 'aria-hidden': 'true'});
    this.chooser.addEventListener('change', () => {
      this.take([...(this.chooser.files ?? [])]);
      this.chooser.value = '';
    });
    for (const id of ['add-pages', 'welcome-add']) button(id).addEventListener('click', () => this.open());
    button('run-show').addEventListener('click', () => this.open());
    this.frame();
    this.dialog.append(this.chooser); // what lies outside an open dialog cannot be used
    this.listen();
  }

  /** The fixed parts of the dialog, made once, so that the focus stays while the lists change. */
  frame() {
    this.dialog.replaceChildren(
      make('h2', {id: 'intake-title'}, 'Add pages'),
      make('div', {class: 'drop', id: 'drop'},
        make('p', {}, 'Drop scans here, or '), make('button', {type: 'button', id: 'choose-files', onclick: () => this.chooser.click()}, 'Choose files'),
        make('small', {}, 'PNG, JPEG, TIFF and PDF, up to 400 MB each. They stay on this machine.')),
      make('ul', {id: 'handed', class: 'handed', 'aria-label': 'Files'}),
      make('label', {id: 'rights-line', class: 'rights', hidden: true}, 'Whose pages are these, and for what? This note goes with every export. ', make('input', {id: 'rights', type: 'text', maxlength: 500, placeholder: 'my own copy, for private use'})),
      make('div', {id: 'run-line', class: 'run-line', hidden: true},
        make('progress', {id: 'run-bar', max: 1, 'aria-label': 'Pages read'}), make('p', {id: 'run-words', role: 'status'})),
      make('ul', {id: 'run-faults', class: 'run-faults', 'aria-label': 'What was found'}),
      make('div', {class: 'ways'},
        make('button', {type: 'button', id: 'read-pages', onclick: () => void this.read()}, 'Read these pages'),
        make('button', {type: 'button', id: 'stop-reading', onclick: () => void this.stop()}, 'Stop'),
        make('button', {type: 'button', id: 'intake-close', onclick: () => this.dialog.close()}, 'Close')),
    );
  }

  listen() {
    const over = (/** @type {boolean} */ on) => document.body.classList.toggle('dropping', on);
    document.addEventListener('dragover', (event) => {
      if (!event.dataTransfer?.types.includes('Files')) return;
      event.preventDefault();
      over(true);
    });
    document.addEventListener('dragleave', (event) => {
      if (!event.relatedTarget) over(false);
    });
    document.addEventListener('drop', (event) => {
      if (!event.dataTransfer?.types.includes('Files')) return;
      event.preventDefault();
      over(false);
      this.take([...event.dataTransfer.files]);
    });
  }

  /** @param {{empty: boolean}} how whether the manual has no page yet */
  start(how) {
    this.empty = how.empty;
    void this.look();
  }

  open() {
    if (!this.dialog.open) this.dialog.showModal();
    void this.look();
    (button('read-pages').disabled ? button('choose-files') : button('read-pages')).focus();
  }

  /** Files from the chooser or dropped. @param {File[]} files */
  take(files) {
    const most = Math.min(this.most, this.told?.most_bytes ?? Infinity);
    for (const file of files) {
      this.refused.delete(file.name);
      if (this.coming.has(file.name) || this.told?.files.some((f) => f.name === file.name)) this.refused.set(file.name, 'A file of this name is in the list already.');
      else if (file.size > most) this.refused.set(file.name, `It is larger than ${size(most)}. Scan it in grey, or as PNG or JPEG.`);
      else void this.send(file);
    }
    this.open();
    this.show();
  }

  /** @param {File} file */
  send(file) {
    /** @type {Coming} */
    const coming = {file, share: 0, request: null, fault: null};
    this.coming.set(file.name, coming);
    const {request, done} = handIn(`/desk/intake/file?${new URLSearchParams({name: file.name})}`, file, (share) => {
      coming.share = share;
      this.show();
    });
    coming.request = request;
    return done.catch((fault) => {
      if (fault instanceof Refused) this.refused.set(file.name, `${fault.fault.what} ${fault.fault.advice}`);
    }).finally(async () => {
      await this.look(); // the list knows it before it is no longer on its way
      this.coming.delete(file.name);
      this.show();
    });
  }

  /** @param {string} name */
  async out(name) {
    this.coming.get(name)?.request?.abort();
    this.coming.delete(name);
    this.refused.delete(name);
    await this.asked(post('/desk/intake/out', {name}));
  }

  async read() {
    const rights = field('rights').value.trim();
    await this.asked(post('/desk/intake/read', rights ? {rights} : {}));
    button('stop-reading').focus();
  }

  async stop() {
    await this.asked(post('/desk/intake/stop', {}));
    this.say('Stopped. Pages that were read stay in the manual.');
    await this.changed();
  }

  /** @param {Promise<Told>} work */
  async asked(work) {
    try {
      this.told = await work;
    } catch (fault) {
      this.trouble(fault);
    }
    this.show();
    this.again();
  }

  /** How far it is. */
  async look() {
    const told = await get('/desk/intake').catch(() => null); // asked again in a moment; what was told last stays
    if (told) this.told = told;
    this.show();
    const run = this.told?.run;
    const mark = run ? `${run.do} ${run.state} ${run.done}` : '';
    const was = this.seen;
    this.seen = mark;
    if (run && was && mark !== was && (run.state !== 'running' || run.do === 'decode')) {
      await this.changed();
      if (run.state === 'done') this.say(run.do === 'add' ? `${run.read.length} pages read.` : 'All pages are decoded again.');
    }
    this.again();
  }

  again() {
    clearTimeout(this.timer);
    if (this.told?.run?.state === 'running') {
      if (!this.seen) this.seen = 'begun';
      this.timer = window.setTimeout(() => void this.look(), ASK_AGAIN);
    }
  }

  show() {
    const {told} = this;
    const run = told?.run ?? null;
    const running = run?.state === 'running';
    const adding = running && run.do === 'add';
    const rows = [
      ...[...this.coming.values()].map((c) => row(c.file.name, c.file.size, make('progress', {max: 1, value: c.share, 'aria-label': `${c.file.name} on its way`}), () => void this.out(c.file.name))),
      ...(told?.files ?? []).filter((f) => !this.coming.has(f.name)).map((f) => row(f.name, f.size, this.standing(f, adding), adding ? null : () => void this.out(f.name), f.fault !== null && f.pages === 0)),
      ...[...this.refused].map(([name, why]) => row(name, null, make('span', {class: 'fault'}, why), () => void this.out(name), true)),
    ];
    by('handed').replaceChildren(...rows);
    const good = (told?.files ?? []).reduce((n, f) => n + f.pages, 0);
    by('rights-line').hidden = !this.empty || good === 0;
    button('read-pages').disabled = good === 0 || running || this.coming.size > 0;
    button('read-pages').textContent = good ? `Read ${good === 1 ? 'this page' : `these ${good} pages`}` : 'Read these pages';
    button('stop-reading').hidden = !adding;
    by('run-line').hidden = run === null;
    by('running').hidden = !running;
    for (const id of ['run-bar', 'run-mini']) {
      const bar = /** @type {HTMLProgressElement} */ (by(id));
      if (run?.share === null || run?.share === undefined) bar.removeAttribute('value');
      else bar.value = run.share;
    }
    const words = run ? runWords(run) : '';
    if (by('run-words').textContent !== words) by('run-words').textContent = words;
    by('run-small').textContent = words;
    this.showFound(run?.found ?? []);
    by('run-faults').replaceChildren(...(run ? [...run.failed.map((f) => make('li', {class: 'fault'}, `${f.what} ${f.advice}`)), ...run.notes.map((n) => make('li', {}, n))] : []));
  }

  /** Where a symbol that was taught was found. @param {Found[]} found */
  showFound(found) {
    by('found').hidden = found.length === 0;
    if (by('found-list').childElementCount === found.length) return;
    by('found-list').replaceChildren(...found.map((f) => make('li', {}, make('button', {type: 'button', onclick: () => f.box && this.go(f.sheet, f.box)}, `${this.name(f.sheet)}${f.zone ? `, ${f.zone}` : ''}`, make('small', {}, ` ${percent(f.probability)}`)))));
  }

  /**
   * @param {Handed} file
   * @param {boolean} adding
   */
  standing(file, adding) {
    if (file.pages === 0) return make('span', {class: 'fault'}, file.fault ?? 'It holds no page.');
    const words = file.pages === 1 ? '1 page' : `${file.pages} pages`;
    return make('span', {}, adding ? `${words}, being read` : words, file.fault && make('span', {class: 'fault'}, ` ${file.fault}`));
  }
}

/**
 * @param {string} name
 * @param {number|null} bytes
 * @param {Node} state
 * @param {(() => void)|null} out
 * @param {boolean} [bad]
 */
function row(name, bytes, state, out, bad = false) {
  return make('li', {class: bad ? 'bad' : ''}, make('span', {class: 'handed-name', title: name}, bad && '✗ ', make('bdi', {}, name)), make('small', {}, bytes === null ? '' : size(bytes)), state,
    out && make('button', {type: 'button', class: 'away', 'aria-label': `Take ${name} out`, onclick: out}, '×'));
}

/** @param {Run} run */
function runWords(run) {
  const what = run.do === 'add' ? 'Reading' : 'Decoding again';
  if (run.state === 'failed') return run.fault ?? 'The run failed.';
  if (run.state === 'stopped') return `Stopped after ${run.done} of ${run.pages ?? '?'} pages. What was read stays in the manual.`;
  if (run.state === 'done') return run.do === 'add' ? `Done: ${run.read.length} pages read${run.failed.length ? `, ${run.failed.length} could not be read` : ''}.` : 'All pages are decoded again.';
  if (run.pages === null) return `${what} …`;
  const left = run.left_s === null ? '' : run.left_s > 90 ? `, about ${Math.round(run.left_s / 60)} minutes to go` : `, about ${Math.max(1, Math.round(run.left_s))} seconds to go`;
  return `${what}: ${run.done} of ${run.pages} pages${left}`;
}

/** @param {number} bytes */
function size(bytes) {
  if (bytes < 1e6) return `${Math.max(1, Math.round(bytes / 1e3))} kB`;
  return `${bytes < 1e7 ? (bytes / 1e6).toFixed(1) : Math.round(bytes / 1e6)} MB`;
}
