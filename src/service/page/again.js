// Set up again: the table held against the wanted layout at each rest, and the shots counted.

import { keep } from "./correct.js";
import { follow } from "./follow.js";
import { Layout } from "./layout.js";
import { came, parsed, put } from "./parts.js";
import { words } from "./words.js";

const main = document.getElementById("main");
const byId = (id) => document.getElementById(id);
const PARTS = ["seeing", "next", "practice", "lies", "balls", "count"];
const LOOK_AGAIN_MS = 5000;

let wanted = null;
let leftOut = [];
let asking = null;

// What the address says, so that a practice can be gone on with after a reload.
function remember() {
  const query = new URLSearchParams(location.search);
  if (main.dataset.camera) query.set("camera", main.dataset.camera);
  query.set("after", main.dataset.after);
  if (leftOut.length > 0) query.set("left_out", leftOut.join(","));
  else query.delete("left_out");
  history.replaceState(null, "", `/again?${query}${location.hash}`);
}

function recall() {
  const given = new URLSearchParams(location.search).get("left_out") ?? "";
  leftOut = given.split(",").filter(Boolean).map(Number).filter(Number.isInteger);
  if (main.dataset.rest) wanted = { rest: Number(main.dataset.rest) };
  else if (location.hash.length > 1) {
    const drawn = Layout.fromFragment(decodeURIComponent(location.hash.slice(1)));
    wanted = { layout: drawn.json() };
  }
}

function failed(text) {
  byId("failed").textContent = text;
  byId("failed").hidden = text === "";
}

async function refresh() {
  if (!wanted) return;
  const own = {};
  asking = own;
  const answer = await fetch("/again/parts", {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify({
      ...wanted,
      camera: main.dataset.camera ?? null,
      after: Number(main.dataset.after),
      left_out: leftOut,
    }),
  }).catch(() => null);
  // A later question has been asked meanwhile, or nobody answers, which the line above tells.
  if (asking !== own || !answer) return;
  const text = await answer.text();
  if (!answer.ok) {
    // What it was asked for may come to be: a camera's first rest.
    failed(words.failed(JSON.parse(text).detail ?? answer.statusText));
    return;
  }
  failed("");
  show(parsed(text));
}

function show(parts) {
  const before = byId("next")?.innerText;
  if (byId("next")) for (const id of PARTS) put(parts.getElementById(id));
  else {
    byId("parts").replaceChildren(...parts.body.childNodes);
    came(PARTS);
  }
  if (!main.dataset.camera) {
    main.dataset.camera = byId("seeing").dataset.camera;
    remember();
  }
  const now = byId("next").querySelector(".now")?.textContent;
  if (byId("next").innerText !== before && now) byId("told").textContent = now;
}

// What was played since the page was opened belongs to the practice.
async function practise(button) {
  const on = button.dataset.practise === "true";
  button.disabled = true;
  try {
    const camera = main.dataset.camera;
    await keep("/api/practice", { camera, on, ...(on && { after: Number(main.dataset.after) }) });
    failed("");
    await refresh();
  } catch (error) {
    failed(error.message);
    button.disabled = false;
  }
}

byId("parts").addEventListener("click", (event) => {
  const practice = event.target.closest("button[data-practise]");
  if (practice) practise(practice);
  const rest = Number(event.target.closest("button[data-leave]")?.dataset.leave);
  if (!rest) return;
  leftOut = leftOut.includes(rest) ? leftOut.filter((other) => other !== rest) : [...leftOut, rest];
  remember();
  refresh();
});

try {
  recall();
} catch {
  failed(words.badLink);
}
if (byId("next")) came(PARTS);
if (wanted) {
  remember();
  refresh();
  setInterval(() => document.hidden || refresh(), LOOK_AGAIN_MS);
  document.addEventListener("visibilitychange", () => document.hidden || refresh());
}
// Another drawing in the address is another practice.
addEventListener("hashchange", () => location.reload());
follow(main.dataset.last, {
  live(live) {
    main.dataset.live = live;
    byId("link").textContent = live ? words.connected : words.notConnected;
    if (live) refresh();
  },
  gap: () => location.reload(),
  rest: refresh,
  practice: refresh,
  camera: refresh,
});
