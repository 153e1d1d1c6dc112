// The box under the strip set: prints that are left out, to be taken out by pull or by touch.

import { el, fill } from './elements.js';
import { hands } from './hands.js';
import { placeAt, takeFromBox } from './set.js';

export function mount(root, store) {
  const list = el('ul');
  const head = el('h2');
  root.append(head, list);
  let ghost = null;

  store.on((piece) => {
    const order = store.order || piece.sequence?.order || [];
    const out = piece.prints.filter((one) => !order.includes(one.id));
    root.classList.toggle('empty', !out.length);
    head.textContent = out.length ? 'In the box' : 'Box: empty';
    fill(list, ...out.map(card));
  });

  function card(print) {
    const picked = store.hold.selected === print.id;
    const press = (event) => { if (event.detail === 0) tap(print.id); }; // keys; a hand is heard by hands
    return el('li', { 'data-id': print.id },
      el('button.boxedcloth', { type: 'button', onclick: press, 'data-key': `boxed ${print.id}`, 'aria-label': `${store.name(print.id)}, in the box`, 'aria-pressed': String(picked), title: store.name(print.id) },
        el('img', { src: store.cloth(print.id), alt: '', draggable: 'false' })));
  }

  function tap(id) { store.pick({ selected: store.hold.selected === id ? null : id }); }

  function away() { ghost?.remove(); ghost = null; document.body.classList.remove('carrying'); }

  function carry(id, dx, dy, event) { ghost.style.transform = `translate(${event.clientX - 40}px, ${event.clientY - 16}px)`; }

  hands(list, {
    find: (event) => event.target.closest('[data-id]')?.dataset.id,
    scrolls: () => true,
    tap, carry, back: away,
    lift(id, event) {
      ghost = el('img.ghost', { src: store.cloth(id), alt: '' });
      document.body.append(ghost);
      document.body.classList.add('carrying');
      carry(id, 0, 0, event);
    },
    drop(id, event) {
      away();
      const place = placeAt(event.clientX, event.clientY);
      if (place !== null) takeFromBox(id, place);
    },
  });
}
