// Contests: opening one, taking entries in, and what is said of them.

import { keep, send } from "./correct.js";

const byId = (id) => document.getElementById(id);
const told = byId("told");
const { contest } = document.querySelector("main").dataset;

// Does something and shows the page anew; where it fails, says why and keeps what was typed.
async function attempt(button, act) {
  button.disabled = true;
  told.textContent = "";
  try {
    const next = await act();
    if (next) location.assign(next);
    else location.reload();
  } catch (error) {
    told.textContent = error.message;
    told.focus();
    button.disabled = false;
  }
}

// Whether every field is filled as it has to be; the first that is not says so.
const filled = (...fields) => fields.every((field) => field.reportValidity());

const number = (field) => (field.value === "" ? null : Number(field.value));

byId("open")?.addEventListener("click", ({ target }) => {
  const [name, from, to] = ["name", "from", "to"].map(byId);
  if (!filled(name, from, to)) return;
  attempt(target, async () => {
    const { id } = await keep("/api/contests", {
      name: name.value,
      counts: byId("counts").value,
      from: from.value,
      to: to.value,
      table: byId("table").value || null,
    });
    return `/contests/${id}`;
  });
});

byId("upload")?.addEventListener("click", ({ target }) => {
  const [file] = byId("file").files;
  if (!file) return byId("file").click();
  attempt(target, () =>
    send(`/api/contests/${contest}/entries`, "application/x-ndjson", file).then(() => null),
  );
});

byId("by-hand")?.addEventListener("click", ({ target }) => {
  const [player, age, run, day, film] = ["player", "age", "run", "day", "film"].map(byId);
  if (!filled(player, age, run, day, film)) return;
  attempt(target, () =>
    keep(`/api/contests/${contest}/entries/by-hand`, {
      player: player.value,
      age_years: number(age),
      run: number(run),
      day: day.value,
      film: film.value,
    }).then(() => null),
  );
});

for (const button of document.querySelectorAll("button[data-say]")) {
  button.addEventListener("click", () => {
    const { entry, say } = button.dataset;
    const reason = byId(`reason-${entry}`)?.value ?? "";
    attempt(button, () =>
      keep(`/api/contests/${contest}/entries/${entry}/state`, { state: say, reason }).then(() => null),
    );
  });
}
