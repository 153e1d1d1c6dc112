// Out of the page: cutting and sewing sheets, pictures, everything as one zip, and this page on paper.

import { button, el, field, fill } from './elements.js';

const AMERICAS = /-(US|CA|MX|PH|CL|CO|VE)\b/i;
const VIEWS = { colour: 'The picture', value: 'Its values' };
let choice = { paper: kept('paper') || (AMERICAS.test(navigator.language) ? 'letter' : 'a4'), units: null };

export function mount(root, store, api) {
  const paper = document.body.appendChild(el('section', { id: 'paper', 'aria-hidden': 'true' }));
  store.on((piece) => {
    if (piece.moment !== 'piece' || !piece.plan) { fill(root); fill(paper); return; }
    fill(root, ...panel(piece, store));
    fill(paper, ...onPaper(piece));
  });
}

function panel(piece, store) {
  const units = choice.units || piece.units;
  const select = (key, label, options, now) => field(label, el('select', { 'data-key': key, onchange: (event) => { choice[key] = event.target.value; keep(key, event.target.value); store.put({}); } },
    Object.entries(options).map(([value, text]) => el('option', { value, selected: value === now }, text))));
  const name = piece.folder || 'piece';
  return [
    el('h2', {}, 'Cut and sew'),
    el('div.fields', {}, select('paper', 'Paper', { letter: 'Letter', a4: 'A4' }, choice.paper), select('units', 'Lengths in', { in: 'inches', cm: 'centimetres' }, units)),
    el('p', {}, file('main', 'Cutting and sewing sheets', `/api/sheets.pdf?paper=${choice.paper}&units=${units}`, `${name}-sheets.pdf`, 'Drawing the sheets', store)),
    el('p.small', {}, 'Print them at 100 %, not fitted to the page. Rotary blades, irons and needles hurt: close the blade when you lay it down, cut away from yourself, keep the iron where nobody trips over its cord, and follow the makers’ instructions and the rules of your place.'),
    el('div.row', {},
      ...Object.entries(VIEWS).map(([view, text]) => file('plain', text, `/api/picture.png?view=${view}`, `${name}-${view}.png`, 'Drawing the picture', store)),
      file('plain', 'Everything as one zip', '/api/piece.zip', `${name}.zip`, 'Packing', store),
      button('plain', 'Print this page', () => window.print(), { 'data-key': 'print' })),
    el('p.small', {}, 'Photographs in the zip no longer say where they were taken.'),
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

// What only the printed page shows: the piece in words, its order and widths.
function onPaper(piece) {
  const { plan, summary, sequence } = piece;
  const name = (id) => piece.prints.find((one) => one.id === id)?.name || id;
  return [
    el('h2', {}, 'The piece'), el('ul', {}, summary.piece.map((line) => el('li', {}, line))),
    summary.first.length > 0 && el('h2', {}, 'Do first'), summary.first.length > 0 && el('ul', {}, summary.first.map((line) => el('li', {}, line))),
    el('h2', {}, 'Strip set, top to bottom'),
    el('ol', {}, plan.prints.map((id) => el('li', {}, el('img', { src: piece.prints.find((one) => one.id === id)?.cloth, alt: '' }), ` ${name(id)}: finished ${plan.strip[id]} ${piece.units}`))),
    sequence?.left_out.length > 0 && el('p', {}, `In the box: ${sequence.left_out.map(name).join(', ')}.`),
    el('p', {}, 'Cut from the cutting and sewing sheets, not from this page. Blades, irons and needles hurt: follow the makers’ instructions and the rules of your place.'),
  ];
}

function kept(key) { try { return localStorage.getItem(key); } catch { return null; } }
function keep(key, value) { try { localStorage.setItem(key, value); } catch { /* a private window keeps nothing */ } }
