// The photograph where the piece will hang: its scraps, sheet and card, and everything that can be put right.

import { button, el, fill } from './elements.js';
import * as bringing from './bring.js';
import { begin, figure, middle, sidesOf } from './outlines.js';
import * as marks from './marks.js';
import * as scrap from './scrap.js';
import { openPhone } from './phone-panel.js';

const GESTURES = {
  sheet: 'Tap your white sheet in the photograph.', grey: 'Tap your grey card in the photograph.', card: 'Tap your bank card in the photograph.',
  hand: 'Lay the four corners on it.', join: 'Tap the scrap that belongs to it.',
  part: 'Lay the line where it is to be parted, or draw it across the scrap.',
  add: 'Draw round the scrap that was missed, or lay the four corners on it.', length: 'Lay the two ends on something of known length.',
};
const desk = { shown: null, name: null, newest: null, thing: null, mode: null, what: null, draft: null, closer: 1, length: '', busy: false, late: false };
let root, side, store, api;

export function mount(theRoot, theStore, theApi) {
  [root, store, api] = [theRoot, theStore, theApi];
  side = document.getElementById('photoside');
  side.append(el('div.scroll'), el('div.last'));
  root.append(el('div.stage'), el('ul', { id: 'shots', 'aria-label': 'Photographs' }));
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
  strip(shots, one);
  panel(one);
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
    drawn: desk.draft && desk.mode !== 'hand' ? (points) => { desk.draft = points; draw(); } : null,
    busy: (yes) => { desk.busy = yes; if (!yes && desk.late) { desk.late = false; setTimeout(draw); } },
  };
}

function tapped(photo, at, item) {
  if (desk.mode === 'join') { if (item?.print && item.id !== store.hold.selected) work('merge', { ids: [store.hold.selected, item.id] }, 'Joining'); return; }
  if (['sheet', 'grey', 'card'].includes(desk.mode)) { point(photo, desk.mode, item?.print ? { print: item.id } : { at: at.map(Math.round) }, at); return; }
  if (desk.mode) return;
  desk.thing = item?.kind === 'other' ? item.id : null;
  store.pick({ selected: item?.print ? item.id : null });
  store.say('');
  focus(`[data-key="on-${CSS.escape(item?.id || '')}"]`);
}

function moved(photo, item, points) {
  if (item.id === 'draft') { desk.draft = points; panel(photo); return; }
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
  Object.assign(desk, { mode: 'hand', what, draft: begin(at || middle([[0, 0], [photo.width, photo.height]]), photo.width, photo.height) });
  draw();
}

function take(kind) {
  const photo = shown(), held = store.print(store.hold.selected);
  if (desk.mode === kind) { leave(); return; }
  const centre = [photo.width / 2, photo.height / 2];
  const whole = begin(centre, photo.width, photo.height);
  Object.assign(desk, { mode: kind, what: kind, thing: null,
    draft: kind === 'part' ? sidesOf(held.outline).cut : kind === 'add' ? whole : kind === 'length' ? [whole[3], whole[2]] : null });
  draw();
  store.say(GESTURES[kind]);
  focus('#photo .corner[data-key^="corner-draft"]');
}

function byHand() { Object.assign(desk, { what: desk.mode, mode: 'hand' }); desk.draft = begin([shown().width / 2, shown().height / 2], shown().width, shown().height); draw(); focus('#photo .corner'); }

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
  const piece = await api.change('PATCH', `/api/prints/${encodeURIComponent(one.id)}`, body, label);
  const now = piece && store.print(one.id);
  if (now) store.say(`Kept: ${scrap.inWords(now, store.piece.units)}.`);
}

const resize = (one, sizes) => (sizes.length ? change(one, { sizes }, `the size of ${one.name}`) : work('unsize', { ids: [one.id] }, 'Measuring it in the photograph'));

function more(one) {
  const outline = one.handles || one.outline, far = outline.map((point, k) => [Math.hypot(...point.map((part, n) => outline[(k + 1) % outline.length][n] - part)), k]);
  const k = far.reduce((best, each) => (each[0] > best[0] ? each : best))[1];
  redraw(one, outline.toSpliced(k + 1, 0, middle([outline[k], outline[(k + 1) % outline.length]])));
}

// ── below and beside ──

function strip(shots, now) {
  const card = (one) => {
    const key = one.id || one.key, failed = one.state === 'failed' || one.status === 'refused';
    const words = one.status === 'read' ? bringing.scrapsIn(one.prints.length) : failed ? 'could not be used' : one.what || 'not read';
    const source = one.url || (one === now ? one.screen : store.print(one.prints?.[0])?.cloth || one.screen);   // a cloth is there sooner than a photograph
    return el('li', {},
      el('button.shotcard', { type: 'button', 'data-key': `shot-${key}`, 'aria-pressed': String(one === now), onclick: () => { leave(false); desk.shown = key; desk.thing = null; desk.closer = 1; store.say(''); store.pick({ selected: null }); } },
        source ? el('img', { src: source, alt: '', loading: 'lazy' }) : el('span', {}),
        el('span', {}, one.name, el('br'), el('span.small', {}, words))),
      one.key && button('word', failed ? 'Put away' : 'Leave out', () => bringing.cancel(one), { 'data-key': `off-${key}`, 'aria-label': `${failed ? 'Put away' : 'Leave out'} ${one.name}` }));
  };
  fill(root.querySelector('#shots'),
    el('li', {}, button('plain', 'More photographs', bringing.choose, { 'data-key': 'more-shots' })),
    el('li', {}, button('plain', 'From a phone', openPhone, { 'data-key': 'phone-shots' })), shots.map(card));
  if (desk.far !== desk.shown) { desk.far = desk.shown; root.querySelector('#shots [aria-pressed="true"]')?.scrollIntoView({ block: 'nearest', inline: 'center' }); }
}

