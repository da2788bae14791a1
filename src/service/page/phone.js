// A device as a camera: shows what it sees, sends a frame after the other by requests of this page,
// and goes on after a locked screen, a lost network and a restart of the program.

import "./pair.js";
import { words } from "./words.js";

const EVERY_MS = 250;
const ON_THE_WAY = 2;
const LONGEST_PAUSE_MS = 8000;
const GIVEN_UP_MS = 40000;
const QUALITY = 0.85;

const byId = (id) => document.getElementById(id);
const video = byId("preview");
const canvas = document.createElement("canvas");

// The same name again after the page was loaded anew, so that it is known for the same sender.
const sender = (() => {
  const known = sessionStorage.getItem("sender");
  const name = known ?? Array.from(crypto.getRandomValues(new Uint8Array(8)), (byte) => byte.toString(16)).join("");
  sessionStorage.setItem("sender", name);
  return name;
})();

let running = false;
let stream = null;
let opening = false;
let onTheWay = 0;
let pause = 0;
let notBefore = 0;
let sent = 0;
let lock = null;

const say = (text, kind = "") => {
  byId("phone-status").textContent = text;
  byId("phone-status").dataset.kind = kind;
};

const camera = () => byId("phone-name").value.trim() || "phone";

// Why there is no camera, and what to do about it

function noCamera(why, { encrypted = false } = {}) {
  byId("no-camera-why").textContent = why;
  byId("no-camera").hidden = false;
  byId("encrypted").hidden = !encrypted;
}

function mayFilm() {
  if (!window.isSecureContext) noCamera(words.notEncrypted, { encrypted: true });
  else if (!navigator.mediaDevices?.getUserMedia) noCamera(words.noCameraHere);
  else return true;
  byId("camera-part").hidden = true;
  return false;
}

// The camera

async function open() {
  if (opening) return;
  opening = true;
  close();
  try {
    stream = await navigator.mediaDevices.getUserMedia({
      audio: false,
      video: { facingMode: { ideal: "environment" }, width: { ideal: 1920 }, height: { ideal: 1080 } },
    });
    for (const track of stream.getVideoTracks()) track.addEventListener("ended", reopen);
    video.srcObject = stream;
    await video.play();
    byId("no-camera").hidden = true;
    say(words.cameraOn);
  } catch (error) {
    close();
    const why = words.cameraErrors[error.name] ?? words.cameraFailed(error.message);
    noCamera(why);
    say(words.cameraOff, "bad");
    // Refused for good, or there is none: asking again would only ask again.
    if (["NotAllowedError", "NotFoundError"].includes(error.name)) stop();
    else if (running) setTimeout(reopen, LONGEST_PAUSE_MS / 2);
  }
  opening = false;
  await stayAwake();
}

function close() {
  for (const track of stream?.getTracks() ?? []) {
    track.removeEventListener("ended", reopen);
    track.stop();
  }
  stream = null;
}

function reopen() {
  if (running && !document.hidden) open();
}

const films = () => stream?.getVideoTracks().some((track) => track.readyState === "live" && !track.muted);

async function stayAwake() {
  if (!running || document.hidden || !window.isSecureContext) return;
  try {
    if (!navigator.wakeLock) throw new Error();
    if (!lock || lock.released) lock = await navigator.wakeLock.request("screen");
    byId("awake").textContent = words.awake;
  } catch {
    byId("awake").textContent = words.mayGoDark;
  }
}

// Sending

function picture() {
  if (video.readyState < 2 || !video.videoWidth) return null;
  canvas.width = video.videoWidth;
  canvas.height = video.videoHeight;
  canvas.getContext("2d").drawImage(video, 0, 0);
  return new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
}

const wait = (least) => {
  pause = Math.min(Math.max(2 * pause, least), LONGEST_PAUSE_MS);
  notBefore = performance.now() + pause;
};

async function send(blob) {
  const answer = await fetch(`/api/cameras/${encodeURIComponent(camera())}/frames?sender=${sender}`, {
    method: "POST",
    headers: { "content-type": "image/jpeg" },
    body: blob,
    signal: AbortSignal.timeout(GIVEN_UP_MS),
  });
  const told = await answer.json().catch(() => ({}));
  if (!running) return;
  if (answer.ok) {
    pause = 0;
    sent += 1;
    say(words.sending(sent), "good");
    byId("seen").textContent = told.why ?? told.words ?? "";
  } else if (answer.status === 401) {
    say(words.pairAgain, "bad");
    byId("seen").textContent = told.detail ?? "";
    wait(LONGEST_PAUSE_MS);
  } else {
    say(words.notTaken, "bad");
    byId("seen").textContent = told.detail ?? answer.statusText;
    wait(answer.status === 409 ? 4000 : 1000);
  }
}

