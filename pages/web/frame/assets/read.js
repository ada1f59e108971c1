// A turn of a sitting: the section with its axis and annuli, the brightness along the
// axis under it, and everything kept as soon as it is done.
"use strict";
(() => {
const form = document.querySelector("form.turn");
if (!form) return;
const base = form.dataset.base, sheet = JSON.parse(form.dataset.sheet);
const work = Object.assign({ axis: [], marks: [], refused: [], closed: false }, JSON.parse(form.dataset.work));
const keptLine = document.querySelector("[data-kept]");

// Keeping: one request at a time; what was done meanwhile goes with the next.
let waiting = false, sending = false;
async function keep() {
  waiting = true;
  told("keeping …", true);
  if (sending) return;
  sending = true;
  while (waiting) {
    waiting = false;
    try {
      const answer = await fetch(base + "/work", { method: "POST", body: new URLSearchParams({ work: JSON.stringify(work) }) });
      if (!answer.ok) throw new Error(String(answer.status));
      if (!waiting) told("kept", true);
    } catch {
      told("not kept yet: trying again", false);
      waiting = true;
      await new Promise((again) => setTimeout(again, 1500));
    }
  }
  sending = false;
}
function told(text, fine) {
  keptLine.textContent = text;
  keptLine.classList.toggle("late", !fine);
}
function filled() {
  const of = new FormData(form);
  for (const name of ["annuli", "edge", "readability", "remark"]) work[name] = String(of.get(name) || "");
}
form.addEventListener("input", () => { filled(); keep(); });
addEventListener("beforeunload", (event) => { if (waiting || sending) event.preventDefault(); });

const plate = document.querySelector("canvas.plate");
if (!plate) return;
const light = document.querySelector("canvas.light"), says = document.querySelector("#viewer-says");
const view = { x: sheet.width / 2, y: sheet.height / 2, zoom: 0, whole: true, contrast: 1, bright: 1 };
const cross = { x: sheet.width / 2, y: sheet.height / 2, at: 0 };
let along = null, past = [], ink = {};

// Colours follow the page.
function colours() {
  const of = getComputedStyle(document.documentElement);
  ink = Object.fromEntries(["ink", "paper", "accent", "doubt", "muted", "rule", "raised"].map((n) => [n, of.getPropertyValue("--" + n).trim()]));
}
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { colours(); draw(); });

// Tiles of the picture, asked for when they come into view.
const tiles = new Map(), side = 512;
let levels = 1;
while (Math.ceil(sheet.width / 2 ** (levels - 1)) > side || Math.ceil(sheet.height / 2 ** (levels - 1)) > side) levels++;
function tile(level, col, row) {
  const name = `${level}/${col}/${row}`;
  let one = tiles.get(name);
  if (!one) {
    one = new Image();
    one.onload = draw;
    one.src = `${base}/tile/${name}`;
    tiles.set(name, one);
  }
  return one.complete && one.naturalWidth > 0 ? one : null;
}

const whole = () => Math.min(plate.clientWidth / sheet.width, plate.clientHeight / sheet.height);
const onScreen = (p) => ({ x: (p.x - view.x) * view.zoom + plate.clientWidth / 2, y: (p.y - view.y) * view.zoom + plate.clientHeight / 2 });
const onPicture = (x, y) => ({ x: (x - plate.clientWidth / 2) / view.zoom + view.x, y: (y - plate.clientHeight / 2) / view.zoom + view.y });
const within = (p) => ({ x: Math.min(Math.max(p.x, 0), sheet.width - 1), y: Math.min(Math.max(p.y, 0), sheet.height - 1) });

function fit(canvas) {
  const dense = devicePixelRatio || 1, w = Math.round(canvas.clientWidth * dense), h = Math.round(canvas.clientHeight * dense);
  if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
  const c = canvas.getContext("2d");
  c.setTransform(dense, 0, 0, dense, 0, 0);
  c.clearRect(0, 0, canvas.clientWidth, canvas.clientHeight);
  return c;
}

let asked = false;
function draw() {
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => { asked = false; drawPlate(); drawLight(); });
}

