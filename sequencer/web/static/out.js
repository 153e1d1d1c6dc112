// Sheets, pictures, everything as one zip. (TABLE fills this in.)

export function mount(root, store, api) {}
