// Setting a camera up: shows its picture with what was found, lets corners be dragged, tries each
// change at once, and keeps what the user is content with.

import { words } from "./words.js";

const SVG = "http://www.w3.org/2000/svg";
const REFRESH_MS = 1000;
const AFTER_KEY_MS = 500;
const REACH_PX = 24;
// The part of the picture's width that is shown larger.
const LOUPE = 1 / 12;
const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const byId = (id) => document.getElementById(id);
const camera = byId("main").dataset.camera;
const api = `/api/cameras/${camera}`;
const scene = byId("scene");

let size = { width: 1600, height: 900 };
let corners = [];
let byHand = false;
let trial = null;
let held = null;
let busy = false;
let waiting = false;
let keyTimer = 0;
let started = false;
let lost = false;

const say = (text, kind = "") => {
  byId("status").textContent = text;
  byId("status").dataset.kind = kind;
};

function make(name, attributes, parent) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  parent?.append(element);
  return element;
}

// What the program answers, as JSON; throws with words for the user.
async function ask(path, body) {
  const answer = await fetch(`${api}${path}`, body && {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
  }).catch(() => {
    throw new Error(words.unreachable);
  });
  const told = await answer.json().catch(() => ({}));
  if (answer.ok) return told;
  throw Object.assign(new Error(told.detail ?? answer.statusText), { status: answer.status });
}

// The picture

function fit(width, height) {
  if (size.width === width && size.height === height) return;
  size = { width, height };
  scene.setAttribute("viewBox", `0 0 ${width} ${height}`);
  byId("picture").setAttribute("width", width);
  byId("picture").setAttribute("height", height);
}

async function refresh() {
  if (!document.hidden) {
    try {
      const answer = await fetch(`${api}/picture`, { cache: "no-store" });
      if (answer.ok) {
        if (lost) say(words.connected);
        lost = false;
        fit(...answer.headers.get("frame-size").split("x").map(Number));
        const old = byId("picture").getAttribute("href");
        byId("picture").setAttribute("href", URL.createObjectURL(await answer.blob()));
        if (old) setTimeout(() => URL.revokeObjectURL(old), REFRESH_MS);
        if (!started) start();
      } else if (!started) {
        say((await answer.json()).detail, "bad");
      }
    } catch {
      lost = true;
      say(words.notConnected, "bad");
    }
  }
  setTimeout(refresh, REFRESH_MS);
}

// How the camera is doing, and which others have come: a phone that was just paired is shown at once.
async function followCameras() {
  try {
    const all = await (await fetch("/api/cameras")).json();
    const now = all.find(({ name }) => name === camera);
    if (now && byId("camera-state").textContent !== now.words) byId("camera-state").textContent = now.words;
    const wished = byId("main").dataset.wished;
    const come = all.find(({ name }) => !wished || name === wished);
    if (!camera && come) location.assign(addressOf(come.name));
    const known = [...document.querySelectorAll("#cameras a")].map((link) => link.textContent);
    for (const { name } of all.filter(({ name }) => !known.includes(name)))
      byId("cameras")?.append(Object.assign(document.createElement("a"), { href: addressOf(name), textContent: name }));
  } catch {
    // The picture's refreshing says it.
  }
  setTimeout(followCameras, 3000);
}

const addressOf = (name) => `/setup?camera=${encodeURIComponent(name)}`;

// What was found

const path = (lines) => lines.map((line) => `M${line.map((point) => point.join(" ")).join("L")}`).join("");

