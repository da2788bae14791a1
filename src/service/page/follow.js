// The program's live events, followed from a place in the record on.

const AGAIN_MS = 2000;

// Calls what is given under an event's name with what it tells; `live` with whether there is a
// connection, and `gap` where events are missing. Begins anew by itself where the connection ends.
export function follow(after, { live, gap, ...heard }) {
  let last = after;
  const events = new EventSource(`/api/events?after=${last}`);
  events.addEventListener("open", () => live(true));
  for (const [kind, hear] of Object.entries(heard))
    events.addEventListener(kind, (event) => {
      if (event.lastEventId) last = event.lastEventId;
      hear(JSON.parse(event.data));
    });
  events.addEventListener("gap", gap);
  events.addEventListener("error", () => {
    live(false);
    if (events.readyState === EventSource.CLOSED)
      setTimeout(() => follow(last, { live, gap, ...heard }), AGAIN_MS);
  });
}
