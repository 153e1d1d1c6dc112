// The same design at another size, hung beside the piece: both whole, at one scale.

import { button, el, fill } from './elements.js';
import { sew } from './scissors.js';

const MARGIN = 14;   // as wall.js keeps around its picture
const UNDER = 110;   // CSS pixels for the words and fields under the other one

export function beside(store, api) {
  const wide = input('wide'), high = input('high');
  const canvas = el('div'), told = el('p.small');
  const form = el('form.row', { onsubmit: (event) => { event.preventDefault(); show(); } },
    'Centre', wide, '×', high, el('button.plain', { type: 'submit' }, 'Show'), button('word', 'Close', close));
  const root = el('div', { id: 'beside', hidden: true, role: 'group', 'aria-label': 'The same design at another size' }, canvas, told, form);
  const room = document.getElementById('wall'), hang = document.getElementById('hang');
  room.append(root);
  new ResizeObserver(lay).observe(room);
  let stop = null, other = null; // what hangs there: {canvas, width, height} in inches

  function input(name) {
    return el('input', { type: 'text', size: '5', autocomplete: 'off', 'aria-label': `${name} of the other size`, placeholder: name });
  }

  async function show() {
    if (!wide.value.trim() || !high.value.trim()) return store.say('How wide and how high, please.', true);
    stop?.abort();
    stop = new AbortController();
    try {
      const packet = await api.packet('/api/trial', {
        wishes: { size: `${wide.value.trim()}x${high.value.trim()}` },
        rows: null, base: 0, order: null, ppi: 40, view: store.view === 'far' ? 'colour' : store.view, serial: 0, frame: true,
      }, stop.signal);
      const { geometry, plan } = packet.head;
      other = { canvas: sew(packet), width: geometry.width / geometry.ppi, height: geometry.height / geometry.ppi };
      other.canvas.setAttribute('role', 'img');
      other.canvas.setAttribute('aria-label', `The same design, ${plan.words.size}`);
      fill(canvas, other.canvas);
      told.textContent = `${plan.words.size}; ${plan.words.columns}; ${plan.words.strips}. Nothing is changed.`;
      store.say(`Beside it: ${plan.words.size}.`);
      lay();
    } catch (fault) {
      if (fault.name !== 'AbortError') store.say(fault.message, true);
    }
    return null;
  }

  // One scale for both; the piece keeps the left of the wall, the other takes the right.
  function lay() {
    hang.style.right = '';
    hang.style.bottom = !root.hidden && !other ? `${root.offsetHeight}px` : ''; // the fields take no cloth away
    if (root.hidden || !other || !store.shown) return;
    const { geometry } = store.shown;
    const own = [geometry.width / geometry.ppi, geometry.height / geometry.ppi];
    const space = [room.clientWidth - 4 * MARGIN, room.clientHeight - 2 * MARGIN];
    const scale = Math.min(space[0] / (own[0] + other.width), space[1] / own[1], (space[1] - UNDER) / other.height);
    const left = own[0] * scale + 2 * MARGIN;
    hang.style.right = `${room.clientWidth - left}px`;
    root.style.left = `${left + MARGIN}px`;
    other.canvas.style.width = `${other.width * scale}px`;
  }

  function close() {
    root.hidden = true;
    other = null;
    canvas.replaceChildren();
    told.textContent = '';
    root.style.left = '';
    lay();
    store.put({});
  }

  return {
    open: () => !root.hidden,
    ask() {
      if (!root.hidden) return close();
      root.hidden = false;
      lay();
      store.put({});
      wide.focus();
      return null;
    },
  };
}
