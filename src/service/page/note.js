// The user's note, sent to the program.

import { keep } from "./correct.js";

const said = document.getElementById("note-said");
const text = document.getElementById("note-text");

export function listenForNotes() {
  document.querySelector("button[data-note]")?.addEventListener("click", async ({ target }) => {
    const { note, about, insteadOf } = target.dataset;
    target.disabled = true;
    try {
      await keep("/api/notes", { rest: Number(note), about, text: text.value, instead_of: insteadOf });
      location.reload();
    } catch (error) {
      // The text stays in its field, so that nothing is lost.
      said.textContent = error.message;
      said.focus();
      target.disabled = false;
    }
  });
}
