"use strict";
// What the page knows, as Python has written it: report/facts.py says what there is, report/planes.py how dots are packed.

async function inflate(text) {
  const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const works = new DecompressionStream("deflate-raw");
  const writer = works.writable.getWriter(); // without a Blob, which would go through another process
  writer.write(packed);
  writer.close();
  const parts = [];
  let size = 0;
  for (let reader = works.readable.getReader(); ; ) {
    const { done, value } = await reader.read();
    if (done) break;
    parts.push(value);
    size += value.length;
  }
  const whole = new Uint8Array(size);
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

// The guesses of planes.py, in its order: [dots, lines] from which a line comes.
const REACH = 8;
const GUESSES = [[0, 0]];
for (let far = 1; far <= REACH; far += 1) GUESSES.push([far, 0], [-far, 0]);
for (let far = 1; far <= REACH; far += 1) GUESSES.push([0, far], [0, -far]);
const NO_GUESS = 255;
const MOST_KEPT = 1 << 28; // bytes of frames that are kept unpacked

class Frames {
  constructor(facts) {
    this.facts = facts;
    this.chip = facts.chip;
    this.wide = this.chip.entries > 254 ? 2 : 1;
    this.kept = new Map();
    this.bytes = 0;
    this.unpacked = 0;
    this.last = Promise.resolve();
  }

  // Planes of each source: value (low, high), rung, then of a layer mode, cell, word, data, of the sprites their number.
  depth(source) {
    return this.wide + 1 + (source < this.chip.layers.length ? 1 + 4 + 2 + 4 : 2);
  }

  get sourceCount() {
    return this.chip.layers.length + (this.chip.sprites ? 1 : 0);
  }

  // The frame; null where it is not wanted any more by the time that it would be unpacked. One after the other, so that each
  // frame on the way is unpacked once.
  get(index, wanted = () => true) {
    this.last = this.last.catch(() => null).then(() => this.reach(index, wanted));
    return this.last;
  }

  async reach(index, wanted) {
    let from = index;
    const key = index - (index % this.chip.keyEvery);
    while (from > key && !this.kept.has(from) && !this.kept.has(from - 1)) from -= 1;
    for (let number = from; number <= index; number += 1) {
      if (!wanted()) return null;
      if (!this.kept.has(number)) this.keep(number, await this.unpack(number, number % this.chip.keyEvery ? this.kept.get(number - 1) : null));
    }
    const found = this.kept.get(index);
    this.kept.delete(index); // the last that was asked for goes last
    this.kept.set(index, found);
    return found;
  }

  keep(index, frame) {
    this.kept.set(index, frame);
    this.bytes += frame.bytes;
    for (const [oldest, one] of this.kept) {
      if (this.bytes <= MOST_KEPT) break;
      if (oldest === index || oldest === index - 1) continue; // the next one may follow from these
      this.kept.delete(oldest);
      this.bytes -= one.bytes;
    }
  }

  async unpack(index, before) {
    const { number, width, height, planes, tail, facts } = this.facts.frames[index];
    const [raw, words] = await Promise.all([inflate(planes), inflate(facts)]);
    this.unpacked += 1;
    const frame = { index, number, width, height, told: JSON.parse(new TextDecoder().decode(words)), bytes: raw.length + 4 * width * height };
    let at = this.stacks(frame, raw, before);
    const take = (length) => raw.slice(at, (at += length));
    const changes = take(tail[0]);
    const starts = new Uint32Array(take(tail[1]).buffer);
    frame.counts = new Uint32Array(take(tail[2]).buffer);
    frame.slots = tail[3] ? new Uint32Array(take(tail[3]).buffer) : null;
    this.palettes(frame, changes, starts);
    return frame;
  }

  // Every plane as it is, in place of what was guessed of it; returns where they end.
  stacks(frame, raw, before) {
    const { width, height } = frame;
    let at = 0;
    frame.stacks = [];
    for (let source = 0; source < this.sourceCount; source += 1) {
      const chosen = raw.subarray(at, at + height);
      at += height;
      const planes = [];
      for (let depth = 0; depth < this.depth(source); depth += 1) {
        const plane = raw.subarray(at, at + width * height);
        at += width * height;
        if (chosen[0] !== NO_GUESS) this.addGuess(plane, before.stacks[source][depth], chosen, width, height);
        planes.push(plane);
      }
      frame.stacks.push(planes);
    }
    return at;
  }

  addGuess(plane, old, chosen, width, height) {
    for (let line = 0; line < height; line += 1) {
      const [dots, lines] = GUESSES[chosen[line]];
      const from = Math.min(Math.max(line + lines, 0), height - 1) * width;
      const to = line * width;
      const turn = (((dots % width) + width) % width); // the line from there on, then its begin
      for (let dot = 0; dot < width - turn; dot += 1) plane[to + dot] ^= old[from + turn + dot];
      for (let dot = width - turn; dot < width; dot += 1) plane[to + dot] ^= old[from + turn + dot - width];
    }
  }

  // Each dot's version of the palette and backdrop, and the tables of red, green and blue.
  palettes(frame, changes, starts) {
    const { width, height } = frame;
    const size = this.chip.entries * 3;
    for (let at = size; at < changes.length; at += 1) changes[at] ^= changes[at - size];
    frame.tables = changes;
    frame.version = new Uint16Array(width * height);
    frame.backdrop = new Uint16Array(width * height);
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
