// Review: times in the reader's own zone, and the user's word with one tap.

import { correct } from "./correct.js";
import { listenForNotes } from "./note.js";
import { localTimes } from "./times.js";

// So that what was said is read out after the page has been drawn anew.
const SAID = "stillcloth.said";
const said = document.getElementById("said");

localTimes();
listenForNotes();
if (said && sessionStorage.getItem(SAID)) {
  sessionStorage.removeItem(SAID);
  said.focus({ preventScroll: true });
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest("button[data-step]");
  if (!button) return;
  for (const other of document.querySelectorAll("button[data-step]")) other.disabled = true;
  try {
    await correct(Number(button.dataset.rest), JSON.parse(button.dataset.step));
    sessionStorage.setItem(SAID, "1");
    location.reload();
  } catch (error) {
    said.textContent = error.message;
    said.focus();
    for (const other of document.querySelectorAll("button[data-step]")) other.disabled = false;
  }
});
