// Words for what is under the pointer. Names come from the files: always as text, never as HTML.

function element(name, text, attributes = {}) {
  const made = document.createElement(name);
  if (text !== undefined && text !== "") made.textContent = text;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

function swatch(rgb) {
  const made = element("span", "", { class: "swatch" });
  made.style.background = css(rgb);
  return made;
}

function fill(list, pairs) {
  list.replaceChildren();
  for (const [name, value, rgb] of pairs) {
    const said = element("dd", String(value));
    if (rgb) said.prepend(swatch(rgb));
    list.append(element("dt", name), said);
  }
}

// What there is to say of a dot: also what the tests ask for.
function explain(page, line, dot) {
  const { frames, frame, chip, off } = page;
  const place = line * frame.width + dot;
  const stack = frames.stack(frame, place, off);
  const [source, rung, entry] = stack[0];
  const rgb = frames.colour(frame, place, entry);
  const told = {
    line,
    dot,
    entry,
    colour: css(rgb),
    word: colourWord(chip.word, rgb),
    source: source < 0 ? "backdrop" : chip.sources[source + 1],
    rung: frame.told.rungs[rung],
    beneath: stack.slice(1).map(([under, at, other]) => ({
      source: under < 0 ? "backdrop" : chip.sources[under + 1],
      rung: frame.told.rungs[at],
      entry: other,
      colour: css(frames.colour(frame, place, other)),
    })),
    from: {},
  };
  if (source >= 0 && source < chip.layers.length) told.from = layerWords(page, source, place);
  if (source === chip.layers.length) told.from = spriteWords(page, frames.sprite(frame, place), line, dot);
  return told;
}

function layerWords(page, source, place) {
  const { frames, frame, chip } = page;
  const fed = frames.fed(frame, source, place);
  if (fed.mode < 0) return { "came from": "the line buffer, filled before the first frame here" };
  const mode = chip.layers[source].modes[fed.mode];
  const found = { mode: `${mode.name} (${mode.kind})` };
  if (fed.data < 0) return { ...found, "came from": `${mode.kind === "text" ? "the margin" : "beyond the edge"}, which is not fetched` };
  if (fed.cell >= 0) {
    const what = mode.kind === "bitmap" ? "colour cell" : "cell";
    found[`${what} at`] = hex(fed.cell);
    found[`${what}'s word`] = hex(fed.word);
    for (const [name, parts] of Object.entries(mode.cell)) found[name] = field(parts, fed.word);
  }
  found[{ tiles: "pattern row at", text: "glyph row at", bitmap: "access at" }[mode.kind]] = hex(fed.data) + planeWords(mode);
  return found;
}

// Where a dot's bits lie in several planes, the address is that of the first.
function planeWords(mode) {
  return mode.planes && mode.bits > 1 ? `, first of ${mode.bits} planes ${mode.planes}` : "";
}

function spriteWords(page, number, line, dot) {
  const sprite = page.frame.told.sprites.find((one) => one.number === number);
  if (!sprite) return { sprite: number };
  const named = sprite.name ? `${number}, ${sprite.name}` : number;
  const found = { sprite: named, "told of": "its record and registers as the frame begins", "line of it": line - sprite.y, "pattern at": hex(sprite.data) };
  const at = spriteRow(page.chip, sprite, line, dot);
  return { ...found, ...(at < 0 ? {} : { "pattern row at": hex(at) + planeWords(page.chip.sprites) }), ...sprite.fields };
}

// Which dot of a sprite a dot of the picture is, [across, down], as the sprite stands there; null where it is none of it.
function spritePlace(chip, sprite, line, dot) {
  const { size } = chip.sprites.patterns[sprite.fields.size || 0];
  const found = [dot - sprite.x, line - sprite.y].map((far, axis) => {
    const wrap = chip.sprites.wraps[axis];
    return wrap ? ((far % wrap) + wrap) % wrap : far;
  });
  return found.some((place, axis) => place < 0 || place >= size[axis]) ? null : found;
}

// Where the row lies that shows at the dot, in the tile that does; -1 where the sprite stands elsewhere by now.
function spriteRow(chip, sprite, line, dot) {
  const { size, tile, rowBytes, offsets } = chip.sprites.patterns[sprite.fields.size || 0];
  const stands = spritePlace(chip, sprite, line, dot);
  if (!stands) return -1;
  const found = stands.map((place, axis) => (sprite.fields[axis ? "flip_y" : "flip_x"] ? size[axis] - 1 - place : place));
  const [column, row] = found.map((place, axis) => Math.floor(place / tile[axis]));
  return (sprite.data + offsets[row][column] + (found[1] % tile[1]) * rowBytes) % chip.memory;
}

// The sprites that stand at a dot and are dropped on its line: why, and whether they would show there.
function missingHere(page, line, dot) {
  const { chip, frame } = page;
  const found = [];
  for (const [at, number, reason] of frame.told.drops) {
    if (at !== line) continue;
    const sprite = frame.told.sprites.find((one) => one.number === number);
    const place = sprite && spritePlace(chip, sprite, line, dot);
    if (!place) continue;
    const digits = (frame.told.gone[number] || [])[place[1]] || "";
    const shows = Boolean((parseInt(digits[place[0] >> 2] || "0", 16) >> (3 - (place[0] % 4))) & 1);
    found.push({ sprite: number, name: spriteName(page, number), reason, why: chip.sprites.reasons[reason], shows });
  }
  return found;
}

function spriteName(page, number) {
  const found = page.frame.told.sprites.find((one) => one.number === number);
  return found && found.name ? found.name : `sprite ${number}`;
}
