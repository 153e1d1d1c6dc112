// Thin lines from a cloth to its rows at the picture's left edge: for the cloth that is looked at,
// and for every cloth in sight where the set scrolls and so stands beside other rows than its own.

import { svg } from './elements.js';

export function leaders(root, store) {
  const drawing = svg('svg', { id: 'leaders', 'aria-hidden': 'true' });
  root.append(drawing);

  return (order, cloths, { scroll, top, room, held, all }) => {
    drawing.replaceChildren();
    const { shown } = store;
    if (!shown?.box || !shown.geometry) return;
    const wall = document.getElementById('wall').getBoundingClientRect();
    const set = root.getBoundingClientRect();
    const from = root.querySelector('#scroller').getBoundingClientRect().right - set.left;
    const to = wall.left + shown.box.x - set.left;
    const down = wall.top - set.top;
    for (const id of all ? order : [held]) {
      const item = cloths.get(id);
      if (!item) continue;
      const y = top + item.top - scroll + item.offsetHeight / 2;
      if (y < top - 2 || y > top + room + 2) continue;
      const ends = rows(id, order, shown, down);
      for (const end of id === held ? ends : ends.slice(0, 1)) {
        drawing.append(svg('path', { class: id === held ? 'held' : '', d: `M${from} ${y}C${(from + to) / 2} ${y} ${(from + to) / 2} ${end} ${to} ${end}` }));
      }
    }
  };
}

// Middles of the rows that a print makes in the leftmost column, in CSS pixels of the set.
function rows(id, order, shown, down) {
  const { geometry, box } = shown;
  const scale = box.height / geometry.centre[3];
  const ends = [];
  let y = 0;
  for (let row = 0; y < geometry.centre[3] - .5 && row < 2000; row += 1) {
    const print = order[(row + (geometry.offsets[0] || 0)) % order.length];
    const tall = geometry.strip[print];
    if (!tall) break;
    if (print === id) ends.push(down + box.y + (y + tall / 2) * scale);
    y += tall;
  }
  return ends;
}
