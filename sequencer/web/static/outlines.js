// What is drawn over a photograph: outlines of scraps, corners to take hold of, a line in her hand.

import { el, moves, svg } from './elements.js';

const LEAST = 6;         // CSS pixels a finger may stray and still tap
const LATER = 900;       // ms after the last arrow key until a moved corner counts

// One figure: the photograph with everything over it. `act` is told what was done:
// tap(at, what), moved(item, points), drawn(points), loupe is drawn here.
export function figure(photo, source, items, act) {
  const wide = photo.width || 4, high = photo.height || 3;
  const drawing = svg('svg.over', { viewBox: `0 0 ${wide} ${high}`, 'aria-hidden': items.some((one) => one.pick) ? null : 'true' });
  const img = el('img', { src: source, alt: `Photograph ${photo.name}`, draggable: 'false', decoding: 'async' });
  const corners = el('div.corners');
  const loupe = el('div.loupe', { hidden: true, 'aria-hidden': 'true' });
  const made = el('figure.shot', { style: { '--wide': wide, '--high': high } }, img, drawing, corners, loupe);
  const spot = (event) => {
    const box = drawing.getBoundingClientRect();
    return [clamp((event.clientX - box.left) / box.width) * wide, clamp((event.clientY - box.top) / box.height) * high];
  };
  const rig = { photo, wide, high, drawing, corners, loupe, img, act, spot };
  items.forEach((item) => draw(rig, item));
  background(rig);
  return made;
}

function clamp(part) { return Math.min(1, Math.max(0, part)); }

function draw(rig, item) {
  const shape = item.points.length === 2
    ? svg('polyline', { class: `edge ${item.kind}` })
    : svg('polygon', { class: `edge ${item.kind}`, 'data-print': item.kind === 'scrap' ? item.id : null });
  if (item.pick) dressForPicking(rig, item, shape);
  if (item.held) shape.classList.add('held');
  if (item.late !== undefined) shape.style.setProperty('--late', `${item.late * 90}ms`);
  rig.drawing.append(shape);
  const label = item.label ? el('span.tag', { 'aria-hidden': 'true' }, item.label) : null;
  if (label) rig.corners.append(label);
  const place = () => {
    shape.setAttribute('points', item.points.map((one) => one.join(',')).join(' '));
    if (label) {
      const [x, y] = middle(item.points);
      label.style.left = `${(100 * x) / rig.wide}%`;
      label.style.top = `${(100 * y) / rig.high}%`;
    }
  };
  place();
  if (item.handles) handles(rig, item, place);
}

function dressForPicking(rig, item, shape) {
  for (const [name, value] of Object.entries({
    role: 'button', tabindex: '0', 'aria-label': item.name, 'aria-pressed': String(Boolean(item.held)), 'data-key': `on-${item.id}`,
  })) shape.setAttribute(name, value);
  shape.addEventListener('keydown', (event) => {
    if (event.key !== 'Enter' && event.key !== ' ') return;
    event.preventDefault();
    rig.act.tap(middle(item.points), item);
  });
  shape.addEventListener('click', (event) => { event.stopPropagation(); rig.act.tap(rig.spot(event), item); });
}

