// The strip set at the wall's left edge: real cloth, each beside the rows that it makes.
//
// Cloths that blur overlap, cloths that jump stand apart; both within their own place, so that the
// set keeps step with its rows. The order in hand is `now`; the wall follows it at once.

import { el, fill } from './elements.js';
import { hands } from './hands.js';
import { leaders } from './leaders.js';
import { preview } from './wall.js';
import { price } from './price.js';

const CLOTHS = new Map(); // id → its list item, kept so that cloth slides instead of blinking
let store, api, root, scroller, list, further, draw;
let now = [];             // the order that is shown
let joints = [];          // neighbours of it, as the program told them
let up = null;            // the cloth in the air
let looked = null;        // the cloth that is pointed at
let laid = '';            // where the rows lay when the cloths were laid beside them

export function mount(where, itsStore, itsApi) {
  [root, store, api] = [where, itsStore, itsApi];
  list = el('ol', { id: 'strips' });
  scroller = el('div', { id: 'scroller' }, list);
  further = el('span.further', { 'aria-hidden': 'true' });
  draw = leaders(root, store);
  root.append(scroller, further, el('p.unseen', { id: 'sethint' }, 'Arrow keys go from cloth to cloth. Alt with arrow up or down moves it.'));
  hands(scroller, { find: (event) => event.target.closest('.strip')?.dataset.id, lift, carry, drop, back, tap, scrolls });
  list.addEventListener('keydown', keys);
  list.addEventListener('click', (event) => { if (event.detail === 0) tap(event.target.closest('.strip')?.dataset.id); }); // a screen reader's press
  list.addEventListener('pointerover', (event) => look(event.target.closest('.strip')?.dataset.id ?? null));
  list.addEventListener('pointerleave', () => look(null));
  list.addEventListener('focusout', () => look(null));
  list.addEventListener('focusin', (event) => look(event.target.closest('.strip')?.dataset.id ?? null));
  document.addEventListener('keydown', letGo);
  document.addEventListener('click', letGo);
  scroller.addEventListener('scroll', lines, { passive: true });
  new ResizeObserver(lay).observe(root);
  store.on(renew, true);
}

function renew(piece) {
  if (store.trial && laid === places()) return; // its rows lie where they lay
  if (up) return name(CLOTHS.get(up.id), up.id, now.indexOf(up.id));
  now = store.order || piece.sequence?.order || [];
  if (!store.order) joints = piece.sequence?.neighbours || [];
  dress();
  lay();
}

// Each cloth a button with its picture, its name, and what it does with the next.
function dress() {
  for (const [id, item] of CLOTHS) if (!now.includes(id)) { item.remove(); CLOTHS.delete(id); }
  const focused = list.contains(document.activeElement) ? document.activeElement : null;
  now.forEach((id, place) => {
    if (!CLOTHS.has(id)) CLOTHS.set(id, card(id));
    const item = CLOTHS.get(id);
    if (list.children[place] !== item) list.insertBefore(item, list.children[place] || null);
    name(item, id, place);
  });
  if (focused && document.activeElement !== focused && focused.isConnected) focused.focus({ preventScroll: true });
  const stop = now.includes(store.hold.selected) ? store.hold.selected : now.find((id) => CLOTHS.get(id).firstChild.tabIndex === 0) || now[0];
  for (const [id, item] of CLOTHS) item.firstChild.tabIndex = id === stop ? 0 : -1;
  form();
}

function card(id) {
  return el('li.strip', { 'data-id': id },
    el('button.lift', { type: 'button', 'data-key': `strip ${id}`, 'aria-describedby': 'sethint' },
      el('span.label', {}, el('span.name'), el('span.near')), el('span.joint', { 'aria-hidden': 'true' }),
      el('span.cloth', {}, el('img', { src: store.cloth(id) ?? '', alt: '', draggable: 'false', decoding: 'async' }))));
}

