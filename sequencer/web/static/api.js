// Everything that is said to the program: one change after the other, each on the revision it saw.

import { store } from './store.js';
import { upper } from './elements.js';

const LOST = 'The program does not answer. What you did is kept up to the last gesture; if it was ended, start it again with passalong page and open the link that it prints.';
const ENDED = 'This page belongs to an earlier start of the program. Start it again and use the page that it opens.';
let queue = Promise.resolve();   // changes and looks at the folder, one after the other
let working = Promise.resolve(); // long work, one after the other
let busy = 0;                    // what is asked or waits to be asked
let changes = 0;                 // changes among it
let overtaken = 0;               // how often another's change came first

async function ask(method, path, body, more = {}) {
  const headers = { ...more.headers };
  const raw = body instanceof Blob || body instanceof ArrayBuffer;
  if (body !== undefined && body !== null && !raw) headers['Content-Type'] = 'application/json';
  let answer;
  try {
    answer = await fetch(path, {
      method, headers, signal: more.signal, cache: 'no-store', credentials: 'same-origin',
      body: body === undefined || body === null ? undefined : raw ? body : JSON.stringify(body),
    });
  } catch (fault) {
    if (fault.name === 'AbortError') throw fault;
    lose(LOST);
    throw new Refused(LOST, 'lost');
  }
  if (answer.status === 401 || answer.status === 403) { lose(ENDED); throw new Refused(ENDED, 'ended'); }
  if (store.lost) mend();
  return answer;
}

export class Refused extends Error {
  constructor(text, code, status = 0) { super(text); this.code = code; this.status = status; }
}

async function refusal(answer) {
  let said = {};
  try { said = await answer.json(); } catch { /* no words of its own */ }
  return new Refused(said.error || `The program answered ${answer.status}.`, said.code || String(answer.status), answer.status);
}

function lose(text) { if (store.lost !== text) store.put({ lost: text }); }
function mend() { store.put({ lost: null }); store.say('The program is back.'); }

// GET, as JSON.
export async function get(path) {
  const answer = await ask('GET', path);
  if (!answer.ok) throw await refusal(answer);
  return answer.json();
}

// Whether everything that was done here is answered.
export const calm = () => !busy && !store.order && !store.trial;

// Once every change on its way is answered.
export const answered = () => queue;

function inTurn(fn) {
  const turn = queue.then(fn);
  queue = turn.catch(() => null);
  return turn;
}

// Load the document; true if it was another one than here. In its turn: an answer that came after that of
// a later change would put the older document back.
export async function reload() {
  busy += 1;
  try { return await inTurn(() => reloadNow()); } finally { busy -= 1; }
}

async function reloadNow(wanted = () => true) {
  const known = store.piece ? { 'If-None-Match': `"${store.piece.revision}"` } : {};
  const answer = await ask('GET', '/api/piece', null, { headers: known });
  if (answer.status === 304) return false;
  if (!answer.ok) throw await refusal(answer);
  const piece = await answer.json();
  if (!wanted() || (store.piece && piece.revision === store.piece.revision)) return false;
  store.set(piece);
  return true;
}

// A change on the revision that is shown. Answers the new document, or null where it was refused
// (then said in the status line) or overtaken (then the newer document is shown and it can be done again).
// What it changed is said afterwards by `words(before, after, label)`; '' where the gesture says it itself.
export function change(method, path, body, label = 'that', words = changed) {
  busy += 1;
  changes += 1;
  const seen = overtaken, asked = Date.now();
  return inTurn(() => changeNow(method, path, body, label, words, seen, asked));
}

// One short sentence of what is otherwise now, in the program's own words.
function changed({ plan: was }, { plan: now }, label) {
  const other = ['size', 'columns', 'strips'].map((one) => now?.words?.[one] !== was?.words?.[one] && now?.words?.[one]).filter(Boolean);
  return `${upper(label)}: ${other.join('; ') || 'done'}.`;
}

async function changeNow(method, path, body, label, words, seen, asked) {
  const again = { label, run: () => change(method, path, body, label, words) };
  const before = store.piece;
  try {
    if (seen !== overtaken) { store.put({ again, order: null }); return null; } // what it was to follow was refused
    store.put({ doing: label });
    const answer = await ask(method, path, body, { headers: { 'If-Match': `"${before.revision}"` } });
    if (answer.status === 409) {
      const newer = await answer.json().catch(() => null);
      const piece = newer && newer.schema ? newer : await get('/api/piece');
      overtaken += 1;
      Object.assign(store, { again, doing: null });
      store.set(piece);
      store.say('It was changed elsewhere meanwhile; here is the newer one.');
      return null;
    }
    if (!answer.ok) throw await refusal(answer);
    const piece = await answer.json();
    if (piece && piece.schema) {
      const text = words(before, piece, label);
      Object.assign(store, { again: null, doing: null }, text && { message: { text, bad: false, at: Date.now() } });
      store.set(piece, changes > 1, asked); // what she has done since stays in her hand: it is on its way
    }
    return piece;
  } catch (fault) {
    if (!(fault instanceof Refused)) throw fault;
    if (fault.code !== 'lost' && fault.code !== 'ended') store.say(fault.message, true);
    store.put({ order: null, trial: null, doing: null });
    return null;
  } finally {
    busy -= 1;
    changes -= 1;
    if (store.doing || (!changes && store.order)) store.put({ doing: null, ...(!changes && { order: null }) });
  }
}

