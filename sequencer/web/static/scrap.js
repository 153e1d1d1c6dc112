// One scrap of a photograph: its name and sizes, and what it can be besides what was found.

import { button, el, field } from './elements.js';
import { sidesOf } from './outlines.js';

export const inWords = (one, units) => {
  const size = one.sizes[0] || one.measured;
  return [one.label || one.name, size ? `${size.join(' × ')} ${units}` : 'size not known', one.colours].filter(Boolean).join(', ');
};

// Two fields for the long and the short side, laid at those sides in the photograph where there is room.
export function fieldsAtSides(one, photo, units, resize) {
  const sides = sidesOf(one.outline), room = roomy();
  const inputs = ['long', 'short'].map((side, n) => el('input', {
    type: 'text', inputmode: 'text', autocomplete: 'off', 'data-key': `${side}-${one.id}`,
    'aria-label': `${side === 'long' ? 'Long' : 'Short'} side of ${one.name}, ${units === 'cm' ? 'centimetres' : 'inches'}`,
    value: one.sizes[0]?.[n] || '', placeholder: one.measured ? `≈ ${one.measured[n]}` : side,
  }));
  const typed = () => {
    const [long, short] = inputs.map((input) => input.value.trim());
    const before = one.sizes[0] || ['', ''];
    if (long === before[0] && short === before[1]) return;
    if (long && short) resize([[long, short], ...one.sizes.slice(1)]);
    else if (!long && !short) resize([]);
  };
  inputs.forEach((input, n) => input.addEventListener('keydown', (event) => {
    if (event.key === 'Enter') { if (n === 0 && !inputs[1].value.trim()) inputs[1].focus(); else typed(); }
    const before = one.sizes[0]?.[n] || '';
    if (event.key === 'Escape' && input.value !== before) { event.stopPropagation(); input.value = before; }
  }));
  const out = (event) => { if (!inputs.includes(event.relatedTarget)) typed(); };
  inputs.forEach((input) => input.addEventListener('blur', out));
  if (!room) return inputs.map((input, n) => field(`${n ? 'Short' : 'Long'} side, ${units}`, input));
  return [sides.long, sides.short].map(([x, y], n) => el(`span.atside${n ? '.right' : ''}`, {
    style: { left: `${within(x / photo.width, n ? 4 : 7)}%`, top: `${within(y / photo.height, 7)}%` },
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
    !roomy() && el('div.fields', {}, fieldsAtSides(one, photo, piece.units, act.resize)),
    el('p', {}, about(one)),
    measured(one, piece.units),
    el('div.row', {},
      button('plain', 'Not a scrap', act.drop, { 'data-key': 'drop' }),
      press('part', 'Part in two', 'part'),
      mates.length > 0 && press('join', 'Join with another', 'join'),
      button('plain', 'One more corner', act.more, { 'data-key': 'more' })),
    el('details', {}, el('summary', { 'data-key': 'several-open' }, 'Several pieces of this cloth'),
      field(`Sizes in ${piece.units}`, several, 'long x short, a comma between pieces')),
    el('details', {}, el('summary', { 'data-key': 'else-open' }, 'It is something else'),
      el('div.row', {},
        ...[['sheet', 'My white sheet'], ['grey', 'My grey card'], ['card', 'My bank card']]
          .map(([kind, text]) => button('plain', text, () => act.point(kind), { 'data-key': `is-${kind}` })))),
    alike(one, piece, act),
    one.remarks.length > 0 && el('ul.remarks', {}, one.remarks.map((text) => el('li', {}, text))));
}

function about(one) {
  const doubt = { sure: '', about: ' Its colours are about right (≈).', unsure: ' Its colours are unsure (≈): photograph it again with a white sheet beside it.' }[one.doubt];
  return `${one.colours ? `${one.colours[0].toUpperCase()}${one.colours.slice(1)}.` : ''}${doubt || ''}`;
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
