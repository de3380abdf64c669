// The page: what is chosen, and what is set up once.

const page = { facts: null, frames: null, chip: null, frame: null, strips: null, line: 0, dot: 0, pinned: false, scale: 2, off: new Set(), marks: new Set(["dropped", "collisions"]) };

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

function setUpChoices() {
  const { chip } = page;
  checkboxes("sources", chip.sources.slice(1).map((name, source) => [source, name]), (source) => !page.off.has(source), (source, on) => {
    if (on) page.off.delete(source);
    else page.off.add(source);
    redraw();
  });
  checkboxes("marks", Object.entries(MARKS), (mark) => page.marks.has(mark), (mark, on) => {
    if (on) page.marks.add(mark);
    else page.marks.delete(mark);
    drawMarks(page);
  });
  const chosen = keptScale();
  const sizes = [["0", ""], ...SCALES.map((scale) => [String(scale), `${scale} x`])];
  const select = document.getElementById("scale");
  select.replaceChildren(...sizes.map(([value, name]) => element("option", name, { value })));
  select.value = String(chosen);
  chooseScale(chosen);
}

// 0: the one that fits.
function chooseScale(chosen) {
  const fits = fittingScale(page);
  document.querySelector("#scale option").textContent = `fits (${fits} x)`;
  page.scale = chosen || fits;
}

function changeScale(chosen) {
  chooseScale(chosen);
  sizeCanvases(page);
  drawBeside(page);
  drawMarks(page);
}

function setUpEvents() {
  document.getElementById("frame-back").addEventListener("click", () => goTo(page.frame.index - 1));
  document.getElementById("frame-on").addEventListener("click", () => goTo(page.frame.index + 1));
  document.getElementById("frame-play").addEventListener("click", () => play(!player));
  document.getElementById("frame-slider").addEventListener("input", (event) => goTo(Number(event.target.value)));
  document.getElementById("frames").addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (button) goTo(Number(button.dataset.index));
  });
  document.getElementById("scale").addEventListener("change", (event) => {
    keepScale(Number(event.target.value));
    changeScale(Number(event.target.value));
  });
  const again = () => {
    if (!page.frame) return;
    changeScale(keptScale());
  };
  window.addEventListener("resize", again);
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
  setUpPlace();
}

// What does not change from frame to frame; of a scene that is watched, anew where it is other than before.
function showStill() {
  const { facts, chip } = page;
  const title = `${facts.scene.name} on ${chip.name}`;
  document.title = title;
  document.getElementById("scene-name").textContent = title;
  document.getElementById("scene-about").textContent = facts.scene.about;
  document.getElementById("caution").hidden = facts.flashes.passes;
  for (const [name, html] of Object.entries(facts.still)) document.getElementById(name).innerHTML = html;
}

async function open(facts, index = 0) {
  const fresh = page.facts !== null;
  page.facts = facts;
  page.chip = facts.chip;
  page.frames = new Frames(facts);
  page.strips = await inflate(facts.strips);
  const { chip, still, scene, flashes, thumbnails } = facts;
  const told = JSON.stringify([chip, still, scene, flashes, thumbnails]);
  if (told !== page.told) {
    page.told = told;
    document.body.classList.remove("bare");
    if (fresh) showStill();
    setUpFrames();
    setUpChoices();
  }
  await goTo(index);
}

setUpEvents();
const opened = open(JSON.parse(document.getElementById("facts").textContent))
  .then(() => followAddress({ look: false }))
  .then(() => {
    document.body.dataset.ready = "yes";
  });
