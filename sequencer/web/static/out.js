// Out of the page: cutting and sewing sheets, pictures, everything as one zip, and this page on paper.

import { button, el, field, fill } from './elements.js';

const AMERICAS = /-(US|CA|MX|PH|CL|CO|VE)\b/i;
const VIEWS = { colour: 'The picture', value: 'Its values' };
const open = {};
let choice = { fresh: false, paper: kept('paper') || (AMERICAS.test(navigator.language) ? 'letter' : 'a4'), units: null };

export function mount(root, store, api) {
  const paper = document.body.appendChild(el('section', { id: 'paper', 'aria-hidden': 'true' }));
  let shown = null, work = null;
  store.on((piece) => {
    if (shown === piece && work === store.work && !choice.fresh) return;
    [shown, work, choice.fresh] = [piece, store.work, false];
    if (piece.moment !== 'piece' || !piece.plan) fill(root);
    else fill(root, ...panel(piece, store));
  });
  window.addEventListener('beforeprint', () => { if (store.scene === 'piece') fill(paper, ...onPaper(store.piece)); });
  window.addEventListener('afterprint', () => fill(paper));
}

function panel(piece, store) {
  const units = choice.units || piece.units, asked = `paper=${choice.paper}&units=${units}`;
  const name = piece.folder || 'piece';
  const select = (key, label, options, now) => field(label, el('select', { 'data-key': key, onchange: (event) => { choice[key] = event.target.value; choice.fresh = true; keep(key, event.target.value); store.put({}); } },
    Object.entries(options).map(([value, text]) => el('option', { value, selected: value === now }, text))));
  return [
    file('main', 'Cutting and sewing sheets', `/api/sheets.pdf?${asked}`, `${name}-sheets.pdf`, 'Drawing the sheets', store),
    el('p.small', {}, 'Print them at 100 %. Rotary blades, irons and needles hurt: read the cautions on the sheets, and follow the makers’ instructions and the rules of your place.'),
    el('details', { open: open.out || null, ontoggle: (event) => { open.out = event.target.open; } }, el('summary', { 'data-key': 'out-more' }, 'Paper, pictures, zip'),
      el('div.stack', {},
        el('div.fields', {}, select('paper', 'Paper', { letter: 'Letter', a4: 'A4' }, choice.paper), select('units', 'Lengths in', { in: 'inches', cm: 'centimetres' }, units)),
        el('div.row', {},
          ...Object.entries(VIEWS).map(([view, text]) => file('plain', text, `/api/picture.png?view=${view}`, `${name}-${view}.png`, 'Drawing the picture', store)),
          file('plain', 'Everything as one zip', `/api/piece.zip?${asked}`, `${name}.zip`, 'Packing', store),
          button('plain', 'Print this page', () => window.print(), { 'data-key': 'print' })),
        el('p.small', {}, 'Photographs in the zip no longer say where they were taken.'))),
  ];
}

// A link that fetches with progress and a way to stop; opened in a new tab it works as a plain link.
function file(kind, text, path, name, what, store) {
  return el(`a.button.${kind}`, { href: path, download: name, 'data-key': `file-${path.split('?')[0]}-${text}`, onclick: async (event) => {
    if (event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    if (store.work) return;
    const stop = new AbortController();
    store.put({ work: { what, done: 0, total: 0, cancel: () => stop.abort() } });
    try {
      const answer = await fetch(path, { signal: stop.signal, cache: 'no-store' });
      if (!answer.ok) throw new Error((await answer.json().catch(() => ({}))).error || `The program answered ${answer.status}.`);
      const url = URL.createObjectURL(await answer.blob());
      el('a', { href: url, download: name }).click();
      setTimeout(() => URL.revokeObjectURL(url), 60_000);
      store.say(`${name} is in your downloads.`);
    } catch (fault) {
      store.say(fault.name === 'AbortError' ? 'Stopped.' : fault.message, fault.name !== 'AbortError');
    } finally { store.put({ work: null }); }
  } }, text);
}

// The printed page: the picture as it hangs, the piece in words, its strip set; what is left of each scrap follows as it stands.
function onPaper(piece) {
  const { plan, summary, sequence } = piece;
  const name = (id) => { const one = piece.prints.find((each) => each.id === id); return one?.label || one?.name || id; };
  const list = (title, lines) => lines.length > 0 && el('div', {}, el('h2', {}, title), el('ul', {}, lines.map((line) => el('li', {}, line))));
  const picture = document.querySelector('#hang canvas');
  return [
    el('h1', {}, piece.folder),
    el('div.top', {}, el('div.picture', {}, picture && copied(picture)), el('div', {}, list('The piece', summary.piece), list('Do first', summary.first))),
    el('h2', {}, 'Strip set, top to bottom'),
    el('ol', {}, plan.prints.map((id) => el('li', {}, el('img', { src: piece.prints.find((one) => one.id === id)?.cloth, alt: '' }), ` ${name(id)}: finished ${plan.strip[id]} ${piece.units}`))),
    sequence?.left_out.length > 0 && el('p', {}, `In the box: ${sequence.left_out.map(name).join(', ')}.`),
    el('p', {}, 'Cut from the cutting and sewing sheets, not from this page. Blades, irons and needles hurt: follow the makers’ instructions and the rules of your place.'),
  ];
}

// A canvas does not survive being copied alone.
function copied(canvas) {
  const copy = el('canvas', { width: canvas.width, height: canvas.height });
  if (canvas.width && canvas.height) copy.getContext('2d').drawImage(canvas, 0, 0);
  return copy;
}

function kept(key) { try { return localStorage.getItem(key); } catch { return null; } }
function keep(key, value) { try { localStorage.setItem(key, value); } catch { /* a private window keeps nothing */ } }
