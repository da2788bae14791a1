// The English that scripts write, served as words.js. What the server writes stands in stillcloth.ftl.

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
  practiceOver: "The practice is over: what is played counts again.",
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
  forgetting: "A new key is being made …",
  forgotten: "All other devices are forgotten. The code of the set-up page pairs them again.",
  // Setting up
  looking: "Looking for the table …",
  found: "Found. Drag a corner where the lines do not fit, or keep it.",
  kept: "Kept. The camera goes by it from now on.",
  asKept: "This is what the camera goes by now.",
  grades: { good: "Well found", usable: "Found well enough to use", poor: "Found, but poorly" },
  size: (table, given) => `Table of ${table}, ${given ? "as given" : "taken from the picture"}.`,
  foot: (known, side) =>
    known === "open"
      ? "(nothing in the picture tells)"
      : `(${sides[side]}, ${known === "given" ? "as given" : "seen in the picture"})`,
  corner: (number, x, y) => `Corner ${number} of 4, ${Math.round(x)} across, ${Math.round(y)} down`,
  // A phone as a camera
  notEncrypted:
    "This page came over a connection that is not encrypted, so the browser gives it no camera. Single photos can be sent all the same.",
  noCameraHere: "This browser gives pages no camera. Try another, or send single photos.",
  cameraErrors: {
    NotAllowedError: "The browser was told to give this page no camera. Allow it in the page's settings, then start again.",
    NotFoundError: "No camera was found in this device.",
    NotReadableError: "The camera is in use by another program, or does not answer. It is tried again.",
    AbortError: "The camera broke off. It is tried again.",
  },
  cameraFailed: (why) => `The camera could not be opened (${why}). It is tried again.`,
  opening: "The camera is being opened …",
  cameraOn: "The camera is on.",
  cameraOff: "The camera is off.",
  sending: (sent) => `Sending. ${count(sent, "picture", "pictures")} taken.`,
  notTaken: "The program does not take the pictures. They are tried again.",
  pairAgain: "This device is not paired any more. Scan the code again.",
  phoneNotConnected: "No connection to the program. Trying again …",
  badName: "A camera's name has letters a to z, digits, - and _ alone.",
  wrongType: "This is no JPEG, PNG or WebP picture. Choose another, or let the phone save photos as JPEG.",
  sendingPhoto: (bytes) => `Sending ${(bytes / 1e6).toFixed(1)} MB …`,
  photoRead: (balls) => `${count(balls, "ball", "balls")} read, and kept.`,
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
  // Progress
  searchBegun: "It has begun.",
  searching: (done, of) => `${done} of ${of} positions are played.`,
  searchNotHeard: "No connection to the program. Reload the page to see how far it is.",
  searchNotBegun: "No connection to the program.",
  // Trying a shot
  aimAt: (name) => `${name}; press to aim at it`,
  cue: "The cue's direction",
  degrees: (degrees) => `${degrees.toFixed(1)} degrees`,
  stroke: {
    speed: (value) => `${value.toFixed(1)} m/s`,
    height: (value) => offMiddle(value, "high", "low"),
    side: (value) => offMiddle(value, "right", "left"),
    raised: (value) => `${value.toFixed(0)}°`,
  },
  turnTheCue: "Drag anywhere on the table to turn the cue.",
  goOn: "The balls lie as they came to rest. Play on.",
  wentBack: "The layout before.",
  noCueBall: "There is no cue ball on the table: change the layout to place it.",
  noLayout: "There is no layout yet: draw one, or come from a rest.",
};

const offMiddle = (value, more, less) =>
  value === 0 ? "middle" : `${Math.round(100 * Math.abs(value))} % ${value > 0 ? more : less}`;

const sides = { left: "left", right: "right", top: "above", bottom: "below" };

const causes = {
  miss: "Miss.",
  scratch: "Scratch.",
  foul: "Ball off the table.",
  stopped: "Stopped.",
  unseen: "",
};