function name(item, id, place) {
  const print = store.print(id);
  const doubted = print && print.doubt !== 'sure', text = store.name(id);
  item.querySelector('.near').textContent = doubted ? '≈' : '';
  const label = item.querySelector('.name');
  if (label.textContent !== text) label.textContent = text;
  const img = item.querySelector('img'), src = store.cloth(id) ?? '';
  if (img.getAttribute('src') !== src) img.setAttribute('src', src);
  const word = joint(place)?.words;
  item.firstChild.setAttribute('aria-label', [doubted ? `${text}, colours not sure` : text, `${place + 1} of ${now.length}`, word].filter(Boolean).join('; '));
  item.firstChild.setAttribute('aria-pressed', String(store.hold.selected === id));
  item.classList.toggle('picked', store.hold.selected === id);
}

// The neighbour that begins at this place: with the next, or round to the first.
function joint(place) {
  const a = now[place], b = now[(place + 1) % now.length];
  return joints.find((one) => (one.a === a && one.b === b)) || null;
}

// Form of a joint: overlap, touch or gap, half as much where it is not certain.
function form() {
  now.forEach((id, place) => {
    const item = CLOTHS.get(id);
    const one = place < now.length - 1 ? joint(place) : null;
    const before = place ? joint(place - 1) : null;
    item.dataset.below = one ? one.verdict : '';
    item.dataset.above = before ? before.verdict : '';
    item.toggleAttribute('data-perhaps-below', Boolean(one && !one.certain));
    item.toggleAttribute('data-perhaps-above', Boolean(before && !before.certain));
    const word = one && ['blurs', 'jumps'].includes(one.verdict) ? `${one.certain ? '' : 'perhaps '}${one.verdict}` : '';
    item.querySelector('.joint').textContent = word;
  });
}

// Heights: as the rows, but never so low that a finger misses; then the set scrolls.
function heights() {
  const { shown } = store;
  const room = shown?.box?.height || root.clientHeight || 1;
  const strips = now.map((id) => shown?.geometry?.strip?.[id] || 1);
  const sum = strips.reduce((a, b) => a + b, 0) || 1;
  const least = matchMedia('(pointer: coarse)').matches ? 44 : 26;
  const scale = Math.max(room / sum, least / Math.min(...strips));
  return strips.map((one) => one * scale);
}

const places = () => JSON.stringify([store.shown?.box, store.shown?.geometry?.strip, store.order]);

function lay() {
  const all = root.clientHeight;
  if (!all) return;
  laid = places();
  const box = store.shown?.box;
  const tall = heights();
  const sum = tall.reduce((a, b) => a + b, 0);
  // Beside its rows where it fits there; else as much of the wall's height as there is.
  const room = Math.min(all, Math.max(sum, box ? Math.min(box.height, all) : 0));
  const top = box ? Math.max(0, Math.min(all - room, box.y + (box.height - room) / 2)) : 0;
  scroller.style.top = `${top}px`;
  root.parentElement.style.setProperty('--beside', `${beside(box)}px`);
  scroller.style.height = `${room}px`;
  further.style.top = `calc(${top + room}px - 1.125rem)`;
  list.style.height = `${sum}px`;
  root.classList.toggle('scrolls', sum > room + 1);
  let y = 0;
  now.forEach((id, place) => {
    const item = CLOTHS.get(id);
    item.style.setProperty('--h', `${tall[place]}px`);
    item.classList.toggle('low', tall[place] < 28);
    [item.top, item.tall] = [y, tall[place]];
    item.style.setProperty('--y', `${y}px`);
    y += tall[place];
  });
  lines();
}

// How far the set comes to the right, so that it stands at the picture itself and not at the wall's edge.
function beside(box) {
  if (!box || !matchMedia('(min-width: 56rem)').matches || store.trueSize) return 0;
  const edge = document.getElementById('wall').offsetLeft - root.offsetLeft - root.offsetWidth;
  const { geometry, scale } = store.shown;
  return Math.max(0, box.x - geometry.centre[0] * scale + edge - 16);
}

