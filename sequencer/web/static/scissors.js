// Scissors. The program cuts a band for each print and draws the frame; here the bands are stacked in order,
// repeat after repeat, and each column is pushed up by its offset. No pixel is made or changed on the way, so
// the canvas is the program's own picture.

const cloth = sheet(1, 1); // all strips sewn, on the way to every picture

function sheet(width, height) { return Object.assign(document.createElement('canvas'), { width, height }); }

// The bands of a packet on one sheet, each print's at its place, and the frame on another.
export function cutUp({ head, images }, frame = null) {
  const { geometry, order } = head;
  const [, , width, height] = geometry.centre;
  const bands = sheet(width, height), places = new Map();
  const pen = bands.getContext('2d');
  let y = 0;
  for (const id of order) {
    pen.putImageData(images[`band:${id}`], 0, y);
    places.set(id, y);
    y += images[`band:${id}`].height;
  }
  return { geometry, order, bands, places, frame: images.frame ? framed(images.frame) : frame };
}

function framed(image) {
  const made = sheet(image.width, image.height);
  made.getContext('2d').putImageData(image, 0, 0);
  return made;
}

function fitted(one, width, height) { if (one.width !== width || one.height !== height) Object.assign(one, { width, height }); }

// Sew a cut picture onto a canvas: strips stacked in this order, columns pushed up.
export function sewOn(target, cut, order, offsets) {
  const { geometry, bands, places, frame } = cut;
  const [x, y, width, height] = geometry.centre;
  fitted(target, geometry.width, geometry.height);
  fitted(cloth, width, height);
  const tops = [0];
  for (const id of order) tops.push(tops.at(-1) + geometry.strip[id]);
  const stack = cloth.getContext('2d');
  for (let top = 0; top < height; top += tops.at(-1)) {
    order.forEach((id, n) => {
      const tall = geometry.strip[id];
      stack.drawImage(bands, 0, places.get(id) + top / tops.at(-1) * tall, width, tall, 0, top + tops[n], width, tall);
    });
  }
  const pen = target.getContext('2d');
  offsets.forEach((offset, column) => {
    const left = geometry.lefts[column], wide = geometry.lefts[column + 1] - left;
    const up = tops[offset % order.length];
    if (wide < 1) return;
    pen.drawImage(cloth, left, up, wide, height - up, x + left, y, wide, height - up);
    if (up) pen.drawImage(cloth, left, 0, wide, up, x + left, y + height - up, wide, up);
  });
  if (frame) pen.drawImage(frame, 0, 0, geometry.width, geometry.height);
}

// A packet with all bands (and a frame) as a canvas of its own.
export function sew(packet) {
  const made = sheet(1, 1), cut = cutUp(packet);
  sewOn(made, cut, packet.head.order, packet.head.geometry.offsets);
  return made;
}
