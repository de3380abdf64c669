// The picture: the frame with sources switched off, marks over it, and beside it what each line fetched.

function drawPicture(page) {
  const { frames, frame, chip, off } = page;
  const canvas = document.getElementById("picture");
  canvas.width = frame.width;
  canvas.height = frame.height;
  const image = new ImageData(frame.width, frame.height);
  const words = new Uint32Array(image.data.buffer);
  const { tables, version, backdrop } = frame;
  const entries = chip.entries;
  const on = [];
  for (let source = 0; source < frames.sourceCount; source += 1) if (!off.has(source)) on.push(source);
  const uses = new Uint32Array(entries);
  for (let place = 0; place < words.length; place += 1) {
    let entry = backdrop[place];
    let best = 255;
    for (const source of on) {
      const rung = frames.rung(frame, source, place);
      if (rung < best) {
        const value = frames.value(frame, source, place);
        if (value) [best, entry] = [rung, value - 1];
      }
    }
    uses[entry] += 1;
    const at = (version[place] * entries + entry) * 3;
    words[place] = 0xff000000 | (tables[at + 2] << 16) | (tables[at + 1] << 8) | tables[at];
  }
  canvas.getContext("2d").putImageData(image, 0, 0);
  page.uses = uses;
}

// The box has room for the largest picture, so that nothing moves where a frame's is smaller.
function sizeCanvases(page) {
  const { chip, frame, scale } = page;
  const box = document.getElementById("picture-box");
  box.style.width = `${chip.width * scale}px`;
  box.style.height = `${chip.height * scale}px`;
  const picture = document.getElementById("picture");
  picture.style.width = `${frame.width * scale}px`;
  picture.style.height = `${frame.height * scale}px`;
  const overlay = document.getElementById("overlay");
  overlay.width = frame.width * scale;
  overlay.height = frame.height * scale;
}

