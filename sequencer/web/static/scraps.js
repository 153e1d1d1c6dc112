// What is left of each scrap: its true shape at one scale, this plan's strips cut out of it and
// numbered as on the sheets; what lacks hangs over its edge. Ways out were tried before they are shown.

import { button, el, fill } from './elements.js';
import { drawn } from './scrapshape.js';

let store, api, shelf, head, outs;
let ways = null;   // the ways out that were tried, for one piece
let work = null;

export function mount(root, itsStore, itsApi) {
  [store, api] = [itsStore, itsApi];
  head = el('div.row', { id: 'lefthead' });
  outs = el('ul.row', { id: 'ways' });
  shelf = el('ul', { id: 'shelf', tabindex: '0', 'aria-label': 'Scraps, strip by strip' });
  root.append(head, outs, shelf);
  shelf.addEventListener('scroll', ends, { passive: true });
  new ResizeObserver(ends).observe(shelf);
  let seen = null, held = null, view = null;
  store.on((piece) => {
    if (piece !== seen && ways) ways = api.sameStep(ways.piece, piece) ? ways : null;
    if (piece === seen && held === store.hold.selected && view === store.view) return;
    const other = held !== store.hold.selected;
    [seen, held, view] = [piece, store.hold.selected, store.view];
    draw(piece.plan);
    const picked = other && shelf.querySelector('.picked');
    if (picked) shelf.scrollLeft += picked.getBoundingClientRect().left - shelf.getBoundingClientRect().left - 8;
  });
}

function draw(plan) {
  if (!plan) { fill(head); fill(outs); return fill(shelf); }
  const short = plan.fabric.filter((one) => lacks(one));
  document.body.toggleAttribute('data-short', short.length > 0);
  titles(plan, short);
  waysOut();
  const order = store.piece.sequence?.order || [];
  const all = plan.fabric.slice().sort((a, b) => needs(b) - needs(a) || order.indexOf(a.print) - order.indexOf(b.print));
  fill(shelf, ...all.map(figure));
  ends();
}

// Cloth fades where the shelf goes on.
function ends() { shelf.classList.toggle('more', shelf.scrollWidth - shelf.scrollLeft - shelf.clientWidth > 8); }

// What is too short comes first, then what is not measured.
function needs(one) { return 2 * lacks(one) + (one.have_length === null ? 1 : 0); }

function lacks(one) { return one.short_by && one.short_by !== '0' ? 1 : 0; }

function titles(plan, short) {
  const unknown = plan.fabric.filter((one) => one.have_length === null).length;
  const told = !plan.fabric.length ? 'being worked out' : short.length ? `${short.length} of ${plan.fabric.length} too short` : unknown ? `${unknown} of ${plan.fabric.length} not measured` : 'all long enough';
  fill(head,
    el('h2', {}, 'What is left of each scrap: ', el('span.told', {}, told)),
    button(short.length ? 'main' : 'plain', 'Ways to make it fit', askWays, { 'data-key': 'waysout', hidden: !short.length }),
    button('word', 'Largest piece', () => long('/api/largest', {}, 'Trying larger pieces', 'The largest piece of these scraps'), { 'data-key': 'largest' }),
    button('word', 'Best at this size', () => long('/api/best', { size: plan.centre.join('x') }, 'Trying strips and repeats', 'The best at this size'), { 'data-key': 'bestsize' }));
}

async function long(path, body, what, told) {
  work?.cancel();
  const sizes = () => { const { words: { size, columns, strips } } = store.piece.plan; return `${size}; ${columns}; ${strips}`; };
  const before = sizes();
  work = api.job('POST', path, body, undefined, what);
  if (!await work.done || !store.piece.plan) return;
  store.say(sizes() === before ? `${told} hangs here already.` : `${told}: ${sizes()}.`);
}

async function askWays() {
  work?.cancel();
  const { piece } = store;
  work = api.job('POST', '/api/ways-out', {}, undefined, 'Trying ways out');
  const last = await work.done;
  if (!last?.ways || !api.sameStep(piece, store.piece)) return;
  ways = { piece: store.piece, all: last.ways };
  waysOut();
  if (!last.ways.length) store.say('No way out was found at this size; a smaller piece or more cloth is needed.');
  else outs.querySelector('button')?.focus();
}

function waysOut() {
  outs.hidden = !ways?.all.length;
  fill(outs, ...(ways?.all || []).map((one) => el('li', {},
    button('plain', one.label, () => api.change('POST', '/api/way-out', { n: one.n }, one.label), { 'data-key': `way ${one.n}` }),
    (one.costs || one.lacks) && el('small', {}, [one.costs, one.lacks].filter(Boolean).join(' ')))));
}

function figure(one) {
  const picked = store.hold.selected === one.print;
  const press = () => {
    store.pick({ selected: picked ? null : one.print });
    if (!picked) typeSize(one.print);
  };
  return el('li.scrap', { class: `scrap${lacks(one) ? ' short' : ''}${picked ? ' picked' : ''}` },
    el('button.shape', { type: 'button', onclick: press, 'aria-pressed': String(picked), 'aria-label': one.words, 'data-key': `scrap ${one.print}` }, drawn(one, store.cloth(one.print), store.print(one.print)?.shape)),
    picked && one.have_length === null ? sizes(one) : el('span.words', { 'aria-hidden': 'true' }, one.words));
}

// The hand goes to where a size that is not known is typed.
export function typeSize(id) {
  shelf.querySelector(`[data-key="${CSS.escape(`long side ${id}`)}"]`)?.focus({ preventScroll: true });
}

// No size is known: type it here, at the scrap.
function sizes(one) {
  const side = (label) => el('input', { type: 'text', inputmode: 'text', size: '5', autocomplete: 'off', 'aria-label': `${label} of ${store.name(one.print)}`, placeholder: label, 'data-key': `${label} ${one.print}` });
  const long = side('long side'), short = side('short side');
  const keep = (event) => {
    event.preventDefault();
    if (!long.value.trim() || !short.value.trim()) return store.say('Both sides, please: the long one and the short one.', true);
    api.change('PATCH', `/api/prints/${encodeURIComponent(one.print)}`, { sizes: [[long.value.trim(), short.value.trim()]] }, `size of ${store.name(one.print)}`);
  };
  return el('form.size', { onsubmit: keep }, el('span', {}, store.name(one.print)),
    el('span.row', {}, long, '×', short, el('button.plain', { type: 'submit', 'aria-label': `Keep the size of ${store.name(one.print)}`, 'data-key': `keep ${one.print}` }, 'Keep')));
}
