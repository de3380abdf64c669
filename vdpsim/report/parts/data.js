"use strict";
// What the page knows, as Python has written it: report/facts.py says what there is, report/planes.py how dots are packed.

async function inflate(text) {
  const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

// The guesses of planes.py, in its order: [dots, lines] from which a line comes.
const REACH = 8;
const GUESSES = [[0, 0]];
for (let far = 1; far <= REACH; far += 1) GUESSES.push([far, 0], [-far, 0]);
for (let far = 1; far <= REACH; far += 1) GUESSES.push([0, far], [0, -far]);
const NO_GUESS = 255;

class Frames {
  constructor(facts) {
    this.facts = facts;
    this.chip = facts.chip;
    this.wide = this.chip.entries > 254 ? 2 : 1;
    this.kept = new Map();
  }

  // Planes of each source: value (low, high), rung, then of a layer mode, cell, word, data, of the sprites their number.
  depth(source) {
    return this.wide + 1 + (source < this.chip.layers.length ? 1 + 4 + 2 + 4 : 2);
  }

  get sourceCount() {
    return this.chip.layers.length + (this.chip.sprites ? 1 : 0);
  }

  async get(index) {
    if (this.kept.has(index)) return this.kept.get(index);
    const key = index - (index % this.chip.keyEvery);
    let from = index;
    while (from > key && !this.kept.has(from - 1)) from -= 1;
    let before = from > key ? this.kept.get(from - 1).stacks : null;
    let found = null;
    for (let number = from; number <= index; number += 1) {
      const { number: name, width, height, planes } = this.facts.frames[number];
      const stacks = this.unpack(await inflate(planes), before, width, height);
      before = stacks;
      found = { index: number, number: name, width, height, stacks, told: null };
    }
    const told = JSON.parse(new TextDecoder().decode(await inflate(this.facts.frames[index].facts)));
    found.told = told;
    const counts = await inflate(told.counts);
    found.counts = new Uint16Array(counts.buffer, 0, counts.length >> 1);
    if (told.slots) {
      found.slots = new Uint32Array((await inflate(told.slots)).buffer);
      found.used = new Uint32Array((await inflate(told.used)).buffer);
    }
    this.palettes(found, await inflate(told.palettes));
    if (this.kept.size > 40) this.kept.delete(this.kept.keys().next().value);
    this.kept.set(index, found);
    return found;
  }

  unpack(raw, before, width, height) {
    const stacks = [];
    let at = 0;
    for (let source = 0; source < this.sourceCount; source += 1) {
      const chosen = raw.subarray(at, at + height);
      at += height;
      const planes = [];
      for (let depth = 0; depth < this.depth(source); depth += 1) {
        const plane = raw.slice(at, at + width * height);
        at += width * height;
        if (chosen[0] !== NO_GUESS) this.addGuess(plane, before[source][depth], chosen, width, height);
        planes.push(plane);
      }
      stacks.push(planes);
    }
    return stacks;
  }

  addGuess(plane, old, chosen, width, height) {
    for (let line = 0; line < height; line += 1) {
      const [dots, lines] = GUESSES[chosen[line]];
      const from = Math.min(Math.max(line + lines, 0), height - 1) * width;
      const to = line * width;
      for (let dot = 0; dot < width; dot += 1) plane[to + dot] ^= old[from + ((dot + dots + width) % width)];
    }
  }

  // Each dot's version of the palette and backdrop, and the tables of red, green and blue.
  palettes(frame, changes) {
    const { width, height } = frame;
    const size = this.chip.entries * 3;
    for (let at = size; at < changes.length; at += 1) changes[at] ^= changes[at - size];
    frame.tables = changes;
    frame.version = new Uint16Array(width * height);
    frame.backdrop = new Uint16Array(width * height);
    const starts = frame.told.stretches;
    for (let at = 0; at < starts.length; at += 4) {
      const begin = starts[at] * width + starts[at + 1];
      const end = (starts[at] + 1) * width;
      frame.version.fill(starts[at + 2], begin, end);
      frame.backdrop.fill(starts[at + 3], begin, end);
    }
  }

  value(frame, source, place) {
    const planes = frame.stacks[source];
    return planes[0][place] | (this.wide === 2 ? planes[1][place] << 8 : 0);
  }

  rung(frame, source, place) {
    return frame.stacks[source][this.wide][place];
  }

  number(frame, source, first, count, place) {
    let found = 0;
    for (let byte = 0; byte < count; byte += 1) found += frame.stacks[source][this.wide + 1 + first + byte][place] * 256 ** byte;
    return found;
  }

  // Of a layer: mode, cell and data, -1 for none, and the cell's word.
  fed(frame, source, place) {
    return {
      mode: this.number(frame, source, 0, 1, place) - 1,
      cell: this.number(frame, source, 1, 4, place) - 1,
      word: this.number(frame, source, 5, 2, place),
      data: this.number(frame, source, 7, 4, place) - 1,
    };
  }

  sprite(frame, place) {
    return this.number(frame, this.chip.layers.length, 0, 2, place) - 1;
  }

  colour(frame, place, entry) {
    const at = (frame.version[place] * this.chip.entries + entry) * 3;
    return [frame.tables[at], frame.tables[at + 1], frame.tables[at + 2]];
  }

  // What stands at a dot from front to back: [source, rung, entry]; the backdrop last, as source -1.
  stack(frame, place, off) {
    const found = [];
    for (let source = 0; source < this.sourceCount; source += 1) {
      const value = this.value(frame, source, place);
      const rung = this.rung(frame, source, place);
      if (value && rung !== 255 && !off.has(source)) found.push([source, rung, value - 1]);
    }
    found.sort((one, other) => one[1] - other[1]);
    found.push([-1, frame.told.rungs.length - 1, frame.backdrop[place]]);
    return found;
  }
}

function field(parts, word) {
  let value = 0;
  for (const [high, low] of parts) value = value * 2 ** (high - low + 1) + (Math.floor(word / 2 ** low) % 2 ** (high - low + 1));
  return value;
}

// The packed word of a colour that the chip shows: chip/colour.py, the other way round.
function colourWord(layout, rgb) {
  let word = 0;
  Object.values(layout).forEach((parts, channel) => {
    let width = 0;
    for (const [high, low] of parts) width += high - low + 1;
    let value = Math.round((rgb[channel] * (2 ** width - 1)) / 255);
    for (const [high, low] of [...parts].reverse()) {
      word += (value % 2 ** (high - low + 1)) * 2 ** low;
      value = Math.floor(value / 2 ** (high - low + 1));
    }
  });
  return word;
}

const hex = (number, digits = 4) => `0x${number.toString(16).toUpperCase().padStart(digits, "0")}`;
const css = (rgb) => `#${rgb.map((one) => one.toString(16).padStart(2, "0")).join("")}`;
