// What she can ask for: size, height, count, strip, repeats, method, seam, units. (BANDS fills this in.)

export function mount(root, store, api) {}
