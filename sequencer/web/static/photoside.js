// Below and beside the photograph: all of them, what is held, what to do now, what could not be used.

import { button, el, fill, upper } from './elements.js';
import * as bringing from './bring.js';
import { middle } from './outlines.js';
import * as marks from './marks.js';
import * as scrap from './scrap.js';
import { openPhone } from './phone-panel.js';

export const GESTURES = {
  sheet: 'Tap your white sheet in the photograph.', grey: 'Tap your grey card in the photograph.', card: 'Tap your bank card in the photograph.',
  hand: 'Tap its four corners, or drag them there.', join: 'Tap the scrap that belongs to it.',
  part: 'Lay the line where it is to be parted, or draw it across the scrap.',
  add: 'Draw round the scrap that was missed, or tap its four corners. They can be moved afterwards.', length: 'Lay the two ends on something of known length.',
};
let root, side, store, api, desk, act;

// `desk` is what lies there (photo.js), `act` what can be done with it.
export function mount(where, itsStore, itsApi, itsDesk, acts) {
  [root, store, api, desk, act] = [where, itsStore, itsApi, itsDesk, acts];
  side = document.getElementById('photoside');
  side.append(el('div.scroll'), el('div.last'));
}

export function strip(shots, now) {
  const card = (one) => {
    const key = one.id || one.key, failed = one.state === 'failed' || one.status === 'refused';
    const words = one.status === 'read' ? bringing.scrapsIn(one.prints.length) : failed ? 'could not be used' : one.what || 'not read';
    const source = one.url || (one === now ? one.screen : store.print(one.prints?.[0])?.cloth || one.screen);   // a cloth is there sooner than a photograph
    return el('li', {},
      el('button.shotcard', { type: 'button', 'data-key': `shot-${key}`, 'aria-pressed': String(one === now), onclick: () => { act.leave(false); desk.shown = key; desk.thing = null; desk.closer = 1; store.say(''); store.pick({ selected: null }); } },
        source ? el('img', { src: source, alt: '', loading: 'lazy' }) : el('span', {}),
        el('span', {}, one.name, el('br'), el('span.small', {}, words))),
      one.key && button('word', failed ? 'Put away' : 'Leave out', () => bringing.cancel(one), { 'data-key': `off-${key}`, 'aria-label': `${failed ? 'Put away' : 'Leave out'} ${one.name}` }));
  };
  fill(root.querySelector('#shots'),
    el('li', {}, button('plain', 'More photographs', bringing.choose, { 'data-key': 'more-shots' })),
    el('li', {}, button('plain', 'From a phone', openPhone, { 'data-key': 'phone-shots' })), shots.map(card));
  if (desk.far !== desk.shown) { desk.far = desk.shown; root.querySelector('#shots [aria-pressed="true"]')?.scrollIntoView({ block: 'nearest', inline: 'center' }); }
}

export function panel(one) {
  const held = store.print(store.hold.selected);
  const parts = !one || one.key ? [] : desk.mode ? [gesture()] : held?.photo === one.id ? [
    scrap.panel(held, one, store.piece, desk, {
      rename: (name) => act.change(held, { name }, `the name ${name}`), resize: (sizes) => act.resize(held, sizes), take: act.take, more: () => act.more(held), say: (text, bad) => store.say(text, bad),
      drop: () => act.work('drop', { ids: [held.id] }, 'Putting it aside'), point: (what) => act.point(one, what, { print: held.id }, middle(held.outline)),
      alike: (op, other) => act.work(op, { ids: [held.id, other] }, 'Bringing the photographs together') }),
    el('p.last', {}, button('main', 'Done with this one', act.let_go, { 'data-key': 'let-go' }))] : overview(one);
  const main = parts.findLast((each) => each?.matches?.('p.last'));
  fill(side.firstElementChild, reading(), refused(), ...parts.filter((each) => each !== main));
  fill(side.lastElementChild, main);
}

function gesture() {
  const drawn = desk.draft?.length > (desk.mode === 'part' ? 1 : 3);
  return el('section.stack', { 'aria-label': 'What to do now' }, el('p', {}, GESTURES[desk.mode]),
    el('div.row', {},
      drawn && button('main', { part: 'Part it here', add: 'This is a scrap' }[desk.mode] || 'It lies there', act.use, { 'data-key': 'use' }),
      ['sheet', 'grey', 'card'].includes(desk.mode) && button('plain', 'Lay its corners by hand', act.byHand, { 'data-key': 'by-hand' }),
      button('plain', 'Leave it as it was', () => act.leave(), { 'data-key': 'leave-gesture' })),
    desk.mode === 'length' && marks.panel(act.shown(), desk, { say: (body, what) => act.say(act.shown(), body, what), take: act.take, store })[1].lastElementChild);
}

function overview(one) {
  const mine = store.piece.prints.filter((each) => each.photo === one.id);
  const list = mine.map((each) => el('li', {}, el('button', { type: 'button', 'data-key': `list-${each.id}`, 'aria-pressed': 'false', onclick: () => store.pick({ selected: each.id }) },
    el('img', { src: each.cloth, alt: '', loading: 'lazy' }),
    el('span', {}, each.label || each.name, each.doubt === 'sure' ? '' : '\u00a0≈', el('br'), el('span.small', {}, each.sizes.length || each.measured ? (each.sizes[0] || each.measured).join(' × ') : 'size not known')))));
  return [
    el('section.stack', { 'aria-label': 'Scraps found' },
      el('h2', {}, mine.length ? `${bringing.scrapsIn(mine.length)} found` : 'No scrap found yet'),
      el('p', {}, mine.length ? `Tap ${mine.length === 1 ? 'it' : 'one'} to name it, type its size or put it right.` : 'Draw one, or photograph them apart on a plain table.'),
      el('ul.prints', {}, list),
      el('div.row', {}, button('plain', 'Draw one that was missed', () => act.take('add'), { 'data-key': 'add' }),
        button('plain', desk.closer > 1 ? 'The whole photograph' : 'Enlarge the photograph', () => { desk.closer = desk.closer > 1 ? 1 : 2.5; act.draw(); }, { 'data-key': 'closer' }))),
    ...marks.panel(one, desk, { say: (body, what) => act.say(one, body, what), take: act.take, store }),
    one.remarks.length > 0 && el('ul.remarks', { 'aria-label': 'Remarks' }, one.remarks.map((text) => el('li', {}, `${upper(text)}${/[.?!]$/.test(text) ? '' : '.'}`))),
    el('p', {}, button('word', 'Take this photograph out', () => api.job('DELETE', `/api/photos/${one.id}`, {}, () => {}, 'Taking it out'), { 'data-key': 'out-photo' })),
    store.piece.prints.length > 1 && !bringing.busy() && el('p.last', {}, button('main', 'These are my scraps', act.ready, { 'data-key': 'ready' }))];
}

function reading() {
  if (!bringing.busy()) return null;
  const far = bringing.progress();
  const total = Math.max(far?.total || 0, bringing.coming.length), done = far?.done || 0;
  return el('section.stack', { 'aria-label': 'Being read' },
    el('p', {}, far?.what ? `${upper(far.what)}: ${done} of ${total}` : 'On their way …'),
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
