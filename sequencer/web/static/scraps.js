export function mount(root, store, api) {}
