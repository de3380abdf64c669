// The picture: the frame with sources switched off, at the scale that is chosen.

function drawPicture(page) {
  const { frames, frame, chip, off } = page;
  const canvas = document.getElementById("picture");
  canvas.width = frame.width;
  canvas.height = frame.height;
  const image = new ImageData(frame.width, frame.height);
  const words = new Uint32Array(image.data.buffer);
  const colours = new Uint32Array(frame.tables.length / 3);
  for (let at = 0; at < colours.length; at += 1) colours[at] = 0xff000000 | (frame.tables[3 * at + 2] << 16) | (frame.tables[3 * at + 1] << 8) | frame.tables[3 * at];
  const entries = shownEntries(frames, frame, off);
  for (let place = 0; place < words.length; place += 1) words[place] = colours[frame.version[place] * chip.entries + entries[place]];
  canvas.getContext("2d").putImageData(image, 0, 0);
  page.entries = entries;
}

// The entry of each dot: of the sources that are on, the one with the lowest rung; else the backdrop's.
function shownEntries(frames, frame, off) {
  const entries = frame.backdrop.slice();
  const best = new Uint8Array(entries.length).fill(255);
  for (let source = 0; source < frames.sourceCount; source += 1) {
    if (off.has(source)) continue;
    const [low, high] = frame.stacks[source];
    const rungs = frame.stacks[source][frames.wide];
    for (let place = 0; place < entries.length; place += 1) {
      if (rungs[place] >= best[place]) continue;
      const value = frames.wide === 2 ? low[place] | (high[place] << 8) : low[place];
      if (!value) continue;
      best[place] = rungs[place];
      entries[place] = value - 1;
    }
  }
  return entries;
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
}

const SCALES = [1, 2, 3, 4, 5, 6];
const SCALE_KEPT = "picture scale";

// The whole number at which the picture and its lines fit, beside the panels and without much scrolling.
function fittingScale(page) {
  const room = document.getElementById("scroller").clientWidth;
  const beside = room > 40 * 16 ? CHART_LEAST + 8 : 0; // on a small screen the chart may be moved to
  const across = Math.floor((room - beside) / page.chip.width);
  const down = Math.floor((window.innerHeight * 0.72) / page.chip.height);
  return Math.min(Math.max(1, Math.min(across, down)), SCALES[SCALES.length - 1]);
}

// What was chosen before, on this machine; a browser may refuse to remember.
function keptScale() {
  try {
    return Number(localStorage.getItem(SCALE_KEPT)) || 0;
  } catch {
    return 0;
  }
}

function keepScale(scale) {
  try {
    if (scale) localStorage.setItem(SCALE_KEPT, String(scale));
    else localStorage.removeItem(SCALE_KEPT);
  } catch {
    // then it is chosen again next time
  }
}
