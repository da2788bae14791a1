// Times in the reader's own zone, and ages that grow.

import { words } from "./words.js";

const clock = { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" };
const day = { month: "short", day: "numeric", hour: "2-digit", minute: "2-digit", hourCycle: "h23" };

// The year only where it is another one.
function dayOf(at) {
  const year = at.getFullYear() === new Date().getFullYear() ? undefined : "numeric";
  return at.toLocaleString([], { ...day, year });
}

export function localTimes(within = document) {
  for (const time of within.querySelectorAll("time.clock"))
    time.textContent = new Date(time.dateTime).toLocaleTimeString([], clock);
  for (const time of within.querySelectorAll("time.day"))
    time.textContent = dayOf(new Date(time.dateTime));
  growAges(within);
}

// A page's clock may differ from the server's: never show an age below nothing.
export function growAges(within = document) {
  for (const time of within.querySelectorAll("time.age")) {
    const seconds = Math.floor((Date.now() - Date.parse(time.dateTime)) / 1000);
    time.textContent = words.age(Math.max(0, seconds));
  }
}
