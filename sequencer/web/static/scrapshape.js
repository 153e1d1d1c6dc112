// One print's scraps as a drawing: cloth, the strips cut out of it, their numbers, what hangs over.

import { svg } from './elements.js';

const GAP = .4;      // inches between two scraps of one print
let names = 0;

// "27/8" → 3.375
export function inches(text) {
  const [top, under = 1] = String(text).split('/').map(Number);
  return top / under;
}

// The drawing of fabric[i], in inches; its scale is the style sheet's.
export function drawn(one, cloth, shape) {
  names += 1;
  const parts = [];
  let x = 0, high = 0;
  for (const use of one.scraps) {
    const [long, short] = use.size.map(inches);
    const over = overhang(one, use);
    parts.push(scrap(use, cloth, x, long, short, `cloth${names}-${use.scrap}`, one.scraps.length === 1 ? shape : null));
    if (over) parts.push(hanging(x, long, short, over));
    x += long + (over ? over.length : 0) + GAP;
    high = Math.max(high, short);
  }
  if (!one.scraps.length) {
    const [long, short] = (one.piece || ['6', '3']).map(inches);
    parts.push(svg('image.faint', { href: cloth, width: long, height: short, preserveAspectRatio: 'none' }),
      svg('rect.unknown', { x: 0, y: 0, width: long, height: short }));
    [x, high] = [long + GAP, short];
  }
  const wide = x - GAP;
  return svg('svg', { viewBox: `-.06 -.06 ${wide + .12} ${high + .12}`, 'aria-hidden': 'true', style: { '--wide': wide + .12, '--high': high + .12 } }, ...parts);
}

function scrap(use, cloth, x, long, short, name, shape) {
  const mask = svg('mask', { id: name, maskUnits: 'userSpaceOnUse', x: 0, y: 0, width: long, height: short },
    shape ? svg('polygon', { points: shape.map((at) => at.join()).join(' '), fill: '#fff' }) : svg('rect', { width: long, height: short, fill: '#fff' }),
    ...use.cuts.map((cut) => svg('rect', { ...place(cut, long, short, use), fill: '#000' })));
  return svg('g', { transform: `translate(${x} 0)` }, svg('defs', {}, mask),
    svg('image', { href: cloth, width: long, height: short, preserveAspectRatio: 'none', mask: `url(#${name})` }),
    shape ? svg('polygon.rim', { points: shape.map((at) => at.join()).join(' ') }) : svg('rect.rim', { width: long, height: short }),
    ...use.cuts.flatMap((cut, at) => {
      const box = place(cut, long, short, use);
      return [svg('rect.cut', box), words(String(at + 1), box.x + box.width / 2, box.y + box.height / 2, Math.min(.62, box.width * .8, box.height * .8))];
    }));
}

// Cuts are measured from the corner that was squared; straightening takes its rim evenly off all sides.
function place(cut, long, short, use) {
  const [x, y] = cut.at.map(inches);
  const across = inches(cut.width), along = inches(cut.length);
  const rim = [(long - inches(use.usable[0])) / 2, (short - inches(use.usable[1])) / 2];
  const [width, height] = cut.along === 'long' ? [along, across] : [across, along];
  return { x: x + rim[0], y: y + rim[1], width, height };
}

// What lacks, as a strip beyond the edge of the last scrap.
function overhang(one, use) {
  if (!one.short_by || one.short_by === '0' || use !== one.scraps[one.scraps.length - 1]) return null;
  return { length: inches(one.short_by), width: inches(one.scraps.flatMap((all) => all.cuts)[0]?.width ?? 1) };
}

function hanging(x, long, short, over) {
  const y = Math.max(0, short - over.width);
  return svg('g', {}, svg('rect.over', { x: x + long, y, width: over.length, height: over.width }));
}

function words(text, x, y, size) {
  return svg('text', { x, y, 'font-size': size, 'text-anchor': 'middle', 'dominant-baseline': 'central' }, text);
}