function lines() {
  const end = scroller.scrollTop + scroller.clientHeight, more = now.filter((id) => CLOTHS.get(id).top + CLOTHS.get(id).tall / 2 > end).length;
  root.classList.toggle('more', scrolls() && more > 0);
  further.textContent = `${more} more ↓`;
  draw(now, CLOTHS, { scroll: scroller.scrollTop, top: scroller.offsetTop, room: scroller.clientHeight,
    held: up?.id ?? looked ?? store.hold.selected, all: scrolls() && matchMedia('(min-width: 56rem)').matches });
}

function scrolls() { return root.classList.contains('scrolls'); }
function look(id) { if (id !== looked) { looked = id; lines(); } }

// ---- in the air

function lift(id) {
  const item = CLOTHS.get(id);
  up = { id, from: now.slice(), top: item.top, scroll: scroller.scrollTop, boxed: false, ghost: ghost(item) };
  item.classList.add('lifted');
  document.body.classList.add('carrying');
  if (store.hold.selected !== id) store.pick({ selected: id });
}

// The cloth in the air is a copy above everything, so that no edge of the set cuts it.
function ghost(item) {
  const box = item.querySelector('.cloth').getBoundingClientRect();
  const made = el('div.ghost', { 'aria-hidden': 'true', style: { left: `${box.left}px`, top: `${box.top}px`, width: `${box.width}px`, height: `${box.height}px` } },
    item.querySelector('img').cloneNode());
  document.body.append(made);
  return made;
}

function carry(id, dx, dy, event) {
  const moved = dy - scroller.scrollTop + up.scroll;
  up.ghost.style.transform = `translate(${dx}px, ${moved}px) rotate(${Math.max(-2, Math.min(2, dx / 60))}deg)`;
  const over = document.elementsFromPoint(event.clientX, event.clientY).some((one) => one.id === 'boxed');
  if (over !== up.boxed) { up.boxed = over; document.getElementById('boxed').classList.toggle('over', over); }
  const middle = up.top + dy + CLOTHS.get(id).tall / 2;
  const others = up.from.filter((one) => one !== id);
  const place = landing(others, id, middle);
  const next = [...others.slice(0, place), id, ...others.slice(place)];
  if (next.join() !== now.join()) tryOrder(next);
}

// Where it would lie: the place whose middle, with the cloth laid in, is nearest to its own.
function landing(others, id, middle) {
  const tall = (one) => CLOTHS.get(one).tall;
  let y = 0, best = 0, nearest = Infinity;
  for (let place = 0; place <= others.length; place += 1) {
    const off = Math.abs(y + tall(id) / 2 - middle);
    if (off < nearest) [nearest, best] = [off, place];
    if (place < others.length) y += tall(others[place]);
  }
  return best;
}

// Rows follow at once; the price comes as soon as the program has it.
function tryOrder(order) {
  now = order;
  preview(order);
  joints = joints.filter((one) => now[(now.indexOf(one.a) + 1) % now.length] === one.b);
  form();
  lay();
  price(order, (answer) => {
    if (order !== now) return;
    joints = answer.neighbours || joints;
    form();
  });
}

function drop(id) {
  const { from, boxed } = up;
  settle(id);
  if (boxed) return leaveInBox(id, from);
  if (now.join() === from.join()) { preview(null); price(null); return lay(); }
  keep(id);
}

function back(id) {
  now = up.from;
  settle(id);
  preview(null);
  price(null);
  renew(store.piece);
  store.say(`${store.name(id)} is back where it was.`);
}

function settle(id) {
  const item = CLOTHS.get(id);
  const { ghost: copy } = up;
  up = null;
  item.classList.remove('lifted');
  alight(copy, item);
  document.body.classList.remove('carrying');
  document.getElementById('boxed').classList.remove('over');
  lay();
}