function panel(one) {
  const held = store.print(store.hold.selected);
  const parts = !one || one.key ? [] : desk.mode ? [gesture()] : held?.photo === one.id ? [
    scrap.panel(held, one, store.piece, desk, {
      rename: (name) => change(held, { name }, `the name ${name}`), resize: (sizes) => resize(held, sizes), take, more: () => more(held), say: (text, bad) => store.say(text, bad),
      drop: () => work('drop', { ids: [held.id] }, 'Putting it aside'), point: (what) => point(one, what, { print: held.id }, middle(held.outline)),
      alike: (op, other) => work(op, { ids: [held.id, other] }, 'Bringing the photographs together') }),
    el('p.last', {}, button('main', 'Done with this one', let_go, { 'data-key': 'let-go' }))] : overview(one);
  const main = parts.findLast((each) => each?.matches?.('p.last'));
  fill(side.firstElementChild, reading(), refused(), ...parts.filter((each) => each !== main));
  fill(side.lastElementChild, main);
}

function gesture() {
  const drawn = desk.draft && desk.mode !== 'length';
  return el('section.stack', { 'aria-label': 'What to do now' }, el('p', {}, GESTURES[desk.mode]),
    el('div.row', {},
      drawn && button('main', { part: 'Part it here', add: 'This is a scrap' }[desk.mode] || 'It lies there', use, { 'data-key': 'use' }),
      ['sheet', 'grey', 'card'].includes(desk.mode) && button('plain', 'Lay its corners by hand', byHand, { 'data-key': 'by-hand' }),
      button('plain', 'Leave it as it was', () => leave(), { 'data-key': 'leave-gesture' })),
    desk.mode === 'length' && marks.panel(shown(), desk, { say: (body, what) => say(shown(), body, what), take, store })[1].lastElementChild);
}

function overview(one) {
  const mine = store.piece.prints.filter((each) => each.photo === one.id);
  const list = mine.map((each) => el('li', {}, el('button', { type: 'button', 'data-key': `list-${each.id}`, 'aria-pressed': 'false', onclick: () => store.pick({ selected: each.id }) },
    el('img', { src: each.cloth, alt: '', loading: 'lazy' }),
    el('span', {}, each.label || each.name, each.doubt === 'sure' ? '' : '\u00a0≈', el('br'), el('span.small', {}, each.sizes.length || each.measured ? (each.sizes[0] || each.measured).join(' × ') : 'size not known')))));
  return [
    el('section.stack', { 'aria-label': 'Scraps found' },
      el('h2', {}, mine.length ? `${bringing.scrapsIn(mine.length)} found` : 'No scrap found yet'),
      el('p', {}, mine.length ? 'Tap one to name it, type its size or put it right.' : 'Draw one, or photograph them apart on a plain table.'),
      el('ul.prints', {}, list),
      el('div.row', {}, button('plain', 'Draw one that was missed', () => take('add'), { 'data-key': 'add' }),
        button('plain', desk.closer > 1 ? 'The whole photograph' : 'Enlarge the photograph', () => { desk.closer = desk.closer > 1 ? 1 : 2.5; draw(); }, { 'data-key': 'closer' }))),
    ...marks.panel(one, desk, { say: (body, what) => say(one, body, what), take, store }),
    one.remarks.length > 0 && el('ul.remarks', { 'aria-label': 'Remarks' }, one.remarks.map((text) => el('li', {}, `${text[0].toUpperCase()}${text.slice(1)}`))),
    el('p', {}, button('word', 'Take this photograph out', () => api.job('DELETE', `/api/photos/${one.id}`, {}, () => {}, 'Taking it out'), { 'data-key': 'out-photo' })),
    store.piece.prints.length > 1 && !bringing.busy() && el('p.last', {}, button('main', 'These are my scraps', ready, { 'data-key': 'ready' }))];
}

async function ready() {
  if (store.piece.moment !== 'piece') {
    const piece = await api.change('POST', '/api/order', { wishes: {} }, 'the first picture');
    if (piece?.moment !== 'piece') { if (piece) store.say(piece.blocked || 'Nothing can be laid out of these scraps yet.', true); return; }
  }
  desk.thing = null;
  store.say('');
  store.put({ wanted: null, hold: { ...store.hold, selected: null } });
  window.scrollTo(0, 0);
}

function reading() {
  if (!bringing.busy()) return null;
  const far = bringing.progress();
  const total = Math.max(far?.total || 0, bringing.coming.length), done = far?.done || 0;
  return el('section.stack', { 'aria-label': 'Being read' },
    el('p', {}, far?.what ? `${far.what[0].toUpperCase()}${far.what.slice(1)}: ${done} of ${total}` : 'On their way …'),
    el('progress', { max: total || 1, value: done, 'aria-label': 'Photographs read' }),
    el('p', {}, button('plain', 'Stop', bringing.stopAll, { 'data-key': 'stop-reading' })));
}

function refused() {
  const gone = [...store.piece.photos.filter((one) => one.status === 'refused'), ...bringing.coming.filter((one) => one.state === 'failed')];
  if (!gone.length) return null;
  return el('section.stack', { 'aria-label': 'Could not be used' }, el('h3', {}, 'Could not be used'),
    gone.map((one) => el('p', {}, el('b', {}, one.name), `: ${one.why} `,
      button('word', 'Put away', () => (one.key ? bringing.cancel(one) : api.job('DELETE', `/api/photos/${one.id}`, {}, () => {}, 'Putting it away')), { 'data-key': `away-${one.id || one.key}`, 'aria-label': `Put away ${one.name}` }))));
}
