// Elements by hand, without a library.

// el('button.plain', {onclick, disabled, 'aria-label': …}, child, 'text', …); null and false are left out.
export function el(what, fields = {}, ...inside) {
  const [tag, ...classes] = what.split('.');
  const made = document.createElement(tag || 'div');
  if (classes.length) made.className = classes.join(' ');
  return dress(made, fields, ...inside);
}

// The same for drawings.
export function svg(what, fields = {}, ...inside) {
  const [tag, ...classes] = what.split('.');
  const made = document.createElementNS('http://www.w3.org/2000/svg', tag);
  if (classes.length) made.setAttribute('class', classes.join(' '));
  return dress(made, fields, ...inside);
}

function dress(made, fields, ...inside) {
  for (const [name, value] of Object.entries(fields)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith('on')) made.addEventListener(name.slice(2), value);
    else if (name === 'style') Object.entries(value).forEach(([key, one]) => made.style.setProperty(key, one));
    else if (name === 'value' || name === 'checked') made[name] = value;
    else made.setAttribute(name, value === true ? '' : value);
  }
  made.append(...inside.flat().filter((one) => one !== null && one !== undefined && one !== false));
  return made;
}

// A button: 'main' (one at each moment), 'plain', or 'word' (a quiet one).
export function button(kind, text, onclick, fields = {}) {
  return el(`button.${kind}`, { type: 'button', onclick, ...fields }, text);
}

// A number in a black disc, as on the wall.
export function pin(n, fields = {}) { return el('span.pin', fields, String(n)); }

// Put new children in place, keeping the focus on the element with the same data-key.
export function fill(root, ...inside) {
  const key = root.contains(document.activeElement) ? document.activeElement.dataset.key : null;
  root.replaceChildren(...inside.flat().filter(Boolean));
  if (key) root.querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus();
}

// A labelled field: label above, hint below.
export function field(label, input, hint = null) {
  return el('label.field', {}, el('span', {}, label), input, hint && el('small', {}, hint));
}

// A dialog with a heading and a way out; answers the dialog element, shown. `inside` elements may close it.
export function dialog(title, ...inside) {
  const head = el('h2', { tabindex: '-1' }, title);
  const made = el('dialog', { 'aria-label': title }, head, ...inside,
    el('p.row', {}, button('plain', 'Close', () => made.close())));
  made.addEventListener('close', () => made.remove());
  document.body.append(made);
  made.showModal();
  return made;
}

// Every place where a hand was since the last event: one comes for each picture of the screen.
export function moves(event) {
  const all = event.getCoalescedEvents?.() ?? [];
  return all.length ? all : [event];
}

// A sentence's first letter is a capital.
export function upper(text) { return text[0].toUpperCase() + text.slice(1); }

// How two cloths meet, as a form: overlap, touch or gap, half as much where it is not certain.
export function meeting({ verdict, certain }) {
  return el('span.form', { 'data-verdict': verdict, 'data-perhaps': !certain, 'aria-hidden': 'true' }, el('i'), el('i'));
}
