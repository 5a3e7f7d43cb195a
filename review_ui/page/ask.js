// Speaking with the desk's server.

/** @typedef {{kind: string, what: string, advice: string, more: Record<string, any>}} Fault */

/** A refusal of the server, in its one shape. */
export class Refused extends Error {
  /** @param {Fault} fault */
  constructor(fault) {
    super(`${fault.what} ${fault.advice}`);
    this.fault = fault;
  }
}

const token = document.querySelector('meta[name="desk-token"]')?.getAttribute('content') ?? '';

/** Who is at the desk; kept in this browser. */
export const person = {
  get name() {
    return localStorage.getItem('desk.who') ?? '';
  },
  set name(/** @type {string} */ value) {
    localStorage.setItem('desk.who', value);
  },
};

/** How many answers of the server the page waits for. */
export const waiting = {answers: 0};

/**
 * @param {Response} answer
 * @returns {Promise<any>}
 */
async function taken(answer) {
  const body = await answer.json().catch(() => null);
  if (answer.ok && body !== null) return body;
  throw new Refused(
    body?.error ?? {kind: 'unexpected', what: `The desk answered with status ${answer.status}.`, advice: 'Try again.', more: {}},
  );
}

/**
 * @param {string} path
 * @param {RequestInit} [how]
 * @returns {Promise<any>}
 */
async function send(path, how) {
  waiting.answers += 1;
  try {
    const answer = await fetch(path, how).catch(() => {
      throw new Refused({kind: 'gone', what: 'The desk does not answer.', advice: 'Is its program still running? Your corrections up to now are kept.', more: {}});
    });
    return await taken(answer);
  } finally {
    waiting.answers -= 1;
  }
}

/**
 * @param {string} path
 * @param {Record<string, string|number>} [query]
 */
export function get(path, query = {}) {
  const words = new URLSearchParams(Object.entries(query).map(([k, v]) => [k, String(v)])).toString();
  return send(words ? `${path}?${words}` : path);
}

/**
 * @param {string} path
 * @param {unknown} body
 */
export function post(path, body) {
  return send(path, {
    method: 'POST',
    headers: {'Content-Type': 'application/json', 'X-Desk-Token': token, 'X-Desk-Who': encodeURIComponent(person.name)},
    body: JSON.stringify(body),
  });
}

/**
 * Send a file as it is, telling how far it is. The request can be aborted.
 * @param {string} path
 * @param {File} file
 * @param {(share: number) => void} far
 * @returns {{request: XMLHttpRequest, done: Promise<any>}}
 */
export function handIn(path, file, far) {
  const request = new XMLHttpRequest();
  const done = new Promise((resolve, reject) => {
    request.upload.addEventListener('progress', (event) => far(event.total ? event.loaded / event.total : 0));
    request.addEventListener('load', () => {
      let body = null;
      try {
        body = JSON.parse(request.responseText);
      } catch {
        body = null; // told below as an answer that cannot be understood
      }
      if (request.status === 200 && body !== null) resolve(body);
      else reject(new Refused(body?.error ?? {kind: 'unexpected', what: `The desk answered with status ${request.status}.`, advice: 'Try again.', more: {}}));
    });
    request.addEventListener('error', () => reject(new Refused({kind: 'gone', what: 'The file did not arrive.', advice: 'Is the desk still running, and is the file small enough?', more: {}})));
    request.addEventListener('abort', () => reject(new Error('taken out')));
    request.open('PUT', path);
    request.setRequestHeader('Content-Type', 'application/octet-stream');
    request.setRequestHeader('X-Desk-Token', token);
    request.send(file);
  });
  return {request, done};
}
