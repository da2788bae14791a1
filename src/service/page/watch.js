// Keeps the watching page fresh: follows the events, puts new parts in place of old ones, lets
// ages grow, and never lets what is old pass for live. The page is complete without it.

import { correct, keep } from "./correct.js";
import { follow } from "./follow.js";
import { own } from "./own.js";
import { came, parsed, put } from "./parts.js";
import { growAges, localTimes } from "./times.js";
import { words } from "./words.js";

const main = document.getElementById("main");
const byId = (id) => document.getElementById(id);
const camera = main.dataset.camera;
const which = camera ? `?camera=${encodeURIComponent(camera)}` : "";

// What the score tells that changes what is shown.
const SCORE = ["attempt_began", "shot", "re_rack", "placing", "attempt_over", "question", "settled",
  "rescored", "withdrawn", "practice"];
// Several events come with one rest.
const GATHER_MS = 15;
const LOOK_AT_CAMERA_MS = 2000;
const SAID_FOR_MS = 60000;
// A tap that was meant for what stood here just before.
const TOO_SOON_MS = 500;

let asked = { rest: byId("ask")?.querySelector(".question")?.dataset.rest, at: 0 };
let frameAt = null;
let gathering = null;

// --- Parts -----------------------------------------------------------------------------------

const PARTS = ["score", "ask", "lying", "seeing", "recent"];

// A picture is shown once it is there: no flash of nothing in between.
async function loaded(parts) {
  const pictures = [...parts.querySelectorAll("#lying img")].map((picture) => {
    const early = new Image();
    early.src = picture.src;
    return early.decode().catch(() => {});
  });
  await Promise.race([Promise.all(pictures), new Promise((done) => setTimeout(done, 1000))]);
}

async function refresh() {
  const answer = await fetch(`/parts${which}`).catch(() => null);
  if (!answer?.ok) return;
  const parts = parsed(await answer.text());
  for (const id of ["score", "ask", "seeing"]) put(parts.getElementById(id));
  const now = byId("ask").querySelector(".question")?.dataset.rest;
  if (now !== asked.rest) asked = { rest: now, at: performance.now() };
  own.shown(byId("run"));
  readOut();
  noteFrame();
  await loaded(parts);
  for (const id of ["lying", "recent"]) put(parts.getElementById(id));
}

// For those who do not see the page: what is new of the run, the rack and what is asked.
let known = null;

function readOut() {
  const run = byId("run") ? words.run(byId("run").dataset.run) : "";
  const asked = [...byId("ask").querySelectorAll(".due, .question h2")];
  const now = [run, ...asked.map((element) => element.textContent)].filter(Boolean);
  const news = known ? now.filter((text) => !known.includes(text)) : [];
  known = now;
  if (news.length > 0) byId("told").textContent = news.join(" · ");
}

function refreshSoon() {
  clearTimeout(gathering);
  gathering = setTimeout(refresh, GATHER_MS);
}

// --- The camera ------------------------------------------------------------------------------

function noteFrame() {
  const age = byId("last-frame")?.dataset.ageMs;
  frameAt = age === undefined ? null : performance.now() - Number(age);
}

async function lookAtCamera() {
  if (document.hidden || main.dataset.live !== "true") return;
  const answer = await fetch("/api/cameras").catch(() => null);
  const all = answer?.ok ? await answer.json() : [];
  const status = all.find((status) => status.name === camera);
  if (status?.last_frame_age_ms == null || !byId("last-frame")) return;
  frameAt = performance.now() - status.last_frame_age_ms;
  // What the server calls live changes with time alone, which no event tells.
  const live = status.health === "live" && status.last_frame_age_ms <= 1000 * status.stale_after_s;
  if (String(live) !== byId("lying").querySelector("figure")?.dataset.seen) refreshSoon();
}

function tick() {
  growAges();
  if (frameAt !== null && byId("last-frame"))
    byId("last-frame").textContent = words.lastFrame(
      Math.max(0, Math.floor((performance.now() - frameAt) / 1000)),
    );
}

// --- Following -------------------------------------------------------------------------------

function say(live) {
  main.dataset.live = live;
  byId("link").textContent = live ? words.connected : words.notConnected;
}

const score = (kind) => (told) => {
  if (told.camera !== camera) return;
  own.told(kind, told.data);
  refreshSoon();
};

const heard = {
  live(live) {
    say(live);
    if (live && camera) refreshSoon();
  },
  // What is missing is in the page, drawn anew.
  gap: () => location.reload(),
  rest(told) {
    // The first rest of all: the page has no place for it yet.
    if (!camera) location.reload();
    else if (told.camera === camera) refreshSoon();
  },
  camera(told) {
    if (camera && told.name === camera) refreshSoon();
  },
  ...Object.fromEntries(SCORE.map((kind) => [kind, score(kind)])),
};

// --- Answers ---------------------------------------------------------------------------------

let saidUntil = null;

function showSaid(text, undo) {
  const said = byId("said");
  said.replaceChildren(text);
  if (undo) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = words.undo;
    button.addEventListener("click", undo);
    said.append(" ", button);
  }
  said.hidden = false;
  byId("told").textContent = text;
  clearTimeout(saidUntil);
  saidUntil = setTimeout(() => (said.hidden = true), SAID_FOR_MS);
}

async function answer(button) {
  const { rest, step, words: text } = button.dataset;
  if (rest === asked.rest && performance.now() - asked.at < TOO_SOON_MS && asked.at > 0) return;
  for (const other of byId("ask").querySelectorAll("button")) other.disabled = true;
  try {
    // Nothing was said yet of a rest that is asked about.
    await correct(Number(rest), JSON.parse(step), null);
    showSaid(words.answered(text), async () => {
      try {
        await correct(Number(rest), null, JSON.parse(step));
        showSaid(words.takenBack);
      } catch (error) {
        showSaid(error.message);
      }
    });
    await refresh();
  } catch (error) {
    showSaid(error.message);
    if (error.meanwhile) await refresh();
    for (const other of byId("ask").querySelectorAll("button")) other.disabled = false;
  }
}

async function endPractice(button) {
  button.disabled = true;
  try {
    await keep("/api/practice", { camera, on: false });
    showSaid(words.practiceOver);
    await refresh();
  } catch (error) {
    showSaid(error.message);
    button.disabled = false;
  }
}

function listen() {
  byId("ask").addEventListener("click", (event) => {
    const practice = event.target.closest("button[data-practise]");
    if (practice) endPractice(practice);
    const button = event.target.closest("button[data-step]");
    if (button) answer(button);
  });
  document.addEventListener("keydown", (event) => {
    const busy = event.target.closest("input, textarea, select");
    if (busy || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    if (!own.keysAnswer() || !/^[123]$/.test(event.key)) return;
    const button = byId("ask").querySelectorAll("button[data-step]")[Number(event.key) - 1];
    if (button && !button.disabled) answer(button);
  });
}

if (camera) came(PARTS);
localTimes();
if (camera) {
  own.start();
  own.shown(byId("run"));
  readOut();
  noteFrame();
  listen();
  setInterval(tick, 1000);
  setInterval(lookAtCamera, LOOK_AT_CAMERA_MS);
  document.addEventListener("visibilitychange", () => document.hidden || refreshSoon());
}
follow(main.dataset.last, heard);
