// An empty wall: how to lay scraps out, and how to bring photographs.

import { button, el, fill } from './elements.js';
import { choose } from './bring.js';
import { openPhone } from './phone-panel.js';

export function mount(root, store, api) {
  const work = el('div.stack', { hidden: true });
  store.on(() => {            // whatever long work there is while nothing hangs: in the middle, not at the foot alone
    const { work: now } = store;
    work.hidden = !now || store.scene !== 'empty';
    if (!work.hidden) fill(work, el('p', {}, now.total ? `${now.what}: ${now.done} of ${now.total}` : `${now.what} …`), el('progress', { max: now.total || 1, 'aria-label': now.what, ...(now.total ? { value: now.done } : {}) }));
  });
  async function sample() {
    await api.job('POST', '/api/sample', {}, () => {}, 'Opening the sample box').done;
    if (!store.piece.prints.length) return;
    store.say(`The sample box: ${store.piece.prints.length} prints.`);
    document.querySelector('#set button')?.focus();
  }
  fill(root, el('div.hole', {},
    el('h2', {}, 'A small piece will hang here.'),
    el('p', {}, 'Lay your scraps flat and apart on a plain table in daylight, a sheet of white paper and a bank card beside them, and photograph them from straight above.'),
    button('main', 'Choose photographs', choose, { 'data-key': 'choose' }),
    el('div.row', {},
      button('plain', 'Send them from a phone', openPhone, { 'data-key': 'phone' }),
      button('plain', 'Look round with the sample box', sample, { 'data-key': 'sample' })),
    work,
    el('p.small', {}, 'Or drop them here, or paste one. They stay on this machine. ',
      el('a', { href: '/help/photographing', target: '_blank', rel: 'noopener' }, 'More about photographing scraps'))));
}
