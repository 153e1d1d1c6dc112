// One scrap of a photograph: its name and sizes, and what it can be besides what was found.

import { button, el, field, upper } from './elements.js';
import { sidesOf } from './outlines.js';

export const inWords = (one, units) => {
  const size = one.sizes[0] || one.measured;
  return [one.label || one.name, size ? `${size.join(' × ')} ${units}` : 'size not known', one.colours].filter(Boolean).join(', ');
};

const typing = new Map();      // what stands in the fields and is not yet taken, by print
const LENGTH = /^[\d\s./¼½¾⅛⅜⅝⅞]+(in|cm|mm|")?$/;
export const unitsWord = (units) => (units === 'cm' ? 'centimetres' : 'inches');

// Two fields for the long and the short side, laid at those sides in the photograph where there is room.
export function fieldsAtSides(one, photo, units, resize, say) {
  const sides = sidesOf(one.outline), room = roomy(), before = one.sizes[0] || ['', ''];
  const now = typing.get(one.id) || before;
  const inputs = ['long', 'short'].map((side, n) => el('input', {
    type: 'text', autocomplete: 'off', 'data-key': `${side}-${one.id}`,
    'aria-label': room ? `${side === 'long' ? 'Long' : 'Short'} side of ${one.label || one.name}, ${unitsWord(units)}` : null,
    value: now[n], placeholder: one.measured ? `≈ ${one.measured[n]}` : side,
  }));
  const typed = () => {
    const values = inputs.map((input) => input.value.trim());
    if (values.every((value, n) => value === before[n])) { typing.delete(one.id); return; }
    const wrong = values.findIndex((value) => value && !LENGTH.test(value));
    inputs.forEach((input, n) => input.setAttribute('aria-invalid', String(n === wrong)));
    if (wrong >= 0) { say(`'${values[wrong]}' is no length: type it like 9 1/2 or 9.5.`, true); return; }
    if (!values[0] && !values[1]) { typing.delete(one.id); resize([]); return; }
    const whole = values.map((value, n) => value || one.measured?.[n] || '');
    const missing = whole.findIndex((value) => !value);
    if (missing >= 0) { say(`Type the ${missing ? 'short' : 'long'} side too: it was not measured.`, true); return; }
    typing.delete(one.id);
    resize([whole, ...one.sizes.slice(1)]);
  };
  inputs.forEach((input, n) => {
    input.addEventListener('input', () => typing.set(one.id, inputs.map((each) => each.value)));
    input.addEventListener('keydown', (event) => {
      if (event.key === 'Enter') { if (n === 0 && !inputs[1].value.trim()) inputs[1].focus(); else typed(); }
      if (event.key === 'Escape' && input.value !== before[n]) { event.stopPropagation(); input.value = before[n]; typing.delete(one.id); }
    });
    input.addEventListener('blur', (event) => { if (input.isConnected && !inputs.includes(event.relatedTarget)) typed(); });
  });
  if (!room) return inputs.map((input, n) => field(`${n ? 'Short' : 'Long'} side, ${units}`, input));
  return [sides.long, sides.short].map(([x, y], n) => el(`span.atside${(n === 0) === sides.flat ? '' : '.right'}`, {
    style: { left: `${within(x / photo.width, 7)}%`, top: `max(${within(y / photo.height, 7)}%, 3rem)` },
  }, inputs[n]));
}

export const roomy = () => matchMedia('(min-width: 40rem)').matches;

function within(part, margin) { return Math.min(100 - margin, Math.max(margin, 100 * part)); }

// The side panel while a scrap is held.
export function panel(one, photo, piece, desk, act) {
  const name = el('input', { type: 'text', value: one.named ? one.name : '', placeholder: one.id, maxlength: '120', autocomplete: 'off', 'data-key': 'name' });
  const rename = () => { if (name.value.trim() !== (one.named ? one.name : '')) act.rename(name.value.trim()); };
  name.addEventListener('change', rename);
  const several = el('input', { type: 'text', autocomplete: 'off', 'data-key': 'several', placeholder: '9 1/2 x 3, 5 x 2',
    value: one.sizes.map((size) => size.join(' x ')).join(', ') });
  several.addEventListener('change', () => act.resize(several.value.split(',').map((part) => part.split(/[x×]/).map((side) => side.trim())).filter((size) => size[0])));
  const press = (kind, text, key, extra = {}) => button('plain', text, () => act.take(kind), { 'data-key': key, 'aria-pressed': String(desk.mode === kind), ...extra });
  const mates = piece.prints.filter((other) => other.photo === one.photo && other.id !== one.id);
  return el('section.stack', { 'aria-label': `Scrap ${one.name}` },
    el('h2', {}, one.label || one.name),
    field('Name', name),
    !roomy() && el('div.fields', {}, fieldsAtSides(one, photo, piece.units, act.resize, act.say)),
    el('p', {}, about(one)),
    measured(one, piece.units),
    el('div.row', {},
      button('plain', 'Not a scrap', act.drop, { 'data-key': 'drop' }),
      press('part', 'Part in two', 'part'),
      mates.length > 0 && press('join', 'Join with another', 'join'),
      button('plain', 'One more corner', act.more, { 'data-key': 'more' })),
    el('details', {}, el('summary', { 'data-key': 'several-open' }, 'Several pieces of this cloth'),
      field(`Sizes in ${unitsWord(piece.units)}`, several, 'long x short, a comma between pieces')),
    el('details', {}, el('summary', { 'data-key': 'else-open' }, 'It is something else'),
      el('div.row', {},
        ...[['sheet', 'My white sheet'], ['grey', 'My grey card'], ['card', 'My bank card']]
          .map(([kind, text]) => button('plain', text, () => act.point(kind), { 'data-key': `is-${kind}` })))),
    alike(one, piece, act),
    one.remarks.length > 0 && el('ul.remarks', {}, one.remarks.map((text) => el('li', {}, upper(text)))));
}

function about(one) {
  const doubt = { sure: '', about: ' Its colours are about right (≈).', unsure: ' Its colours are unsure (≈): photograph it again with a white sheet beside it.' }[one.doubt];
  return `${one.colours ? `${upper(one.colours)}.` : ''}${doubt || ''}`;
}

function measured(one, units) {
  if (one.sizes.length) return el('p', {}, `${one.sizes.map((size) => size.join(' × ')).join(', ')} ${units}, as you typed it.`);
  if (one.measured) return el('p', {}, `Measured: about ${one.measured.join(' × ')} ${units}. A ruler knows better: type it at its sides.`);
  return el('p', {}, 'Its size is not known: type it at its sides.');
}

// A cloth that lies in other photographs too: said, or denied.
function alike(one, piece, act) {
  const others = piece.prints.filter((other) => other.photo !== one.photo);
  if (!others.length) return null;
  const choose = el('select', { 'data-key': 'other' }, others.map((other) => el('option', { value: other.id }, other.label || other.name)));
  return el('details', {}, el('summary', { 'data-key': 'alike-open' }, 'The same cloth in another photograph'),
    field('The other one', choose),
    el('div.row', {},
      button('plain', 'The same cloth', () => act.alike('same', choose.value), { 'data-key': 'same' }),
      button('plain', 'Two cloths', () => act.alike('different', choose.value), { 'data-key': 'different' })));
}
