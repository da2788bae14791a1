// A shot of one's own: aimed by dragging, played by the program at every change.

import { ballElement, part, toUnits, unitsOf } from "./balls.js";
import { Layout } from "./layout.js";
import { copyLink } from "./save.js";
import { TAP_PX, look, nearest, placeOf, portrait, turnTable } from "./stage.js";
import { words } from "./words.js";

const byId = (id) => document.getElementById(id);
const main = byId("main");
const table = byId("table");
const SLIDERS = ["speed", "height", "side", "raised"];
// The tip holds as far out as the inner circle of its picture.
const HOLDS = 30;
const STEPS = { usual: 0.5, large: 5, small: 0.05 };
const CUE_LENGTH = 2.4;

let layout = null;
let hit = { aim: 0, speed: 2, height: 0, side: 0, raised: 0 };
let answer = null;
let past = [];

const status = (text) => (byId("status").textContent = text);
const cueBall = () => layout?.find("cue", 0);

// --- What is shown ---------------------------------------------------------------------------

function showBalls() {
  const group = byId("balls");
  group.replaceChildren();
  if (!layout) return;
  const seen = look(layout, unitsOf);
  for (const ball of layout.balls) {
    const name = words.name(ball);
    const label = ball.kind === "cue" ? name : words.aimAt(name);
    ballElement(ball, { ...seen, label, chosen: false }, group).ball = ball;
  }
}

const line = (points) => points.map(([x, y]) => toUnits({ x, y }).join(" ")).join("L");

function showWays() {
  const group = byId("ways");
  group.replaceChildren();
  if (!answer) return;
  const radius = unitsOf(layout.radius);
  const at = ([x, y]) => {
    const [cx, cy] = toUnits({ x, y });
    return { cx, cy };
  };
  for (const [x, y] of answer.lies) {
    const [left, top] = toUnits({ x, y });
    part("rect", { x: left - 4, y: top - 4, width: 8, height: 8, class: "lie" }, group);
  }
  for (const { ball, points, drops } of answer.ways) {
    const { kind, number } = layout.balls[ball];
    const tone = kind === "cue" ? "of-cue" : `n${number === null ? "-unread" : ((number - 1) % 8) + 1}`;
    part("path", { d: `M${line(points)}`, class: "casing" }, group);
    part("path", { d: `M${line(points)}`, class: `way ${tone}` }, group);
    const end = { ...at(points.at(-1)), r: drops ? 0.6 * radius : radius };
    part("circle", { ...end, class: "casing" }, group);
    part("circle", { ...end, class: `end ${tone}` }, group);
  }
  if (answer.meeting) part("circle", { ...at(answer.meeting), r: radius, class: "meeting" }, group);
}

function showCue() {
  const group = byId("cue");
  const focused = group.contains(document.activeElement);
  group.replaceChildren();
  const ball = cueBall();
  if (!ball) return;
  const [x, y] = toUnits(ball);
  const radius = unitsOf(layout.radius);
  const turned = part(
    "g",
    {
      transform: `translate(${x} ${y}) rotate(${-hit.aim})`,
      class: "stick",
      tabindex: 0,
      role: "slider",
      "aria-label": words.cue,
      "aria-valuemin": 0,
      "aria-valuemax": 360,
      "aria-valuenow": hit.aim.toFixed(1),
      "aria-valuetext": words.degrees(hit.aim),
    },
    group,
  );
  part("path", { d: `M${1.6 * radius} 0H1000`, class: "aim" }, turned);
  const tip = -1.5 * radius;
  const butt = tip - unitsOf(CUE_LENGTH);
  part("path", { d: `M${tip} -2.5L${butt} -5V5L${tip} 2.5Z`, class: "wood" }, turned);
  if (focused) turned.focus({ preventScroll: true });
}

function showStroke() {
  for (const id of SLIDERS) {
    byId(id).value = hit[id];
    document.querySelector(`[data-of="${id}"]`).value = words.stroke[id](hit[id]);
  }
  if (document.activeElement !== byId("aim")) byId("aim").value = hit.aim.toFixed(1);
  byId("spot").setAttribute("cx", HOLDS * hit.side);
  byId("spot").setAttribute("cy", -HOLDS * hit.height);
}

