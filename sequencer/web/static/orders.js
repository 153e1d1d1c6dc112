// Best order, other good orders and hers, side by side as narrow strip sets of real cloth.

import { button, el, fill } from './elements.js';
import { preview } from './wall.js';

export function orders(store, api) {
  const row = el('ul.orders'), told = el('p.small');
  const root = el('details', { id: 'orders' }, el('summary', {}, 'Other good orders'), row, told);
  let shown = null;
  root.addEventListener('toggle', () => {
    const { sequence } = store.piece;
    // None was looked for yet: the best order is asked for again, with others beside it.
    if (root.open && !sequence.others?.length && same(sequence.best, sequence.order)) api.change('POST', '/api/order', { wishes: {} }, 'other good orders', () => '');
  });

  function renew(piece) {
    const { sequence } = piece;
    root.hidden = !sequence || sequence.order.length < 3;
    if (root.hidden || shown === sequence) return;
    shown = sequence;
    const all = [
      { order: sequence.best, name: 'Best', note: sequence.percent ? '' : 'hangs here' },
      ...(sequence.others || []).map((one, place) => ({ ...one, name: `Another ${place + 1}`, note: one.price, how: one.note })),
    ].filter((one) => one.order);
    if (!all.some((one) => same(one.order, sequence.order))) all.unshift({ order: sequence.order, name: 'Yours', note: sequence.price });
    root.firstChild.textContent = all.length > 1 ? `Other good orders (${all.length - 1})` : 'Other good orders';
    fill(row, ...all.map((one) => column(one, sequence)));
  }

  function column(one, sequence) {
    const here = same(one.order, sequence.order);
    const names = one.order.map((id) => store.name(id)).join(', ');
    const look = (on) => { told.textContent = on && one.how ? `${one.how.replace(/\.$/, '')}.` : ''; if (!here) preview(on ? one.order : null); };
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
