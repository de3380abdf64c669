// The page: what is chosen, and what is drawn anew when that changes.

const MARKS = { sprites: "sprites outlined", dropped: "dropped sprites", collisions: "collisions", writes: "timed writes" };

const page = { facts: null, frames: null, chip: null, frame: null, strips: null, colours: null, line: 0, dot: 0, scale: 2, off: new Set(), marks: new Set(["dropped", "collisions"]) };

function redraw() {
  page.line = Math.min(page.line, page.frame.height - 1);
  page.dot = Math.min(page.dot, page.frame.width - 1);
  sizeCanvases(page);
  drawPicture(page);
  drawBeside(page);
  drawMarks(page);
  showFrame(page);
  showPlace();
}

function showPlace() {
  drawMarks(page);
  showDot(page);
  showLine(page);
  drawStrip(page);
}

let asked = 0;
async function goTo(index) {
  const last = page.facts.frames.length - 1;
  const wanted = Math.min(Math.max(index, 0), last);
  const mine = (asked += 1);
  const frame = await page.frames.get(wanted);
  if (mine !== asked) return;
  page.frame = frame;
  document.getElementById("frame-slider").value = String(wanted);
  document.getElementById("frame-back").disabled = wanted === 0;
  document.getElementById("frame-on").disabled = wanted === last;
  for (const button of document.querySelectorAll("#frames button")) {
    if (Number(button.dataset.index) === wanted) button.setAttribute("aria-current", "true");
    else button.removeAttribute("aria-current");
  }
  redraw();
}

function moveTo(line, dot) {
  page.line = Math.min(Math.max(line, 0), page.frame.height - 1);
  page.dot = Math.min(Math.max(dot, 0), page.frame.width - 1);
  showPlace();
}

function checkboxes(id, names, isOn, change) {
  const box = document.getElementById(id);
  for (const old of box.querySelectorAll("label")) old.remove();
  for (const [key, name] of names) {
    const label = element("label");
    const input = element("input", "", { type: "checkbox" });
    input.checked = isOn(key);
    input.dataset.key = String(key);
    input.addEventListener("change", () => change(key, input.checked));
    label.append(input, ` ${name}`);
    box.append(label);
  }
}

function setUpControls() {
  const { chip, frames, facts } = page;
  const sources = [];
  for (let source = 0; source < frames.sourceCount; source += 1) sources.push([source, chip.sources[source + 1]]);
  checkboxes("sources", sources, (key) => !page.off.has(key), (key, on) => {
    if (on) page.off.delete(key);
    else page.off.add(key);
    redraw();
  });
  checkboxes("marks", Object.entries(MARKS), (key) => page.marks.has(key), (key, on) => {
    if (on) page.marks.add(key);
    else page.marks.delete(key);
    drawMarks(page);
  });
  const size = document.getElementById("scale");
  size.replaceChildren(...[1, 2, 3, 4, 6, 8].map((scale) => element("option", `${scale} x`, { value: scale })));
  size.value = String(page.scale);
  const slider = document.getElementById("frame-slider");
  slider.max = String(facts.frames.length - 1);
  const shown = facts.frames.length > 1;
  document.getElementById("strip-section").hidden = !shown;
  document.getElementById("frame-play").hidden = !shown || !facts.flashes.passes;
  const { sheet, width, height, across } = facts.thumbnails;
  const buttons = facts.frames.map((frame, index) => {
    const button = element("button", "", { type: "button", "aria-label": `Frame ${frame.number}` });
    const small = element("span", "", { class: "small", "aria-hidden": "true" });
    Object.assign(small.style, { width: `${width}px`, height: `${height}px`, backgroundImage: `url("${sheet}")`, backgroundPosition: `-${(index % across) * width}px -${Math.floor(index / across) * height}px` });
    button.dataset.index = String(index);
    button.append(small, String(frame.number));
    return button;
  });
  document.getElementById("frames").replaceChildren(...(shown ? buttons : []));
}

let player = 0;
function play(on) {
  clearInterval(player);
  player = 0;
  const button = document.getElementById("frame-play");
  button.setAttribute("aria-pressed", String(on));
  button.textContent = on ? "Stop" : "Play";
  if (on) player = setInterval(() => goTo((page.frame.index + 1) % page.facts.frames.length), Math.max(40, 1000 / Number(page.chip.rate)));
}

