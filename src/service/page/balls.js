// Balls of a drawing as SVG: shape tells before colour does, as in the diagram.

const SVG = "http://www.w3.org/2000/svg";
// Units to a diamond, y down.
const DIAMOND = 100;

export const toUnits = ({ x, y }) => [DIAMOND * x, DIAMOND * (4 - y)];
export const toDiamonds = (x, y) => ({ x: x / DIAMOND, y: 4 - y / DIAMOND });
export const unitsOf = (diamonds) => DIAMOND * diamonds;

export function part(name, attributes, parent) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  parent.append(element);
  return element;
}

// What a ball looks like, around (0, 0), of a radius in units.
function shape(ball, radius, into, upright) {
  const r = radius;
  if (ball.kind === "cue") {
    part("circle", { r, class: "white" }, into);
    part("circle", { r: 0.36 * r, class: "signal" }, into);
    part("path", { d: ticks(r), class: "ticks" }, into);
    return;
  }
  const striped = ball.number > 8;
  part("circle", { r, class: ball.number === null ? "n-unread" : striped ? "white" : `n${ball.number}` }, into);
  if (striped) part("path", { d: band(r), class: `n${ball.number - 8}` }, into);
  part("circle", { r, class: "outline" }, into);
  const text = part("text", { class: "number", "font-size": 1.05 * r, transform: upright }, into);
  if (ball.number !== null) {
    part("circle", { r: 0.56 * r, class: "white" }, into);
    into.append(text);
  }
  text.textContent = ball.number ?? "?";
}

function ticks(r) {
  const [from, to] = [1.25 * r, 1.8 * r];
  return [[1, 0], [0, 1], [-1, 0], [0, -1]]
    .map(([x, y]) => `M${x * from} ${y * from}L${x * to} ${y * to}`)
    .join("");
}

function band(r) {
  const half = 0.6 * r;
  const reach = Math.sqrt(r * r - half * half);
  return `M${-reach} ${-half}L${reach} ${-half}A${r} ${r} 0 0 1 ${reach} ${half}L${-reach} ${half}A${r} ${r} 0 0 1 ${-reach} ${-half}Z`;
}

// A ball that can be chosen: what is seen, and around it what a finger can hit.
export function ballElement(ball, { radius, reach, label, chosen, upright }, into) {
  const [x, y] = toUnits(ball);
  const element = part(
    "g",
    {
      class: "ball",
      transform: `translate(${x} ${y})`,
      tabindex: 0,
      role: "button",
      "aria-label": label,
      "aria-pressed": chosen,
    },
    into,
  );
  part("circle", { r: Math.max(reach, radius), class: "reach" }, element);
  if (chosen) part("circle", { r: radius + 7, class: "ring" }, element);
  shape(ball, radius, element, upright);
  return element;
}
