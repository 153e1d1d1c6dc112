// Best order, other good orders and hers, side by side as narrow strip sets of real cloth.

import { button, el, fill } from './elements.js';
import { preview } from './wall.js';

export function orders(store, api) {
  const row = el('ul.orders');
  const root = el('details', { id: 'orders' }, el('summary', {}, 'Other good orders'), row);
  let shown = null;

  function renew(piece) {
    const { sequence } = piece;
    root.hidden = !sequence || !(sequence.others || []).length && same(sequence.best, sequence.order);
    if (root.hidden || shown === sequence) return;
    shown = sequence;
    const all = [
      { order: sequence.best, name: 'Best', note: sequence.percent ? '' : 'hangs here' },
      ...(sequence.others || []).map((one, place) => ({ ...one, name: `Another ${place + 1}`, note: [one.price, one.note].filter(Boolean).join('; ') })),
    ].filter((one) => one.order);
    if (!all.some((one) => same(one.order, sequence.order))) all.unshift({ order: sequence.order, name: 'Yours', note: sequence.price });
    root.firstChild.textContent = `Other good orders (${all.length - 1})`;
    fill(row, ...all.map((one) => column(one, sequence)));
  }

  function column(one, sequence) {
    const here = same(one.order, sequence.order);
    const names = one.order.map((id) => store.print(id)?.name ?? id).join(', ');
    const look = (on) => { if (!here) preview(on ? one.order : null); };
    const made = button('column', '', () => api.change('PUT', '/api/sequence', { order: one.order }, one.name), {
        'aria-label': `${one.name}${one.note ? `, ${one.note}` : ''}: ${names}`, 'aria-pressed': String(here), disabled: here, 'data-key': `order ${one.name}`,
        onpointerenter: () => look(true), onpointerleave: () => look(false), onfocus: () => look(true), onblur: () => look(false) });
    made.append(dressed(one.order));
    return el('li', {}, made, el('span', {}, one.name), one.note && el('small', {}, one.note));
  }

  function dressed(order) {
    return el('span.cloths', { 'aria-hidden': 'true' }, ...order.map((id) => el('img', { src: store.print(id)?.cloth, alt: '', draggable: 'false' })));
  }

  return { root, renew };
}

function same(one, other) { return Boolean(one && other) && one.join(' ') === other.join(' '); }
