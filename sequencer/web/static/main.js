// The page starts here: who lives where, which scene is shown, the status line and the steps.

import { store } from './store.js';
import * as api from './api.js';
import { button, el, fill, upper } from './elements.js';
import * as wall from './wall.js';
import * as line from './line.js';
import * as asked from './asked.js';
import * as set from './set.js';
import * as boxed from './boxed.js';
import * as said from './said.js';
import * as scraps from './scraps.js';
import * as views from './views.js';
import * as empty from './empty.js';
import * as photo from './photo.js';
import * as out from './out.js';
import * as phone from './phone-panel.js';

const HOMES = { hang: wall, line, set, boxed, said, asked, views, scraps, empty, photo, out };
const HINT = 'Pull a cloth to another place, or draw on the piece to change its line.';
let fading = 0;
const here = (id) => document.getElementById(id);

function scene() {
  document.body.dataset.scene = store.scene;
  document.body.dataset.view = store.view;
  here('hang').toggleAttribute('tabindex', store.trueSize); // at true size it may be larger than the wall
  if (store.trueSize) here('hang').tabIndex = 0;
  here('folder').textContent = store.piece.folder || 'Passalong';
  document.title = store.piece.folder ? `${store.piece.folder} – Passalong` : 'Passalong';
  for (const one of document.querySelectorAll('[data-only]')) one.hidden = one.dataset.only !== store.scene;
}

function foot() {
  const { message, lost, again, work, doing } = store;
  const text = lost || message.text || (store.scene === 'piece' && !work ? HINT : '');
  const status = here('status');
  if (status.textContent !== text) {
    status.textContent = text;
    status.classList.remove('old'); // on a small screen a sentence leaves the cloth free again
    clearTimeout(fading);
    fading = setTimeout(() => status.classList.toggle('old', !store.lost), 8000);
  }
  status.classList.toggle('bad', Boolean(lost || message.bad));
  const parts = [];
  if (work) {
    parts.push(el('span', {}, work.total ? `${work.what} ${work.done} of ${work.total}` : `${work.what} …`),
      el('progress', { 'aria-label': work.what, max: work.total || 1, ...(work.total ? { value: work.done } : {}) }),
      button('plain', 'Stop', work.cancel, { 'data-key': 'stop' }));
  }
  if (doing && !work) parts.push(el('span.doing', {}, `${upper(doing)} …`), el('progress.doing', { 'aria-label': doing }));
  if (again) {
    parts.push(button('main', `Do it again: ${again.label}`, () => { store.put({ again: null }); again.run(); }, { 'data-key': 'again' }),
      button('plain', 'Leave it', () => store.put({ again: null }), { 'data-key': 'leave' }));
  }
  parts.push(...phone.atFoot());
  here('work').hidden = !parts.length;
  fill(here('work'), ...parts);
}

function tools() {
  const { piece } = store;
  const step = (name, key, title) => button('plain', name, () => go(key), {
    'data-key': key, disabled: !piece[key], title: piece[key] ? `${title}: ${piece[key].step}` : null,
    'aria-keyshortcuts': key === 'undo' ? 'Control+Z' : 'Control+Shift+Z',
  });
  const there = store.scene === 'photo' && piece.moment === 'piece';
  fill(here('tools'),
    piece.moment !== 'empty' && step('Undo', 'undo', 'Take back'),
    piece.moment !== 'empty' && step('Redo', 'redo', 'Do again'),
    piece.moment === 'piece' && button('plain', there ? 'The piece' : 'Photos', () => store.go(there ? null : 'photo'), { 'data-key': 'scene' }),
    button('plain', dark() ? 'Light' : 'Dark', turn, { 'data-key': 'surround', 'aria-label': dark() ? 'Light surround' : 'Dark surround' }));
}

function dark() { return document.documentElement.dataset.surround === 'dark'; }

function turn() {
  surround(dark() ? 'light' : 'dark');
  store.put({});
}

function surround(how) {
  document.documentElement.dataset.surround = how;
  try { localStorage.setItem('surround', how); } catch { /* a private window keeps nothing */ }
}

function firstSurround() {
  let kept = null;
  try { kept = localStorage.getItem('surround'); } catch { /* as above */ }
  return kept || (matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light');
}

function keys(event) {
  if (!(event.ctrlKey || event.metaKey) || event.altKey || event.key.toLowerCase() !== 'z') return;
  if (event.target.closest('input, textarea')) return;
  event.preventDefault();
  const key = event.shiftKey ? 'redo' : 'undo';
  go(key);
}

// One step back or forth, and which one it was.
async function go(key) {
  await api.answered(); // a gesture that is on its way is the step that she means
  const step = store.piece?.[key]?.step;
  if (step && await api.change('POST', `/api/${key}`, {}, key, () => '')) store.say(`${key === 'undo' ? 'Taken back' : 'Done again'}: ${step}.`);
}

async function start() {
  surround(firstSurround());
  store.on(() => { scene(); foot(); tools(); });
  for (const [id, module] of Object.entries(HOMES)) {
    try { module.mount(here(id), store, api); } catch (fault) { console.error(fault); }
  }
  document.addEventListener('keydown', keys);
  phone.mount(store, api);
  api.watch();
  try { await api.reload(); } catch (fault) { here('status').textContent = fault.message; }
}

start();
