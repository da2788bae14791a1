// Pairing a browser with the key that was scanned, behind # in the address, or typed; and
// forgetting all that are paired.

import { words } from "./words.js";

const byId = (id) => document.getElementById(id);

async function ask(address, how) {
  const answer = await fetch(address, how).catch(() => {
    throw new Error(words.unreachable);
  });
  if (!answer.ok) throw new Error((await answer.json().catch(() => ({}))).detail ?? answer.statusText);
}

const show = (key) =>
  ask("/api/pairing", {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify({ key }),
  });

async function pair(key) {
  const status = byId("pair-status");
  if (status) status.textContent = words.pairing;
  try {
    await show(key);
    location.reload();
  } catch (error) {
    if (status) status.textContent = error.message;
  }
}

// The key leaves the address at once: it should stand in no history and on no screen.
const scanned = decodeURIComponent(location.hash.slice(1));
if (scanned) history.replaceState(null, "", location.pathname + location.search);

async function forget() {
  byId("forget").disabled = true;
  byId("forget-status").textContent = words.forgetting;
  try {
    await ask("/api/devices", { method: "DELETE" });
    byId("forget-part").hidden = true;
    byId("forget-status").textContent = words.forgotten;
  } catch (error) {
    byId("forget").disabled = false;
    byId("forget-status").textContent = words.failed(error.message);
  }
}

byId("forget")?.addEventListener("click", forget);

if (byId("pair-form")) {
  const typed = () => pair(byId("pair-key").value);
  byId("pair-button").addEventListener("click", typed);
  byId("pair-key").addEventListener("keydown", (event) => {
    if (event.key === "Enter") typed();
  });
  if (scanned) pair(scanned);
}