function showSaid(sentences) {
  byId("said").replaceChildren(
    ...sentences.map((text) => Object.assign(document.createElement("li"), { textContent: text })),
  );
  byId("on").disabled = !answer;
  byId("back").disabled = past.length === 0;
}

// --- Asking ----------------------------------------------------------------------------------

let asking = false;
let onceMore = false;

// One question at a time; what changes meanwhile is asked about when it is answered.
async function ask() {
  if (!cueBall()) return;
  onceMore = asking;
  if (asking) return;
  asking = true;
  do {
    onceMore = false;
    await askOnce();
  } while (onceMore);
  asking = false;
}

async function askOnce() {
  const asked = layout;
  const { aim, speed, height, side, raised } = hit;
  try {
    const played = new URLSearchParams({ player: byId("player").value });
    // The cloth of the camera that saw the layout.
    if (main.dataset.camera) played.set("camera", main.dataset.camera);
    const response = await fetch(`/api/hits?${played}`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({
        layout: layout.json(),
        hit: { aim_deg: aim, speed_m_s: speed, height, side, elevation_deg: raised },
      }),
    }).catch(() => {
      throw new Error(words.unreachable);
    });
    const body = await response.json();
    if (!response.ok) throw new Error(body.detail);
    if (asked !== layout) return;
    answer = body;
    showSaid(answer.said);
  } catch (error) {
    answer = null;
    showSaid([words.failed(error.message)]);
  }
  showWays();
}

let addressSoon = null;

function fragment() {
  const stroke = SLIDERS.map((id) => `&${id}=${hit[id]}`).join("");
  return `${layout.fragment()}&aim=${hit.aim.toFixed(3)}${stroke}`;
}

function changed() {
  showCue();
  showStroke();
  ask();
  clearTimeout(addressSoon);
  addressSoon = setTimeout(() => history.replaceState(null, "", `/try#${fragment()}`), 200);
  byId("draw").href = `/draw#${layout.fragment()}`;
}

// --- Changes ---------------------------------------------------------------------------------

function turnTo(degrees) {
  hit.aim = ((degrees % 360) + 360) % 360;
  changed();
}

function aimAt({ x, y }) {
  const from = cueBall();
  if (from && Math.hypot(x - from.x, y - from.y) > 1e-6)
    turnTo((Math.atan2(y - from.y, x - from.x) * 180) / Math.PI);
}

// A tip farther out than it holds slips: the other way gives in.
function strike(id, value) {
  hit[id] = value;
  const other = { height: "side", side: "height" }[id];
  if (other) {
    const room = Math.floor(100 * Math.sqrt(Math.max(0, 1 - value * value))) / 100;
    hit[other] = Math.min(room, Math.max(-room, hit[other]));
  }
  changed();
}

function lay(next, text) {
  layout = next;
  answer = null;
  showBalls();
  showWays();
  showSaid([]);
  if (cueBall()) status(text);
  else status(words.noCueBall);
  changed();
}

// --- Pointer ---------------------------------------------------------------------------------

let drag = null;

table.addEventListener("mousedown", (event) => event.preventDefault());
table.addEventListener("pointerdown", (event) => {
  if (event.button !== 0 || !cueBall()) return;
  event.preventDefault();
  drag = { from: [event.clientX, event.clientY], moved: false };
  table.setPointerCapture(event.pointerId);
});
table.addEventListener("pointermove", (event) => {
  if (!drag) return;
  const far = Math.hypot(event.clientX - drag.from[0], event.clientY - drag.from[1]);
  drag.moved ||= far >= TAP_PX / 2;
  if (drag.moved) aimAt(placeOf(event));
});
table.addEventListener("pointerup", (event) => {
  if (drag && !drag.moved) {
    const at = placeOf(event);
    const ball = nearest(layout, at);
    if (ball?.kind !== "cue") aimAt(ball ?? at);
  }
  drag = null;
});
table.addEventListener("pointercancel", () => (drag = null));

