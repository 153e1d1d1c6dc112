// What the page knows: one document from the program, what she holds, and who wants to hear of it.

const listeners = new Set(), moving = new Set();
const STALE = 2500; // milliseconds after which a sentence is about something else

export const store = {
  piece: null,                            // the document of GET /api/piece
  trial: null,                            // a plan's head while she draws or slides, or null
  order: null,                            // the order in her hand while she drags, or null
  hold: { selected: null, column: null }, // what is picked up or looked at
  scene: 'starting',                      // 'empty' | 'photo' | 'piece': what the wall shows
  wanted: null,                           // a scene she asked for against the moment's own
  view: 'colour',                         // 'colour' | 'value' | 'protan' | 'deutan' | 'tritan' | 'far'
  ruler: null,                            // CSS pixels in an inch, once calibrated; null: never done
  trueSize: false,                        // hang it at true size
  shown: null,                            // set by wall.js: see its head
  work: null,                             // {what, done, total, cancel} while a long job runs
  doing: null,                            // the name of a change that is on its way to the program
  lost: null,                             // a sentence while the connection is lost
  again: null,                            // {label, run} a gesture that another's change overtook
  door: null,                             // the open door for a phone, as GET /api/phone told it
  coming: 0,                              // photographs on their way (bring.js)
  message: { text: '', bad: false, at: 0 },

  // The document; the order in her hand is laid down with it, unless more of it is on its way. What led to it
  // was asked at a moment: a slow answer does not take away what was said with the question.
  set(piece, more = false, asked = Date.now()) {
    const before = this.piece;
    this.piece = piece;
    if (!more) this.order = null;
    this.trial = null;
    // A sentence is about the step that it was said for, not about the next one.
    if (asked - this.message.at > STALE) this.message = { text: '', bad: false, at: 0 };
    this.settle();
    tell(before);
  },

  // fn(piece, before) hears of every change; of a trial's pictures only if it moves with them.
  on(fn, moves = false) {
    listeners.add(fn);
    if (moves) moving.add(fn);
    if (this.piece) fn(this.piece, null);
  },

  // In the midst of a gesture: what does not move under her hand is left alone until she lets go.
  stir() { tell(this.piece, moving); },

  // Change one or more of the fields above and let everybody know.
  put(fields) {
    Object.assign(this, fields);
    this.settle();
    tell(this.piece);
  },

  pick(hold) { this.put({ hold: { ...this.hold, ...hold } }); },

  say(text, bad = false) { this.put({ message: { text, bad, at: Date.now() } }); },

  // Go to another scene than the moment's own ('photo' or 'empty'), or back with null.
  go(scene) { this.put({ wanted: scene }); },

  settle() {
    if (!this.piece) return;
    const own = { empty: 'empty', photos: 'photo', piece: 'piece' }[this.piece.moment];
    if (this.piece.moment === 'empty' && this.wanted === 'photo' && !this.coming) this.wanted = null;
    this.scene = this.wanted || own;
    const prints = this.piece.prints || [];
    if (!prints.some((one) => one.id === this.hold.selected)) this.hold = { ...this.hold, selected: null };
  },

  // A print's cloth by the same eyes as the piece: in greys while it is squinted at.
  cloth(id) {
    const print = this.print(id);
    return !print || ['colour', 'far'].includes(this.view) ? print?.cloth : `${print.cloth}&end=${this.view}`;
  },

  // What a print is called: its name, or the key letter and colours that the sheets use.
  name(id) { const print = this.print(id); return print?.label || print?.name || id; },

  print(id) { return (this.piece?.prints || []).find((one) => one.id === id) || null; },
};

function tell(before, who = listeners) {
  if (!store.piece) return;
  for (const fn of [...who]) {
    try { fn(store.piece, before); } catch (fault) { console.error(fault); }
  }
}
