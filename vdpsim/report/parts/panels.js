// The panels: the dot, its line, the registers there and the palette. Names come from the files: always as text, never as HTML.

function showDot(page) {
  const { chip } = page;
  const told = explain(page, page.line, page.dot);
  const rgb = [1, 3, 5].map((at) => parseInt(told.colour.slice(at, at + 2), 16));
  fill(document.getElementById("dot"), [
    ["line, dot", `${told.line}, ${told.dot}`],
    ["entry", `${told.entry} (bank ${Math.floor(told.entry / chip.bankSize)}, ${told.entry % chip.bankSize} in it)`],
    ["colour", `${told.colour}, word ${hex(told.word, chip.wordDigits)}`, rgb],
    ["won", told.source],
    ["by rung", told.rung],
    ...Object.entries(told.from),
  ]);
  document.getElementById("beneath-box").hidden = !told.beneath.length;
  document.getElementById("beneath").replaceChildren(...told.beneath.map((one) => {
    const item = element("li", `${one.source}, by ${one.rung}: entry ${one.entry}, ${one.colour}`);
    item.prepend(swatch([1, 3, 5].map((at) => parseInt(one.colour.slice(at, at + 2), 16))));
    return item;
  }));
  const missing = showMissing(page);
  const said = `Line ${told.line}, dot ${told.dot}: ${told.source}, entry ${told.entry}, ${told.colour}.${missing}`;
  document.getElementById("dot-text").textContent = said;
  document.getElementById("picture").setAttribute("aria-label", `Frame ${page.frame.number} of ${page.facts.scene.name}. ${said}`);
}

// Who is dropped here, and what came too late for the line; in one sentence too.
function showMissing(page) {
  const missing = missingHere(page, page.line, page.dot);
  const late = page.frame.told.late[page.line] || [];
  const unread = page.frame.told.unread[page.line];
  document.getElementById("missing").hidden = !missing.length && !late.length && !unread;
  document.getElementById("missing-list").replaceChildren(
    ...missing.map((one) => element("li", `${one.name} stands here and is dropped on this line by ${one.why}${one.shows ? "" : ". At this dot it shows nothing anyway"}.`)),
    ...late.map(([client, count]) => element("li", `${client}: ${count} ${count === 1 ? "access" : "accesses"} of this line came too late; what they fetch does not show.`)),
    ...(unread ? [element("li", `Of this line ${unread[1]}.`)] : []),
  );
  const showing = missing.filter((one) => one.shows);
  return showing.length ? ` Dropped here: ${showing.map((one) => `${one.name} (${one.reason})`).join(", ")}.` : "";
}

function showLine(page) {
  const { frame, chip, line } = page;
  const names = frame.told.countClients;
  const counts = names.map((name, client) => frame.counts[line * names.length + client]);
  const used = counts.reduce((sum, count) => sum + count, 0);
  const fetches = names.reduce((sum, name, client) => sum + (name === "refresh" || name === "cpu" ? 0 : counts[client]), 0);
  const dropped = frame.told.drops.filter(([at]) => at === line).map(([, number, reason]) => `${spriteName(page, number)} (${reason})`);
  const rows = [["line", line], ["fetches", fetches]];
  if (chip.perLine) rows.push(["slots used", `${used} of ${chip.perLine}`], ["too late", frame.told.missed[line]]);
  if (chip.sprites) rows.push(["sprites found", frame.told.found[line]], ["sprites drawn", frame.told.drawn[line]], ["dropped", dropped.join(", ") || "none"]);
  fill(document.getElementById("line"), rows);
  frame.totals = frame.totals || names.map((_, client) => frame.counts.reduce((sum, count, at) => (at % names.length === client ? sum + count : sum), 0));
  document.querySelector("#line-clients tbody").replaceChildren(...names.map((name, client) => {
    const row = element("tr");
    const head = element("th", name, { scope: "row" });
    head.prepend(swatch(chip.roles[chip.clients.find((one) => one.name === name).role]));
    row.append(head, element("td", String(counts[client]), { class: "right" }), element("td", String(frame.totals[client]), { class: "right" }));
    return row;
  }));
  document.getElementById("chart-said").textContent = chartWords(page, line);
}

// What a row holds at the dot: the last change up to there, and when that was.
function valuesAt(first, changes, line, dot) {
  const found = first.map((value) => ({ value, since: "", changed: false }));
  for (const [at, from, row, value] of changes) {
    if (at > line || (at === line && from > dot)) break;
    found[row] = { value, since: `line ${at}, dot ${from}`, changed: value !== first[row] };
  }
  return found;
}

