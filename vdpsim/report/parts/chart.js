// Beside the picture, line by line: each line's slots by what they are for, and its sprites, both against what a line has.

const CHART_LEAST = 232;
const CHART_MOST = 620;
const CHART = { left: 34, gap: 26, sprites: 76, top: 18, margin: 8 };

// For each line of the picture the accesses of each role, in the order of the roles.
function lineRoles(page) {
  const { chip, frame } = page;
  if (frame.roles) return frame.roles;
  const roles = Object.keys(chip.roles);
  const clients = frame.told.countClients;
  const role = clients.map((name) => roles.indexOf(chip.clients.find((one) => one.name === name).role));
  const found = new Uint32Array(frame.height * roles.length);
  for (let line = 0; line < frame.height; line += 1) {
    for (let client = 0; client < clients.length; client += 1) found[line * roles.length + role[client]] += frame.counts[line * clients.length + client];
  }
  frame.roles = { roles, found };
  return frame.roles;
}

// Numbers for an axis from 0 to `most`: round ones, about so many dots apart.
function ticks(most, long, apart) {
  const least = (most * apart) / Math.max(1, long);
  const unit = 10 ** Math.floor(Math.log10(Math.max(1, least)));
  const step = [1, 2, 5, 10].map((one) => one * unit).find((one) => one >= least) || unit * 10;
  const found = [];
  for (let at = 0; at <= most; at += step) found.push(at);
  return found;
}

function chartLayout(page) {
  const { chip, frame, facts, scale } = page;
  const whole = document.getElementById("scroller").clientWidth;
  const room = whole - chip.width * scale - 8;
  const width = Math.min(room < CHART_LEAST ? Math.max(whole, CHART_LEAST) : room, CHART_MOST);
  const sprites = chip.sprites ? Math.min(CHART.sprites, Math.round(width * 0.26)) : 0;
  const bars = width - CHART.left - CHART.margin - (sprites ? sprites + CHART.gap : 0);
  const limit = chip.sprites ? chip.sprites.perLine || 0 : 0;
  return {
    width,
    bars,
    sprites,
    height: frame.height * scale,
    most: chip.perLine || Math.max(1, page.mostFetched || 1),
    mostSprites: Math.max(1, limit, facts.mostFound),
    limit,
    spritesAt: CHART.left + bars + CHART.gap,
  };
}

