// Ways to look at the piece: squint, colour-blind eyes, across the room, true size, another size
// beside it, and the colour of the wall. What is seen comes from the program; here it is asked for.

import { button, dialog, el, field, fill } from './elements.js';
import { beside } from './beside.js';

const LOOKS = [['colour', 'As it is'], ['value', 'Squint'], ['far', 'Across the room']];
const EYES = [['protan', 'little red'], ['deutan', 'little green'], ['tritan', 'little blue']];
const CARD = 85.6 / 25.4; // inches: the long side of a bank card, ISO/IEC 7810 ID-1

export function mount(root, store, api) {
  const other = beside(store, api);
  restore(store);
  store.on(() => {
    const look = (view, name) => { store.put({ view }); store.say(`${name}.`); };
    const choice = ([view, name]) => button('word', name, () => look(view, name), { 'aria-pressed': String(store.view === view), 'data-key': `view ${view}` });
    const eyes = el('select', { 'aria-label': 'Colour-blind eyes', 'data-key': 'eyes', onchange: (event) => look(event.target.value || 'colour', event.target.value ? event.target.selectedOptions[0].textContent : 'As it is') },
      el('option', { value: '' }, 'Colour-blind eyes'),
      ...EYES.map(([view, name]) => el('option', { value: view }, `Eyes: ${name}`)));
    eyes.value = EYES.some(([view]) => view === store.view) ? store.view : '';
    eyes.classList.toggle('chosen', Boolean(eyes.value));
    if (!root.contains(document.activeElement) || document.activeElement.tagName !== 'INPUT') {
      fill(root, ...LOOKS.map(choice), eyes,
        button('word', 'True size', () => trueSize(store), { 'aria-pressed': String(store.trueSize), 'data-key': 'truesize' }),
        button('word', 'Another size', () => other.ask(), { 'aria-pressed': String(other.open()), 'data-key': 'beside' }),
        wallColour());
    }
  });
}

// ---- wall colour

function wallColour() {
  const now = document.documentElement.style.getPropertyValue('--wall');
  const input = el('input', { type: 'color', value: now || ground(), 'data-key': 'wall', 'aria-label': 'Wall colour', oninput: (event) => paint(event.target.value) });
  return el('span.row', {}, el('label.wallcolour', {}, 'Wall', input),
    now && button('word', 'Grey wall', () => { paint(''); input.focus(); }, { 'data-key': 'grey' }));
}

function ground() {
  return getComputedStyle(document.documentElement).getPropertyValue('--ground').trim() || '#cbcbcb';
}

function paint(colour) {
  if (colour) document.documentElement.style.setProperty('--wall', colour);
  else document.documentElement.style.removeProperty('--wall');
  remember('wall', colour);
}

// ---- true size

function trueSize(store) {
  if (store.trueSize) { store.put({ trueSize: false }); return store.say('As large as the wall holds.'); }
  if (store.ruler) { store.put({ trueSize: true }); store.say('True size on this screen.'); return null; }
  return calibrate(store);
}

export function calibrate(store) {
  const card = el('div.card', { 'aria-hidden': 'true' });
  const size = (wide) => { card.style.width = `${wide}px`; card.style.height = `${wide * 53.98 / 85.6}px`; card.style.borderRadius = `${wide * 3.18 / 85.6}px`; };
  const first = (store.ruler || 96) * CARD;
  const slide = el('input', { type: 'range', min: '150', max: '900', step: '.5', value: String(first), oninput: (event) => size(Number(event.target.value)) });
  size(first);
  const made = dialog('How large is true size here?',
    el('p', {}, 'Hold a bank card to the screen and slide until the outline is just as large.'),
    field('Width of the outline', slide), card,
    el('p.row', {}, button('main', 'This is the size of the card', () => {
      const ruler = Number(slide.value) / CARD;
      remember('ruler', JSON.stringify({ ruler, dpr: devicePixelRatio }));
      made.close();
      store.put({ ruler, trueSize: true });
      store.say('True size on this screen.');
    })));
  slide.focus();
  return made;
}

// ---- kept on this screen

function remember(key, value) {
  try { if (value) localStorage.setItem(key, value); else localStorage.removeItem(key); } catch { /* a private window keeps nothing */ }
}

function restore(store) {
  try {
    const wall = localStorage.getItem('wall');
    if (/^#[0-9a-f]{6}$/i.test(wall || '')) document.documentElement.style.setProperty('--wall', wall);
    const kept = JSON.parse(localStorage.getItem('ruler') || 'null');
    // An enlarged page has larger CSS pixels: the screen's own are what was measured.
    if (kept?.ruler > 0) store.ruler = kept.ruler * kept.dpr / devicePixelRatio;
  } catch { /* as above */ }
}
