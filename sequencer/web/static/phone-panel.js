// A door for a phone, opened only when asked: a square to point its camera at, minutes left, a way to shut it.
// While it is open the foot of the page says so, whatever is being done.

import { button, dialog, el, fill, svg } from './elements.js';
import { listen } from './bring.js';

const OFTEN = 2000;
let store, api, timer = null, shown = null; // the dialog that shows the door: {made, body}

// Whether a door is open already, from before this page was loaded or by another window.
export function mount(itsStore, itsApi) {
  [store, api] = [itsStore, itsApi];
  look();
}

// What the foot says while the door is open.
export function atFoot() {
  if (!store.door || shown) return [];
  return [el('span', {}, 'The door for a phone is open.'),
    button('plain', 'Show it', openPhone, { 'data-key': 'show-door' }),
    button('plain', 'Shut the door', shut, { 'data-key': 'foot-shut' })];
}

export function openPhone() {
  const body = el('div.stack', { 'aria-live': 'polite' });
  const made = dialog('Photographs from a phone', body);
  const way = made.querySelector('p.row:last-child button');
  shown = { body, way };
  made.addEventListener('close', () => { shown = null; store.put({}); });
  store.put({});
  draw();
}

function draw() {
  if (!shown) return;
  const { door } = store;
  shown.way.textContent = door ? 'Leave it open' : 'Close';
  fill(shown.body, ...(door ? opened(door) : asked()));
}

const asked = () => [
  el('p', {}, 'The phone and this computer must be on the same network, for instance your wireless at home. A door is opened for the phone alone: it can send photographs and see nothing.'),
  el('p', {}, 'What it sends is not encrypted. Whoever else is on this network could see the photographs, so do not open it in a café.'),
  button('main', 'Open the door for my phone', open, { 'data-key': 'open-door' })];

function opened(door) {
  const left = minutes(door);
  const told = door.received ? `${door.received === 1 ? '1 photograph has' : `${door.received} photographs have`} come.`
    : door.entered ? 'The phone is in; choose photographs on it.' : `Point the phone's camera at this square, or type the address. It works once, for ${left === 1 ? 'one more minute' : `${left} more minutes`}.`;
  return [el('p', {}, told), !door.entered && square(door), !door.entered && el('p.address', {}, door.address),
    el('p.small', {}, 'Not encrypted: whoever else is on this network could see the photographs.'),
    button('plain', 'Shut the door', shut, { 'data-key': 'shut-door' })];
}

const minutes = (door) => Math.max(0, Math.ceil((door.until - Date.now() / 1000) / 60));

async function open() {
  const door = await api.change('POST', '/api/phone', {}, 'opening the door');
  if (door) found(door);
}

async function shut() {
  await api.change('DELETE', '/api/phone', {}, 'shutting the door');
  found({});
}

async function look() {
  try { found(await api.get('/api/phone')); } catch { if (store.door) again(); /* told in the status line */ }
}

function again() { clearTimeout(timer); timer = setTimeout(look, OFTEN); }

function found(door) {
  const is = door.address && (minutes(door) || door.entered) ? door : null, was = store.door;
  clearTimeout(timer);
  if (is) again();
  if (was && !is) store.say('The door for the phone is shut.');
  if (JSON.stringify(is) !== JSON.stringify(was)) store.put({ door: is });
  draw();
  if (is?.job) listen(is.job);
}

function square({ qr, size, address }) {
  const box = size || Number(/^\s*(\d+)/.exec(qr)?.[1]) || 41;
  return svg('svg.qr', { viewBox: `0 0 ${box} ${box}`, role: 'img', 'aria-label': `The address ${address} as a square to photograph`, 'shape-rendering': 'crispEdges' }, svg('path', { d: qr }));
}
