// The user's word, sent to the program.

import { words } from "./words.js";

// Sends something to be kept, of a media type; throws with words for the user, and hands on what the
// program answers.
export async function send(address, type, body) {
  let answer;
  try {
    answer = await fetch(address, { method: "POST", headers: { "content-type": type }, body });
  } catch {
    throw new Error(words.notKept(words.unreachable));
  }
  if (!answer.ok) {
    const problem = await answer.json().catch(() => ({}));
    throw new Error(words.notKept(problem.detail ?? answer.statusText));
  }
  return answer.json();
}

// The same of what is written as JSON.
export const keep = (address, body) => send(address, "application/json", JSON.stringify(body));

// What a rest's step was, null to take it back.
export const correct = (rest, step) => keep("/api/corrections", { rest, step });
