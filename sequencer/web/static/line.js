// The line drawn on the piece. It runs through the middle of one print, its base; columns follow it.
//
// It is kept as heights in rows at even places across. A stroke replaces only what it crosses and is drawn
// at once; the columns come from the program. The print under the finger becomes the base, so it stays there.

import { el, moves, svg } from './elements.js';
import { preview, stopTrials, tryOut } from './wall.js';

const REACH = 6;   // CSS pixels before a press becomes a stroke
const PAUSE = 700; // milliseconds after the last key until the line is kept
let store, api, root, surface, middle, drawing, path, under, handles = [];
let rows = [], base = 0, n = 0;
let stroke = null, keeping = 0;

export function mount(where, itsStore, itsApi) {
  [root, store, api] = [where, itsStore, itsApi];
  middle = el('div', { id: 'centre' });
  surface = el('div', { id: 'draw' }, middle); // border and binding too: nobody begins just at the seam
  under = svg('path', { class: 'under' });
  path = svg('path');
  drawing = svg('svg', { id: 'drawn', 'aria-hidden': 'true' }, under, path);
  root.append(surface, drawing);
  root.setAttribute('role', 'group');
  root.setAttribute('aria-label', 'The line that the columns follow');
  surface.addEventListener('pointerdown', press);
  surface.addEventListener('pointermove', draw);
  surface.addEventListener('pointerup', lift);
  surface.addEventListener('pointercancel', cancel);
  surface.addEventListener('wheel', (event) => document.getElementById('hang').scrollBy(event.deltaX, event.deltaY), { passive: true });
  store.on(renew, true);
}

function renew(piece) {
  const plan = store.trial || piece.plan;
  root.classList.toggle('none', !plan || !store.shown);
  if (!plan || !store.shown) return;
  if (stroke) return; // what is drawn lays itself
  if (!keeping) take(plan);
  lay();
}

function take(plan) {
  ({ rows, base } = plan.line);
  n = plan.prints.length;
  // The same line whole runs higher or lower is the same piece: show the one nearest to the middle, and let
  // another print be its base where it would leave the piece.
  const low = Math.min(...rows), high = Math.max(...rows), off = plan.rows / 2 - (low + high) / 2;
  let lift = n * Math.round(off / n);
  if (low + lift < .5 || high + lift > plan.rows - .5) lift = Math.round(off);
  rows = rows.map((one) => one + lift);
  base = (((base - lift) % n) + n) % n;
}

// ── rows and pixels ────────────────────────────────────────────────────────────────────────

const order = () => store.trial?.prints || store.piece.plan.prints;
const strips = (from) => { const all = order(), { geometry, scale } = store.shown; return (i) => geometry.strip[all[(((from + i) % n) + n) % n]] * scale; };

// CSS pixels from the lower edge up to where print `from` begins when it is pushed up `height` rows.
function rise(height, from) {
  const tall = strips(from), whole = Math.floor(height);
  let sum = (height - whole) * tall(whole);
  for (let i = 0; i < whole; i += 1) sum += tall(i);
  for (let i = whole; i < 0; i += 1) sum -= tall(i);
  return sum;
}

function heightOf(pixels, from) {
  const tall = strips(from);
  let row = 0, sum = 0;
  while (sum + tall(row) <= pixels) sum += tall(row++);
  while (sum > pixels) sum -= tall(--row);
  return row + (pixels - sum) / tall(row);
}

// The set repeats, so a line that leaves at the top comes in again below.
const yOf = (height, box) => { const y = box.height - rise(height, base) + strips(base)(0) / 2; return y - Math.floor(y / box.height) * box.height; };

const placed = () => { const { box, geometry, scale } = store.shown; return [...Object.values(box), scale, geometry.centre, geometry.width, geometry.height].join(); };

// Over the picture, wherever it hangs.
function hang({ box, geometry, scale }) {
  hang.at = placed();
  const [x, y] = geometry.centre;
  const over = (one, left, top, width, height) => Object.assign(one.style, { left: `${left}px`, top: `${top}px`, width: `${width}px`, height: `${height}px` });
  over(surface, box.x - x * scale, box.y - y * scale, geometry.width * scale, geometry.height * scale);
  over(middle, x * scale, y * scale, box.width, box.height);
  Object.assign(drawing.style, { left: `${box.x}px`, top: `${box.y}px` });
  drawing.setAttribute('width', box.width);
  drawing.setAttribute('height', box.height);
}

