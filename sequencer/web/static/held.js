// The cloth that she holds: what it hands over, and what can be done with it, as plain buttons.

import { button, el, meeting, upper } from './elements.js';
import { leaveInBox, move, takeFromBox } from './set.js';

// The panel of the selected cloth as elements; nothing where none is selected.
export function held(store, api) {
  const id = store.hold.selected;
  const print = id && store.print(id);
  const sequence = store.piece.sequence;
  if (!print || !sequence) return null;
  const at = sequence.order.indexOf(id);
  return el('div.held', {},
    el('h2', {}, store.name(print.id), el('span.place', {}, at < 0 ? ' in the box' : ` ${at + 1} of ${sequence.order.length}`),
      button('word', 'Done', () => store.pick({ selected: null }), { 'data-key': 'letgo', 'aria-label': `Done with ${store.name(print.id)}` })),
    print.colours && el('p', {}, `${upper(print.colours)}.`),
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
      button('plain', '↑ Up', () => move(print.id, -1), { 'data-key': 'up', disabled: at === 0, 'aria-label': `${store.name(print.id)} up` }),
      button('plain', '↓ Down', () => move(print.id, 1), { 'data-key': 'down', disabled: at === order.length - 1, 'aria-label': `${store.name(print.id)} down` }),
      button('plain', 'Leave in the box', () => leaveInBox(print.id), { 'data-key': 'leave box', disabled: order.length < 3 })),
    el('ul.meetings', {}, ...meetings(store, print)),
    el('p.row', {}, ...wishes(store, api, print, at)),
  ];
}

// What it hands to the one above and the one below, in the program's words.
function meetings(store, print) {
  const all = store.piece.sequence.neighbours.filter((one) => one.a === print.id || one.b === print.id);
  return all.map((one) => el('li', { 'data-verdict': one.verdict },
    meeting(one),
    el('span', {}, `${one.words}.`, one.handed ? ` ${one.handed}` : '')));
}

function wishes(store, api, print, at) {
  const { order, wishes: kept, loop } = store.piece.sequence;
  const send = (change, label) => api.change('POST', '/api/order', { wishes: change }, label);
  const turn = (name, pressed, change, label) => button('word', name, () => send(change, label), { 'aria-pressed': String(pressed), 'data-key': name });
  const both = (pair, next) => pair.includes(print.id) && pair.includes(next);
  const pair = (next, key, on, off) => {
    const all = kept[key] || [], is = all.some((one) => both(one, next));
    return turn(is ? off : on, is, { [key]: is ? all.filter((one) => !both(one, next)) : [...all, [print.id, next]] }, is ? off : on);
  };
  const end = (key, on, where) => {
    const is = kept[key] === print.id;
    return turn(on, is, { [key]: is ? null : print.id }, `${store.name(print.id)} ${is ? 'anywhere' : where}`);
  };
  const beside = [order[at - 1] ?? (loop && order.at(-1)), order[at + 1] ?? (loop && order[0])].filter(Boolean);
  return [
    end('first', 'Pin at the top', 'at the top'), end('last', 'Pin at the bottom', 'at the bottom'),
    ...beside.flatMap((next) => {
      const other = store.name(next);
      return [pair(next, 'together', `Tie to ${other}`, `Untie from ${other}`), pair(next, 'apart', `Keep apart from ${other}`, `${other} may be beside it`)];
    }),
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
    el('p', {}, '≈ Its colours may be anything between these. A photograph with white paper beside it makes them surer.'),
    el('p.ends', { role: 'img', 'aria-label': 'The cloth as it may be: lighter, as read, darker' }, picture('light'), picture('as-is'), picture('dark')),
    el('p.ends.small', { 'aria-hidden': 'true' }, el('span', {}, 'lighter'), el('span', {}, 'as seen'), el('span', {}, 'darker')),
  ];
}
