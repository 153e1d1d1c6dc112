// Photographs on their way: chosen, dropped or pasted, many at once, each with its own progress and way back.

const AT_ONCE = 3;
const PICTURE = /\.(jpe?g|png|webp|heic|heif|tiff?|bmp|gif|avif)$/i;

export const coming = [];   // {key, name, file, url, state: waiting|sending|reading|read|failed, what, scraps, size, why, upload, job}
const listeners = new Set();
const unwanted = new Map(); // left out while being read: name → the photographs there were before
const jobs = new Map();     // the reading jobs that are listened to, and how far each is
let store, api, count = 0, sending = 0;

export function mount(theStore, theApi) {
  [store, api] = [theStore, theApi];
  const files = (event) => [...(event.dataTransfer?.types || [])].includes('Files');
  document.addEventListener('dragover', (event) => {
    if (!files(event)) return;
    event.preventDefault();
    document.body.dataset.over = 'yes';
  });
  document.addEventListener('dragleave', (event) => { if (!event.relatedTarget) delete document.body.dataset.over; });
  document.addEventListener('drop', (event) => {
    delete document.body.dataset.over;
    if (!files(event)) return;
    event.preventDefault();
    bring(event.dataTransfer.files);
  });
  document.addEventListener('paste', (event) => {
    const pasted = [...(event.clipboardData?.files || [])];
    if (!pasted.length || event.target.closest?.('input, textarea')) return;
    event.preventDefault();
    bring(pasted);
  });
}

export function onComing(fn) { listeners.add(fn); }
function tell() {
  if (store.coming !== coming.length) store.put({ coming: coming.length });
  for (const fn of listeners) fn();
}

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
    const name = !file.name || file.name === 'image.png' ? `pasted ${count}.png` : file.name;
    coming.push({
      key: `coming-${count}`, name, file, url: URL.createObjectURL(file), state: 'waiting', what: 'waits its turn',
      scraps: [], size: null, why: null, upload: null, job: null, stop: new AbortController(),
    });
  }
  store.say(pictures.length === 1 ? `Reading ${coming.at(-1).name}.` : `Reading ${pictures.length} photographs.`);
  store.put({ coming: coming.length, wanted: 'photo' });
  next();
}

function next() {
  for (const one of coming.filter((each) => each.state === 'waiting')) if (sending < AT_ONCE) send(one);
  tell();
}

async function send(one) {
  sending += 1;
  Object.assign(one, { state: 'sending', what: 'on its way' });
  try {
    const took = await api.stream('POST', `/api/photos?name=${encodeURIComponent(one.name)}&later=1`, one.file, () => {}, one.stop.signal);
    Object.assign(one, { state: 'reading', what: 'waits to be read', upload: took.upload, job: took.job });
    listen(took.job);
  } catch (fault) {
    if (fault.name !== 'AbortError') fail(one, fault.message);
  } finally {
    sending -= 1;
    next();
  }
}

// One job reads all that came; it goes on when this page is left, and is listened to again.
export async function listen(job) {
  if (jobs.has(job)) return;
  jobs.set(job, { done: 0, total: 0, what: 'reading photographs' });
  try {
    await api.stream('GET', `/api/jobs/${job}`, undefined, (line) => heard(job, line));
  } catch (fault) { if (fault.code !== 'lost' && fault.code !== 'ended') store.say(fault.message, true); }
  jobs.delete(job);
  for (const one of coming.filter((each) => each.job === job && each.state !== 'failed')) leave(one);
  await api.reload().catch(() => {});
  if (!jobs.size) await takeOut();
  tell();
  if (!busy()) told();
}

function heard(job, line) {
  const one = coming.find((each) => each.job === job && each.upload === line.upload);
  if (line.total) Object.assign(jobs.get(job), line);
  if (line.photo && line.error) fail(one || stranger(job, line), line.error);
  else if (one && line.scraps) {
    Object.assign(one, { state: 'read', scraps: line.scraps, size: [line.width, line.height], what: scrapsIn(line.scraps.length) });
  }
  if (line.revision) api.reload().then(settled, () => {});
  tell();
}

// A photograph that now lies in the piece stands there for itself.
function settled() {
  const there = (one) => store.piece.photos.some((photo) => photo.name === one.name && (photo.status === 'refused') === (one.state === 'failed'));
  for (const one of coming.filter((each) => ['read', 'failed'].includes(each.state) && there(each))) leave(one);
  tell();
}

// A photograph that another window or a phone sent, and that could not be used.
function stranger(job, { photo, upload }) {
  count += 1;
  const one = { key: `coming-${count}`, name: photo, url: null, state: 'failed', what: '', scraps: [], size: null, why: null, upload, job, stop: new AbortController() };
  coming.push(one);
  return one;
}

function fail(one, why) {
  Object.assign(one, { state: 'failed', why });
  store.say(`${one.name}: ${why}`, true);
}

export const busy = () => jobs.size > 0 || coming.some((one) => one.state !== 'failed');

// How far all of it is: {what, done, total}, or null.
export const progress = () => [...jobs.values()].at(-1) || null;

// What was left out when it was too late to stop it goes as soon as all is read; it is not shown meanwhile.
async function takeOut() {
  for (const photo of store.piece.photos.filter(isUnwanted)) await api.job('DELETE', `/api/photos/${photo.id}`, {}, () => {}, `Leaving out ${photo.name}`).done;
  unwanted.clear();
}

export const isUnwanted = (photo) => unwanted.has(photo.name) && !unwanted.get(photo.name).has(photo.id);

export function cancel(one) {
  one.stop.abort();
  if (one.state !== 'waiting' && one.state !== 'failed') unwanted.set(one.name, new Set(store.piece.photos.map((photo) => photo.id)));
  if (one.job) api.stream('DELETE', `/api/jobs/${one.job}?upload=${one.upload}`).catch(() => {});
  leave(one);
  if (one.state !== 'failed') store.say(`${one.name} is left out.`);
  next();
}

export function stopAll() {
  for (const one of [...coming]) { one.stop.abort(); leave(one); }
  for (const job of jobs.keys()) api.stream('DELETE', `/api/jobs/${job}`).catch(() => {});
  store.say('Stopped. What was read stays.');
  tell();
}

function leave(one) {
  const place = coming.indexOf(one);
  if (place >= 0) coming.splice(place, 1);
  if (one.url) URL.revokeObjectURL(one.url);
}

function told() {
  const { prints, photos } = store.piece;
  if (coming.some((one) => one.state === 'failed') || photos.some((one) => one.status === 'refused')) return; // that was said, and stands beside
  const read = photos.filter((one) => one.status === 'read').length;
  if (prints.length) store.say(`${scrapsIn(prints.length)} in ${read === 1 ? '1 photograph' : `${read} photographs`}.`);
}

export function scrapsIn(n) { return n === 1 ? '1 scrap' : `${n} scraps`; }
