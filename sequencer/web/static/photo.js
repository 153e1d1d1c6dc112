// The photograph where the piece will hang: its scraps, sheet and card, and everything that can be put right.

import { el, fill } from './elements.js';
import * as bringing from './bring.js';
import { begin, figure, middle, sidesOf } from './outlines.js';
import * as marks from './marks.js';
import * as scrap from './scrap.js';
import * as side from './photoside.js';

const desk = { shown: null, name: null, newest: null, thing: null, mode: null, what: null, draft: null, own: false, closer: 1, length: '', busy: false, late: false };
let root, store, api;

export function mount(theRoot, theStore, theApi) {
  [root, store, api] = [theRoot, theStore, theApi];
  root.append(el('div.stage'), el('ul', { id: 'shots', 'aria-label': 'Photographs' }));
  side.mount(root, store, api, desk, { leave, take, use, byHand, change, resize, work, point, say, draw, more, let_go, ready, shown });
  bringing.mount(store, api);
  bringing.onComing(draw);
  store.on(draw);
  document.addEventListener('keydown', (event) => {
    if (event.key !== 'Escape' || store.scene !== 'photo' || document.querySelector('dialog[open]')) return;
    if (desk.mode) leave(); else let_go();
  });
}

// ── what is shown ──

function draw() {
  if (!store.piece || store.scene !== 'photo') return;
  if (desk.busy) { desk.late = true; return; }
  const shots = [...store.piece.photos.filter((each) => !bringing.isUnwanted(each)), ...bringing.coming];
  const fresh = bringing.coming.find((each) => each.state !== 'failed');
  if (fresh && fresh.key !== desk.newest) Object.assign(desk, { newest: fresh.key, shown: bringing.coming.some((each) => each.key === desk.shown && each.state !== 'failed') ? desk.shown : fresh.key });
  const wanted = desk.shown;
  let one = shots.find((each) => each.id === wanted || each.key === wanted)
    || (String(wanted).startsWith('coming') ? shots.findLast((each) => each.name === desk.name) : null); // read by now
  if (!one || one.status === 'refused' || one.state === 'failed') one = bringing.coming.find((each) => each.state !== 'failed') || fullest();
  const held = store.print(store.hold.selected);
  if (held && !desk.mode && wanted !== held.photo && desk.follow !== held.id) one = store.piece.photos.find((each) => each.id === held.photo) || one;
  desk.follow = held?.id;
  [desk.shown, desk.name] = one ? [one.id || one.key, one.name] : [null, null];
  stage(one);
  side.strip(shots, one);
  side.panel(one);
}

// The photograph with the most scraps.
function fullest() {
  const able = store.piece.photos.filter((one) => one.status !== 'refused' && !bringing.isUnwanted(one));
  return able.reduce((best, one) => (!best || one.prints.length > best.prints.length ? one : best), null);
}

function stage(one) {
  const place = root.querySelector('.stage');
  const near = one && !one.key ? nearer(place, one) : null;
  place.style.setProperty('--closer', near?.times || desk.closer);
  if (!one) { fill(place, el('p', {}, 'No photograph yet.')); return; }
  const made = one.key ? figure({ name: one.name, width: one.size?.[0], height: one.size?.[1] }, one.url, lit(one), quiet)
    : figure(one, one.screen, shapes(one), acts(one));
  if (one.key && !one.size) measure(made, one);
  const held = one.key || desk.mode ? null : store.print(store.hold.selected);
  if (held && held.photo === one.id && held.outline.length && scrap.roomy()) made.append(...scrap.fieldsAtSides(held, one, store.piece.units, (sizes) => resize(held, sizes), (text, bad) => store.say(text, bad)));
  const old = place.querySelector('.shot img');
  if (old && old.getAttribute('src') === made.querySelector('img').getAttribute('src')) made.querySelector('img').replaceWith(old);
  fill(place, made);
  if (near && near.to !== desk.near) {
    const shot = made.getBoundingClientRect();
    place.scrollTo(near.at[0] * shot.width - place.clientWidth / 2, near.at[1] * shot.height - place.clientHeight / 2);
  }
  desk.near = near?.to || null;
}