function lay() {
  const { box } = store.shown;
  if (!order().every((id) => store.shown.geometry.strip[id])) return; // the picture of another set is on its way
  if (hang.at !== placed()) hang(store.shown);
  const last = rows.length - 1;
  let before = NaN;
  const d = rows.map((one, i) => {
    const y = yOf(one, box), go = Math.abs(y - before) < box.height / 2 ? 'L' : 'M';
    before = y;
    return `${go}${(i / last * box.width).toFixed(1)} ${y.toFixed(1)}`;
  }).join('');
  path.setAttribute('d', d);
  under.setAttribute('d', d);
  if (!stroke) grip(box);
}

// ── strokes ────────────────────────────────────────────────────────────────────────────────

// Where the middle lies on the screen, asked for once for each place where the picture hangs: to ask in the
// midst of a stroke is to lay the page anew.
function spot() {
  if (!stroke) return middle.getBoundingClientRect();
  const hung = placed();
  if (stroke.hung !== hung) Object.assign(stroke, { hung, spot: middle.getBoundingClientRect() });
  return stroke.spot;
}

function at(event, place = spot()) {
  return { x: Math.max(0, Math.min(place.width, event.clientX - place.left)), y: Math.max(0, Math.min(place.height - 1, event.clientY - place.top)) };
}

// The print and row at a point of the centre.
function printAt(point) {
  const { geometry, scale } = store.shown, all = order();
  const x = point.x / scale;
  const column = Math.max(0, geometry.lefts.findLastIndex((left, c) => left <= x && c < geometry.offsets.length));
  let y = point.y / scale, row = 0;
  while (row < 2000 && y >= geometry.strip[all[(row + geometry.offsets[column]) % n]]) y -= geometry.strip[all[(row++ + geometry.offsets[column]) % n]];
  return (row + geometry.offsets[column]) % n;
}

function press(event) {
  if (event.button || stroke || !rows.length) return;
  stroke = { id: event.pointerId, from: at(event), last: null, rows: rows.slice(), base, due: [], frame: 0 };
  surface.setPointerCapture(event.pointerId);
}

function draw(event) {
  if (!stroke || event.pointerId !== stroke.id) return;
  stroke.due.push(...moves(event));
  stroke.frame ||= requestAnimationFrame(follow);
}

// What the hand did since the last picture: once for each picture of the screen, and once when it lets go.
function follow() {
  if (!stroke) return;
  const place = spot(), { due } = stroke;
  cancelAnimationFrame(stroke.frame);
  Object.assign(stroke, { due: [], frame: 0 });
  for (const one of due) {
    const point = at(one, place);
    if (!stroke.last) {
      if (Math.hypot(point.x - stroke.from.x, point.y - stroke.from.y) < REACH) continue;
      begin();
    }
    cross(stroke.last, point);
    stroke.last = point;
  }
  if (!stroke.last || !due.length) return;
  lay();
  tryOut({ rows: joined(Math.round(index(stroke.from.x))), base });
}

// The print under the finger becomes the base; what is not crossed keeps its columns.
function begin() {
  clearTimeout(keeping);
  keeping = 0;
  root.classList.add('drawing');
  const print = printAt(stroke.from), old = base;
  base = print;
  const here = rowAt(stroke.from);
  const place = Math.round(index(stroke.from.x));
  const shift = old - print + n * Math.round((here - (rows[place] + old - print)) / n);
  rows = rows.map((one) => one + shift);
  stroke.last = stroke.from;
  cross(stroke.from, stroke.from);
}

const index = (x) => Math.max(0, Math.min(1, x / store.shown.box.width)) * (rows.length - 1);
const rowAt = (point) => heightOf(store.shown.box.height - point.y + strips(base)(0) / 2, base);

function cross(a, b) {
  const [from, to] = [index(a.x), index(b.x)], [low, high] = [rowAt(a), rowAt(b)];
  // What is nearly at an edge goes on to the edge.
  const edge = Math.max(12 / store.shown.box.width, .06) * (rows.length - 1), left = Math.min(from, to), right = Math.max(from, to);
  for (let i = left < edge ? 0 : Math.ceil(left - .5); i <= (right > rows.length - 1 - edge ? rows.length : right + .5); i += 1) {
    if (i < 0 || i >= rows.length) continue;
    const part = from === to ? 1 : Math.max(0, Math.min(1, (i - from) / (to - from)));
    rows[i] = low + (high - low) * part;
  }
}

