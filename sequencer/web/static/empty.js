// An empty wall: how to lay scraps out, and how to bring photographs.

import { button, el, fill } from './elements.js';
import { choose } from './bring.js';
import { openPhone } from './phone-panel.js';

export function mount(root, store, api) {
  fill(root, el('div.hole', {},
    el('h2', {}, 'A small piece will hang here.'),
    el('p', {}, 'Lay your scraps flat and apart on a plain table in daylight, a sheet of white paper and a bank card beside them, and photograph them from straight above.'),
    button('main', 'Choose photographs', choose, { 'data-key': 'choose' }),
    el('div.row', {},
      button('plain', 'Send them from a phone', () => openPhone(store, api), { 'data-key': 'phone' }),
      button('plain', 'Look round with the sample box', () => api.job('POST', '/api/sample', {}, () => {}, 'Opening the sample box'), { 'data-key': 'sample' })),
    el('p.small', {}, 'Or drop them here, or paste one. They stay on this machine. ',
      el('a', { href: '/help/photographing', target: '_blank', rel: 'noopener' }, 'More about photographing scraps'))));
}
