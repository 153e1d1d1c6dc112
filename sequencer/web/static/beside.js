// The same design at another size, hung beside the piece at the same scale.

import { button, el, fill } from './elements.js';
import * as wall from './wall.js';

export function beside(store, api) {
  const root = el('div', { id: 'beside', hidden: true, role: 'group', 'aria-label': 'The same design at another size' });
  const wide = input('wide'), high = input('high');
  const canvas = el('div.hung');
  const told = el('p.small');
  const form = el('form.row', { onsubmit: (event) => { event.preventDefault(); show(); } },
    wide, '×', high, el('button.plain', { type: 'submit' }, 'Show'), button('word', 'Close', close));
  root.append(form, canvas, told);
  const wallBox = document.getElementById('wall');
  wallBox.append(root);
  // The piece makes room for it where there is enough.
  new ResizeObserver(() => wallBox.style.setProperty('--aside', wallBox.clientWidth > 640 ? `${root.offsetWidth}px` : '0px')).observe(root);
  let stop = null;

  function input(name) {
    return el('input', { type: 'text', size: '5', autocomplete: 'off', 'aria-label': `${name} of the other size`, placeholder: name });
  }

  async function show() {
    if (!wide.value.trim() || !high.value.trim()) return store.say('How wide and how high, please.', true);
    const { shown } = store;
    stop?.abort();
    stop = new AbortController();
    const scale = shown ? shown.box.height / shown.geometry.centre[3] : 1;
    const inch = shown ? shown.geometry.ppi * scale : 40; // CSS pixels in an inch on the wall now
    try {
      const view = store.view === 'far' ? 'colour' : store.view;
      const size = encodeURIComponent(`${wide.value.trim()}x${high.value.trim()}`);
      const packet = await api.packet(`/api/scaled?size=${size}&ppi=${shown?.geometry.ppi || 48}&view=${view}`, undefined, stop.signal);
      const made = wall.sew(packet);
      made.style.width = `${made.width / packet.head.geometry.ppi * inch}px`;
      made.setAttribute('role', 'img');
      made.setAttribute('aria-label', `The same design, ${wide.value} by ${high.value}`);
      fill(canvas, made);
      const { plan: { words }, answers } = packet.head;
      told.replaceChildren(`${words.size}; ${words.columns}; ${words.strips}.`, ...answers.flatMap((one) => [el('br'), `${one.question} ${one.verdict}: ${one.reason}`]));
    } catch (fault) {
      if (fault.name !== 'AbortError') store.say(fault.message, true);
    }
    return null;
  }

  function close() { root.hidden = true; canvas.replaceChildren(); told.textContent = ''; store.put({}); }

  return {
    open: () => !root.hidden,
    ask() {
      if (!root.hidden) return close();
      root.hidden = false;
      store.put({});
      wide.focus();
      return null;
    },
  };
}
