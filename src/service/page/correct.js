// The user's word, sent to the program.

import { words } from "./words.js";

// Sends something to be kept; throws with words for the user, and tells whether somebody else was
// quicker.
export async function keep(address, body) {
  let answer;
  try {
    answer = await fetch(address, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(body),
    });
  } catch {
    throw new Error(words.notKept(words.unreachable));
  }
  if (!answer.ok) {
    const problem = await answer.json().catch(() => ({}));
    const why = words.notKept(problem.detail ?? answer.statusText);
    throw Object.assign(new Error(why), { meanwhile: answer.status === 409 });
  }
}

// What a rest's step was, null to take it back; and what the user sees to be said of it so far.
export const correct = (rest, step, insteadOf) =>
  keep("/api/corrections", { rest, step, instead_of: insteadOf });
