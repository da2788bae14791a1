// Drawing a layout: by mouse, touch and keyboard; from a photo, a link or a rest.

import { ballElement, unitsOf } from "./balls.js";
import { Layout, MOST_BALLS } from "./layout.js";
import { copyLink, save } from "./save.js";
import { TAP_PX, look, nearest, placeOf, portrait, turnTable } from "./stage.js";
import { words } from "./words.js";

const byId = (id) => document.getElementById(id);
const table = byId("table");
const ballsGroup = byId("balls");
const STEPS = { usual: 0.05, large: 0.5, small: 0.01 };

let layout = new Layout();
let chosen = null;
let past = [];
let future = [];

// --- What is shown ---------------------------------------------------------------------------

const status = (text) => (byId("status").textContent = text);
const labelOf = (ball) => words.ball(words.name(ball), ball.x, ball.y);

function show() {
  const focused = document.activeElement?.ball;
  const seen = look(layout, unitsOf);
  ballsGroup.replaceChildren();
  for (const ball of layout.balls)
    ballElement(ball, { ...seen, label: labelOf(ball), chosen: ball === chosen }, ballsGroup).ball =
      ball;
  if (focused) elementOf(focused)?.focus();
  for (const button of byId("tray").children) {
    const ball = named(button.dataset.ball);
    button.setAttribute("aria-pressed", ball !== undefined && ball === chosen);
    button.dataset.placed = ball !== undefined;
  }
  showChosen();
  byId("size").value = sizeValue();
  byId("undo").disabled = past.length === 0;
  byId("redo").disabled = future.length === 0;
}

function showChosen() {
  byId("chosen").textContent = chosen ? labelOf(chosen) : words.none;
  for (const [id, axis] of [["along", "x"], ["across", "y"]]) {
    byId(id).disabled = !chosen;
    if (document.activeElement !== byId(id)) byId(id).value = chosen ? chosen[axis].toFixed(2) : "";
  }
  byId("remove").disabled = !chosen;
}

const elementOf = (ball) => ballsGroup.children[layout.balls.indexOf(ball)];

function sizeValue() {
  const value = `${layout.table.length_mm}x${layout.table.width_mm}`;
  const size = byId("size");
  if (![...size.options].some((option) => option.value === value)) {
    const [length, width] = value.split("x").map((mm) => Math.round(Number(mm)));
    size.add(new Option(`${length} × ${width} mm`, value));
  }
  return value;
}

// --- Changes ---------------------------------------------------------------------------------

const snapshot = () => ({ layout: structuredClone({ ...layout }), at: layout.balls.indexOf(chosen) });

function restore({ layout: kept, at }) {
  layout = new Layout(kept.table, kept.balls, kept.foot);
  chosen = layout.balls[at] ?? null;
}

// Changes the layout in a way that can be undone; several changes of one kind in a row are one.
let lastKind = null;
function change(kind, work) {
  const before = snapshot();
  work();
  if (kind !== lastKind || kind === null) past.push(before);
  lastKind = kind;
  past = past.slice(-100);
  future = [];
  changed();
}

let addressSoon = null;
function changed() {
  show();
  byId("again").href = `/again#${layout.fragment()}`;
  byId("try").href = `/try#${layout.fragment()}`;
  clearTimeout(addressSoon);
  addressSoon = setTimeout(() => history.replaceState(null, "", `/draw#${layout.fragment()}`), 200);
}

function step(from, to) {
  const state = from.pop();
  if (!state) return;
  to.push(snapshot());
  restore(state);
  lastKind = null;
  changed();
}

function named(name) {
  if (name === "cue") return layout.find("cue", 0);
  if (name === "unread") return undefined;
  return layout.find("object", Number(name));
}

function choose(ball) {
  chosen = ball;
  lastKind = null;
  show();
}