function drawPlate() {
  const c = fit(plate), w = plate.clientWidth, h = plate.clientHeight;
  if (view.whole) Object.assign(view, { zoom: whole(), x: sheet.width / 2, y: sheet.height / 2 });
  c.filter = `contrast(${view.contrast}) brightness(${view.bright})`;
  const level = Math.min(levels - 1, Math.max(0, Math.floor(Math.log2(1 / view.zoom / (devicePixelRatio || 1)))));
  for (const at of level === levels - 1 ? [level] : [levels - 1, level]) { // the coarsest lies beneath until the finer is there
    const span = side * 2 ** at, a = onPicture(0, 0), b = onPicture(w, h);
    for (let row = Math.max(0, Math.floor(a.y / span)); row * span < Math.min(b.y, sheet.height); row++)
      for (let col = Math.max(0, Math.floor(a.x / span)); col * span < Math.min(b.x, sheet.width); col++) {
        const one = tile(at, col, row);
        if (!one) continue;
        const p = onScreen({ x: col * span, y: row * span });
        c.drawImage(one, p.x, p.y, one.naturalWidth * 2 ** at * view.zoom, one.naturalHeight * 2 ** at * view.zoom);
      }
  }
  c.filter = "none";
  drawAxis(c);
  drawCross(c);
}

// stroke draws a line that is seen on light and on dark.
function stroke(c, path, colour, width) {
  for (const [style, wide] of [["rgba(255,255,255,.85)", width + 2.4], [colour, width]]) {
    c.strokeStyle = style; c.lineWidth = wide;
    c.beginPath(); path(); c.stroke();
  }
}

function drawAxis(c) {
  c.lineCap = c.lineJoin = "round";
  const line = along ? along.x.map((x, i) => ({ x, y: along.y[i] })) : work.axis.map((p) => ({ x: p.X, y: p.Y }));
  if (line.length > 1) {
    c.setLineDash([1, 6]);
    stroke(c, () => line.map(onScreen).forEach((p, i) => i ? c.lineTo(p.x, p.y) : c.moveTo(p.x, p.y)), "#123c52", 1.4);
    c.setLineDash([]);
  }
  for (const node of work.axis) {
    const p = onScreen({ x: node.X, y: node.Y });
    stroke(c, () => c.arc(p.x, p.y, 4, 0, 7), "#123c52", 1.6);
  }
  if (!along) return;
  c.font = "600 13px system-ui, sans-serif";
  ordered().forEach((m, i) => {
    ring(c, m, 15, "#8a2f00", 2.4, []);
    const a = across(m), p = onScreen(m);
    c.lineWidth = 3; c.strokeStyle = "rgba(255,255,255,.9)"; c.fillStyle = "#5c1f00";
    c.strokeText(i + 1, p.x + a.x * 24 - 4, p.y + a.y * 24 + 5); c.fillText(i + 1, p.x + a.x * 24 - 4, p.y + a.y * 24 + 5);
  });
  for (const o of open()) ring(c, o, 11, "#123c52", 1.6, [3, 4]);
}

// ring is an annulus as it crosses the axis: a short arc, open towards the core.
function ring(c, m, half, colour, width, dash) {
  const a = across(m), p = onScreen(m), ahead = { x: a.y, y: -a.x };
  c.setLineDash(dash);
  stroke(c, () => {
    c.moveTo(p.x - a.x * half - ahead.x * 4, p.y - a.y * half - ahead.y * 4);
    c.quadraticCurveTo(p.x + ahead.x * 4, p.y + ahead.y * 4, p.x + a.x * half - ahead.x * 4, p.y + a.y * half - ahead.y * 4);
  }, colour, width);
  c.setLineDash([]);
}