function drawBeside(page) {
  const { chip, frame, scale } = page;
  const sharp = window.devicePixelRatio || 1;
  const canvas = document.getElementById("beside");
  if (!chip.perLine) page.mostFetched = Math.max(page.mostFetched || 1, mostOfLines(page));
  const place = (page.chart = chartLayout(page));
  const height = place.height + 2 * CHART.top;
  canvas.width = Math.round(place.width * sharp);
  canvas.height = Math.round(height * sharp);
  Object.assign(canvas.style, { width: `${place.width}px`, height: `${height}px` });
  const pen = canvas.getContext("2d");
  pen.scale(sharp, sharp);
  pen.font = "11px system-ui, sans-serif";
  const style = getComputedStyle(document.documentElement);
  const ink = Object.fromEntries(["text", "faint", "edge", "misses", "mark"].map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
  drawBars(page, pen, place, ink);
  if (place.sprites) drawSprites(page, pen, place, ink);
  drawAxes(page, pen, place, ink);
  const y = page.line * scale;
  pen.fillStyle = ink.mark;
  pen.fillRect(0, y, 4, Math.max(2, scale));
  pen.fillRect(place.width - 4, y, 4, Math.max(2, scale));
}

function mostOfLines(page) {
  const { roles, found } = lineRoles(page);
  let most = 1;
  for (let line = 0; line < page.frame.height; line += 1) {
    let sum = 0;
    for (let role = 0; role < roles.length; role += 1) sum += found[line * roles.length + role];
    most = Math.max(most, sum);
  }
  return most;
}

function drawBars(page, pen, place, ink) {
  const { chip, frame, scale } = page;
  const { roles, found } = lineRoles(page);
  const per = place.bars / place.most;
  const from = new Float64Array(frame.height).fill(CHART.left);
  roles.forEach((name, role) => {
    pen.fillStyle = css(chip.roles[name]);
    for (let line = 0; line < frame.height; line += 1) {
      const wide = found[line * roles.length + role] * per;
      if (wide) pen.fillRect(from[line], line * scale, wide, scale);
      from[line] += wide;
    }
  });
  pen.fillStyle = ink.misses;
  for (let line = 0; line < frame.height; line += 1) if (frame.told.missed[line]) pen.fillRect(CHART.left + place.bars + 3, line * scale, 8, Math.max(2, scale));
}

// A dot's width for each sprite that is drawn, then hatched those that are dropped.
function drawSprites(page, pen, place, ink) {
  const { frame, scale } = page;
  const per = place.sprites / place.mostSprites;
  for (let line = 0; line < frame.height; line += 1) {
    const [drawn, found] = [frame.told.drawn[line], frame.told.found[line]];
    pen.fillStyle = css(page.chip.roles.sprites);
    pen.fillRect(place.spritesAt, line * scale, drawn * per, scale);
    if (found <= drawn) continue;
    pen.fillStyle = ink.misses;
    for (let at = drawn * per; at < found * per; at += 4) pen.fillRect(place.spritesAt + at, line * scale, Math.min(2, found * per - at), scale);
  }
}

function drawAxes(page, pen, place, ink) {
  const { frame, scale } = page;
  const bottom = place.height;
  const vertical = (x, colour, wide = 1) => {
    pen.fillStyle = colour;
    pen.fillRect(Math.round(x - wide / 2), 0, wide, bottom);
  };
  const number = (text, x, y, align) => {
    pen.fillStyle = ink.faint;
    pen.textAlign = align;
    pen.fillText(text, x, y);
  };
  vertical(CHART.left, ink.edge);
  vertical(CHART.left + place.bars, page.chip.perLine ? ink.text : ink.edge, page.chip.perLine ? 2 : 1);
  for (const line of ticks(frame.height - 1, place.height, 34)) number(String(line), CHART.left - 4, Math.min(Math.max(9, line * scale + 4), bottom), "right");
  const slots = ticks(place.most, place.bars, 48).filter((at) => at < place.most * 0.88);
  for (const at of slots) number(String(at), CHART.left + (at * place.bars) / place.most, bottom + 13, at ? "center" : "left");
  number(String(place.most), CHART.left + place.bars, bottom + 13, "center");
  number(page.chip.perLine ? "slots of the line" : "accesses on the line", CHART.left, bottom + 28, "left");
  if (!place.sprites) return;
  const per = place.sprites / place.mostSprites;
  vertical(place.spritesAt, ink.edge);
  if (place.limit) vertical(place.spritesAt + place.limit * per, ink.text, 2);
  number("0", place.spritesAt, bottom + 13, "left");
  number(String(place.limit || place.mostSprites), place.spritesAt + (place.limit || place.mostSprites) * per, bottom + 13, "center");
  number("sprites", place.spritesAt, bottom + 28, "left");
}

// The figures of a line, as the chart has them.
function chartWords(page, line) {
  const { chip, frame } = page;
  const { roles, found } = lineRoles(page);
  const parts = roles.map((name, role) => [name, found[line * roles.length + role]]).filter(([, count]) => count);
  const used = parts.reduce((sum, [, count]) => sum + count, 0);
  const words = parts.map(([name, count]) => `${name} ${count}`).join(", ") || "no access";
  const idle = chip.perLine ? `, idle ${chip.perLine - used} of ${chip.perLine}` : "";
  const late = frame.told.missed[line] ? `; ${frame.told.missed[line]} too late` : "";
  const limit = chip.sprites && chip.sprites.perLine ? ` of ${chip.sprites.perLine}` : "";
  const sprites = chip.sprites ? `; sprites ${frame.told.drawn[line]}${limit}, dropped ${frame.told.found[line] - frame.told.drawn[line]}` : "";
  return `Line ${line}: ${words}${idle}${late}${sprites}.`;
}

function drawStrip(page) {
  const { chip, frame, strips } = page;
  const box = document.getElementById("line-time");
  box.hidden = !frame.slots;
  if (!frame.slots) return;
  const canvas = document.getElementById("strip");
  canvas.width = chip.perLine;
  canvas.height = 1;
  Object.assign(canvas.style, { width: "100%", height: "1.6rem", border: "1px solid var(--edge)" });
  const pen = canvas.getContext("2d");
  const begin = frame.slots[page.line] * chip.perLine;
  const held = new Map();
  for (let slot = 0; slot < chip.perLine; slot += 1) {
    const client = strips[begin + slot];
    if (client !== 255) {
      pen.fillStyle = css(chip.roles[chip.clients[client].role]);
      pen.fillRect(slot, 0, 1, 1);
    }
    if (!held.has(client)) held.set(client, []);
    held.get(client).push(slot);
  }
  const parts = [...held].filter(([client]) => client !== 255).sort((one, other) => one[0] - other[0]);
  const words = parts.map(([client, slots]) => `${chip.clients[client].name} ${slots.length} (${slots[0]} to ${slots[slots.length - 1]})`);
  const free = (held.get(255) || []).length;
  const told = `Slots of line ${page.line}, from the blanking before it on: ${words.join(", ") || "none used"}; ${free} of ${chip.perLine} idle.`;
  document.getElementById("strip-text").textContent = told;
  canvas.setAttribute("aria-label", `Slots of line ${page.line}`);
}