function drawMarks(page) {
  const { frame, scale, marks } = page;
  const overlay = document.getElementById("overlay");
  const pen = overlay.getContext("2d");
  pen.clearRect(0, 0, overlay.width, overlay.height);
  pen.font = `${Math.max(10, 5 * scale)}px system-ui, sans-serif`;
  const twice = (draw, dash) => {
    pen.setLineDash(dash || []);
    for (const [colour, width] of [["#000", 3], ["#fff", 1]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      draw();
    }
    pen.setLineDash([]);
  };
  const label = (text, x, y) => {
    pen.lineWidth = 3;
    pen.strokeStyle = "#000";
    pen.strokeText(text, x, y);
    pen.fillStyle = "#fff";
    pen.fillText(text, x, y);
  };
  const sprites = new Map(frame.told.sprites.map((sprite) => [sprite.number, sprite]));
  if (marks.has("sprites")) {
    for (const one of sprites.values()) {
      twice(() => pen.strokeRect(one.x * scale + 0.5, one.y * scale + 0.5, one.width * scale - 1, one.height * scale - 1));
      label(one.name || `${one.number}`, one.x * scale + 2, one.y * scale + Math.max(10, 5 * scale));
    }
  }
  if (marks.has("dropped")) {
    const lines = new Map();
    for (const [line, number, reason] of frame.told.drops) {
      const key = `${number} ${reason}`;
      if (!lines.has(key)) lines.set(key, []);
      lines.get(key).push(line);
    }
    for (const [key, dropped] of lines) {
      const [number, reason] = key.split(" ");
      const one = sprites.get(Number(number));
      if (!one) continue;
      for (const line of dropped) {
        pen.fillStyle = line % 2 ? "rgba(255,255,255,.55)" : "rgba(0,0,0,.55)";
        pen.fillRect(one.x * scale, line * scale, one.width * scale, scale);
      }
      const [first, last] = [Math.min(...dropped), Math.max(...dropped)];
      twice(() => pen.strokeRect(one.x * scale, first * scale, one.width * scale, (last - first + 1) * scale), [4, 3]);
      label(`dropped: ${reason}`, one.x * scale + 2, first * scale - 3);
    }
  }
  if (marks.has("collisions")) {
    for (const [line, , , dot] of frame.told.collisions) {
      const [x, y, arm] = [(dot + 0.5) * scale, (line + 0.5) * scale, Math.max(4, 2 * scale)];
      twice(() => {
        pen.beginPath();
        pen.moveTo(x - arm, y - arm);
        pen.lineTo(x + arm, y + arm);
        pen.moveTo(x + arm, y - arm);
        pen.lineTo(x - arm, y + arm);
        pen.stroke();
      });
    }
  }
  if (marks.has("writes")) {
    for (const write of frame.told.writes) {
      if (write.line >= frame.height) continue;
      const [x, y] = [Math.min(write.dot, frame.width - 1) * scale, (write.line + 0.5) * scale];
      twice(() => {
        pen.beginPath();
        pen.moveTo(x, y - scale);
        pen.lineTo(x + 3 * scale, y);
        pen.lineTo(x, y + scale);
        pen.closePath();
        pen.stroke();
      });
    }
  }
  const [x, y] = [(page.dot + 0.5) * scale, (page.line + 0.5) * scale];
  twice(() => {
    pen.strokeRect(page.dot * scale - 1.5, page.line * scale - 1.5, scale + 3, scale + 3);
    pen.beginPath();
    pen.moveTo(x, Math.max(0, y - 4 * scale));
    pen.lineTo(x, y - scale);
    pen.stroke();
  });
}

// Line by line, aligned with the picture: a bar of fetches by client, the slots of a line as its frame, then sprites.
const BESIDE = 260;
const SPRITES_AT = 200;

function drawBeside(page) {
  const { chip, frame, scale, colours } = page;
  const canvas = document.getElementById("beside");
  canvas.width = BESIDE;
  canvas.height = frame.height;
  canvas.style.width = `${BESIDE}px`;
  canvas.style.height = `${frame.height * scale}px`;
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#121218";
  pen.fillRect(0, 0, BESIDE, frame.height);
  const clients = frame.told.clients.length;
  let most = chip.perLine;
  const totals = [];
  for (let line = 0; line < frame.height; line += 1) {
    let total = 0;
    for (let client = 0; client < clients; client += 1) total += frame.counts[line * clients + client];
    totals.push(total);
    most = Math.max(most, total);
  }
  const perDot = (SPRITES_AT - 6) / Math.max(1, most);
  const sprites = Math.max(1, ...frame.told.found);
  for (let line = 0; line < frame.height; line += 1) {
    let x = 0;
    for (let client = 0; client < clients; client += 1) {
      const wide = frame.counts[line * clients + client] * perDot;
      pen.fillStyle = css(colours[client]);
      pen.fillRect(x, line, wide, 1);
      x += wide;
    }
    if (chip.perLine) {
      pen.fillStyle = frame.told.missed[line] ? "#fff" : "#777";
      pen.fillRect(chip.perLine * perDot, line, frame.told.missed[line] ? 5 : 1, 1);
    }
    const room = (BESIDE - SPRITES_AT) / sprites;
    pen.fillStyle = "#666";
    pen.fillRect(SPRITES_AT, line, frame.told.found[line] * room, 1);
    pen.fillStyle = "#fff";
    pen.fillRect(SPRITES_AT, line, frame.told.drawn[line] * room, 1);
  }
}

function drawStrip(page) {
  const { chip, frame, strips, colours } = page;
  const box = document.getElementById("line-time");
  box.hidden = !frame.slots;
  if (!frame.slots) return;
  const canvas = document.getElementById("strip");
  canvas.width = chip.perLine;
  canvas.height = 1;
  canvas.style.width = "100%";
  canvas.style.height = "1.6rem";
  const pen = canvas.getContext("2d");
  const begin = frame.slots[page.line] * chip.perLine;
  const held = new Map();
  for (let slot = 0; slot < chip.perLine; slot += 1) {
    const client = strips[begin + slot];
    pen.fillStyle = client === 255 ? "#121218" : css(colours[client]);
    pen.fillRect(slot, 0, 1, 1);
    if (!held.has(client)) held.set(client, []);
    held.get(client).push(slot);
  }
  const parts = [...held].filter(([client]) => client !== 255).sort((one, other) => one[0] - other[0]);
  const words = parts.map(([client, slots]) => `${frame.told.slotClients[client]} ${slots.length} (${slots[0]} to ${slots[slots.length - 1]})`);
  const free = (held.get(255) || []).length;
  document.getElementById("strip-text").textContent =
    `Slots of line ${page.line}, from the blanking before it on: ${words.join(", ") || "none used"}; ${free} of ${chip.perLine} idle.`;
}
