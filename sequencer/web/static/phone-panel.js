// A door for a phone, opened only when asked: a square to point its camera at, minutes left, a way to shut it.

import { button, dialog, el, fill, svg } from './elements.js';
import { listen } from './bring.js';

const OFTEN = 2000;

export async function openPhone(store, api) {
  const body = el('div.stack', { 'aria-live': 'polite' });
  const made = dialog('Photographs from a phone', body);
  let timer = null;
  const asked = () => fill(body,
    el('p', {}, 'The phone and this computer must be on the same network, for instance your wireless at home. A door is opened for the phone alone: it can send photographs and see nothing.'),
    el('p', {}, 'What it sends is not encrypted. Whoever else is on this network could see the photographs, so do not open it in a café.'),
    button('main', 'Open the door for my phone', open, { 'data-key': 'open-door' }));
  const show = (door) => {
    const left = Math.max(0, Math.ceil((door.until - Date.now() / 1000) / 60));
    if (!door.address || (!left && !door.entered)) { close(false); return; }
    const told = door.received ? `${door.received === 1 ? '1 photograph has' : `${door.received} photographs have`} come.`
      : door.entered ? 'The phone is in; choose photographs on it.' : `Point the phone's camera at this square, or type the address. It works once, for ${left === 1 ? 'one more minute' : `${left} more minutes`}.`;
    fill(body, el('p', {}, told), !door.entered && square(door), !door.entered && el('p.address', {}, door.address),
      el('p.small', {}, 'Not encrypted: whoever else is on this network could see the photographs.'),
      button('plain', 'Shut the door', () => close(true), { 'data-key': 'shut-door' }));
    if (door.job) listen(door.job);
  };
  async function open() {
    const door = await api.change('POST', '/api/phone', {}, 'opening the door');
    if (!door) return;
    show(door);
    timer = setInterval(async () => { try { show(await api.get('/api/phone')); } catch { /* told in the status line */ } }, OFTEN);
  }
  async function close(ask) {
    clearInterval(timer);
    if (ask) await api.change('DELETE', '/api/phone', {}, 'shutting the door');
    if (!made.open) return;
    store.say('The door for the phone is shut.');
    asked();
  }
  made.addEventListener('close', () => clearInterval(timer));
  try { const door = await api.get('/api/phone'); if (door.address) { show(door); timer = setInterval(async () => show(await api.get('/api/phone').catch(() => ({}))), OFTEN); } else asked(); } catch { asked(); }
}

function square({ qr, size, address }) {
  const box = size || Number(/^\s*(\d+)/.exec(qr)?.[1]) || 41;
  return svg('svg.qr', { viewBox: `0 0 ${box} ${box}`, role: 'img', 'aria-label': `The address ${address} as a square to photograph`, 'shape-rendering': 'crispEdges' }, svg('path', { d: qr }));
}
