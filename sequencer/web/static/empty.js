// An empty wall: how to lay scraps out, and how to bring photographs. (TABLE fills this in.)

export function mount(root, store, api) {}
