// Marks over the picture: outlines, what was dropped, collisions, writes, and the dot. Names stand where the pointer is, no mark
// goes past the edge.

const MARKS = { sprites: "sprites outlined", dropped: "dropped sprites", collisions: "collisions", writes: "timed writes" };

function drawMarks(page) {
  const { frame, scale, marks } = page;
  const overlay = document.getElementById("overlay");
  overlay.width = frame.width * scale;
  overlay.height = frame.height * scale;
  const pen = overlay.getContext("2d");
  if (marks.has("sprites")) for (const one of frame.told.sprites) outline(pen, box(one, scale));
  if (marks.has("dropped")) drawDropped(page, pen);
  if (marks.has("collisions")) for (const [line, , , dot] of frame.told.collisions) cross(pen, dot, line, scale);
  if (marks.has("writes")) for (const write of frame.told.writes) if (write.line < frame.height) arrow(pen, Math.min(write.dot, frame.width - 1), write.line, scale);
  drawPlace(page, pen);
  if (marks.has("sprites") || marks.has("dropped")) drawNames(page, pen);
}

// Dark and light, so that it shows on every colour.
function twice(pen, draw) {
  for (const [colour, width] of [["#000", 3], ["#fff", 1]]) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    draw();
  }
}

function box(sprite, scale) {
  return [sprite.x * scale, sprite.y * scale, sprite.width * scale, sprite.height * scale];
}

function outline(pen, [x, y, width, height]) {
  const [left, top] = [Math.max(x, 0), Math.max(y, 0)];
  const [right, bottom] = [Math.min(x + width, pen.canvas.width), Math.min(y + height, pen.canvas.height)];
  if (right > left && bottom > top) twice(pen, () => pen.strokeRect(left + 1.5, top + 1.5, right - left - 3, bottom - top - 3));
}

function cross(pen, dot, line, scale) {
  const [x, y, arm] = [(dot + 0.5) * scale, (line + 0.5) * scale, Math.max(3, 1.5 * scale)];
  twice(pen, () => {
    pen.beginPath();
    pen.moveTo(x - arm, y - arm);
    pen.lineTo(x + arm, y + arm);
    pen.moveTo(x + arm, y - arm);
    pen.lineTo(x - arm, y + arm);
    pen.stroke();
  });
}

function arrow(pen, dot, line, scale) {
  const [x, y] = [dot * scale, (line + 0.5) * scale];
  twice(pen, () => {
    pen.beginPath();
    pen.moveTo(x, y - scale);
    pen.lineTo(x + 3 * scale, y);
    pen.lineTo(x, y + scale);
    pen.closePath();
    pen.stroke();
  });
}

function hatching(pen) {
  const tile = document.createElement("canvas");
  [tile.width, tile.height] = [8, 8];
  const small = tile.getContext("2d");
  for (const [colour, width] of [["rgba(0,0,0,.75)", 3.2], ["rgba(255,255,255,.95)", 1.2]]) {
    small.strokeStyle = colour;
    small.lineWidth = width;
    small.beginPath();
    for (const at of [-8, 0, 8]) {
      small.moveTo(at - 1, 9);
      small.lineTo(at + 9, -1);
    }
    small.stroke();
  }
  return pen.createPattern(tile, "repeat");
}

// A hatch on each line on which a sprite is dropped, as wide as it is.
function drawDropped(page, pen) {
  const { frame, scale } = page;
  const sprites = new Map(frame.told.sprites.map((one) => [one.number, one]));
  pen.fillStyle = hatching(pen);
  for (const [line, number] of frame.told.drops) {
    const one = sprites.get(number);
    if (one) pen.fillRect(one.x * scale, line * scale, one.width * scale, scale);
  }
}

function drawPlace(page, pen) {
  const { scale, dot, line, pinned } = page;
  const [x, y] = [(dot + 0.5) * scale, (line + 0.5) * scale];
  twice(pen, () => {
    pen.strokeRect(dot * scale - 1.5, line * scale - 1.5, scale + 3, scale + 3);
    if (!pinned) return;
    pen.beginPath();
    for (const [right, down] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      pen.moveTo(x + right * (scale / 2 + 3), y + down * (scale / 2 + 3));
      pen.lineTo(x + right * (scale / 2 + 9), y + down * (scale / 2 + 9));
    }
    pen.stroke();
  });
}

// The names of the sprites whose boxes hold the dot, one below the other, within the picture.
function drawNames(page, pen) {
  const { frame, scale, line, dot } = page;
  const here = frame.told.sprites.filter((one) => spritePlace(page.chip, one, line, dot));
  pen.font = "13px system-ui, sans-serif";
  pen.textBaseline = "top";
  here.slice(0, 6).forEach((one, number) => {
    const text = spriteName(page, one.number);
    const width = Math.min(pen.measureText(text).width + 8, pen.canvas.width);
    const x = Math.max(0, Math.min(one.x * scale, pen.canvas.width - width));
    const y = Math.max(0, Math.min(line * scale + scale + 6, pen.canvas.height - 18 * Math.min(here.length, 6))) + 18 * number;
    pen.fillStyle = "#000d";
    pen.fillRect(x, y, width, 17);
    pen.fillStyle = "#fff";
    pen.fillText(text, x + 4, y + 2, width - 8);
  });
}
