// The user's word about a rest, sent to the program.

import { words } from "./words.js";

// Sends what a step was, null to take it back; throws with words for the user.
export async function correct(rest, step) {
  let answer;
  try {
    answer = await fetch("/api/corrections", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ rest, step }),
    });
  } catch {
    throw new Error(words.notKept(words.unreachable));
  }
  if (!answer.ok) {
    const problem = await answer.json().catch(() => ({}));
    throw new Error(words.notKept(problem.detail ?? answer.statusText));
  }
}
