// Cloth under a hand: mouse, pen and finger alike. Nothing here knows what the cloth is for.
//
// A straight pull of a finger scrolls where the set scrolls; a pull to the side lifts, and so does a
// finger held still. The lifted card never moves in the document (it would lose its pointer): it is
// carried by a transform, and the others make room around it.

const STILL = 320;   // milliseconds a finger rests before cloth comes up by itself
const SLACK = 6;     // CSS pixels that a hand may tremble
const EDGE = 36;     // near this edge of a scrolling set it scrolls on

// find(event) → id or null; lift(id), carry(id, dx, dy, event), drop(id, event), back(id), tap(id).
export function hands(scroller, { find, lift, carry, drop, back, tap, scrolls }) {
  let held = null; // {id, pointer, x, y, scroll, up, timer}

  scroller.addEventListener('pointerdown', (event) => {
    if (held || event.button !== 0) return;
    const id = find(event);
    if (!id) return;
    held = { id, pointer: event.pointerId, kind: event.pointerType, x: event.clientX, y: event.clientY, scroll: scroller.scrollTop, up: false, last: event };
    if (event.pointerType === 'touch') held.timer = setTimeout(() => held && !held.up && raise(), STILL);
  });

  // A quick hand is out of the set before its first move is told: so the whole window listens.
  window.addEventListener('pointermove', (event) => {
    if (!held || event.pointerId !== held.pointer) return;
    held.last = event;
    const dx = event.clientX - held.x, dy = event.clientY - held.y;
    if (!held.up) {
      if (Math.hypot(dx, dy) < SLACK) return;
      if (held.kind === 'touch' && scrolls() && Math.abs(dy) >= Math.abs(dx)) return forget();
      raise();
    }
    carry(held.id, dx, dy + scroller.scrollTop - held.scroll, event);
  });

  window.addEventListener('pointerup', (event) => {
    if (!held || event.pointerId !== held.pointer) return;
    const { id, up } = held;
    forget();
    if (up) drop(id, event);
    else tap(id, event);
  });
  window.addEventListener('pointercancel', (event) => { if (event.pointerId === held?.pointer) giveUp(); });
  // A finger's own capture of the cloth is lost when it is taken over here; that one does not count.
  scroller.addEventListener('lostpointercapture', (event) => { if (held?.up && event.target === scroller && event.pointerId === held.pointer) giveUp(event); });
  document.addEventListener('keydown', (event) => { if (event.key === 'Escape' && held?.up) { event.preventDefault(); giveUp(); } });
  // Once cloth is up a finger moves cloth, not the page.
  scroller.addEventListener('touchmove', (event) => { if (held?.up && event.cancelable) event.preventDefault(); }, { passive: false });
  scroller.addEventListener('contextmenu', (event) => { if (held?.kind === 'touch') event.preventDefault(); });
  scroller.addEventListener('dragstart', (event) => event.preventDefault());

  function raise() {
    held.up = true;
    try { scroller.setPointerCapture(held.pointer); } catch { return forget(); }
    lift(held.id, held.last);
    requestAnimationFrame(creep);
  }

  // Near an edge of a set that scrolls: go on scrolling under the hand.
  function creep() {
    if (!held?.up) return;
    const box = scroller.getBoundingClientRect();
    const above = box.top + EDGE - held.last.clientY, below = held.last.clientY - box.bottom + EDGE;
    const step = above > 0 ? -above : below > 0 ? below : 0;
    if (step && scrolls()) {
      scroller.scrollTop += step / 4;
      carry(held.id, held.last.clientX - held.x, held.last.clientY - held.y + scroller.scrollTop - held.scroll, held.last);
    }
    requestAnimationFrame(creep);
  }

  function giveUp() {
    if (!held) return;
    const { id, up } = held;
    forget();
    if (up) back(id);
  }

  function forget() { clearTimeout(held?.timer); held = null; }
}