function drawCross(c) {
  const p = onScreen(cross);
  stroke(c, () => { for (const [x, y] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { c.moveTo(p.x + 5 * x, p.y + 5 * y); c.lineTo(p.x + 14 * x, p.y + 14 * y); } }, "#111", 1.5);
}

function drawLight() {
  const c = fit(light), w = light.clientWidth, h = light.clientHeight;
  if (!along) {
    c.fillStyle = ink.muted; c.font = "15px system-ui, sans-serif";
    c.fillText("Brightness along the axis, once it is drawn from core to edge", 12, h / 2 + 5, w - 24);
    return;
  }
  const n = along.light.length, low = Math.min(...along.light), high = Math.max(...along.light), x = (i) => 8 + i / Math.max(1, n - 1) * (w - 16);
  for (const [list, colour, dash] of [[ordered(), ink.doubt, []], [open(), ink.accent, [3, 4]]]) {
    c.strokeStyle = colour; c.lineWidth = 2; c.setLineDash(dash);
    for (const m of list) { const at = x(nearest(m)); c.beginPath(); c.moveTo(at, 8); c.lineTo(at, h - 8); c.stroke(); }
  }
  c.setLineDash([]);
  c.strokeStyle = ink.ink; c.lineWidth = 1.5; c.beginPath();
  along.light.forEach((v, i) => { const y = h - 14 - (v - low) / (high - low || 1) * (h - 28); i ? c.lineTo(x(i), y) : c.moveTo(x(i), y); });
  c.stroke();
  c.fillStyle = ink.ink; c.beginPath(); c.moveTo(x(cross.at), h - 9); c.lineTo(x(cross.at) - 6, h); c.lineTo(x(cross.at) + 6, h); c.fill();
}

// Places along the axis are told by the number of the value there.
function nearest(p) {
  let best = 0, least = Infinity;
  along.x.forEach((x, i) => { const d = (x - p.x) ** 2 + (along.y[i] - p.y) ** 2; if (d < least) { least = d; best = i; } });
  return best;
}
function across(p) {
  const i = nearest(p), a = Math.max(0, i - 2), b = Math.min(along.x.length - 1, i + 2);
  const dx = along.x[b] - along.x[a], dy = along.y[b] - along.y[a], d = Math.hypot(dx, dy) || 1;
  return { x: -dy / d, y: dx / d };
}
const ordered = () => along ? [...work.marks].sort((a, b) => nearest(a) - nearest(b)) : work.marks;
const close = (a, b) => Math.abs(nearest(a) - nearest(b)) * along.step < 4;
const open = () => along ? along.offers.filter((o) => !work.refused.some((r) => close({ x: r.X, y: r.Y }, o)) && !work.marks.some((m) => close(m, o))) : [];
const far = (i) => sheet.umPerPixel ? `${Math.round(i * along.step * sheet.umPerPixel)} µm from the core` : `${Math.round(i * along.step)} pixels from the core`;
const rings = (n) => n === 1 ? "1 annulus" : `${n} annuli`;

function say(text) { says.textContent = text; }

// done is said and kept after each step; the count follows the marks.
function done(text) {
  const count = form.elements.annuli;
  if (work.closed) count.value = work.marks.length ? String(work.marks.length) : "";
  filled();
  say(text);
  draw();
  keep();
}
function remember() { past.push(JSON.stringify({ axis: work.axis, marks: work.marks, refused: work.refused, closed: work.closed })); }

async function close_axis() {
  work.closed = true;
  say("Reading the brightness along the axis …");
  const answer = await fetch(base + "/along", { method: "POST", body: new URLSearchParams({ work: JSON.stringify(work) }) });
  if (!answer.ok) { work.closed = false; say("This is no axis: set the core, then the edge farther away."); draw(); return; }
  along = await answer.json();
  run(0);
  const n = open().length;
  done(n ? `The axis is set. ${n} suggested.` : work.marks.length ? `The axis is set, ${rings(work.marks.length)} on it.` : "The axis is set. Run along it and set each annulus.");
}

function run(to) {
  cross.at = Math.min(Math.max(to, 0), along.light.length - 1);
  cross.x = along.x[cross.at]; cross.y = along.y[cross.at];
  follow();
}
// follow keeps the cross within the middle of the view.
function follow() {
  if (view.whole) { draw(); return; }
  const p = onScreen(cross), mx = plate.clientWidth * .12, my = plate.clientHeight * .12;
  view.x += (Math.min(0, p.x - mx) + Math.max(0, p.x - plate.clientWidth + mx)) / view.zoom;
  view.y += (Math.min(0, p.y - my) + Math.max(0, p.y - plate.clientHeight + my)) / view.zoom;
  draw();
}
function zoom(by, about) {
  view.whole = false;
  const before = view.zoom;
  view.zoom = Math.min(Math.max(before * by, whole() / 2), 8);
  view.x = about.x + (view.x - about.x) * before / view.zoom;
  view.y = about.y + (view.y - about.y) * before / view.zoom;
  draw();
}

const node = () => { remember(); work.axis.push({ X: cross.x, Y: cross.y }); };
function toggle() {
  const here = { x: cross.x, y: cross.y }, at = work.marks.findIndex((m) => Math.abs(nearest(m) - cross.at) * along.step * view.zoom < 6);
  remember();
  if (at >= 0) { work.marks.splice(at, 1); done(`Taken away: ${rings(work.marks.length)}.`); return; }
  work.marks.push(here);
  done(`${rings(work.marks.length)}, this one ${far(cross.at)}.`);
}
function ahead() {
  const list = open().sort((a, b) => nearest(a) - nearest(b));
  return list.find((o) => nearest(o) >= cross.at) || list[0];
}
function offer(take) {
  const one = along && ahead();
  if (!one) { say("No suggestion is left."); return; }
  remember();
  if (take) work.marks.push({ x: one.x, y: one.y, offered: true }); else work.refused.push({ X: one.x, Y: one.y });
  run(nearest(one));
  done(`${take ? "Taken" : "Refused"}: ${rings(work.marks.length)}, ${open().length} suggested still.`);
}
function choose(name, value) {
  for (const one of form.elements[name]) if (one.value === value) one.checked = true;
  done(`${name === "edge" ? "Edge" : "Readability"}: ${value.replace("_", " ")}.`);
}
async function back() {
  if (!past.length) { say("Nothing to take back."); return; }
  Object.assign(work, JSON.parse(past.pop()));
  if (!work.closed) along = null; else if (!along) { await close_axis(); return; }
  done("Taken back.");
}

const edges = { n: "narrow", p: "partial", w: "wide", j: "not_judged" };
const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
function press(key, shift) {
  const arrow = arrows[key], low = key.toLowerCase();
  if (arrow && shift) { view.whole = false; view.x += arrow[0] * 60 / view.zoom; view.y += arrow[1] * 60 / view.zoom; draw(); }
  else if (arrow && along) run(cross.at + Math.round((arrow[0] * 3 + arrow[1] * 24) / Math.min(1, view.zoom * along.step) || arrow[0]));
  else if (arrow) { Object.assign(cross, within({ x: cross.x + arrow[0] * 10 / view.zoom, y: cross.y + arrow[1] * 10 / view.zoom })); follow(); }
  else if (key === "+" || key === "=") zoom(1.25, cross);
  else if (key === "-") zoom(.8, cross);
  else if (key === "0") { view.whole = true; draw(); }
  else if (low === "c" || low === "v") { view.contrast = Math.min(Math.max(view.contrast * (low === "c" ? 1.15 : .87), .3), 6); draw(); }
  else if (low === "b" || low === "d") { view.bright = Math.min(Math.max(view.bright * (low === "b" ? 1.1 : .91), .2), 5); draw(); }
  else if (low in edges) choose("edge", edges[low]);
  else if (key >= "1" && key <= "5") choose("readability", key);
  else if (low === "z") back();
  else if (low === "a") { remember(); Object.assign(work, { axis: [], marks: [], refused: [], closed: false }); form.elements.annuli.value = ""; along = null; done("Set the core."); }
  else if (key === " " && along) toggle();
  else if (low === "y" || low === "x") offer(low === "y");
  else if (key === "." && along && ahead()) { const list = open().sort((a, b) => nearest(a) - nearest(b)); run(nearest(list.find((o) => nearest(o) > cross.at) || list[0])); say(`Suggested ${far(cross.at)}.`); }
  else if (key === "Enter" && !along) { node(); done(work.axis.length === 1 ? "The core is set. Go on to the edge, with bends where the axis bends." : "A bend is set. At the edge, press F."); }
  else if (low === "f" && !along) { if (!work.axis.length) say("Set the core first."); else { node(); close_axis(); } }
  else return false;
  return true;
}
plate.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.ctrlKey) { event.preventDefault(); form.requestSubmit(form.querySelector("button.do")); return; }
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (press(event.key, event.shiftKey)) event.preventDefault();
});

