// White sheet, grey card, colour target, bank card: where they lie in a photograph, and how sure that is.

import { button, el, field, upper } from './elements.js';

const CALLED = { sheet: 'white sheet', grey: 'grey card', target: 'colour target', bankcard: 'bank card', marked: 'marked length' };
const PAPERS = { letter: 'letter paper', a4: 'A4 paper', a5: 'A5 paper' };

export const called = (kind) => CALLED[kind] || kind;

// What of it lies in the picture, as shapes to draw and to take hold of.
export function things(photo) {
  return [['reference', photo.reference], ['card', photo.card]]
    .filter(([, seen]) => seen?.corners.length >= 2 && seen.kind !== 'sheet-scale')
    .filter(([which, seen]) => !(which === 'card' && seen.kind === 'sheet'))
    .map(([which, seen]) => ({
      id: which, kind: 'other', points: seen.corners.map((one) => [...one]), pick: true, label: called(seen.kind),
      name: `${called(seen.kind)}, ${sure(seen)}`, seen,
    }));
}

function sure(seen) {
  if (seen.said) return 'as you said';
  if (seen.sure === null || seen.sure === undefined || seen.sure >= 0.95) return 'found';
  return seen.sure >= 0.8 ? 'found, fairly sure' : 'perhaps; look whether it is one';
}

// The part of the side that is about it. `say(body, what)` marks the photograph; `take(kind)` begins a gesture.
export function panel(photo, desk, { say, take, store }) {
  return [colours(photo, desk, say, take), sizes(photo, desk, say, take, store)];
}

function colours(photo, desk, say, take) {
  const seen = photo.reference;
  const none = photo.wishes.reference === 'none';
  const told = seen
    ? [`${upper(called(seen.kind))}: ${sure(seen)}. `, 'Colours are judged by it.']
    : [none ? 'No white sheet, as you said: ' : 'No white sheet seen: ', 'colours are about right only.'];
  return el('section.stack', { 'aria-label': 'Colour of this photograph' },
    el('h3', {}, 'Colour'), el('p', {}, ...told),
    el('div.row', {},
      button('plain', seen?.kind === 'sheet' ? 'The white sheet lies elsewhere' : 'Show the white sheet', () => take('sheet'), { 'data-key': 'take-sheet', 'aria-pressed': String(desk.mode === 'sheet') }),
      button('word', seen?.kind === 'grey' ? 'The grey card lies elsewhere' : 'A grey card', () => take('grey'), { 'data-key': 'take-grey' }),
      seen && button('word', 'There is none', () => say({ reference: 'none' }, 'no white sheet'), { 'data-key': 'none-reference' }),
      (seen?.said || none) && button('word', 'Look for it again', () => say({ reference: null, marked: null }, 'Looking again'), { 'data-key': 'again-reference' })),
    seen?.kind === 'grey' && lightness(photo, seen, say));
}

// A card is taken for one of 18 % where nothing else is said; one of L* 65 would read every cloth far too dark.
function lightness(photo, seen, say) {
  const known = /^grey=(.+)$/.exec(photo.wishes.reference || '')?.[1] || '50';
  const state = (event) => {
    const level = event.target.value.trim() || '50';
    say({ reference: `grey=${level}`, ...(seen.said && { marked: seen.corners }) }, `A grey card of L* ${level}`);
  };
  const input = el('input', { type: 'text', inputmode: 'decimal', value: known, autocomplete: 'off', 'data-key': 'lightness', onchange: state });
  return field('How light the card is, L*', input, 'An 18 % card is 50; its maker tells it.');
}

function sizes(photo, desk, say, take, store) {
  const seen = photo.card, scale = photo.wishes.scale;
  const told = seen ? `${upper(called(seen.kind))}: ${sure(seen)}. Sizes are measured by it.`
    : 'Nothing to measure by was seen: type the sizes, or show a bank card or a length.';
  const choose = el('select', { 'data-key': 'paper', onchange: (event) => say({ scale: event.target.value || null }, 'Measuring by paper') },
    el('option', { value: '' }, 'not used to measure'),
    ...Object.entries(PAPERS).map(([key, name]) => el('option', { value: key, selected: scale === key }, name)));
  return el('section.stack', { 'aria-label': 'Sizes in this photograph' },
    el('h3', {}, 'Sizes'), el('p', {}, told),
    el('div.row', {},
      button('plain', seen?.kind === 'bankcard' ? 'The bank card lies elsewhere' : 'Show the bank card', () => take('card'), { 'data-key': 'take-card', 'aria-pressed': String(desk.mode === 'card') }),
      button('word', 'Show a length', () => take('length'), { 'data-key': 'take-length' }),
      (seen?.said || (scale && scale !== 'auto')) && button('word', 'Look for it again', () => say({ scale: null, card: null }, 'Looking again'), { 'data-key': 'again-card' })),
    photo.reference?.kind === 'sheet' && field('Size of the white sheet', choose),
    desk.mode === 'length' && length(desk, say, store));
}

function length(desk, say, store) {
  const input = el('input', { type: 'text', value: desk.length || '', placeholder: store.piece.units === 'cm' ? '15 cm' : '6 in', autocomplete: 'off', 'data-key': 'length' });
  const use = () => {
    const [a, b] = desk.draft.map((one) => one.map(Math.round).join(','));
    const typed = /^[\d\s./]+$/.test(input.value) ? `${input.value.trim()}${store.piece.units}` : input.value.trim();
    if (typed) say({ scale: `${typed}=${a}-${b}` }, 'Measuring by that length');
    else input.focus();
  };
  input.addEventListener('input', () => { desk.length = input.value; });
  input.addEventListener('keydown', (event) => { if (event.key === 'Enter') use(); });
  return el('div.row', {}, field('How long is the line between the two ends', input), button('plain', 'Measure by it', use, { 'data-key': 'use-length' }));
}

