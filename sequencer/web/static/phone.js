// On the phone: come in once with the secret of the address, then send photographs one after the other.

const told = document.getElementById('told');
const ways = document.getElementById('ways');
const list = document.getElementById('sent');
const waiting = [];
let sending = false, sent = 0;

enter();
for (const id of ['camera', 'many']) document.getElementById(id).addEventListener('change', (event) => {
  for (const file of event.target.files) add(file);
  event.target.value = '';
  next();
});

async function enter() {
  const token = location.hash.slice(1);
  history.replaceState(null, '', location.pathname);       // the secret is not kept in the phone's history
  try {
    const answer = token ? await fetch('/enter', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ token }) })
      : await fetch('/enter', { method: 'GET' });
    if (!answer.ok) { shut((await said(answer)) || 'This address has been used, or its time is over. Open the door on the computer again.'); return; }
    told.textContent = 'You are in. Take one photograph of all your scraps, or several.';
    ways.hidden = false;
  } catch { shut('The computer does not answer. Is the phone on the same network?'); }
}

async function said(answer) { try { return (await answer.json()).error; } catch { return null; } }
function shut(why) { told.textContent = why; ways.hidden = true; }

function add(file) {
  const item = document.createElement('li');
  const url = URL.createObjectURL(file);
  const picture = Object.assign(document.createElement('img'), { alt: '', src: url });
  const words = Object.assign(document.createElement('span'), { textContent: `${file.name || 'photograph'}: waits` });
  const bar = Object.assign(document.createElement('progress'), { max: 1, value: 0 });
  bar.setAttribute('aria-label', `${file.name || 'photograph'} sent`);
  const button = Object.assign(document.createElement('button'), { type: 'button', textContent: 'Leave out' });
  const one = { file, item, words, bar, button, request: null };
  button.addEventListener('click', () => off(one));
  const middle = document.createElement('div');
  middle.append(words, bar);
  item.append(picture, middle, button);
  list.prepend(item);
  waiting.push(one);
}

function off(one) {
  const place = waiting.indexOf(one);
  if (place >= 0) waiting.splice(place, 1);
  one.request?.abort();
  one.item.remove();
  told.textContent = 'Left out.';
}

function next() {
  const one = sending ? null : waiting.shift();
  if (!one) return;
  sending = true;
  one.words.textContent = `${one.file.name}: on its way`;
  const request = one.request = new XMLHttpRequest();        // fetch cannot tell how far an upload is
  request.open('POST', `/photo?name=${encodeURIComponent(one.file.name || 'phone.jpg')}`);
  request.upload.addEventListener('progress', (event) => { if (event.total) one.bar.value = event.loaded / event.total; });
  request.addEventListener('loadend', () => {
    sending = false;
    finished(one, request);
    next();
  });
  request.send(one.file);
}

function finished(one, request) {
  one.request = null;
  if (!one.item.isConnected) return;
  let answer = {};
  try { answer = JSON.parse(request.responseText); } catch { /* no words of its own */ }
  if (request.status >= 200 && request.status < 300) {
    sent += 1;
    one.bar.remove();
    one.button.remove();
    one.words.textContent = `${one.file.name}: arrived`;
    told.textContent = `${sent === 1 ? '1 photograph has' : `${sent} photographs have`} arrived; look at the computer.`;
    return;
  }
  const refused = request.status === 413 || request.status === 415; // it will not do a second time either
  const why = answer.error?.replace(/\.$/, '') || (request.status === 401 || request.status === 403 ? 'the door has been shut on the computer' : 'the computer does not answer');
  one.words.textContent = `${one.file.name}: ${why}.`;
  one.bar.remove();
  if (refused) one.item.querySelector('img')?.remove();
  one.button.textContent = refused ? 'Put away' : 'Send again';
  one.button.replaceWith(one.button = one.button.cloneNode(true));
  one.button.addEventListener('click', () => { one.item.remove(); if (!refused) { add(one.file); next(); } });
  told.textContent = refused ? `${one.file.name} could not be taken.` : `${one.file.name} did not arrive.`;
}
