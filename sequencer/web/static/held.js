// The cloth that she holds: what it hands over, and what can be done with it, as plain buttons.

import { button, el } from './elements.js';
import { leaveInBox, move, takeFromBox } from './set.js';

// The panel of the selected cloth as elements; nothing where none is selected.
export function held(store, api) {
  const id = store.hold.selected;
  const print = id && store.print(id);
  const sequence = store.piece.sequence;
  if (!print || !sequence) return null;
  const at = sequence.order.indexOf(id);
  return el('div.held', {},
    el('h2', {}, print.name, el('span.place', {}, at < 0 ? ' in the box' : ` ${at + 1} of ${sequence.order.length}`)),
    print.colours && el('p', {}, `${print.colours}.`),
    ...(at < 0 ? boxed(store, print) : placed(store, api, print, at)),
    ...doubt(print));
}

function boxed(store, print) {
  return [el('p.row', {}, button('plain', 'Take from the box', () => takeFromBox(print.id), { 'data-key': 'take' }))];
}

function placed(store, api, print, at) {
  const { order } = store.piece.sequence;
  return [
    el('p.row', {},
      button('plain', '↑ Up', () => move(print.id, -1), { 'data-key': 'up', disabled: at === 0, 'aria-label': `${print.name} up` }),
      button('plain', '↓ Down', () => move(print.id, 1), { 'data-key': 'down', disabled: at === order.length - 1, 'aria-label': `${print.name} down` }),
      button('plain', 'Leave in the box', () => leaveInBox(print.id), { 'data-key': 'leave box', disabled: order.length < 3 })),
    el('ul.meetings', {}, ...meetings(store, print)),
    el('p.row', {}, ...wishes(store, api, print, at)),
  ];
}

// What it hands to the one above and the one below, in the program's words.
function meetings(store, print) {
  const all = store.piece.sequence.neighbours.filter((one) => one.a === print.id || one.b === print.id);
  return all.map((one) => el('li', { 'data-verdict': one.verdict },
    el('span.form', { 'data-verdict': one.verdict, 'data-perhaps': !one.certain, 'aria-hidden': 'true' }, el('i'), el('i')),
    el('span', {}, `${one.words}.`, one.handed ? ` ${one.handed}` : '')));
}

function wishes(store, api, print, at) {
  const { order, wishes: kept, loop } = store.piece.sequence;
  const send = (change, label) => api.change('POST', '/api/order', { wishes: change }, label);
  const turn = (name, pressed, change, label) => button('word', name, () => send(change, label), { 'aria-pressed': String(pressed), 'data-key': name });
  const next = order[(at + 1) % order.length];
  const other = store.print(next)?.name ?? next;
  const has = (pairs) => (pairs || []).some((pair) => pair.includes(print.id) && pair.includes(next));
  const without = (pairs) => (pairs || []).filter((pair) => !(pair.includes(print.id) && pair.includes(next)));
  const pair = (key, on, off) => {
    const is = has(kept[key]);
    return turn(is ? off : on, is, { [key]: is ? without(kept[key]) : [...(kept[key] || []), [print.id, next]] }, is ? off : on);
  };
  const end = (key, on) => turn(on, kept[key] === print.id, { [key]: kept[key] === print.id ? null : print.id }, on);
  const lastToo = at === order.length - 1 && !loop;
  return [
    end('first', 'Pin at the top'), end('last', 'Pin at the bottom'),
    !lastToo && pair('together', `Tie to ${other}`, `Untie from ${other}`),
    !lastToo && pair('apart', `Keep apart from ${other}`, `${other} may be beside it`),
  ];
}

// Doubt on the cloth itself: both ends of what its colours may be, beside what was read.
function doubt(print) {
  if (print.doubt === 'sure') return [];
  const picture = (end) => {
    const made = el('img', { src: `${print.cloth}&end=${end}`, alt: '', draggable: 'false' });
    made.addEventListener('error', () => made.parentElement?.remove(), { once: true });
    return made;
  };
  return [
    el('p', {}, `≈ Its colours are ${print.doubt === 'about' ? 'about right' : 'not sure'}: nine in ten lie within ${print.uncertainty} ΔE of the true ones. A photograph with white paper beside it makes them surer.`),
    el('p.ends', { role: 'img', 'aria-label': 'The cloth as it may be: lighter, as read, darker' }, picture('light'), picture('as-is'), picture('dark')),
  ];
}