function place(name) {
  const there = named(name);
  if (there) return choose(there);
  const at = layout.balls.length < MOST_BALLS ? layout.anywhere() : null;
  if (!at) return status(words.full);
  change(null, () => {
    const number = name === "cue" ? 0 : name === "unread" ? null : Number(name);
    chosen = { kind: name === "cue" ? "cue" : "object", number, ...at };
    layout.balls.push(chosen);
  });
  status(words.placed(words.name(chosen)));
}

function remove(ball) {
  if (!ball) return;
  change(null, () => {
    layout.balls.splice(layout.balls.indexOf(ball), 1);
    chosen = null;
  });
  status(words.removed(words.name(ball)));
  table.closest(".stage").scrollIntoView({ block: "nearest" });
}

function moveTo(ball, x, y, kind) {
  const at = layout.free(x, y, ball);
  if (at) change(kind, () => Object.assign(ball, at));
}

function rack(without) {
  change(null, () => {
    const places = layout.rack(without);
    const loose = without ? [...layout.balls].reverse().find((b) => b.kind === "object") : undefined;
    const cue = layout.find("cue", 0);
    const numbers = [...Array(15).keys()].map((at) => at + 1).filter((n) => n !== loose?.number);
    const racked = places.map((at, i) => ({ kind: "object", number: numbers[i], ...at }));
    layout.balls = racked;
    for (const ball of [loose, cue].filter(Boolean)) {
      Object.assign(ball, layout.free(ball.x, ball.y, ball) ?? layout.anywhere());
      layout.balls.push(ball);
    }
    chosen = null;
  });
}

function begin(next, text) {
  change(null, () => {
    layout = next;
    chosen = null;
  });
  status(text);
}

// --- Pointer ---------------------------------------------------------------------------------

let drag = null;

// The pointer chooses by nearness; the browser would focus whatever lies on top.
table.addEventListener("mousedown", (event) => event.preventDefault());

table.addEventListener("pointerdown", (event) => {
  if (event.button !== 0) return;
  const at = placeOf(event);
  const ball = nearest(layout, at);
  drag = { ball, from: [event.clientX, event.clientY], moved: false };
  if (!ball) return;
  event.preventDefault();
  // The ball keeps its place under the finger, so that taking it does not move it.
  drag.offset = { x: ball.x - at.x, y: ball.y - at.y };
  table.setPointerCapture(event.pointerId);
  choose(ball);
  elementOf(ball)?.focus({ preventScroll: true });
});

table.addEventListener("pointermove", (event) => {
  if (!drag) return;
  const far = Math.hypot(event.clientX - drag.from[0], event.clientY - drag.from[1]);
  if (!drag.moved && far < TAP_PX / 2) return;
  drag.moved = true;
  if (!drag.ball) return;
  const at = placeOf(event);
  moveTo(drag.ball, at.x + drag.offset.x, at.y + drag.offset.y, "drag");
});

// A tap on bare cloth puts the chosen ball there: dragging is never needed.
table.addEventListener("pointerup", (event) => {
  if (drag && !drag.ball && !drag.moved && chosen) {
    const at = placeOf(event);
    if (at.x > 0 && at.x < 8 && at.y > 0 && at.y < 4) {
      moveTo(chosen, at.x, at.y, null);
      status(labelOf(chosen));
    }
  }
  drag = null;
  lastKind = null;
});
table.addEventListener("pointercancel", () => (drag = null));

// --- Keys ------------------------------------------------------------------------------------

// Arrow keys go where they point on the screen, whichever way the table stands.
const WAYS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

ballsGroup.addEventListener("focusin", (event) => {
  const { ball } = event.target.closest(".ball");
  if (ball && ball !== chosen) choose(ball);
});

ballsGroup.addEventListener("keydown", (event) => {
  if (!chosen || event.ctrlKey || event.metaKey) return;
  if (event.key === "Delete" || event.key === "Backspace") {
    event.preventDefault();
    return remove(chosen);
  }
  let way = WAYS[event.key];
  if (!way) return;
  event.preventDefault();
  if (portrait.matches) way = [way[1], -way[0]];
  const by = event.shiftKey ? STEPS.large : event.altKey ? STEPS.small : STEPS.usual;
  moveTo(chosen, chosen.x + by * way[0], chosen.y + by * way[1], "keys");
  status(labelOf(chosen));
});