// A question that changes nothing (a price, a trial): JSON, null where refused; `signal` to drop it.
export async function question(path, body, signal) {
  try {
    const answer = await ask('POST', path, body, { signal });
    return answer.ok ? await answer.json() : null;
  } catch { return null; }
}

// Long work. Each JSON line goes to onLine; `done` is the last line (or null: cancelled or refused, said).
// It begins once what was done before is answered, on what that leaves.
export function job(method, path, body, onLine = () => {}, what = 'Working') {
  const stop = new AbortController();
  const work = { what, done: 0, total: 0, cancel: () => stop.abort() };
  busy += 1;
  store.put({ work });
  const done = working.then(run);
  working = done.catch(() => null);
  return { cancel: work.cancel, done };

  async function run() {
    let last = null;
    store.put({ work });
    try {
      await queue;
      const answer = await ask(method, path, body, { signal: stop.signal, headers: { 'If-Match': `"${store.piece.revision}"` } });
      if (answer.status === 409) {
        store.again = { label: what, run: () => job(method, path, body, onLine, what).done };
        store.say('It was changed elsewhere meanwhile; here is the newer one.');
        return null;
      }
      if (!answer.ok) throw await refusal(answer);
      for await (const line of lines(answer.body)) {
        last = line;
        if (line.what || line.total) store.put({ work: { ...work, what: line.what || what, done: line.done || 0, total: line.total || 0 } });
        onLine(line);
        if (line.error && !line.photo) throw new Refused(line.error, line.code);
      }
      return last;
    } catch (fault) {
      if (fault.name === 'AbortError' || stop.signal.aborted) store.say('Stopped; nothing was changed.');
      else if (fault instanceof Refused) { if (fault.code !== 'lost' && fault.code !== 'ended') store.say(fault.message, true); }
      else lose(LOST);
      return null;
    } finally {
      if (!store.lost) await reload().catch(() => {}); // what is done next is done on what this leaves
      busy -= 1;
      store.put({ work: null });
    }
  }
}

async function* lines(stream) {
  const reader = stream.pipeThrough(new TextDecoderStream()).getReader();
  let rest = '';
  for (;;) {
    const { value, done } = await reader.read();
    rest += value || '';
    const parts = rest.split('\n');
    rest = parts.pop();
    for (const part of parts) if (part.trim()) yield JSON.parse(part);
    if (done) { if (rest.trim()) yield JSON.parse(rest); return; }
  }
}

// Pictures: four bytes of length, a JSON head, raw RGBA one after the other.
// GET without a body, POST with one. Answers {head, images: {name: ImageData}}.
export async function packet(path, body, signal) {
  const answer = await ask(body === undefined ? 'GET' : 'POST', path, body, { signal });
  if (!answer.ok) throw await refusal(answer);
  const bytes = await answer.arrayBuffer();
  const size = new DataView(bytes).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, size)));
  const images = {};
  let at = 4 + size;
  for (const one of head.images) {
    const length = one.width * one.height * 4;
    images[one.name] = new ImageData(new Uint8ClampedArray(bytes, at, length), one.width, one.height);
    at += length;
  }
  return { head, images };
}

// Whether one document is the other with what followed by itself (how sure the order is): no step between.
export const sameStep = (one, other) => JSON.stringify([one.steps, one.plan]) === JSON.stringify([other.steps, other.plan]);

// Other tabs and the terminal: look every two seconds while the page is seen and nothing is under way; more
// often while something follows.
export function watch() {
  let next = 0, tries = 0;
  const look = async () => {
    soon();
    if (document.hidden || !calm()) return;
    try {
      const { lost, piece } = store;
      // What she has begun meanwhile is made on what she saw.
      if (await reloadNow(calm) && !lost && !(piece && sameStep(piece, store.piece))) store.say('Changed elsewhere: this is the newer one.');
    } catch { /* told by ask */ }
  };
  const soon = () => {
    clearTimeout(next);
    tries = store.piece?.sequence?.following ? tries + 1 : 0;
    next = setTimeout(look, tries > 0 && tries < 10 ? 400 : 2000);
  };
  soon();
  let seen = null;
  store.on((piece) => { if (piece !== seen && piece.sequence?.following) { tries = 0; soon(); } seen = piece; });
  document.addEventListener('visibilitychange', look);
  window.addEventListener('online', look);
}

// One of many that run beside each other: no revision is asked, nothing is said here. Answers the last line.
export async function stream(method, path, body, onLine = () => {}, signal) {
  busy += 1;
  try {
    const answer = await ask(method, path, body, { signal });
    if (!answer.ok) throw await refusal(answer);
    let last = null;
    for await (const line of lines(answer.body)) {
      last = line;
      onLine(line);
      if (line.error && !line.photo) throw new Refused(line.error, line.code); // one photograph's fault is not the job's
    }
    return last;
  } finally { busy -= 1; }
}
