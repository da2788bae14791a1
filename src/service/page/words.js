// The English that scripts write. What the server writes stands in words.rs.

export const duration = (seconds) => {
  if (seconds < 120) return `${seconds} s`;
  if (seconds < 7200) return `${Math.floor(seconds / 60)} min`;
  if (seconds < 172800) return `${Math.floor(seconds / 3600)} h`;
  return `${Math.floor(seconds / 86400)} days`;
};

const count = (number, one, many) => `${number} ${number === 1 ? one : many}`;

export const words = {
  connected: "Connected",
  notConnected: "No connection to the program. What is shown may be old. Trying again …",
  lastFrame: (seconds) => `Last frame ${duration(seconds)} ago.`,
  age: (seconds) => `${duration(seconds)} ago`,
  answered: (answer) => `You said: ${answer}.`,
  takenBack: "Taken back.",
  undo: "Undo",
  notKept: (why) => `That was not kept: ${why}`,
  unreachable: "the program cannot be reached. Try again when it is connected.",
  run: (run) => `Run ${run}`,
  ended: (run, cause) => `Run of ${run}. ${causes[cause] ?? ""}`,
  reRack: "Rack",
  toGoal: (run, goal) => {
    if (run >= goal) return `Goal of ${goal} reached.`;
    const left = goal - run;
    const racks = Math.floor(left / 14);
    const rest = left % 14;
    const parts = [racks && count(racks, "rack", "racks"), rest && count(rest, "ball", "balls")];
    return `${parts.filter(Boolean).join(" and ")} to the goal of ${goal}.`;
  },
  awake: "The screen stays on while this page is open.",
  mayGoDark: "This browser lets the screen go dark here.",
  // Access
  pairing: "Pairing …",
  // Drawing
  ball: (name, x, y) => `${name}, ${x.toFixed(2)} along, ${y.toFixed(2)} across`,
  name: (ball) =>
    ball.kind === "cue" ? "Cue ball" : ball.number ? `Ball ${ball.number}` : "Ball without a number",
  placed: (name) => `${name} placed.`,
  removed: (name) => `${name} removed.`,
  copied: "Link copied.",
  copyIt: "Copy the link from the address bar.",
  badLink: "The link in the address is not one of a drawing.",
  reading: "Reading the photo …",
  read: (balls) => `${count(balls, "ball", "balls")} read. Correct what is wrong.`,
  failed: (why) => `That did not work: ${why}`,
  none: "No ball is chosen.",
  full: "There is no room left on the table.",
};

const causes = {
  miss: "Miss.",
  scratch: "Scratch.",
  foul: "Ball off the table.",
  stopped: "Stopped.",
  unseen: "",
};
