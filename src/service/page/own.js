// What each screen sets for itself: spoken count, sound, keys, goal; and that it stays lit.
// All of it is remembered on this device, and off until it is turned on.

import { words } from "./words.js";

const byId = (id) => document.getElementById(id);
const KEPT = "stillcloth.screen";
const USUAL = { speak: false, beep: false, keys: true, goal: "" };

let kept = { ...USUAL };
let sound = null;

function recall() {
  try {
    kept = { ...USUAL, ...JSON.parse(localStorage.getItem(KEPT) ?? "{}") };
  } catch {
    // A browser that keeps nothing, or keeps something else under this name.
  }
}

function keep() {
  try {
    localStorage.setItem(KEPT, JSON.stringify(kept));
  } catch {
    // It holds for as long as the page is open.
  }
}

function speak(text) {
  if (!kept.speak || !("speechSynthesis" in window)) return;
  speechSynthesis.cancel();
  const said = new SpeechSynthesisUtterance(text);
  said.lang = "en";
  speechSynthesis.speak(said);
}

// Two soft tones; lower ones where a run has ended.
function beep(pitch) {
  if (!kept.beep) return;
  sound ??= new AudioContext();
  sound.resume();
  const from = sound.currentTime;
  [1, 1.25].forEach((step, at) => {
    const tone = sound.createOscillator();
    const level = sound.createGain();
    tone.frequency.value = pitch * step;
    level.gain.setValueAtTime(0.0001, from + at * 0.14);
    level.gain.exponentialRampToValueAtTime(0.12, from + at * 0.14 + 0.02);
    level.gain.exponentialRampToValueAtTime(0.0001, from + at * 0.14 + 0.22);
    tone.connect(level).connect(sound.destination);
    tone.start(from + at * 0.14);
    tone.stop(from + at * 0.14 + 0.25);
  });
}

let lock = null;

async function stayAwake() {
  if (document.hidden) return;
  try {
    lock = await navigator.wakeLock.request("screen");
    byId("awake").textContent = words.awake;
    lock.addEventListener("release", () => {
      if (!document.hidden) byId("awake").textContent = words.mayGoDark;
    });
  } catch {
    byId("awake").textContent = words.mayGoDark;
  }
}

function showGoal(run) {
  let line = byId("to-goal");
  const goal = Number(kept.goal);
  if (!(goal > 0) || !run) return line?.remove();
  if (!line) {
    line = document.createElement("p");
    line.id = "to-goal";
    byId("score").append(line);
  }
  line.textContent = words.toGoal(Number(run.dataset.run), goal);
}

export const own = {
  start() {
    recall();
    byId("own").hidden = false;
    for (const id of ["speak", "beep", "keys"]) {
      byId(id).checked = kept[id];
      byId(id).addEventListener("change", (event) => {
        kept[id] = event.target.checked;
        keep();
        // A sound at once tells that it works, and browsers allow sound after a tap alone.
        if (id === "beep") beep(440);
        if (id === "speak") speak(byId("run")?.dataset.run ?? "");
      });
    }
    byId("goal").value = kept.goal;
    byId("goal").addEventListener("input", (event) => {
      kept.goal = event.target.value;
      keep();
      showGoal(byId("run"));
    });
    stayAwake();
    document.addEventListener("visibilitychange", stayAwake);
  },

  keysAnswer: () => kept.keys,

  // The score as it now stands on the page.
  shown: (run) => showGoal(run),

  // Something happened to the score.
  told(kind, data) {
    if (kind === "shot" && data.potted > 0) {
      speak(String(data.run));
      beep(523);
    } else if (kind === "attempt_over") {
      speak(words.ended(data.run, data.cause));
      beep(262);
    } else if (kind === "re_rack") {
      speak(`${words.reRack} ${data.rack}`);
    } else if (kind === "placing") {
      speak(data.words);
    } else if (kind === "question") {
      speak(data.text);
      beep(392);
    }
  },
};
