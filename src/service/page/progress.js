// Progress: the goal, set here, kept on this device and told to the server by the address alone.

import { words } from "./words.js";

const KEPT = "stillcloth.goal";
const byId = (id) => document.getElementById(id);
const camera = document.querySelector("main").dataset.camera;

function recall() {
  try {
    return JSON.parse(localStorage.getItem(KEPT));
  } catch {
    return null; // A browser that keeps nothing, or keeps something else under this name.
  }
}

function go(goal) {
  const query = new URLSearchParams({ camera, ...goal });
  try {
    localStorage.setItem(KEPT, JSON.stringify(goal));
  } catch {
    // It holds for as long as the page is open.
  }
  location.assign(`/progress?${query}`);
}

// Back from elsewhere without a goal in the address: the one that was set last.
const asked = new URLSearchParams(location.search);
const kept = recall();
if (kept && !asked.has("goal") && !asked.has("born")) {
  const query = new URLSearchParams({ camera, ...kept });
  location.replace(`/progress?${query}`);
}

byId("set-balls").addEventListener("click", () => {
  const balls = byId("balls");
  if (!balls.value || !balls.reportValidity()) return balls.focus();
  const by = byId("by").value;
  go(by ? { goal: balls.value, by } : { goal: balls.value });
});

byId("set-age").addEventListener("click", () => {
  const born = byId("born");
  if (!born.value) return born.focus();
  go({ born: born.value });
});

// The day since when something is practised: it parts the plan's comparison.
byId("set-since")?.addEventListener("click", () => {
  const since = byId("since");
  if (!since.value) return since.focus();
  const query = new URLSearchParams(location.search);
  query.set("since", since.value);
  location.assign(`/progress?${query}#plan`);
});

// What a better skill would bring: begun by the button, followed until it is found.
const said = byId("skills-said");

async function followSkills() {
  for (;;) {
    await new Promise((done) => setTimeout(done, 1000));
    const answer = await fetch("/api/skills").catch(() => null);
    const state = answer?.ok ? await answer.json() : null;
    if (!state) {
      said.textContent = words.searchNotHeard;
      return;
    }
    if (state.state !== "running") return location.reload();
    said.textContent = words.searching(state.done, state.of);
  }
}

byId("find-skills")?.addEventListener("click", async () => {
  const query = new URLSearchParams({ camera });
  const answer = await fetch(`/api/skills?${query}`, { method: "POST" }).catch(() => null);
  if (!answer?.ok) {
    const problem = answer ? await answer.json().catch(() => null) : null;
    said.textContent = problem?.detail ?? words.searchNotBegun;
    return;
  }
  byId("find-skills").disabled = true;
  said.textContent = words.searchBegun;
  followSkills();
});
if (said?.dataset.running === "true") followSkills();
