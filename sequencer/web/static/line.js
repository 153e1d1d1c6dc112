// The line drawn on the piece, in #line over the wall. (BANDS fills this in.)

export function mount(root, store, api) {}
