// A photograph where the piece will hang; its side is #photoside. (TABLE fills this in.)

export function mount(root, store, api) {}
