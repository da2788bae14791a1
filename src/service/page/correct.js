// The user's word, sent to the program.

import { words } from "./words.js";

// Sends something to be kept, of a media type; throws with words for the user, tells whether somebody
// else was quicker, and hands on what the program answers.
export async function send(address, type, body) {
  let answer;
  try {
    answer = await fetch(address, { method: "POST", headers: { "content-type": type }, body });
  } catch {
    throw new Error(words.notKept(words.unreachable));
  }
  if (!answer.ok) {
    const problem = await answer.json().catch(() => ({}));
    const why = words.notKept(problem.detail ?? answer.statusText);
    throw Object.assign(new Error(why), { meanwhile: answer.status === 409 });
  }
  return answer.json();
}

// The same of what is written as JSON.
export const keep = (address, body) => send(address, "application/json", JSON.stringify(body));

// What a rest's step was, null to take it back; and what the user sees to be said of it so far.
export const correct = (rest, step, insteadOf) =>
  keep("/api/corrections", { rest, step, instead_of: insteadOf });