// With a pointer: a click sets what Enter or Space would, dragging moves the picture.
let held = null;
plate.addEventListener("pointerdown", (event) => { held = { x: event.offsetX, y: event.offsetY, vx: view.x, vy: view.y, moved: false }; plate.setPointerCapture(event.pointerId); });
plate.addEventListener("pointermove", (event) => {
  if (!held) return;
  const dx = event.offsetX - held.x, dy = event.offsetY - held.y;
  held.moved ||= Math.hypot(dx, dy) > 5;
  if (held.moved) { view.whole = false; view.x = held.vx - dx / view.zoom; view.y = held.vy - dy / view.zoom; draw(); }
});
plate.addEventListener("pointerup", (event) => {
  const was = held;
  held = null;
  if (!was || was.moved) return;
  plate.focus();
  const p = within(onPicture(event.offsetX, event.offsetY));
  if (along) { run(nearest(p)); toggle(); } else { Object.assign(cross, p); press("Enter", false); }
});
plate.addEventListener("dblclick", () => { if (!along && work.axis.length > 2) { work.axis.pop(); close_axis(); } });
plate.addEventListener("wheel", (event) => { event.preventDefault(); zoom(event.deltaY < 0 ? 1.15 : .87, onPicture(event.offsetX, event.offsetY)); }, { passive: false });
light.addEventListener("click", (event) => { if (along) { run(Math.round((event.offsetX - 8) / (light.clientWidth - 16) * (along.light.length - 1))); plate.focus(); } });

colours();
new ResizeObserver(draw).observe(plate);
plate.focus();
if (work.closed && work.axis.length > 1) close_axis();
else say(work.axis.length ? "Go on with the axis; at the edge, press F." : "Set the core with Enter, then the edge with F.");
draw();
})();
