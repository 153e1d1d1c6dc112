// The piece on the wall: the program's own picture, sewn here from its bands (scissors.js), where it hangs and
// at what scale; light while something is moved, full when it rests.
//
// Fills store.shown = {geometry, box, scale}: box {x, y, width, height} is the centre in CSS pixels of
// #wall, scale CSS pixels for a pixel of the picture.

import { el } from './elements.js';
import { cutUp, sewOn } from './scissors.js';

const MOTION = 1.2e6;   // pixels of a picture in motion
const LIVELY = 2e6;     // a picture at rest up to this size is quick enough to be moved itself
const REST = 8e6;
const MARGIN = 14;
let store, api, root, canvas;
let rest = null, motion = null; // cut pictures: full for the screen, and light enough to be moved
let now = null;                 // the one on the canvas: {cut, order, offsets}
let tried = null;               // the cut picture of a trial
let painted = 0;                // how often the canvas was painted
let distant = null;             // the view from across the room
let carried = null;             // the order that is looked at while a cloth is carried
let snap = null;                // where whole pixels of the screen nearly fit, they are taken: {fit, ppi}
let space = { width: 0, height: 0, left: 0, top: 0 }; // the wall's room and how far it is scrolled

export function mount(where, itsStore, itsApi) {
  [root, store, api] = [where, itsStore, itsApi];
  canvas = el('canvas', { id: 'piece', role: 'img' });
  root.append(canvas);
  new ResizeObserver(() => { measure(); place(); fetchSoon(); }).observe(root);
  root.addEventListener('scroll', () => { measure(); place(); }, { passive: true });
  store.on(renew);
}

// Asked for only when it can have changed: to ask in the midst of a gesture is to lay the page anew.
function measure() { space = { width: root.clientWidth, height: root.clientHeight, left: root.scrollLeft, top: root.scrollTop }; }

// ── what hangs ─────────────────────────────────────────────────────────────────────────────

function paint(cut, order = cut.order, offsets = cut.geometry.offsets) {
  sewOn(canvas, cut, order, offsets);
  painted += 1;
  now = { cut, order, offsets, view: cut.view };
  marked(cut === rest ? 'rest' : cut === tried ? 'trial' : 'motion');
  place();
}

function marked(shows) {
  const { revision } = store.piece, { dataset } = canvas;
  if (dataset.shows !== shows || dataset.revision !== revision) Object.assign(dataset, { shows, revision });
}

const pixels = (cut) => cut.geometry.width * cut.geometry.height;
function lively() { return rest && (pixels(rest) <= LIVELY || !motion) ? rest : motion; }

// The picture of another order at once, from bands that are here; null puts the piece's own back.
export function preview(order) {
  const cut = lively();
  carried = order;
  if (!cut) return;
  if (!order) return settle();
  if (order.length !== cut.places.size || !order.every((id) => cut.places.has(id))) return tryOut({ order });
  paint(cut, order, store.piece.plan.columns.map((one) => one.offset));
}

// The piece's own picture, the best that is here.
function settle() {
  const cut = rest || motion;
  const { plan, revision } = store.piece || {};
  if (store.view === 'far' && distant?.revision === revision) return paintFar(distant);
  if (cut && plan && fits(cut, plan)) paint(cut, plan.prints, plan.columns.map((one) => one.offset));
}

const fits = (cut, plan) => cut.key === key(plan) && plan.prints.every((id) => cut.places.has(id));

const bandView = () => (store.view === 'far' ? 'colour' : store.view);

// What bands depend on: cut once, they are sewn in any order with any offsets.
function key(plan) {
  const cloth = plan.prints.map((id) => `${id} ${store.print(id)?.cloth} ${plan.strip[id]}`).sort();
  return JSON.stringify([bandView(), cloth, plan.columns.map((one) => [one.finished, one.cut]), plan.repeats,
    plan.press, plan.seam, plan.outside, plan.edges]);
}