document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.target.closest("input")) return;
  if (event.key === "z" && !event.shiftKey) step(past, future);
  else if (event.key === "y" || event.key === "Z") step(future, past);
  else return;
  event.preventDefault();
});

// --- Tools -----------------------------------------------------------------------------------

byId("tray").addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (button) place(button.dataset.ball);
});
for (const [id, axis] of [["along", "x"], ["across", "y"]])
  byId(id).addEventListener("change", (event) => {
    const value = Number(event.target.value);
    if (chosen && event.target.value !== "" && Number.isFinite(value))
      moveTo(chosen, axis === "x" ? value : chosen.x, axis === "y" ? value : chosen.y, null);
    event.target.value = chosen ? chosen[axis].toFixed(2) : "";
  });
byId("remove").addEventListener("click", () => remove(chosen));
byId("size").addEventListener("change", (event) =>
  change(null, () => {
    const [length_mm, width_mm] = event.target.value.split("x").map(Number);
    layout.table = { length_mm, width_mm, ball_diameter_mm: Number(byId("main").dataset.ball) };
    for (const ball of layout.balls) Object.assign(ball, layout.free(ball.x, ball.y, ball) ?? {});
  }),
);
byId("fifteen").addEventListener("click", () => rack(0));
byId("fourteen").addEventListener("click", () => rack(1));
byId("round").addEventListener("click", () => change(null, () => layout.turnRound()));
byId("clear").addEventListener("click", () =>
  change(null, () => {
    layout.balls = [];
    chosen = null;
  }),
);
byId("undo").addEventListener("click", () => step(past, future));
byId("redo").addEventListener("click", () => step(future, past));
byId("link").addEventListener("click", async () => {
  clearTimeout(addressSoon);
  history.replaceState(null, "", `/draw#${layout.fragment()}`);
  status(await copyLink(location.href));
});
for (const button of document.querySelectorAll("[data-save]"))
  button.addEventListener("click", async () => {
    const failed = await save(layout.json(), button.dataset.save);
    if (failed) status(failed);
  });

byId("photo").addEventListener("change", async (event) => {
  const file = event.target.files[0];
  if (!file) return;
  status(words.reading);
  try {
    const answer = await fetch("/api/readings", {
      method: "POST",
      headers: { "content-type": file.type },
      body: file,
    }).catch(() => {
      throw new Error(words.unreachable);
    });
    const body = await answer.json();
    if (!answer.ok) throw new Error(body.detail);
    begin(Layout.of(body), words.read(body.balls.length));
    URL.revokeObjectURL(byId("shown").src);
    byId("shown").src = URL.createObjectURL(file);
    byId("shown").hidden = false;
  } catch (error) {
    status(words.failed(error.message));
  }
  // The same file can be chosen again.
  event.target.value = "";
});

// --- Beginning -------------------------------------------------------------------------------

function fromAddress() {
  if (location.hash.length < 2) return;
  try {
    begin(Layout.fromFragment(decodeURIComponent(location.hash.slice(1))), "");
  } catch {
    status(words.badLink);
  }
}

async function fromRest(id) {
  try {
    const answer = await fetch(`/api/layouts/${id}`);
    const body = await answer.json();
    if (!answer.ok) throw new Error(body.detail);
    begin(Layout.of(body.layout), "");
  } catch (error) {
    status(words.failed(error.message));
  }
}

turnTable();
show();
const rest = byId("main").dataset.rest;
if (location.hash.length > 1) fromAddress();
else if (rest) fromRest(rest);
addEventListener("hashchange", fromAddress);
addEventListener("resize", show);
portrait.addEventListener("change", () => {
  turnTable();
  show();
});
