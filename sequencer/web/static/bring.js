// Photographs on their way: chosen, dropped or pasted, several at once, each with its own progress and way back.

const AT_ONCE = 3;
const PICTURE = /\.(jpe?g|png|webp|heic|heif|tiff?|bmp|gif|avif)$/i;

export const coming = [];               // {key, name, url, state, what, scraps, size, why, stop}
const listeners = new Set();
let store, api, count = 0, running = 0;

export function mount(theStore, theApi) {
  [store, api] = [theStore, theApi];
  const over = (event) => [...(event.dataTransfer?.types || [])].includes('Files');
  document.addEventListener('dragover', (event) => {
    if (!over(event)) return;
    event.preventDefault();
    document.body.dataset.over = 'yes';
  });
  document.addEventListener('dragleave', (event) => { if (!event.relatedTarget) delete document.body.dataset.over; });
  document.addEventListener('drop', (event) => {
    delete document.body.dataset.over;
    if (!over(event)) return;
    event.preventDefault();
    bring(event.dataTransfer.files);
  });
  document.addEventListener('paste', (event) => {
    const files = [...(event.clipboardData?.files || [])];
    if (!files.length || event.target.closest?.('input, textarea')) return;
    event.preventDefault();
    bring(files);
  });
}

export function onComing(fn) { listeners.add(fn); }
function tell() { for (const fn of listeners) fn(); }

// The system's own way to choose; on a phone it offers the camera too.
export function choose() {
  const input = document.createElement('input');
  Object.assign(input, { type: 'file', multiple: true, accept: 'image/*,.heic,.heif' });
  input.addEventListener('change', () => bring(input.files));
  input.click();
}

export function bring(files) {
  const pictures = [...files].filter((one) => one.type.startsWith('image/') || PICTURE.test(one.name));
  if (!pictures.length) { if (files.length) store.say('That is no photograph.', true); return; }
  for (const file of pictures) {
    count += 1;
    coming.push({
      key: `coming-${count}`, name: file.name || `pasted ${count}.png`, file, url: URL.createObjectURL(file),
      state: 'waiting', what: 'waits its turn', scraps: [], size: null, why: null, stop: new AbortController(),
    });
  }
  store.say(pictures.length === 1 ? `Reading ${pictures[0].name || 'it'}.` : `Reading ${pictures.length} photographs.`);
  if (store.scene === 'piece') store.go('photo');
  else if (store.wanted) store.put({ wanted: null });
  next();
}

export function cancel(one) {
  one.stop.abort();
  leave(one);
  store.say(`${one.name} is left out.`);
  next();
}

export function cancelAll() { for (const one of coming.filter((each) => each.state !== 'failed')) { one.stop.abort(); leave(one); } store.say('Stopped. What was read stays.'); tell(); }

// Take a photograph that failed off the list.
export function forget(one) { leave(one); tell(); }

function leave(one) {
  const place = coming.indexOf(one);
  if (place >= 0) coming.splice(place, 1);
  URL.revokeObjectURL(one.url);
}

function next() {
  tell();
  for (const one of coming) {
    if (running >= AT_ONCE) return;
    if (one.state === 'waiting') send(one);
  }
}

async function send(one) {
  running += 1;
  one.state = 'reading';
  one.what = 'on its way';
  tell();
  try {
    await api.stream('POST', `/api/photos?name=${encodeURIComponent(one.name)}`, one.file, (line) => heard(one, line), one.stop.signal);
    leave(one);
  } catch (fault) {
    if (coming.includes(one)) {
      one.state = 'failed';
      one.why = fault.message;
      store.say(`${one.name}: ${fault.message}`, true);
    }
  } finally {
    running -= 1;
    await api.reload().catch(() => {});
    next();
    if (!coming.some((each) => each.state !== 'failed')) done();
  }
}

function heard(one, line) {
  if (line.scraps) Object.assign(one, { scraps: line.scraps, size: [line.width, line.height], what: scrapsIn(line.scraps.length) });
  else if (line.what) Object.assign(one, { what: line.what, done: line.done, total: line.total });
  tell();
}

function done() {
  const prints = store.piece.prints.length;
  if (prints) store.say(`${scrapsIn(prints)} in ${store.piece.photos.filter((one) => one.status === 'read').length} photographs.`);
}

export function scrapsIn(n) { return n === 1 ? '1 scrap' : `${n} scraps`; }
