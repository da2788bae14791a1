// Parts of a page that the program words anew: put in place where they differ, so that what is
// under a finger stays.

import { localTimes } from "./times.js";

const byId = (id) => document.getElementById(id);
// The parts' markup as the program wrote it.
const written = new Map();

export const parsed = (text) => new DOMParser().parseFromString(text, "text/html");

// Notes what the page came with.
export function came(ids) {
  for (const id of ids) written.set(id, byId(id).innerHTML);
}

export function put(part) {
  if (written.get(part.id) === part.innerHTML) return;
  written.set(part.id, part.innerHTML);
  localTimes(part);
  byId(part.id).replaceChildren(...part.childNodes);
}