let seen = '';
function renew(piece) {
  const { plan } = piece;
  canvas.hidden = !plan;
  if (!plan) { rest = motion = now = tried = null; return; }
  if (store.scene !== 'piece') return;
  canvas.setAttribute('aria-label', `The piece as it will look: ${plan.words?.size ?? ''}; ${plan.words?.columns ?? ''}`);
  const mark = [piece.revision, store.view, store.trueSize, store.ruler].join();
  if (mark === seen && (rest || motion)) {
    if (tried && now?.cut === tried && !busy() && !store.order) settle(); // nothing came of a trial
    if (store.trueSize) place();
    return;
  }
  const other = !seen.startsWith(piece.revision);
  seen = mark;
  if (other) { stopTrials(); carried = null; }
  for (const cut of [rest, motion]) if (cut && !fits(cut, plan)) { if (rest === cut) rest = null; if (motion === cut) motion = null; }
  if (rest || motion) { if (!store.order) settle(); }
  else if (other && tried && tried.key === key(plan)) motion = tried;
  fetchAll();
}

// What is on the canvas, for tests and measurements.
export const hanging = () => ({ ...canvas.dataset, view: now?.view, painted, still: !fetching && !later && !flying });

// ── pictures from the program ──────────────────────────────────────────────────────────────

// CSS pixels for an inch of the piece: as large as the wall holds, or as large as life.
function fit() {
  const head = store.trial || store.piece?.plan;
  if (!head) return 40;
  if (store.trueSize && store.ruler) return store.ruler;
  const [wide, high] = head.outside.map((side) => inches(side, head.units));
  return Math.max(4, Math.min((space.width - 2 * MARGIN) / wide, (space.height - 2 * MARGIN) / high));
}

// Lengths come as a ruler shows them: "7 3/4", or centimetres. For fitting only, never for pixels.
function inches(text, units) {
  const sum = String(text).split(' ').reduce((total, part) => {
    const [over, under] = part.split('/');
    return total + parseFloat(over) / (under ? parseFloat(under) : 1);
  }, 0);
  return units === 'cm' ? sum / 2.54 : sum;
}

function scales() {
  measure();
  const plan = store.piece.plan;
  const [wide, high] = plan.outside.map((side) => inches(side, plan.units));
  // A little less than the room there is, since the nearest scale of whole pixels may be above or below.
  const full = fit() * (window.devicePixelRatio || 1) * (store.trueSize ? 1 : .955);
  const most = (count) => Math.sqrt(count / (wide * high));
  // Trials are cut at the same scale as the light picture, so that their cloth is there already.
  return { full: Math.min(full, most(REST)), motion: Math.min(full, 32 * Math.max(1, 12 / Math.max(wide, high)), most(MOTION)) };
}

async function fetchCut(ppi) {
  const view = bandView(), query = `ppi=${ppi.toFixed(2)}&view=${view}`;
  const plan = store.piece.plan, its = key(plan);
  const [bands, frame] = await Promise.all([api.packet(`/api/bands?${query}`), api.packet(`/api/frame?${query}`)]);
  if (its !== key(store.piece.plan)) return null;
  bands.images.frame = frame.images.frame;
  return Object.assign(cutUp(bands), { key: its, asked: ppi, view });
}

// Light pictures first where there are none, then those for the screen; what is asked meanwhile comes after.
let fetching = false, again = false;
async function fetchAll() {
  again = true;
  if (fetching) return;
  fetching = true;
  try {
    while (again && store.piece?.plan && store.scene === 'piece') {
      again = false;
      await (store.view === 'far' ? far() : fetchBands());
    }
  } catch (fault) {
    if (fault.name !== 'AbortError' && fault.code !== 'lost') store.say(fault.message, true);
  } finally { fetching = false; }
}

async function fetchBands() {
  const want = scales();
  if (!rest && !motion) {
    motion = await fetchCut(want.motion);
    calm();
  }
  if (again || (rest && Math.abs(rest.asked / want.full - 1) < .01)) return;
  const light = motion && want.full <= motion.asked * 1.01;
  const cut = light ? motion : await fetchCut(want.full);
  if (!cut || cut.key !== key(store.piece.plan)) return;
  rest = cut;
  if (!motion && pixels(rest) > LIVELY) motion = await fetchCut(want.motion);
  const ratio = rest.geometry.ppi / (window.devicePixelRatio || 1) / fit();
  snap = !store.trueSize && ratio > .88 && ratio < 1.02 ? { fit: fit(), ppi: fit() * ratio } : null;
  calm();
}

function calm() {
  if (carried && !busy()) preview(carried); // pictures that come in the midst of a gesture do not end it
  else if (!store.order && !busy()) settle();
}

