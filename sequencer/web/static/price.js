// What an order in hand costs: asked while she moves, the newest question wins.

import { question } from './api.js';

let asked = null;
let latest = 0;
const listeners = new Set();

export function onPrice(fn) { listeners.add(fn); }

// Ask for an order's price; null ends the asking and puts the piece's own words back.
export async function price(order, then = () => {}) {
  latest += 1;
  const mine = latest;
  asked?.abort();
  if (!order) { listeners.forEach((fn) => fn(null)); return; }
  asked = new AbortController();
  const answer = await question('/api/price', { order }, asked.signal);
  if (mine !== latest || !answer) return;
  then(answer);
  listeners.forEach((fn) => fn({ ...answer, order }));
}