const registerWords = ({ address, register, name }) => (register === name ? hex(address, 2) : `${hex(address, 2)} ${register}`);

function showRegisters(page) {
  const { frame, chip, line, dot } = page;
  const { values, ports, sets, moves, more } = frame.told.registers;
  const rows = valuesAt(values, sets, line, dot).map((one, row) => ({ ...one, name: chip.registers[row].name, where: registerWords(chip.registers[row]), counts: chip.registers[row].effect }));
  const held = valuesAt(ports, moves, line, dot).map((one, row) => ({ ...one, name: chip.ports[row], where: "port", counts: "at once" }));
  const all = [...rows, ...held];
  const changed = all.filter((one) => one.since).length;
  const missing = more ? ` ${more} more changes of this frame are not told here.` : "";
  document.getElementById("registers-said").textContent = `At line ${line}, dot ${dot}, ${changed || "none"} of ${all.length} set in this frame so far (marked ●). Values that wait for the next frame are not in force yet.${missing}`;
  const body = all.map((one) => [one.since ? "●" : "", one.where, one.name, one.value, one.since, one.counts]);
  const made = table("Values in force", ["set", "register", "field", "value", "since", "a write counts"], body);
  made.querySelectorAll("tbody tr").forEach((row, at) => row.classList.toggle("changed", Boolean(all[at].since)));
  const near = frame.told.writes.filter((one) => one.line === line);
  const beside = near.length ? table(`Timed writes on line ${line}`, ["dot", "what"], near.map((one) => [one.dot, one.what])) : element("p", `No timed write on line ${line}.`);
  document.getElementById("registers").replaceChildren(made, beside);
}

function table(caption, head, rows) {
  const box = element("div", "", { class: "wide", role: "region", tabindex: "0", "aria-label": caption });
  const made = element("table");
  const top = element("tr");
  top.append(...head.map((name) => element("th", name, { scope: "col" })));
  const thead = element("thead");
  thead.append(top);
  const body = element("tbody");
  body.append(...rows.map((cells) => {
    const row = element("tr");
    row.append(...cells.map((cell) => element("td", String(cell))));
    return row;
  }));
  made.append(element("caption", caption), thead, body);
  box.append(made);
  return box;
}

const MOST_ENTRIES = 1024; // as many as are shown whether they are used or not

// The palette in force at line 0, dot 0: a row a bank, with a corner on the entries that show in this frame.
function showPalette(page) {
  const { frames, frame, chip } = page;
  const uses = new Uint32Array(chip.entries);
  for (const entry of page.entries) uses[entry] += 1;
  const colour = (entry) => css(frames.colour(frame, 0, entry));
  const words = (entry) => `${entry}: ${colour(entry)}, ${uses[entry] ? `${uses[entry].toLocaleString("en")} dots` : "unused"}`;
  const across = Math.min(chip.bankSize, 32);
  const cells = [];
  const listed = [];
  for (let begin = 0; begin < chip.entries; begin += across) {
    const end = Math.min(begin + across, chip.entries);
    if (chip.entries > MOST_ENTRIES && !uses.subarray(begin, end).some(Boolean)) continue;
    cells.push(element("span", begin % chip.bankSize ? "" : `bank ${begin / chip.bankSize}`, { class: "bank" }));
    for (let entry = begin; entry < end; entry += 1) {
      const cell = element("span", "", { class: uses[entry] ? "entry used" : "entry", title: words(entry), style: `background:${colour(entry)};grid-column:${entry - begin + 2}` });
      const item = element("li", words(entry));
      item.prepend(swatch(frames.colour(frame, 0, entry)));
      cells.push(cell);
      listed.push(item);
    }
  }
  const grid = document.getElementById("palette");
  grid.style.setProperty("--across", across);
  grid.replaceChildren(...cells);
  document.getElementById("palette-list").replaceChildren(...listed);
  const left = chip.entries > MOST_ENTRIES ? " Rows without any are left out." : "";
  document.getElementById("palette-said").textContent = `${uses.filter(Boolean).length} of ${chip.entries} entries show in this frame: those with a corner.${left}`;
}

// What Python has made of the frame, every name in it escaped.
function showFrame(page) {
  for (const [name, html] of Object.entries(page.frame.told.parts)) document.getElementById(name).innerHTML = html;
  showPalette(page);
  showRegisters(page);
  document.body.dataset.shown = String(page.frame.index);
}