function setUpEvents() {
  const picture = document.getElementById("picture");
  const under = (event) => {
    const box = picture.getBoundingClientRect();
    moveTo(Math.floor((event.clientY - box.top) / page.scale), Math.floor((event.clientX - box.left) / page.scale));
  };
  picture.addEventListener("pointermove", under);
  picture.addEventListener("pointerdown", under);
  picture.addEventListener("keydown", (event) => {
    const step = event.shiftKey ? 8 : 1;
    const moves = { ArrowLeft: [0, -step], ArrowRight: [0, step], ArrowUp: [-step, 0], ArrowDown: [step, 0], PageUp: [-8, 0], PageDown: [8, 0], Home: [0, -page.frame.width], End: [0, page.frame.width] };
    const move = moves[event.key];
    if (!move || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    moveTo(page.line + move[0], page.dot + move[1]);
  });
  document.getElementById("beside").addEventListener("pointermove", (event) => moveTo(Math.floor(event.offsetY / page.scale), page.dot));
  document.getElementById("frame-back").addEventListener("click", () => goTo(page.frame.index - 1));
  document.getElementById("frame-on").addEventListener("click", () => goTo(page.frame.index + 1));
  document.getElementById("frame-play").addEventListener("click", () => play(!player));
  document.getElementById("frame-slider").addEventListener("input", (event) => goTo(Number(event.target.value)));
  document.getElementById("frames").addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (button) goTo(Number(button.dataset.index));
  });
  document.getElementById("scale").addEventListener("change", (event) => {
    page.scale = Number(event.target.value);
    sizeCanvases(page);
    drawBeside(page);
    drawMarks(page);
  });
}

function showStill() {
  const { facts, chip } = page;
  document.title = `${facts.scene.name} on ${chip.name}`;
  document.getElementById("scene-name").textContent = `${facts.scene.name} on ${chip.name}`;
  document.getElementById("scene-about").textContent = facts.scene.about;
  const verdict = document.getElementById("verdict");
  verdict.className = facts.budget.verdict.replaceAll(" ", "-");
  verdict.replaceChildren(...(facts.budget.verdict ? [element("strong", facts.budget.verdict), " "] : []), facts.budget.told);
  const caution = document.getElementById("caution");
  caution.hidden = facts.flashes.passes;
  caution.textContent = `Flashing pictures can cause seizures. Shown one after the other at the chip's rate, these frames have ${facts.flashes.told} (WCAG 2.3.1). They are not played here.`;
  const names = page.frame.told.slotClients || page.frame.told.clients;
  document.getElementById("client-key").replaceChildren(...names.map((name, client) => {
    const item = element("span", name);
    item.prepend(swatch(page.colours[client]));
    return item;
  }));
  fill(document.getElementById("transparent"), chip.transparent);
  showMemory(facts.memory, chip.memory);
  document.getElementById("patterns").replaceChildren(...facts.patterns.map((sheet) => {
    const figure = element("figure", "", { class: "wide" });
    const picture = element("img", "", { src: sheet.picture, class: "pixels", alt: `${sheet.shown} patterns of ${sheet.owner}`, width: sheet.width * sheet.across * 2 });
    const more = sheet.count > sheet.shown ? `, the first ${sheet.shown} of ${sheet.count}` : `: ${sheet.count}`;
    figure.append(element("figcaption", `${sheet.owner}${more}, ${sheet.width} x ${sheet.height}, from ${hex(sheet.first)} on, ${sheet.across} in a row`), picture);
    return figure;
  }));
  document.getElementById("budget").replaceChildren(...facts.budget.sections.map((section) => {
    const box = table(section.title, section.head, section.rows, section.right);
    if (section.formulas.length) {
      const more = element("details");
      more.append(element("summary", "formulas"), ...section.formulas.map(([name, formula]) => element("p", `${name} = ${formula}`)));
      box.append(more);
    }
    return box;
  }));
}

function showMemory(rows, size) {
  const bar = element("div", "", { class: "bar", "aria-hidden": "true" });
  const listed = [];
  let at = 0;
  const add = (start, end, owner) => {
    if (end <= start) return;
    const part = element("span", "", owner ? { title: owner } : { class: "free" });
    part.style.width = `${((end - start) * 100) / size}%`;
    bar.append(part);
    listed.push([hex(start), hex(end - 1), (end - start).toLocaleString("en"), owner || "free"]);
  };
  for (const row of rows) {
    add(at, row.start, "");
    add(Math.max(row.start, at), row.end, row.owner);
    at = Math.max(at, row.end);
  }
  add(at, size, "");
  document.getElementById("memory").replaceChildren(bar, table(`${size.toLocaleString("en")} bytes`, ["first", "last", "bytes", "whose"], listed, 0));
}

async function open(facts, index = 0) {
  page.facts = facts;
  page.chip = facts.chip;
  page.frames = new Frames(facts);
  page.colours = facts.clientColours;
  page.strips = await inflate(facts.strips);
  page.frame = await page.frames.get(Math.min(index, facts.frames.length - 1));
  const still = JSON.stringify([facts.scene, facts.chip, facts.memory, facts.patterns, facts.budget, facts.flashes]);
  if (still !== page.still || facts.frames.length > 1) {
    setUpControls();
    showStill();
    page.still = still;
  }
  await goTo(index);
}

setUpEvents();
const opened = open(JSON.parse(document.getElementById("facts").textContent));
opened.then(() => {
  document.body.dataset.ready = "yes";
});