// A tap beside every scrap, and a shape pulled open where one may be drawn.
function background({ drawing, act, spot }) {
  drawing.addEventListener('click', (event) => { if (!drawing.pulled) act.tap(spot(event), null); drawing.pulled = false; });
  if (!act.drawn) return;
  drawing.classList.add('drawing');
  drawing.addEventListener('pointerdown', (event) => {
    if (event.button) return;
    const from = spot(event), [left, top] = [event.clientX, event.clientY];
    drawing.setPointerCapture(event.pointerId);
    const rubber = svg('polygon', { class: 'edge draft' });
    drawing.append(rubber);
    const way = [from];
    let far = 0; // CSS pixels: a line led round comes back to where it began
    const shape = (to) => (act.line ? [from, to] : around(way) ? way : [from, [to[0], from[1]], to, [from[0], to[1]]]);
    const move = (event) => {
      for (const one of moves(event)) {
        far = Math.max(far, Math.hypot(one.clientX - left, one.clientY - top));
        way.push(spot(one));
      }
      rubber.setAttribute('points', shape(way.at(-1)).map((point) => point.join(',')).join(' '));
    };
    const end = (one) => {
      drawing.removeEventListener('pointermove', move);
      drawing.removeEventListener('pointerup', end);
      drawing.removeEventListener('pointercancel', end);
      rubber.remove();
      act.busy(false);
      if (far < LEAST || one.type === 'pointercancel') return;
      drawing.pulled = true;
      act.drawn(around(way) && !act.line ? corners(way) : shape(spot(one)));
    };
    act.busy(true); // nothing is drawn anew under her hand
    drawing.addEventListener('pointermove', move);
    drawing.addEventListener('pointerup', end);
    drawing.addEventListener('pointercancel', end);
  });
}

// Was it led round something, and not pulled open from corner to corner?
function around(way) {
  const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
  return way.reduce((sum, one, k) => sum + (k && apart(one, way[k - 1])), 0) > 1.8 * apart(way[0], way.at(-1));
}

// The few corners of a line drawn by hand: whatever spans the least area goes first (Visvalingam and Whyatt 1993).
function corners(way) {
  const ring = way.filter((_, k) => k % Math.ceil(way.length / 150) === 0);
  const span = ([a, b], [c, d], [e, f]) => Math.abs((c - a) * (f - b) - (e - a) * (d - b)) / 2;
  const least = () => ring.reduce((best, one, k) => { const size = span(ring.at(k - 1), one, ring[(k + 1) % ring.length]); return size < best.size ? { k, size } : best; }, { size: Infinity });
  const whole = Math.abs(ring.reduce((sum, [x, y], k) => sum + x * ring.at(k - 1)[1] - y * ring.at(k - 1)[0], 0)) / 2;
  for (let next = least(); ring.length > 12 || (ring.length > 4 && next.size < whole / 40); next = least()) ring.splice(next.k, 1);
  return ring;
}

function handles(rig, item, place) {
  const group = el('div', { role: 'group', 'aria-label': item.points.length === 2 ? `Ends: ${item.name}` : `Corners: ${item.name}` });
  item.handles.forEach((k, n) => group.append(handle(rig, item, k, n, place)));
  rig.corners.append(group);
}

function handle(rig, item, k, n, place) {
  const what = item.points.length === 2 ? 'End' : 'Corner';
  const knob = el('button.corner', { type: 'button', 'data-key': `corner-${item.id}-${n}` });
  let before = null, later = null;
  const put = () => {
    const [x, y] = item.points[k];
    knob.style.left = `${(100 * x) / rig.wide}%`;
    knob.style.top = `${(100 * y) / rig.high}%`;
    knob.setAttribute('aria-label', `${what} ${n + 1} of ${item.handles.length}, ${Math.round((100 * x) / rig.wide)} % across, ${Math.round((100 * y) / rig.high)} % down`);
    place();
  };
  const to = (x, y) => {
    before ||= item.points.map((one) => [...one]);
    item.points[k] = [Math.min(rig.wide, Math.max(0, x)), Math.min(rig.high, Math.max(0, y))];
    put();
  };
  const done = () => {
    clearTimeout(later);
    rig.loupe.hidden = true;
    rig.act.busy(false);
    if (!before) return;
    before = null;
    rig.act.moved(item, item.points.map((one) => one.map((part) => Math.round(part * 10) / 10)));
  };
  const back = () => { if (before) { item.points.splice(0, item.points.length, ...before); before = null; put(); } done(); };
  knob.addEventListener('pointerdown', (event) => {
    if (event.button) return;
    event.preventDefault();
    knob.focus({ preventScroll: true });
    knob.setPointerCapture(event.pointerId);
    rig.act.busy(true);
    const start = rig.spot(event), [x, y] = item.points[k];
    const move = (one) => { const [u, v] = rig.spot(one); to(x + u - start[0], y + v - start[1]); look(rig, item.points[k]); };
    knob.addEventListener('pointermove', move);
    const end = (one) => { knob.removeEventListener('pointermove', move); if (one.type === 'pointercancel') back(); else done(); };
    knob.addEventListener('pointerup', end, { once: true });
    knob.addEventListener('pointercancel', end, { once: true });
  });
  knob.addEventListener('keydown', (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (step) {
      event.preventDefault();
      rig.act.busy(true);
      const size = (rig.wide / rig.drawing.getBoundingClientRect().width) * (event.shiftKey ? 10 : 1);
      to(item.points[k][0] + step[0] * size, item.points[k][1] + step[1] * size);
      clearTimeout(later);
      later = setTimeout(done, LATER);
    } else if (event.key === 'Escape' && before) { event.stopPropagation(); back(); }
    else if (event.key === 'Enter' && before) { event.preventDefault(); done(); }
    else if (event.key === 'Delete' && item.points.length > 3 && rig.act.less) rig.act.less(item, k);
  });
  knob.addEventListener('blur', () => { if (before && later) done(); });
  put();
  return knob;
}

