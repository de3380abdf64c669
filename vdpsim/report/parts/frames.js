// Which frame is shown: asked for by button, slider, strip or address; what is asked for later comes first.

const PATIENCE = 100; // milliseconds without a word
const CALM = 120; // milliseconds after the last change, before the long tables are made anew

let asked = 0;
const waiting = {};

// Does `work` when nothing of its kind was asked for in a while.
function calmly(kind, work) {
  clearTimeout(waiting[kind]);
  waiting[kind] = setTimeout(work, CALM);
}

async function goTo(index, { playing = false } = {}) {
  const last = page.facts.frames.length - 1;
  const wanted = Math.min(Math.max(index, 0), last);
  const mine = (asked += 1);
  const loading = document.getElementById("loading");
  const slow = setTimeout(() => (loading.textContent = `loading frame ${page.facts.frames[wanted].number} ...`), PATIENCE);
  const frame = await page.frames.get(wanted, () => mine === asked);
  clearTimeout(slow);
  if (!frame || mine !== asked) return;
  loading.textContent = "";
  page.frame = frame;
  showFrameNumber(wanted, last);
  redraw({ playing });
  if (page.pinned && !playing) calmly("address", tellAddress);
}

function showFrameNumber(index, last) {
  const { frame, facts, chip } = page;
  const size = chip.sizes > 1 ? `, ${frame.width} x ${frame.height} dots` : "";
  document.getElementById("frame-number").textContent = `${frame.number} (${index + 1} of ${facts.frames.length})${size}`;
  document.getElementById("frame-slider").value = String(index);
  document.getElementById("frame-back").disabled = index === 0;
  document.getElementById("frame-on").disabled = index === last;
  const before = document.querySelector("#frames button[aria-current]");
  if (before) before.removeAttribute("aria-current");
  const button = document.querySelector(`#frames button[data-index="${index}"]`);
  if (!button) return;
  button.setAttribute("aria-current", "true");
  const strip = document.getElementById("frames");
  if (button.offsetLeft < strip.scrollLeft || button.offsetLeft + button.offsetWidth > strip.scrollLeft + strip.clientWidth) strip.scrollLeft = button.offsetLeft - strip.clientWidth / 2;
}

// The picture at once; what takes long to lay out when it has come to rest.
function redraw({ playing = false } = {}) {
  page.line = Math.min(page.line, page.frame.height - 1);
  page.dot = Math.min(page.dot, page.frame.width - 1);
  sizeCanvases(page);
  drawPicture(page);
  drawBeside(page);
  drawMarks(page);
  clearTimeout(waiting.frame);
  if (playing) return;
  showPlace();
  calmly("frame", () => showFrame(page));
}

let player = 0;
let runs = 0;
function play(on) {
  const run = on ? (runs += 1) : 0; // each has a number of its own, so that one that still waits for a frame ends
  player = run;
  const button = document.getElementById("frame-play");
  button.setAttribute("aria-pressed", String(on));
  button.textContent = on ? "Stop" : "Play";
  if (!on) return redraw();
  const begin = performance.now();
  const first = page.frame.index;
  const step = async (now) => {
    const due = first + Math.floor(((now - begin) * Number(page.chip.rate)) / 1000);
    const index = due % page.facts.frames.length;
    if (index !== page.frame.index) await goTo(index, { playing: true });
    if (player === run) requestAnimationFrame(step);
  };
  requestAnimationFrame(step);
}

// All frames small, with a mark on those in which something is lost.
function setUpFrames() {
  const { facts } = page;
  const shown = facts.frames.length > 1;
  document.getElementById("frame-slider").max = String(facts.frames.length - 1);
  document.getElementById("frame-play").hidden = !shown || !facts.flashes.passes;
  for (const name of ["frame-back", "frame-on"]) document.getElementById(name).hidden = !shown;
  document.getElementById("frame-slider").parentElement.hidden = !shown;
  document.getElementById("frames").hidden = !shown;
  document.getElementById("frames").replaceChildren(...(shown ? facts.frames.map(smallFrame) : []));
}

function smallFrame(frame, index) {
  const { sheet, width, height, across } = page.facts.thumbnails;
  const lost = [];
  if (frame.marks.gone) lost.push([`▼${frame.marks.gone}`, `${frame.marks.gone} sprites vanish`]);
  if (frame.marks.late) lost.push([`✗${frame.marks.late}`, `${frame.marks.late} accesses too late`]);
  if (frame.marks.unread) lost.push([`✗${frame.marks.unread}`, `${frame.marks.unread} accesses to the sprite table without a slot`]);
  const button = element("button", "", { type: "button", "aria-label": [`Frame ${frame.number}`, ...lost.map(([, words]) => words)].join(", ") });
  const small = element("span", "", { class: "small", "aria-hidden": "true" });
  Object.assign(small.style, { width: `${width}px`, height: `${height}px`, backgroundImage: `url("${sheet}")`, backgroundPosition: `-${(index % across) * width}px -${Math.floor(index / across) * height}px` });
  button.dataset.index = String(index);
  button.classList.toggle("bad", lost.length > 0);
  button.append(small, [frame.number, ...lost.map(([sign]) => sign)].join(" "));
  return button;
}
