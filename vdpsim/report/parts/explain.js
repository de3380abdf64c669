// Words for what is under the pointer, and the tables below the picture. Names come from the files: always as text, never as HTML.

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

// Where the row lies that shows at the dot, in the tile that does; -1 where the sprite stands elsewhere by now.
function spriteRow(chip, sprite, line, dot) {
  const { size, tile, rowBytes, offsets } = chip.sprites.patterns[sprite.fields.size || 0];
  const found = [dot - sprite.x, line - sprite.y].map((far, axis) => {
    const wrap = chip.sprites.wraps[axis];
    const place = wrap ? ((far % wrap) + wrap) % wrap : far;
    return sprite.fields[axis ? "flip_y" : "flip_x"] ? size[axis] - 1 - place : place;
  });
  if (found.some((place, axis) => place < 0 || place >= size[axis])) return -1;
  const [column, row] = found.map((place, axis) => Math.floor(place / tile[axis]));
  return (sprite.data + offsets[row][column] + (found[1] % tile[1]) * rowBytes) % chip.memory;
}

function showDot(page) {
  const { chip } = page;
  const told = explain(page, page.line, page.dot);
  const digits = chip.wordDigits;
  const rgb = [1, 3, 5].map((at) => parseInt(told.colour.slice(at, at + 2), 16));
  fill(document.getElementById("dot"), [
    ["line, dot", `${told.line}, ${told.dot}`],
    ["entry", `${told.entry} (bank ${Math.floor(told.entry / chip.bankSize)}, ${told.entry % chip.bankSize} in it)`],
    ["colour", `${told.colour}, word ${hex(told.word, digits)}`, rgb],
    ["won", told.source],
    ["by rung", told.rung],
    ...Object.entries(told.from),
  ]);
  const beneath = document.getElementById("beneath");
  beneath.replaceChildren();
  for (const one of told.beneath) {
    const item = element("li", `${one.source}, by ${one.rung}: entry ${one.entry}, ${one.colour}`);
    item.prepend(swatch([1, 3, 5].map((at) => parseInt(one.colour.slice(at, at + 2), 16))));
    beneath.append(item);
  }
  const said = `Line ${told.line}, dot ${told.dot}: ${told.source}, entry ${told.entry}, ${told.colour}.`;
  document.getElementById("dot-text").textContent = said;
  document.getElementById("picture").setAttribute("aria-label", `Frame ${page.frame.number} of ${page.facts.scene.name}. ${said}`);
}

function showLine(page) {
  const { frame, chip, line } = page;
  const clients = frame.told.clients.length;
  const counts = frame.told.clients.map((name, client) => [name, frame.counts[line * clients + client]]);
  const total = counts.reduce((sum, [, count]) => sum + count, 0);
  const rows = [
    ["line", line],
    ["fetches", total],
    ["sprites found", frame.told.found[line]],
    ["sprites drawn", frame.told.drawn[line]],
    ["dropped", frame.told.drops.filter(([at]) => at === line).map(([, number, reason]) => `${spriteName(page, number)} (${reason})`).join(", ") || "none"],
  ];
  if (chip.perLine) rows.push(["slots used", `${frame.used[line]} of ${chip.perLine}`], ["too late", frame.told.missed[line]]);
  fill(document.getElementById("line"), rows);
  const body = document.querySelector("#line-clients tbody");
  body.replaceChildren();
  counts.forEach(([name, count], client) => {
    const row = element("tr");
    const head = element("th", name, { scope: "row" });
    head.prepend(swatch(page.colours[client]));
    let all = 0;
    for (let at = client; at < frame.counts.length; at += clients) all += frame.counts[at];
    row.append(head, element("td", String(count), { class: "right" }), element("td", String(all), { class: "right" }));
    body.append(row);
  });
}

function spriteName(page, number) {
  const found = page.frame.told.sprites.find((one) => one.number === number);
  return found && found.name ? found.name : `sprite ${number}`;
}

function table(caption, head, rows, right = head.length) {
  const box = element("div", "", { class: "wide" });
  const made = element("table");
  made.append(element("caption", caption));
  const top = element("tr");
  head.forEach((name, at) => top.append(element("th", name, { scope: "col", class: at >= head.length - right ? "right" : "" })));
  const thead = element("thead");
  thead.append(top);
  const body = element("tbody");
  for (const cells of rows) {
    const row = element("tr");
    cells.forEach((cell, at) => row.append(element("td", String(cell), { class: at >= head.length - right ? "right" : "" })));
    body.append(row);
  }
  made.append(thead, body);
  box.append(made);
  return box;
}

function showFrame(page) {
  const { frame, facts } = page;
  const told = frame.told;
  const parts = [];
  if (told.writes.length) parts.push(table("Timed writes", ["line", "dot", "what"], told.writes.map((one) => [one.line, one.dot, one.what]), 0));
  if (told.moreWrites) parts.push(element("p", `and ${told.moreWrites} more`));
  if (told.drops.length) parts.push(table("Sprites dropped", ["line", "sprite", "reason"], told.drops.map(([line, number, reason]) => [line, spriteName(page, number), reason]), 0));
  if (told.collisions.length) parts.push(table("Collisions", ["line", "dot", "sprites"], told.collisions.map(([line, one, other, dot]) => [line, dot, `${spriteName(page, one)} and ${spriteName(page, other)}`]), 0));
  if (told.moreCollisions) parts.push(element("p", `and ${told.moreCollisions} more, which have no marks in the picture`));
  if (told.raised.length) parts.push(table("Flags raised", ["line", "dot", "flag"], told.raised, 0));
  if (told.transfers.length) parts.push(table("The CPU's transfers", ["transfer", "first byte: line, slot", "last byte: line, slot", "bytes", "slots waited", "ended"], told.transfers.map(([number, a, b, c, d, bytes, waited, ended]) => [number, `${a}, ${b}`, `${c}, ${d}`, bytes, waited, ended ? "yes" : "goes on"]), 3));
  const late = told.missed.reduce((sum, count) => sum + count, 0);
  if (late) parts.unshift(element("p", `${late} accesses come too late; what they were for does not show.`, { class: "caution" }));
  if (!parts.length) parts.push(element("p", "Nothing was written, dropped, raised or moved."));
  document.getElementById("happened").replaceChildren(...parts);
  const lists = told.sprites.map((one) => [one.number, one.name, one.x, one.y, `${one.width} x ${one.height}`, told.drops.filter(([, number]) => number === one.number).length]);
  const head = ["number", "name", "x", "y", "size", "lines it is dropped on"];
  document.getElementById("sprite-table").replaceChildren(lists.length ? table("As the table stands when the frame begins", head, lists, 4) : element("p", "None is enabled."));
  showPalette(page);
  document.getElementById("frame-number").textContent = `${frame.number} (${frame.index + 1} of ${facts.frames.length})${facts.chip.sizes > 1 ? `, ${frame.width} x ${frame.height} dots` : ""}`;
}

function showPalette(page) {
  const { frames, frame, chip, uses } = page;
  const list = document.getElementById("palette");
  list.replaceChildren();
  let left = 0;
  for (let entry = 0; entry < chip.entries; entry += 1) {
    if (chip.entries > 512 && !uses[entry]) {
      left += 1;
      continue;
    }
    const rgb = frames.colour(frame, 0, entry);
    const item = element("li", `${entry}: ${css(rgb)} ${uses[entry] || "unused"}`, uses[entry] ? {} : { class: "unused" });
    item.prepend(swatch(rgb));
    list.append(item);
  }
  if (left) list.append(element("li", `${left} entries are unused`));
}
