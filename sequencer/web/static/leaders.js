// Thin lines from a cloth to its rows at the picture's left edge: for the cloth that is looked at,
// and for every cloth in sight where the set scrolls and so stands beside other rows than its own.

import { svg } from './elements.js';

export function leaders(root, store) {
  const drawing = svg('svg', { id: 'leaders', 'aria-hidden': 'true' });
  root.append(drawing);

  return (order, cloths, { scroll, top, room, held, all }) => {
    const { shown } = store;
    if ((!all && !held) || !shown?.box || !shown.geometry) return drawing.replaceChildren();
    const wall = document.getElementById('wall').getBoundingClientRect();
    const set = root.getBoundingClientRect();
    const from = root.querySelector('#scroller').getBoundingClientRect().right - set.left;
    const to = wall.left + shown.box.x - set.left;
    const ends = rows(order, shown, wall.top - set.top);
    return drawing.replaceChildren(...(all ? order : [held]).flatMap((id) => {
      const item = cloths.get(id), y = item && top + item.top - scroll + item.tall / 2;
      if (!item || !ends.has(id) || y < top - 2 || y > top + room + 2) return [];
      const line = (end) => svg('path', { class: id === held ? 'held' : '', d: `M${from} ${y}C${(from + to) / 2} ${y} ${(from + to) / 2} ${end} ${to} ${end}` });
      return (id === held ? ends.get(id) : ends.get(id).slice(0, 1)).map(line);
    }));
  };
}

// Middles of the rows that each print makes in the leftmost column, in CSS pixels of the set.
function rows(order, { geometry, box }, down) {
  const scale = box.height / geometry.centre[3], ends = new Map();
  let y = 0;
  for (let row = geometry.offsets[0] || 0; y < geometry.centre[3] - .5; row += 1) {
    const print = order[row % order.length], tall = geometry.strip[print];
    if (!tall) break;
    ends.set(print, [...(ends.get(print) || []), down + box.y + (y + tall / 2) * scale]);
    y += tall;
  }
  return ends;
}