function draw(view) {
  fit(view.width_px, view.height_px);
  byId("lines").replaceChildren();
  for (const look of ["under", "over"])
    for (const kind of ["grid", "noses", "pockets", "sights"])
      make("path", { class: `${kind} ${look}`, d: path(view.lines[kind]) }, byId("lines"));
  corners = view.corners_px.map(([x, y]) => ({ x, y }));
  placeCorners();
  byId("grade").textContent = words.grades[view.grade];
  byId("grade").dataset.grade = view.grade;
  list("says", [words.size(view.table, view.table_given), ...view.says]);
  list("better", view.better);
  byId("better-part").hidden = view.better.length === 0;
  byId("foot-found-words").textContent = words.foot(view.foot, view.foot_side);
  const [head, foot] = [0, 1].map((i) => middle(view.corners_px, i ? [1, 2] : [0, 3]));
  const lying = Math.abs(foot[0] - head[0]) >= Math.abs(foot[1] - head[1]);
  showSides((side) => ["left", "right"].includes(side) === lying);
}

function showSides(shown) {
  for (const label of document.querySelectorAll("[data-side].side"))
    label.hidden = !shown(label.dataset.side) && !label.firstElementChild.checked;
}

const middle = (points, [i, j]) => [0, 1].map((axis) => (points[i][axis] + points[j][axis]) / 2);

function list(id, texts) {
  byId(id).replaceChildren(
    ...texts.map((text) => Object.assign(document.createElement("li"), { textContent: text })),
  );
}

function placeCorners() {
  const scale = scene.getBoundingClientRect().width / size.width || 1;
  const reach = REACH_PX / scale;
  if (byId("corners").childElementCount !== corners.length) {
    byId("corners").replaceChildren();
    corners.forEach((_, index) => {
      const group = make("g", { class: "corner", id: `corner-${index}`, tabindex: 0, role: "button" }, byId("corners"));
      for (const look of ["reach", "back", "ring"]) make("circle", { class: look }, group);
    });
  }
  corners.forEach(({ x, y }, index) => {
    const group = byId(`corner-${index}`);
    group.setAttribute("transform", `translate(${x} ${y})`);
    group.setAttribute("aria-label", words.corner(index + 1, x, y));
    for (const circle of group.children)
      circle.setAttribute("r", circle.getAttribute("class") === "reach" ? reach : reach * 0.45);
  });
}

// Trying

function wish() {
  const table = byId("size").value === "other" ? `${byId("length").value}x${byId("width").value}` : byId("size").value;
  const foot = document.querySelector("input[name=foot]:checked").value;
  return {
    ...(byHand && { corners_px: corners.map(({ x, y }) => [x, y]) }),
    ...(table && { table }),
    ...(foot && { foot }),
  };
}

async function tryOut() {
  if (busy) {
    waiting = true;
    return;
  }
  busy = true;
  trial = null;
  byId("save").disabled = true;
  byId("kept").hidden = true;
  say(words.looking);
  try {
    const told = await ask("/trials", wish());
    if (!waiting) {
      trial = told.trial;
      draw(told.calibration);
      byId("save").disabled = false;
      say(words.found);
    }
  } catch (error) {
    if (!corners.length) beginByHand();
    say(error.message, "bad");
  }
  busy = false;
  if (waiting) {
    waiting = false;
    tryOut();
  }
}

// Where nothing was found the user begins with a frame of corners inside the picture.
function beginByHand() {
  const [left, right] = [0.15, 0.85].map((part) => part * size.width);
  const [top, bottom] = [0.2, 0.8].map((part) => part * size.height);
  corners = [[left, top], [right, top], [right, bottom], [left, bottom]].map(([x, y]) => ({ x, y }));
  byHand = true;
  showSides(() => true);
  placeCorners();
}

// Corners by pointer and keys

function at(event) {
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(scene.getScreenCTM().inverse());
  return { x: point.x, y: point.y };
}

const within = (value, most) => Math.min(Math.max(Math.round(value * 10) / 10, 0), most);

function move(index, x, y) {
  corners[index] = { x: within(x, size.width), y: within(y, size.height) };
  byHand = true;
  placeCorners();
  look(index);
}

function look(index) {
  const { x, y } = corners[index];
  const half = (LOUPE * size.width) / 2;
  byId("loupe").setAttribute("viewBox", `${x - half} ${y - half} ${2 * half} ${2 * half}`);
  byId("cross").setAttribute("d", `M${x - half} ${y}H${x + half}M${x} ${y - half}V${y + half}`);
  byId("loupe").dataset.side = x < size.width / 2 ? "right" : "left";
  byId("loupe").removeAttribute("hidden");
}

