// What she can ask for: the line's shape, size, strips, repeats, method, seam, units. Sliders are tried out
// while they move and kept when they rest; every slider has a typed field that says the same.

import { button, el, field, svg } from './elements.js';
import { fanOut, preview, stopTrials, tryOut } from './wall.js';

const CURVES = {
  wave: 'M2 12C8 -4 14 -4 20 12S32 28 38 12', hill: 'M2 21C6 -2 34 -2 38 21', valley: 'M2 3C6 26 34 26 38 3',
  zigzag: 'M2 21L11 3L20 21L29 3L38 21', flame: 'M2 21C9 20 10 6 11 3C12 6 13 20 20 21C27 20 28 12 29 9C30 12 31 20 38 21', slope: 'M2 21L38 3',
};
const REST = 400; // milliseconds after the last step until it is kept
let store, api, controls = [], keeping = 0;

export function mount(root, itsStore, itsApi) {
  [store, api] = [itsStore, itsApi];
  const parts = (list) => list.map((one) => one.root);
  const begin = Object.entries(CURVES).map(([name, d]) => named(name, d));
  const curves = el('div', { id: 'curves', role: 'group', 'aria-label': 'Lines to begin with' }, ...parts(begin));
  const line = [
    slider('Height of the line', 'rows', { read: height, range: (plan) => [0, plan.rows, 1], body: rise, say: (v) => `${v} rows` }),
    slider('How often it runs', '', { read: count, range: () => [.5, 6, .5], body: (v) => ({ wishes: { curve_count: v } }), say: (v) => `${v} times`, off: (plan) => !plan.line.named, hint: (plan) => (plan.line.named ? '' : 'your own line runs once') }),
  ];
  const size = [
    slider('Width of the centre', 'length', { read: (plan) => lengthOf(plan.centre[0]), range: (plan) => (metric(plan) ? [10, 90, 1] : [4, 36, .5]), body: (v, plan) => ({ wishes: { size: `${shown(v, plan)}x${plan.centre[1]}` } }), say: shown, typed: (text, plan) => ({ wishes: { size: `${text}x${plan.centre[1]}` } }) }),
    slider('Strips, finished', 'length', { read: (plan) => lengthOf(usual(plan)), range: (plan) => (metric(plan) ? [.7, 5, .1] : [.25, 2, .125]), body: (v, plan) => ({ wishes: { strip: shown(v, plan) } }), say: shown, typed: (text) => ({ wishes: { strip: text } }), hint: (plan) => (new Set(Object.values(plan.strip)).size > 1 ? 'not all are alike' : '') }),
    slider('Repeats of the set', '', { read: (plan) => plan.repeats, range: () => [1, 8, 1], body: (v) => ({ wishes: { repeats: Math.round(v) } }), say: String }),
  ];
  const more = [
    typed('Size of the centre', (plan) => plan.centre.join(' × '), (text) => ({ size: text.replace(/\s*[×*]\s*/, 'x') }), 'width × height, or A4'),
    typed('Seam allowance', (plan) => plan.seam, (text) => ({ seam: text || null })),
    typed('Border', (plan) => plan.wishes.border ?? '', (text) => ({ border: text || null }), 'as wide as it shows; 0 for none, empty for the usual'),
  ];
  const chosen = [
    choice('Strip sets', 'method', [['loop', 'sewn to a ring, opened column by column'], ['flat', 'left flat, segments stacked']]),
    choice('Seams pressed', 'press', [['open', 'open'], ['nested', 'to one side, by turns']]),
    choice('Lengths in', 'units', [['in', 'inches'], ['cm', 'centimetres']]),
  ];
  controls = [...begin, ...line, ...size, ...more, ...chosen];
  root.append(el('h2', {}, 'The line'), el('p.small', {}, 'Draw on the piece itself, or begin with one of these.'), curves, ...parts(line),
    el('h2', {}, 'Size and widths'), ...parts(size),
    el('details', {}, el('summary', {}, 'Seams, border, units'), el('div.stack', {}, ...parts(more), ...parts(chosen))));
  store.on(renew, true);
}

function renew(piece) {
  const plan = store.trial || piece.plan;
  if (!plan) return;
  for (const one of controls) one.renew(plan);
}

function named(name, d) {
  const made = button('plain', '', () => keep({ wishes: { curve: name } }, name), { 'data-key': `curve ${name}` });
  made.append(svg('svg', { viewBox: '0 0 40 24', width: 40, height: 24, 'aria-hidden': 'true' }, svg('path', { d })), name);
  return { root: made, renew: (plan) => { if (made.ariaPressed !== String(plan.line.named === name)) made.ariaPressed = String(plan.line.named === name); } };
}

// ── what a plan says ───────────────────────────────────────────────────────────────────────

const metric = (plan) => plan.units === 'cm';

function usual(plan) {
  const all = Object.values(plan.strip), often = (one) => all.filter((other) => other === one).length;
  return all.reduce((best, one) => (often(one) > often(best) ? one : best));
}

// A length as a ruler shows it, "7 3/4", as a number to slide from; and back in eighths or millimetres.
function lengthOf(text) {
  return String(text).split(' ').reduce((sum, part) => { const [over, under] = part.split('/'); return sum + over / (under || 1); }, 0);
}