let later = 0;
function fetchSoon() {
  clearTimeout(later);
  later = setTimeout(() => { later = 0; fetchAll(); }, 150);
}

// From across the room, at rest only: what is moved is moved in its colours.
async function far() {
  if (!rest && !motion) motion = await fetchCut(scales().motion);
  const { revision } = store.piece;
  distant = { revision, ...await api.packet(`/api/far?ppi=${scales().full.toFixed(2)}`) };
  if (!store.order && !busy() && store.view === 'far') settle();
}

function paintFar({ head, images: { far: image } }) {
  Object.assign(canvas, { width: image.width, height: image.height });
  canvas.getContext('2d').putImageData(image, 0, 0);
  now = { cut: head, order: head.order, offsets: head.geometry.offsets };
  marked('far');
  place();
}

// ── trials: a plan while it is drawn or slid; the newest wins ──────────────────────────────

let flying = 0, next = null, serial = 0, newest = 0, fan = new Map(), fanning = 0;
const busy = () => next || store.trial;

// Show what the plan would be with {wishes}, {rows, base} or {order}. Quick to call again and again.
export function tryOut(body) {
  const held = fan.get(JSON.stringify(body));
  if (held) { next = null; newest = serial += 1; return show(held); }
  next = body;
  if (flying < 2) fly(); // one is worked out while the other is painted
}

async function fly() {
  flying += 1;
  while (next) {
    const body = next;
    next = null;
    try {
      const mine = ++serial;
      const answer = await ask(body, mine);
      if (mine > newest) { newest = mine; show(answer); }
    } catch (fault) {
      if (fault.name !== 'AbortError' && fault.code !== 'lost') store.say(fault.message, true);
    }
  }
  flying -= 1;
}

async function ask(body, mine) {
  const packet = await api.packet('/api/trial', { ...body, ppi: motion?.asked ?? scales().motion, view: bandView(), serial: mine, frame: Boolean(body.wishes) });
  const { plan } = packet.head;
  return { plan, cut: Object.assign(cutUp(packet), { key: key(plan) }) };
}

function show({ plan, cut }) {
  if (!store.piece?.plan) return;
  tried = cut;
  cut.frame ??= lively()?.frame ?? null;
  // What is left of the scraps is worked out when she lets go; until then what was left stays.
  store.trial = { ...plan, fabric: store.piece.plan.fabric };
  paint(cut);
  tell();
}

// Ask for pictures ahead, so that sliding over them waits for nothing. Nearest first.
export async function fanOut(bodies) {
  const mine = ++fanning;
  fan = new Map();
  for (const body of bodies) {
    while (flying) await new Promise((done) => setTimeout(done, 8));
    if (mine !== fanning) return;
    try { fan.set(JSON.stringify(body), await ask(body, serial)); } catch { /* told when it is asked for */ }
  }
}

export function stopTrials() {
  fanning += 1;
  fan = new Map();
  next = null;
  newest = serial += 1;
  store.trial = null;
}

// ── where it hangs ─────────────────────────────────────────────────────────────────────────

function place() {
  if (!space.width) measure();
  if (!now || !space.width) return;
  const { geometry } = now.cut;
  const size = fit(), scale = (snap && Math.abs(snap.fit / size - 1) < .001 ? snap.ppi : size) / geometry.ppi;
  const [width, height] = [geometry.width * scale, geometry.height * scale];
  const left = Math.max(MARGIN, (space.width - width) / 2), top = Math.max(MARGIN, (space.height - height) / 2);
  const [x, y, wide, high] = geometry.centre;
  const box = { x: left + x * scale - space.left, y: top + y * scale - space.top, width: wide * scale, height: high * scale };
  const shown = { geometry: { ...geometry, offsets: now.offsets }, box, scale };
  const told = JSON.stringify(shown);
  if (told === place.told) return;
  place.told = told;
  Object.assign(canvas.style, { width: `${width}px`, height: `${height}px`, left: `${left}px`, top: `${top}px` });
  store.shown = shown;
  tell();
}

// What hangs changed: everybody hears of it, in the midst of a gesture only what moves with it.
let telling = 0;
function tell() {
  telling ||= setTimeout(() => { telling = 0; if (store.trial) store.stir(); else store.put({}); });
}
