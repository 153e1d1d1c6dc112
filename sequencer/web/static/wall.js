// The piece on the wall: bands sewn by scissors. (BANDS fills this in.)
// Fills store.shown = {geometry, box} where box = {x, y, width, height} is the centre in CSS pixels of
// #wall, so that pins, leader lines and the line can be laid over it; then store.put({shown}).
// Lays itself out in #hang, redraws on store.on (piece, trial, view, trueSize, ruler).

export function mount(root, store, api) {}

// The picture of another order at once, from bands that are here; null puts the piece's own back.
export function preview(order) {}
