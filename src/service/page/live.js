// Keeps the page fresh: follows the layouts live, lets ages grow, says when a rest is stale.
// The page is complete without it.

const main = document.getElementById("main");
const byId = (id) => document.getElementById(id);
const RECENT = 12;

function duration(seconds) {
  if (seconds < 120) return `${seconds} s`;
  if (seconds < 7200) return `${Math.floor(seconds / 60)} min`;
  if (seconds < 172800) return `${Math.floor(seconds / 3600)} h`;
  return `${Math.floor(seconds / 86400)} days`;
}

const clock = (at) =>
  new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit" });

function inWords(layout) {
  const objects = layout.balls.filter((ball) => ball.kind === "object").length;
  const words = `${objects} object ball${objects === 1 ? "" : "s"}`;
  const cue = layout.balls.some((ball) => ball.kind === "cue");
  return cue ? `cue ball and ${words}` : `${words}, no cue ball`;
}

const ballCount = (count) => (count === 1 ? "1 ball" : `${count} balls`);

// Times in the reader's own zone.
function localTimes() {
  for (const time of document.querySelectorAll("time.clock, #recent time"))
    time.textContent = clock(time.dateTime);
  for (const time of document.querySelectorAll("time[data-full]"))
    time.textContent = new Date(time.dateTime).toLocaleString();
}

// A page's clock may differ from the server's: never show an age below nothing.
function tick() {
  const age = byId("age");
  if (!age) return;
  const seconds = Math.max(0, Math.floor((Date.now() - Date.parse(age.dateTime)) / 1000));
  age.textContent = `${duration(seconds)} ago`;
  const stale = seconds > Number(main.dataset.staleAfter);
  main.dataset.stale = stale;
  byId("stale").hidden = !stale;
}

// The rest at the top moves down into the list.
function moveDown() {
  const list = byId("recent");
  const item = byId("recent-item").content.cloneNode(true);
  const link = item.querySelector("a");
  const at = byId("age").dateTime;
  link.href = byId("drawing-link").getAttribute("href");
  link.querySelector("img").src = byId("drawing").getAttribute("src");
  link.querySelector("time").dateTime = at;
  link.querySelector("time").textContent = clock(at);
  link.querySelector("span").textContent = ballCount(Number(byId("count").textContent));
  list.prepend(item);
  while (list.children.length > RECENT) list.lastElementChild.remove();
}

function show(rest) {
  // The very first rest: the page has no place for it yet.
  if (!byId("drawing")) return location.reload();
  // A page that comes back may be told again what it shows.
  if (rest.id <= Number(main.dataset.rest)) return;
  moveDown();
  main.dataset.rest = rest.id;
  const words = inWords(rest.layout);
  byId("drawing").src = `/api/layouts/${rest.id}/diagram.svg`;
  byId("drawing").alt = words;
  byId("drawing-link").href = `/layouts/${rest.id}`;
  byId("count").textContent = rest.layout.balls.length;
  byId("what").textContent = words;
  byId("camera").textContent = rest.camera;
  for (const time of [byId("age"), byId("clock")]) time.dateTime = rest.at;
  byId("clock").textContent = clock(rest.at);
  const item = cameraItem(rest.camera);
  if (item?.dataset.staleAfter) main.dataset.staleAfter = item.dataset.staleAfter;
  tick();
}

const cameraItem = (name) =>
  [...byId("cameras").children].find((item) => item.dataset.camera === name);

function showCamera(status) {
  cameraItem("")?.remove();
  let item = cameraItem(status.name);
  if (!item) {
    item = document.createElement("li");
    item.dataset.camera = status.name;
    item.append(document.createElement("strong"), " ", document.createElement("span"));
    item.querySelector("strong").textContent = status.name;
    byId("cameras").append(item);
  }
  item.dataset.state = status.state;
  item.dataset.staleAfter = status.stale_after_s;
  item.querySelector("span").textContent = status.words;
}

function follow() {
  const events = new EventSource(`/api/events?after=${main.dataset.last}`);
  const say = (words, live) => {
    byId("link").textContent = words;
    byId("link").dataset.live = live;
    // How a camera is doing is not known without a connection.
    byId("cameras").hidden = !live;
  };
  events.addEventListener("open", () => say("Live", true));
  events.addEventListener("layout", (event) => {
    if (event.lastEventId) main.dataset.last = event.lastEventId;
    show(JSON.parse(event.data));
  });
  // What is missing is in the page, drawn anew.
  events.addEventListener("gap", () => location.reload());
  events.addEventListener("camera", (event) => showCamera(JSON.parse(event.data)));
  events.addEventListener("error", () => {
    say("No connection to the program. Trying again …", false);
    if (events.readyState === EventSource.CLOSED) setTimeout(follow, 3000);
  });
}

localTimes();
if (byId("link")) {
  tick();
  setInterval(tick, 1000);
  follow();
}