function shown(value, plan) {
  if (metric(plan)) return String(Math.round(value * 10) / 10);
  const whole = Math.floor(value + 1e-9), eighths = Math.round((value - whole) * 8);
  const part = { 0: '', 1: '1/8', 2: '1/4', 3: '3/8', 4: '1/2', 5: '5/8', 6: '3/4', 7: '7/8' }[eighths];
  return [whole || (part ? '' : '0'), part].filter(Boolean).join(' ');
}

const span = ({ rows }) => Math.max(...rows) - Math.min(...rows);
const height = (plan) => Math.round(span(plan.line) * 10) / 10;
const count = (plan) => (plan.wishes.curve_count ?? 1);

// A named line is asked for again; one that was drawn is her own: it rises about its middle.
function rise(value, plan) {
  if (plan.line.named) return { wishes: { curve_height: value } };
  const { rows, base } = plan.line, low = Math.min(...rows), tall = span(plan.line) || 1;
  return { rows: rows.map((one) => low + tall / 2 + ((one - low) / tall - .5) * value), base };
}

// ── controls ───────────────────────────────────────────────────────────────────────────────

async function keep(body, label) {
  clearTimeout(keeping);
  keeping = 0;
  const answer = await api.change('POST', '/api/plan', body, label);
  if (!answer) { stopTrials(); preview(null); store.put({}); }
}

let names = 0;
function slider(label, unit, how) {
  const id = `asked${names += 1}`;
  const range = el('input', { type: 'range', id, 'aria-label': label });
  const text = el('input', { type: 'text', inputmode: 'decimal', size: 6, 'aria-label': `${label}, typed` });
  const hint = el('small');
  const name = el('label', { for: id }, label);
  const root = el('div.slide', {}, name, range, text, hint);
  let from = null; // the plan that it is slid from
  let says = '';   // what it shows
  const plan = () => store.piece.plan;
  const ahead = () => {
    if (range.disabled) return;
    const [least, most, step] = [range.min, range.max, range.step].map(Number), at = Number(range.value), all = [];
    for (let far = step; all.length < 24 && far <= most - least; far += step) for (const v of [at + far, at - far]) if (v >= least - 1e-9 && v <= most + 1e-9) all.push(v);
    fanOut(all.map((v) => how.body(v, plan())));
  };
  range.addEventListener('pointerenter', ahead);
  range.addEventListener('focus', () => { if (range.matches(':focus-visible')) ahead(); });
  range.addEventListener('input', () => {
    from ??= plan();
    clearTimeout(keeping);
    tryOut(how.body(Number(range.value), from));
    range.setAttribute('aria-valuetext', how.say(Number(range.value), from));
    text.value = how.say(Number(range.value), from).replace(/ .*s$/, '');
  });
  range.addEventListener('change', () => {
    clearTimeout(keeping);
    keeping = setTimeout(async () => { const body = how.body(Number(range.value), from ?? plan()); await keep(body, label.toLowerCase()); from = null; }, REST);
  });
  text.addEventListener('change', () => {
    const typed = text.value.trim(), value = lengthOf(typed.replace(',', '.'));
    if (typed) keep(how.typed ? how.typed(typed, plan()) : how.body(value, plan()), label.toLowerCase());
  });
  return {
    root,
    renew(shownPlan) {
      const off = Boolean(how.off?.(shownPlan)), told = how.hint?.(shownPlan) ?? '';
      const value = how.read(shownPlan), [least, most, step] = how.range(shownPlan);
      const next = JSON.stringify([off, told, value, least, most, shownPlan.units, Boolean(from)]);
      if (store.trial && next === says) return;
      says = next;
      range.disabled = text.disabled = off;
      hint.textContent = told;
      name.textContent = `${label}${unit === 'length' ? `, ${shownPlan.units}` : unit && `, ${unit}`}`;
      if (from) return;
      Object.assign(range, { min: Math.min(least, value), max: Math.max(most, Math.ceil(value)), step: Number.isInteger(Math.round((value - least) / step * 1e6) / 1e6) ? step : 'any' });
      range.value = value;
      if (range.step === 'any') range.step = step / 10;
      range.setAttribute('aria-valuetext', how.say(value, shownPlan));
      if (document.activeElement !== text) text.value = how.say(value, shownPlan).replace(/ .*s$/, '');
    },
  };
}

function typed(label, read, wishes, hint = null) {
  const input = el('input', { type: 'text' });
  input.addEventListener('change', () => keep({ wishes: wishes(input.value.trim()) }, label.toLowerCase()));
  return { root: field(label, input, hint), renew(plan) { if (document.activeElement !== input) input.value = read(plan); } };
}

function choice(label, key, ways) {
  let chosen = null; // on its way to the program: it stays chosen until that has answered
  const take = async (value) => {
    chosen = value;
    await keep({ wishes: { [key]: value } }, label.toLowerCase());
    if (chosen === value) chosen = null;
    renew(store.piece.plan);
  };
  const inputs = ways.map(([value]) => el('input', { type: 'radio', name: `asked-${key}`, value, onchange: () => take(value) }));
  const root = el('fieldset', {}, el('legend', {}, label), ...ways.map(([, text], i) => el('label.way', {}, inputs[i], text)));
  const renew = (plan) => { for (const one of inputs) one.checked = (chosen ?? plan?.[key]) === one.value; };
  return { root, renew };
}