const tip = byId("tip");
function moveTip(event) {
  const matrix = tip.getScreenCTM();
  const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  const out = Math.max(1, Math.hypot(x, y) / HOLDS);
  const step = (value) => Math.trunc((20 * value) / HOLDS / out) / 20;
  Object.assign(hit, { height: step(-y), side: step(x) });
  changed();
}
tip.addEventListener("pointerdown", (event) => {
  event.preventDefault();
  tip.setPointerCapture(event.pointerId);
  moveTip(event);
});
tip.addEventListener("pointermove", (event) => {
  if (tip.hasPointerCapture(event.pointerId)) moveTip(event);
});

// --- Keys and controls -----------------------------------------------------------------------

const TURNS = { ArrowLeft: 1, ArrowUp: 1, ArrowRight: -1, ArrowDown: -1 };

byId("cue").addEventListener("keydown", (event) => {
  const way = TURNS[event.key];
  if (!way || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  const by = event.shiftKey ? STEPS.large : event.altKey ? STEPS.small : STEPS.usual;
  turnTo(hit.aim + way * by);
});
byId("balls").addEventListener("keydown", (event) => {
  const { ball } = event.target.closest(".ball") ?? {};
  if (!ball || ball.kind === "cue" || !["Enter", " "].includes(event.key)) return;
  event.preventDefault();
  aimAt(ball);
});
for (const button of document.querySelectorAll("[data-turn]"))
  button.addEventListener("click", () => turnTo(hit.aim + Number(button.dataset.turn)));
byId("aim").addEventListener("change", (event) => {
  const degrees = Number(event.target.value);
  if (event.target.value !== "" && Number.isFinite(degrees)) turnTo(degrees);
});
for (const id of SLIDERS)
  byId(id).addEventListener("input", (event) => strike(id, Number(event.target.value)));
byId("player").addEventListener("change", ask);
byId("on").addEventListener("click", () => {
  if (!answer) return;
  past.push(layout);
  lay(Layout.of(answer.layout), words.goOn);
});
byId("back").addEventListener("click", () => {
  if (past.length > 0) lay(past.pop(), words.wentBack);
});
byId("link").addEventListener("click", async () => {
  clearTimeout(addressSoon);
  if (layout) history.replaceState(null, "", `/try#${fragment()}`);
  status(await copyLink(location.href));
});

// --- Beginning -------------------------------------------------------------------------------

// What a link says of the hit; what it does not say, or what cannot be, stays as it is.
function hitOf(text) {
  const given = new URLSearchParams(text);
  for (const id of SLIDERS) {
    const { min, max } = byId(id);
    const value = given.has(id) ? Number(given.get(id)) : NaN;
    if (value >= Number(min) && value <= Number(max)) hit[id] = value;
  }
  const aim = given.has("aim") ? Number(given.get("aim")) : NaN;
  if (Number.isFinite(aim)) return aim;
  // Nothing is said: at the ball that is nearest.
  const from = cueBall();
  const objects = layout.balls.filter((ball) => ball.kind !== "cue");
  const far = (ball) => Math.hypot(ball.x - from.x, ball.y - from.y);
  const [first] = from ? objects.sort((a, b) => far(a) - far(b)) : [];
  return first ? (Math.atan2(first.y - from.y, first.x - from.x) * 180) / Math.PI : 0;
}

function begin(next, text) {
  past = [];
  layout = next;
  hit.aim = ((hitOf(text) % 360) + 360) % 360;
  lay(next, words.turnTheCue);
}

function fromAddress() {
  const text = location.hash.slice(1);
  try {
    begin(Layout.fromFragment(decodeURIComponent(text)), text);
  } catch {
    status(words.badLink);
  }
}

async function fromRest(id) {
  try {
    const response = await fetch(`/api/layouts/${id}`);
    const body = await response.json();
    if (!response.ok) throw new Error(body.detail);
    begin(Layout.of(body.layout), location.search);
  } catch (error) {
    status(words.failed(error.message));
  }
}

turnTable();
showStroke();
if (location.hash.length > 1) fromAddress();
else if (main.dataset.rest) fromRest(main.dataset.rest);
else status(words.noLayout);
addEventListener("hashchange", fromAddress);
addEventListener("resize", showBalls);
portrait.addEventListener("change", () => {
  turnTable();
  showBalls();
});