// On a small screen what is held comes near enough for a finger.
function nearer(place, photo) {
  const held = store.print(store.hold.selected);
  const thing = desk.thing && marks.things(photo).find((one) => one.id === desk.thing);
  const points = desk.draft && desk.mode !== 'part' ? null : thing?.points || (held?.photo === photo.id && held.outline);
  if (!points?.length || scrap.roomy()) return null;
  const [wide, high] = [0, 1].map((part) => Math.max(...points.map((one) => one[part])) - Math.min(...points.map((one) => one[part])));
  const fit = Math.min(place.clientWidth / photo.width, place.clientHeight / photo.height);
  const times = Math.min(0.8 * place.clientWidth / (wide * fit), 0.6 * place.clientHeight / (high * fit));
  const at = middle(points);
  return { times: Math.min(8, Math.max(1, times)), at: [at[0] / photo.width, at[1] / photo.height], to: `${photo.id} ${held?.id} ${desk.thing}` };
}

const quiet = { tap() {}, moved() {}, busy() {} };
const lit = (one) => one.scraps.map((points, late) => ({ id: `lit-${late}`, kind: 'found', points, late }));

// Until the program has told its size, the picture itself does.
function measure(made, one) {
  const img = made.querySelector('img');
  img.addEventListener('load', () => { one.size ||= [img.naturalWidth, img.naturalHeight]; draw(); }, { once: true });
}

function shapes(photo) {
  const { selected } = store.hold, mine = store.piece.prints.filter((one) => one.photo === photo.id && one.outline.length);
  const free = !desk.mode || desk.mode === 'join' || ['sheet', 'grey', 'card'].includes(desk.mode);
  const scraps = mine.map((one) => {
    const held = one.id === selected;
    const points = (held && !desk.mode && one.handles) || one.outline;
    return { id: one.id, kind: 'scrap', points: points.map((point) => [...point]), name: `${scrap.inWords(one, store.piece.units)}${held ? ', held' : ''}`,
      held, pick: free, label: one.named ? one.name : null, handles: held && !desk.mode ? [...points.keys()] : null, print: one };
  });
  const things = marks.things(photo).map((one) => ({ ...one, held: desk.thing === one.id, pick: !desk.mode,
    handles: desk.thing === one.id && !desk.mode ? [...one.points.keys()] : null }));
  const draft = desk.draft ? [{ id: 'draft', kind: 'draft', points: desk.draft, name: 'what you draw', handles: [...desk.draft.keys()] }] : [];
  return [...scraps, ...things, ...draft];
}

// ── gestures on the photograph ──

function acts(photo) {
  return {
    line: ['part', 'length'].includes(desk.mode),
    tap: (at, item) => tapped(photo, at, item),
    moved: (item, points) => moved(photo, item, points),
    less: (item, k) => { if (item.print) redraw(item.print, item.points.filter((_, n) => n !== k)); },
    drawn: desk.draft && desk.mode !== 'hand' ? (points) => { Object.assign(desk, { draft: points, own: true }); draw(); } : null,
    busy: (yes) => { desk.busy = yes; if (!yes && desk.late) { desk.late = false; setTimeout(draw); } },
  };
}

function tapped(photo, at, item) {
  if (desk.mode === 'join') { if (item?.print && item.id !== store.hold.selected) work('merge', { ids: [store.hold.selected, item.id] }, 'Joining'); return; }
  if (['sheet', 'grey', 'card'].includes(desk.mode)) { point(photo, desk.mode, item?.print ? { print: item.id } : { at: at.map(Math.round) }, at); return; }
  if (['add', 'hand'].includes(desk.mode)) { corner(at); return; }
  if (desk.mode) return;
  desk.thing = item?.kind === 'other' ? item.id : null;
  store.pick({ selected: item?.print ? item.id : null });
  store.say('');
  focus(`[data-key="on-${CSS.escape(item?.id || '')}"]`);
}

// Four taps are four corners, in whatever order; a further one takes the nearest along.
function corner(at) {
  const rest = desk.own ? desk.draft : [], far = ([x, y]) => Math.hypot(x - at[0], y - at[1]);
  const near = rest.length < 4 ? null : rest.reduce((best, one) => (far(one) < far(best) ? one : best));
  const all = [...rest.filter((one) => one !== near), at], [x, y] = middle(all);
  const turn = ([u, v]) => Math.atan2(v - y, u - x);
  Object.assign(desk, { own: true, draft: all.sort((a, b) => turn(a) - turn(b)) });
  draw();
}

function moved(photo, item, points) {
  if (item.id === 'draft') { Object.assign(desk, { draft: points, own: true }); side.panel(photo); return; }
  if (item.print) redraw(item.print, points);
  else if (item.id === 'reference') say(photo, { reference: item.seen.kind, marked: points }, `The ${marks.called(item.seen.kind)} lies there`);
  else say(photo, { card: points }, 'The bank card lies there');
}