// What lies under the finger, twice as large, beside it.
function look({ loupe, img, wide, high, drawing }, [x, y]) {
  const box = drawing.getBoundingClientRect(), side = 112, more = 2.5;
  const across = (x / wide) * box.width, down = (y / high) * box.height;
  loupe.hidden = false;
  loupe.style.backgroundImage = `url("${img.src}")`;
  loupe.style.backgroundSize = `${box.width * more}px ${box.height * more}px`;
  loupe.style.backgroundPosition = `${side / 2 - across * more}px ${side / 2 - down * more}px`;
  loupe.style.left = `${Math.min(box.width - side, Math.max(0, across - side / 2))}px`;
  loupe.style.top = `${down > side + 40 ? down - side - 32 : down + 32}px`;
}

export function middle(points) {
  return [0, 1].map((part) => points.reduce((sum, one) => sum + one[part], 0) / points.length);
}

// The long and the short side of a shape, by the smallest rectangle round it: where they lie, to set a field
// beside each, and a cut across.
export function sidesOf(points) {
  let best = null;
  points.forEach(([x, y], k) => {
    const [u, v] = points[(k + 1) % points.length], size = Math.hypot(u - x, v - y);
    if (!size) return;
    const along = [(u - x) / size, (v - y) / size], over = [-along[1], along[0]];
    const reach = (way) => { const at = points.map((one) => one[0] * way[0] + one[1] * way[1]); return [Math.min(...at), Math.max(...at)]; };
    const [a, b] = reach(along), [c, d] = reach(over);
    if (!best || (b - a) * (d - c) < best.area) best = { area: (b - a) * (d - c), along, over, a, b, c, d };
  });
  let { along, over, a, b, c, d } = best;
  if (b - a < d - c) [along, over, a, b, c, d] = [over, along, c, d, a, b];
  const point = (s, t) => [s * along[0] + t * over[0], s * along[1] + t * over[1]];
  const [s, t] = [(a + b) / 2, (c + d) / 2], out = 0.06 * (b - a);
  const flat = Math.abs(along[0]) >= Math.abs(along[1]);
  const first = (one, other, part) => (one[part] < other[part] ? one : other), last = (one, other, part) => (one[part] < other[part] ? other : one);
  return {
    long: flat ? first(point(s, c), point(s, d), 1) : last(point(s, c), point(s, d), 0),
    short: flat ? last(point(a, t), point(b, t), 0) : first(point(a, t), point(b, t), 1),
    flat, cut: [point(s, c - out), point(s, d + out)],
  };
}

// A quadrilateral to begin with, around a point.
export function begin([x, y], wide, high) {
  const w = wide / 9, h = high / 9;
  return [[x - w, y - h], [x + w, y - h], [x + w, y + h], [x - w, y + h]]
    .map(([u, v]) => [Math.min(wide, Math.max(0, u)), Math.min(high, Math.max(0, v))]);
}