// Let it down onto its place, then let the copy go.
function alight(copy, item) {
  lay();
  const still = matchMedia('(prefers-reduced-motion: reduce)').matches;
  const box = scroller.getBoundingClientRect();
  const y = box.top + item.top - scroller.scrollTop - copy.offsetTop;
  if (still) return copy.remove();
  copy.classList.add('landing');
  copy.style.transform = `translate(0, ${y}px)`;
  setTimeout(() => copy.remove(), 150);
}

async function keep(id) {
  const order = now.slice();
  const told = `${store.name(id)} is now ${order.indexOf(id) + 1} of ${order.length}.`;
  store.put({ order });
  store.say(told);
  await api.change('PUT', '/api/sequence', { order }, `${store.name(id)} to ${order.indexOf(id) + 1} of ${order.length}`, said);
  price(null);
  if (!store.order) preview(null);
}

const said = () => ''; // at once, before the program has answered

// ---- also from buttons and keys

export function move(id, by) {
  const at = now.indexOf(id), to = Math.max(0, Math.min(now.length - 1, at + by));
  if (at < 0 || at === to) return;
  const order = now.filter((one) => one !== id);
  order.splice(to, 0, id);
  tryOrder(order);
  dress();
  CLOTHS.get(id).firstChild.scrollIntoView?.({ block: 'nearest' });
  keep(id);
}

// Shown before the program has answered; the wall tries it out meanwhile.
function atOnce(order) {
  store.put({ order });
  preview(order);
}

export function leaveInBox(id, order = now) {
  atOnce(order.filter((one) => one !== id));
  store.say(`${store.name(id)} stays in the box.`);
  return api.change('PUT', '/api/sequence', { order: now.slice() }, `${store.name(id)} into the box`, said);
}

export function takeFromBox(id, place = now.length) {
  const order = now.slice();
  order.splice(place, 0, id);
  atOnce(order);
  store.say(`${store.name(id)} is out of the box, ${place + 1} of ${order.length}.`);
  return api.change('PUT', '/api/sequence', { order }, `${store.name(id)} out of the box`, said);
}

// Where in the set a point of the screen lies, for cloth that comes out of the box; null beside it.
export function placeAt(x, y) {
  const box = scroller.getBoundingClientRect();
  if (x < box.left - 40 || x > box.right + 40 || y < box.top - 30 || y > box.bottom + 30) return null;
  const inside = y - box.top + scroller.scrollTop;
  const place = now.findIndex((id) => CLOTHS.get(id).top + CLOTHS.get(id).tall / 2 > inside);
  return place < 0 ? now.length : place;
}

// Escape, or a touch beside everything, lets go of the cloth in hand.
function letGo(event) {
  if (up || !store.hold.selected || document.querySelector('dialog[open]')) return;
  const beside = event.type === 'keydown' ? event.key === 'Escape' : ['hang', 'wall', 'set', 'room', 'strips', 'scroller'].includes(event.target.id);
  if (beside && !event.defaultPrevented) store.pick({ selected: null });
}

function tap(id) { store.pick({ selected: store.hold.selected === id ? null : id }); }

function keys(event) {
  const id = event.target.closest('.strip')?.dataset.id;
  if (!id) return;
  const at = now.indexOf(id);
  const by = { ArrowUp: -1, ArrowDown: 1 }[event.key];
  if (by && event.altKey) { event.preventDefault(); move(id, by); }
  else if (by || event.key === 'Home' || event.key === 'End') {
    event.preventDefault();
    const to = event.key === 'Home' ? 0 : event.key === 'End' ? now.length - 1 : Math.max(0, Math.min(now.length - 1, at + by));
    for (const [one, item] of CLOTHS) item.firstChild.tabIndex = one === now[to] ? 0 : -1;
    CLOTHS.get(now[to]).firstChild.focus();
  } else if (event.key === 'Enter' || event.key === ' ') { event.preventDefault(); tap(id); }
}