// 'This is my white sheet': by its place or by the scrap it was taken for; where nothing is seen, by hand.
async function point(photo, what, where, at) {
  leave(false);
  store.put({ wanted: 'photo' });
  const done = await api.job('PUT', `/api/photos/${photo.id}/marks`, { point: what, ...where }, () => {}, `Looking for the ${what === 'card' ? 'bank card' : 'corners'}`).done;
  if (done) { store.pick({ selected: null }); store.say(`Seen: your ${marks.called(what === 'card' ? 'bankcard' : what)}.`); return; }
  Object.assign(desk, { mode: 'hand', what, own: false, draft: begin(at || middle([[0, 0], [photo.width, photo.height]]), photo.width, photo.height) });
  draw();
}

function take(kind) {
  const photo = shown(), held = store.print(store.hold.selected);
  if (desk.mode === kind) { leave(); return; }
  const centre = [photo.width / 2, photo.height / 2];
  const whole = begin(centre, photo.width, photo.height);
  Object.assign(desk, { mode: kind, what: kind, thing: null, own: false,
    draft: kind === 'part' ? sidesOf(held.outline).cut : kind === 'add' ? whole : kind === 'length' ? [whole[3], whole[2]] : null });
  draw();
  store.say(side.GESTURES[kind]);
  focus('#photo .corner[data-key^="corner-draft"]');
}

function byHand() { Object.assign(desk, { what: desk.mode, mode: 'hand', own: false }); desk.draft = begin([shown().width / 2, shown().height / 2], shown().width, shown().height); draw(); focus('#photo .corner'); }

// What was drawn counts.
function use() {
  const photo = shown(), points = desk.draft, { mode, what } = desk;
  if (mode === 'part') work('split', { ids: [store.hold.selected], line: points }, 'Parting');
  else if (mode === 'add') work('add', { photo: photo.id, ids: [], line: points }, 'Measuring the new scrap');
  else say(photo, what === 'card' ? { card: points } : { reference: what, marked: points }, 'Judging by it');
}

function leave(again = true) { Object.assign(desk, { mode: null, what: null, draft: null }); if (again) { store.say(''); draw(); } }
function let_go() { desk.thing = null; store.say(''); store.pick({ selected: null }); if (!scrap.roomy()) window.scrollTo(0, 0); }
const shown = () => store.piece.photos.find((one) => one.id === desk.shown);
function focus(where) { root.querySelector(where)?.focus({ preventScroll: true }); }

// ── what goes to the program ──

async function work(op, body, what) {
  leave(false);
  store.put({ wanted: 'photo' });       // stay here, although the picture is laid anew
  await api.job('POST', '/api/scraps', { op, ids: [], ...body }, () => {}, what).done;
  draw();
}

function redraw(one, points) { return work('redraw', { ids: [one.id], line: points }, `Looking at ${one.name} again`); }

async function say(photo, body, what) {
  leave(false);
  store.put({ wanted: 'photo' });
  await api.job('PUT', `/api/photos/${photo.id}/marks`, body, () => {}, what).done;
  draw();
}

async function change(one, body, label) {
  store.put({ wanted: 'photo' });
  const piece = await api.change('PATCH', `/api/prints/${encodeURIComponent(one.id)}`, body, label, () => '');
  const now = piece && store.print(one.id);
  if (now) store.say(`Kept: ${scrap.inWords(now, store.piece.units)}.`);
}

const resize = (one, sizes) => (sizes.length ? change(one, { sizes }, `the size of ${one.name}`) : work('unsize', { ids: [one.id] }, 'Measuring it in the photograph'));

function more(one) {
  const outline = one.handles || one.outline, far = outline.map((point, k) => [Math.hypot(...point.map((part, n) => outline[(k + 1) % outline.length][n] - part)), k]);
  const k = far.reduce((best, each) => (each[0] > best[0] ? each : best))[1];
  redraw(one, outline.toSpliced(k + 1, 0, middle([outline[k], outline[(k + 1) % outline.length]])));
}

async function ready() {
  if (store.piece.moment !== 'piece') {
    const piece = await api.change('POST', '/api/order', { wishes: {} }, 'the first picture', () => '');
    if (piece?.moment !== 'piece') { if (piece) store.say(piece.blocked || 'Nothing can be laid out of these scraps yet.', true); return; }
  }
  desk.thing = null;
  store.say('');
  store.put({ wanted: null, hold: { ...store.hold, selected: null } });
  window.scrollTo(0, 0);
}
