// The dot that is told of: under the pointer, or kept by a click; in the page's address, so that it can be sent to someone.

function moveTo(line, dot) {
  page.line = Math.min(Math.max(line, 0), page.frame.height - 1);
  page.dot = Math.min(Math.max(dot, 0), page.frame.width - 1);
  drawBeside(page);
  showPlace();
  calmly("place", () => showRegisters(page));
}

function showPlace() {
  drawMarks(page);
  showDot(page);
  showLine(page);
  drawStrip(page);
  const said = page.pinned ? "Kept: Esc lets it go." : "Click or Enter keeps it.";
  const box = document.getElementById("pin-said");
  if (box.textContent !== said) box.textContent = said;
}

function tellAddress() {
  history.replaceState(null, "", page.pinned ? placeWords() : location.pathname + location.search);
}

function pin(on) {
  page.pinned = on;
  tellAddress();
  document.getElementById("link").hidden = true;
  document.getElementById("copy-said").textContent = "";
  showPlace();
}

const placeWords = () => `#frame=${page.frame.number}&line=${page.line}&dot=${page.dot}`;

// The place that an address names; null where it names none.
function placeOf(hash) {
  const found = new URLSearchParams(hash.replace(/^#/, ""));
  if (!found.has("frame")) return null;
  const number = (name) => Math.max(0, Math.floor(Number(found.get(name))) || 0);
  return { frame: number("frame"), line: number("line"), dot: number("dot") };
}

// Goes to the place in the page's address, where there is one.
async function followAddress({ look = true } = {}) {
  const place = placeOf(location.hash);
  if (!place) return;
  const index = page.facts.frames.findIndex((one) => one.number === place.frame);
  if (index < 0) {
    document.getElementById("loading").textContent = `This page has no frame ${place.frame}.`;
    return;
  }
  if (page.frame.index !== index) await goTo(index);
  moveTo(place.line, place.dot);
  page.pinned = true;
  showPlace();
  if (!look) return;
  document.getElementById("picture").scrollIntoView({ block: "nearest" });
  document.getElementById("picture").focus({ preventScroll: true });
}

async function copyLink() {
  pin(true);
  const address = location.href;
  const field = document.getElementById("link");
  const said = document.getElementById("copy-said");
  try {
    await navigator.clipboard.writeText(address);
    said.textContent = "Copied.";
  } catch {
    field.value = address;
    field.hidden = false;
    field.select();
    said.textContent = "Copy it from here:";
  }
}

const STEPS = {
  ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0], PageUp: [-8, 0], PageDown: [8, 0], Home: [0, -1e6], End: [0, 1e6],
};

function onKey(event) {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.key === "Enter" || event.key === "Escape") {
    event.preventDefault();
    pin(event.key === "Enter");
    return;
  }
  const move = STEPS[event.key];
  if (!move) return;
  event.preventDefault();
  const far = event.shiftKey && event.key.startsWith("Arrow") ? 8 : 1;
  moveTo(page.line + move[0] * far, page.dot + move[1] * far);
  if (page.pinned) calmly("address", tellAddress); // a key that is held down would move too often for a browser to follow
}

function setUpPlace() {
  const picture = document.getElementById("picture");
  const under = (event) => {
    const place = picture.getBoundingClientRect();
    moveTo(Math.floor((event.clientY - place.top) / page.scale), Math.floor((event.clientX - place.left) / page.scale));
  };
  picture.addEventListener("pointermove", (event) => {
    if (!page.pinned || event.buttons) under(event);
    if (event.buttons) calmly("address", tellAddress);
  });
  picture.addEventListener("pointerdown", (event) => {
    under(event);
    pin(true);
  });
  picture.addEventListener("keydown", onKey);
  const beside = document.getElementById("beside");
  const lineUnder = (event) => Math.floor(event.offsetY / page.scale);
  beside.addEventListener("pointermove", (event) => {
    const line = lineUnder(event);
    if (line >= page.frame.height) return;
    if (page.pinned) document.getElementById("chart-said").textContent = chartWords(page, line);
    else moveTo(line, page.dot);
  });
  beside.addEventListener("pointerleave", () => (document.getElementById("chart-said").textContent = chartWords(page, page.line)));
  beside.addEventListener("pointerdown", (event) => {
    moveTo(lineUnder(event), page.dot);
    pin(true);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && page.pinned) pin(false);
  });
  document.getElementById("copy-link").addEventListener("click", copyLink);
  window.addEventListener("hashchange", () => followAddress());
}