async function tick() {
  if (running && films() && onTheWay < ON_THE_WAY && performance.now() >= notBefore) {
    onTheWay += 1;
    try {
      const blob = await picture();
      // Not awaited: the next picture need not wait until this one was looked at.
      if (blob)
        send(blob)
          .catch(() => {
            wait(1000);
            if (running) say(words.phoneNotConnected, "bad");
          })
          .finally(() => (onTheWay -= 1));
      else onTheWay -= 1;
    } catch {
      onTheWay -= 1;
    }
  }
  setTimeout(tick, EVERY_MS);
}

// What the user does

const setup = () => `/setup?camera=${encodeURIComponent(camera())}`;

function remember() {
  localStorage.setItem("phone-name", camera());
  if (running) localStorage.setItem("phone-running", "yes");
  else localStorage.removeItem("phone-running");
  byId("to-setup").href = setup();
}

function start() {
  if (!byId("phone-name").checkValidity()) {
    say(words.badName, "bad");
    return;
  }
  running = true;
  [pause, notBefore] = [0, 0];
  byId("start").disabled = true;
  byId("stop").disabled = false;
  byId("phone-name").disabled = true;
  say(words.opening);
  remember();
  open();
}

function stop() {
  running = false;
  close();
  lock?.release();
  lock = null;
  video.srcObject = null;
  byId("start").disabled = false;
  byId("stop").disabled = true;
  byId("phone-name").disabled = false;
  byId("awake").textContent = "";
  byId("seen").textContent = "";
  say(words.cameraOff);
  remember();
}

document.addEventListener("visibilitychange", () => {
  if (document.hidden || !running) return;
  notBefore = 0;
  // A locked screen takes the camera from some pages, and from others only for a moment.
  if (!films()) setTimeout(() => films() || reopen(), 1000);
  stayAwake();
});
window.addEventListener("online", () => (notBefore = 0));

// One photo

function sendPhoto(file) {
  if (!["image/jpeg", "image/png", "image/webp"].includes(file.type)) {
    byId("photo-status").textContent = words.wrongType;
    return;
  }
  const name = `${camera().slice(0, 34)}-photo`;
  const request = new XMLHttpRequest();
  const progress = byId("photo-progress");
  const done = (text) => {
    progress.hidden = true;
    byId("photo").disabled = false;
    byId("photo-status").textContent = text;
  };
  progress.value = 0;
  progress.hidden = false;
  byId("photo").disabled = true;
  byId("photo-result").hidden = true;
  byId("photo-status").textContent = words.sendingPhoto(file.size);
  request.upload.addEventListener("progress", ({ loaded, total }) => {
    progress.value = total ? loaded / total : 0;
    if (loaded === total) byId("photo-status").textContent = words.reading;
  });
  request.addEventListener("error", () => done(words.failed(words.unreachable)));
  request.addEventListener("load", () => {
    const told = request.response ?? {};
    if (request.status !== 201) {
      done(words.failed(told.detail ?? request.statusText));
      return;
    }
    byId("photo-drawing").src = `/api/layouts/${told.id}/diagram.svg`;
    byId("photo-rest").href = `/layouts/${told.id}`;
    byId("photo-result").hidden = false;
    done(words.photoRead(told.layout.balls.length));
  });
  request.responseType = "json";
  request.open("POST", `/api/frames?camera=${encodeURIComponent(name)}`);
  request.setRequestHeader("content-type", file.type);
  request.send(file);
}

if (byId("start")) {
  byId("phone-name").value = localStorage.getItem("phone-name") ?? "phone";
  byId("to-setup").href = setup();
  byId("start").addEventListener("click", start);
  byId("stop").addEventListener("click", stop);
  byId("phone-name").addEventListener("change", remember);
  byId("photo").addEventListener("change", () => {
    const [file] = byId("photo").files;
    if (file) sendPhoto(file);
    byId("photo").value = "";
  });
  if (mayFilm()) {
    tick();
    if (localStorage.getItem("phone-running")) start();
  }
}
