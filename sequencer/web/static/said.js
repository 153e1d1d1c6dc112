// What there is to say, at the right: the cloth in hand, the order and its price, and numbered pins,
// each with one sentence and one remedy. The same pins hang on the wall where they are about.

import { button, el, fill, meeting, pin } from './elements.js';
import { held } from './held.js';
import { orders } from './orders.js';
import { onPrice } from './price.js';
import { typeSize } from './scraps.js';

let store, api, inHand, words, others, notes, hung;
let priced = null;

export function mount(root, itsStore, itsApi) {
  [store, api] = [itsStore, itsApi];
  inHand = el('div', { id: 'inhand' });
  words = el('div.stack', { id: 'orderwords' });
  others = orders(store, api);
  notes = el('ol', { id: 'notes', 'aria-label': 'Where to look' });
  root.append(inHand, words, others.root, notes);
  hung = document.getElementById('pins');
  // While cloth moves, its price and its new neighbours stand first; what it was before steps back.
  onPrice((answer) => { priced = answer; inHand.hidden = Boolean(answer) || !inHand.firstChild; order(store.piece); });
  store.on(() => hung.classList.toggle('away', Boolean(store.trial)), true); // pins wait until the picture rests
  store.on((piece, before) => {
    if (piece !== before) priced = null;
    const holding = held(store, api);
    inHand.hidden = !holding || Boolean(priced);
    fill(inHand, holding);
    order(piece);
    others.renew(piece);
    list(piece);
    hang(piece);
  });
}

// The order's price in words: hers while she moves, else the one that is kept.
function order(piece) {
  const { sequence, plan, summary, blocked } = piece;
  if (!sequence) return fill(words);
  const own = priced ? priced.price : sequence.percent !== null && sequence.percent > 0 ? sequence.price : null;
  const meets = priced?.neighbours ? moved(priced) : null;
  fill(words,
    ...(own ? [el('p.price', {}, el('strong', {}, 'Your order: '), `${own}.`)] : best(sequence.sure)),
    meets,
    own && !priced && button('plain', 'Put the best order back', () => api.change('PUT', '/api/sequence', { order: sequence.best }, 'best order', () => 'The best order hangs again.'), { 'data-key': 'best' }),
    kept(sequence),
    plan && !priced && el('p', {}, sizeWords(plan, summary)),
    blocked && el('p.blocked', {}, blocked));
}

// 'proved. The photographs leave doubt: …' as one strong sentence, and the doubt as its own.
function best(sure) {
  const [first, ...rest] = sure.split('. ');
  return [el('p.price', {}, el('strong', {}, `Best order${first.includes(' ') ? ':' : ','} ${first}.`)), rest.length > 0 && el('p', {}, `${rest.join('. ')}.`)];
}

// While she moves: the worst meeting of the order in hand, by its word.
function moved(answer) {
  const id = store.hold.selected;
  const mine = answer.neighbours.filter((one) => one.a === id || one.b === id);
  return el('ul.meetings', {}, ...mine.map((one) => el('li', {},
    meeting(one),
    el('span', {}, `${one.words}.`))));
}

function sizeWords(plan) {
  const { words: told = {} } = plan;
  return `${[told.size, told.columns, told.strips].filter(Boolean).join('; ')}.`;
}

// What she wished, each taken back by a touch.
function kept(sequence) {
  const name = (id) => store.name(id);
  const all = sequence.wishes || {};
  const one = (text, change) => el('li', {}, el('span', {}, text), button('word', 'Take back', () => api.change('POST', '/api/order', { wishes: change }, text, () => `Taken back: ${text}.`), { 'aria-label': `Take back: ${text}` }));
  const pairs = (key, word) => (all[key] || []).map((pair) => one(`${name(pair[0])} ${word} ${name(pair[1])}`, { [key]: all[key].filter((other) => other !== pair) }));
  const items = [
    all.first && one(`${name(all.first)} at the top`, { first: null }),
    all.last && one(`${name(all.last)} at the bottom`, { last: null }),
    ...pairs('together', 'tied to'), ...pairs('apart', 'apart from'),
    ...(all.include || []).map((id) => one(`${name(id)} always in`, { include: all.include.filter((other) => other !== id) })),
  ].filter(Boolean);
  return items.length > 0 && el('div', {}, el('h3', {}, 'You wished'), el('ul.wishes', {}, ...items));
}

function list(piece) {
  fill(notes, ...(piece.said || []).map((one) => el('li', { id: `note-${one.n}` },
    pin(one.n), el('div', {}, el('p', {}, one.text), remedy(one)))));
}

// What can be done about it was tried by the program; where nothing was, the place it is about is shown.
function remedy({ n, at = {}, remedy: way, text }) {
  if (way) {
    const doing = store.doing === way.label;
    const act = () => { if (!store.doing) api.change(way.method, way.path, way.body, way.label); };
    return button('plain', doing ? `${way.label} …` : way.label, act, { 'data-key': `remedy ${n}`, 'aria-disabled': doing && 'true' });
  }
  const id = at.print ?? at.pair?.[1], size = 'size' in at;
  const show = id ? () => { store.pick({ selected: id }); if (size) typeSize(id); } : at.photo ? () => store.go('photo') : null;
  const label = size ? 'Type it' : id ? 'Show it' : 'Photos';
  return show && button(size ? 'plain' : 'word', label, show, { 'data-key': `show ${n}`, 'aria-label': `${label}: ${text}` });
}

// Pins over the picture; one that would cover another stands beside it.
function hang(piece) {
  const { shown } = store;
  if (!shown?.box || !shown.geometry) return hung.replaceChildren();
  const taken = [];
  fill(hung, ...(piece.said || []).map((one) => {
    const at = one.at || {}, place = where(at, piece, shown);
    if (!place) return null;
    const along = at.column === undefined ? 1 : 0; // beside the rows one under the other, above the columns side by side
    while (taken.some(([x, y]) => Math.abs(x - place[0]) < 32 && Math.abs(y - place[1]) < 32)) place[along] += 32;
    taken.push(place);
    return el('button.pin.hung', { type: 'button', 'aria-label': `${one.n}: ${one.text}`, title: one.text, 'data-key': `pin ${one.n}`,
      style: { left: `${place[0]}px`, top: `${place[1]}px` }, onclick: () => point(one.n) }, String(one.n));
  }));
}

function point(n) {
  const note = document.getElementById(`note-${n}`);
  note?.scrollIntoView({ block: 'nearest' });
  note?.classList.remove('pointed');
  requestAnimationFrame(() => note?.classList.add('pointed'));
  note?.querySelector('button')?.focus({ preventScroll: true });
}

// Where on the wall a sentence is about, in CSS pixels of the wall: beside the centre, not on its cloth.
function where(at, piece, { geometry, box }) {
  const scale = box.height / geometry.centre[3];
  if (at.column !== undefined && at.column !== null) {
    const left = geometry.lefts[at.column], right = geometry.lefts[at.column + 1] ?? left;
    return left === undefined ? null : [box.x + (left + right) / 2 * scale, Math.max(14, box.y - 16)];
  }
  const order = piece.plan?.prints || piece.sequence?.order || [];
  const print = at.print ?? at.pair?.[0];
  if (!order.includes(print)) return null;
  let y = 0;
  for (let row = 0; row < order.length * (piece.plan?.repeats || 1); row += 1) {
    const one = order[(row + (geometry.offsets[0] || 0)) % order.length];
    const tall = geometry.strip[one] || 0;
    if (one === print) return [Math.max(14, box.x - 16), box.y + (y + (at.pair ? tall : tall / 2)) * scale];
    y += tall;
  }
  return null;
}
