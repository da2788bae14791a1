// Review: times in the reader's own zone, and the user's word with one tap.

import { correct, keep } from "./correct.js";
import { listenForNotes } from "./note.js";
import { localTimes } from "./times.js";

// So that what was said, or why it was not kept, is read out after the page has been drawn anew.
const SAID = "stillcloth.said";
const said = document.getElementById("said");
const review = document.getElementById("main");

localTimes();
listenForNotes();
const told = sessionStorage.getItem(SAID);
if (said && told !== null) {
  sessionStorage.removeItem(SAID);
  if (told) said.prepend(Object.assign(document.createElement("strong"), { textContent: told }), " ");
  said.focus({ preventScroll: true });
}

const BUTTONS = "button[data-step], button[data-counts-after]";

// What a tap on a button says.
function say({ rest, step, countsAfter, camera }) {
  if (step) return correct(Number(rest), JSON.parse(step), JSON.parse(review.dataset.said));
  return keep("/api/practice", { camera, on: false, after: Number(countsAfter) });
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest(BUTTONS);
  if (!button) return;
  for (const other of document.querySelectorAll(BUTTONS)) other.disabled = true;
  try {
    await say(button.dataset);
    sessionStorage.setItem(SAID, "");
    location.reload();
  } catch (error) {
    if (error.meanwhile) {
      // What the other said is in the page, drawn anew; this is put before it.
      sessionStorage.setItem(SAID, error.message);
      location.reload();
      return;
    }
    said.textContent = error.message;
    said.focus();
    for (const other of document.querySelectorAll(BUTTONS)) other.disabled = false;
  }
});
