// The user's word, sent to the program.

import { words } from "./words.js";

// Sends something to be kept; throws with words for the user.
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
    throw new Error(words.notKept(problem.detail ?? answer.statusText));
  }
}

// What a rest's step was, null to take it back.
export const correct = (rest, step) => keep("/api/corrections", { rest, step });