const indexOf = (event) => {
  const corner = event.target.closest?.(".corner");
  return corner ? Number(corner.id.slice("corner-".length)) : -1;
};

function listen() {
  const group = byId("corners");
  group.addEventListener("pointerdown", (event) => {
    const index = indexOf(event);
    if (index < 0 || held) return;
    const from = at(event);
    const [dx, dy] = [corners[index].x - from.x, corners[index].y - from.y];
    held = { index, pointer: event.pointerId, dx, dy, moved: false };
    group.setPointerCapture(event.pointerId);
    byId(`corner-${index}`).dataset.held = true;
    byId(`corner-${index}`).focus({ preventScroll: true });
    look(index);
    event.preventDefault();
  });
  // Another finger that comes meanwhile moves nothing.
  group.addEventListener("pointermove", (event) => {
    if (held?.pointer !== event.pointerId) return;
    const { x, y } = at(event);
    held.moved = true;
    move(held.index, x + held.dx, y + held.dy);
  });
  for (const end of ["pointerup", "pointercancel"])
    group.addEventListener(end, (event) => {
      if (held?.pointer !== event.pointerId) return;
      const { index, moved } = held;
      delete byId(`corner-${index}`).dataset.held;
      held = null;
      if (moved) tryOut();
    });
  group.addEventListener("keydown", (event) => {
    const [index, step] = [indexOf(event), MOVES[event.key]];
    if (index < 0 || !step) return;
    event.preventDefault();
    const far = event.shiftKey ? 10 : 1;
    move(index, corners[index].x + far * step[0], corners[index].y + far * step[1]);
    clearTimeout(keyTimer);
    keyTimer = setTimeout(tryOut, AFTER_KEY_MS);
  });
  // Listened to outside of the drawing: a part of it that listens to this could be tabbed to.
  byId("stage").addEventListener("focusin", (event) => {
    if (indexOf(event) >= 0) look(indexOf(event));
  });
  byId("stage").addEventListener("focusout", () => byId("loupe").setAttribute("hidden", ""));
  new ResizeObserver(placeCorners).observe(scene);

  byId("foot").addEventListener("change", tryOut);
  byId("size").addEventListener("change", () => {
    byId("other-size").hidden = byId("size").value !== "other";
    if (byId("size").value !== "other") tryOut();
  });
  for (const id of ["length", "width"])
    byId(id).addEventListener("change", () => {
      if (byId("length").value && byId("width").value) tryOut();
    });
  byId("find").addEventListener("click", () => {
    byHand = false;
    tryOut();
  });
  byId("save").addEventListener("click", save);
}

async function save() {
  byId("save").disabled = true;
  try {
    draw(await ask("/calibration", { trial }));
    byId("kept").hidden = false;
    say(words.kept);
  } catch (error) {
    byId("save").disabled = false;
    say(error.message, "bad");
  }
}

// What the user said before goes on counting.
function recall(kept) {
  if (kept.foot === "given") byId(`foot-${kept.foot_side}`).checked = true;
  if (!kept.table_given) return;
  const known = [...byId("size").options].find(({ value }) => value === `${kept.length_mm}x${kept.width_mm}`);
  byId("size").value = known?.value ?? "other";
  byId("other-size").hidden = Boolean(known);
  [byId("length").value, byId("width").value] = [kept.length_mm, kept.width_mm];
}

// What the camera goes by already; where there is nothing, or its frames have another size now, the
// table is looked for.
async function start() {
  started = true;
  try {
    const kept = await ask("/calibration");
    recall(kept);
    if (kept.width_px === size.width && kept.height_px === size.height) {
      draw(kept);
      say(words.asKept);
      return;
    }
  } catch (error) {
    if (error.status !== 404) say(error.message, "bad");
  }
  tryOut();
}

if (camera) {
  listen();
  refresh();
}
followCameras();