function lift(event) {
  if (!stroke || event.pointerId !== stroke.id) return;
  follow();
  const drawn = stroke.last, start = Math.round(index(stroke.from.x));
  if (!drawn) store.pick({ selected: order()[printAt(stroke.from)] });
  stroke = null;
  root.classList.remove('drawing');
  if (drawn) { rows = joined(start); keep(); }
}

// Beside the stroke the line may stand whole runs higher or lower, which is the same columns: then it need
// not jump so far.
function joined(from) {
  const line = rows.slice();
  const near = (i, other) => { line[i] += n * Math.round((line[other] - line[i]) / n); };
  for (let i = from + 1; i < line.length; i += 1) near(i, i - 1);
  for (let i = from - 1; i >= 0; i -= 1) near(i, i + 1);
  return line;
}

function cancel() {
  if (!stroke) return;
  ({ rows, base } = stroke);
  const drawn = stroke.last;
  stroke = null;
  root.classList.remove('drawing');
  if (drawn) { stopTrials(); preview(null); store.put({}); }
}

async function keep() {
  clearTimeout(keeping);
  keeping = -1; // what is drawn stays until the program has answered
  const kept = { rows: rows.map((one) => Math.round(one * 1e4) / 1e4), base };
  const answer = await api.change('POST', '/api/plan', kept, 'the line');
  keeping = 0;
  if (!answer) { stopTrials(); preview(null); }
  store.put({});
}

// ── handles ────────────────────────────────────────────────────────────────────────────────

const PARTS = ['', 'an eighth', 'a quarter', 'three eighths', 'half', 'five eighths', 'three quarters', 'seven eighths'];

function grip(box) {
  const count = box.width < 380 ? 5 : 9;
  if (handles.length !== count) {
    handles.forEach((one) => one.remove());
    handles = Array.from({ length: count }, (_, i) => handle(i, count));
    root.append(...handles);
  }
  const { rows: all } = store.trial || store.piece.plan;
  handles.forEach((one, i) => {
    const height = rows[placeOf(i, count)];
    const near = Math.round(height * 4) / 4;
    Object.assign(one.style, { left: `${box.x + i / (count - 1) * box.width}px`, top: `${box.y + yOf(height, box)}px` });
    one.setAttribute('aria-valuenow', near);
    one.setAttribute('aria-valuemin', -all);
    one.setAttribute('aria-valuemax', 2 * all);
    one.setAttribute('aria-valuetext', `${near} ${near === 1 ? 'row' : 'rows'} up`);
  });
}

const placeOf = (i, count) => Math.round(i * (rows.length - 1) / (count - 1));

function handle(i, count) {
  const part = PARTS[i * 8 / (count - 1)];
  const name = i === 0 ? 'Line at the left edge' : i === count - 1 ? 'Line at the right edge' : `Line ${part} of the way across`;
  const made = el('div.grip', { role: 'slider', tabindex: '0', 'aria-orientation': 'vertical', 'aria-label': name });
  let from = null;
  made.addEventListener('keydown', (event) => {
    const step = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 3, PageDown: -3 }[event.key];
    if (!step || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    pull(i, count, event.shiftKey ? step / 4 : step, rows);
    clearTimeout(keeping);
    keeping = setTimeout(keep, PAUSE);
  });
  made.addEventListener('blur', () => { if (keeping > 0) keep(); });
  made.addEventListener('pointerdown', (event) => {
    if (event.button) return;
    event.stopPropagation();
    from = { y: event.clientY, rows: rows.slice(), moved: false };
    made.setPointerCapture(event.pointerId);
  });
  made.addEventListener('pointermove', (event) => {
    if (!from || (!from.moved && Math.abs(event.clientY - from.y) < 3)) return;
    from.moved = true;
    clearTimeout(keeping);
    keeping = -1;
    const start = rise(from.rows[placeOf(i, count)], base);
    pull(i, count, heightOf(start + from.y - event.clientY, base) - from.rows[placeOf(i, count)], from.rows);
  });
  made.addEventListener('pointerup', () => { if (from?.moved) keep(); from = null; });
  made.addEventListener('pointercancel', () => { if (from?.moved) { rows = from.rows; keeping = 0; stopTrials(); preview(null); store.put({}); } from = null; });
  return made;
}

// Move the line at one handle; it gives way softly up to the handles beside it.
function pull(i, count, by, start) {
  const middle = placeOf(i, count), reach = (rows.length - 1) / (count - 1);
  rows = start.map((one, k) => {
    const far = Math.abs(k - middle) / reach;
    return far < 1 ? one + by * (1 + Math.cos(Math.PI * far)) / 2 : one;
  });
  lay();
  tryOut({ rows, base });
}
