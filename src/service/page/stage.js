// The table of a drawing on the screen: upright on a narrow one, and where on it a pointer is.

import { toDiamonds } from "./balls.js";

export const portrait = matchMedia("(max-width: 44rem) and (orientation: portrait)");
// A finger needs this much, in pixels of the screen, around a ball's middle.
export const REACH_PX = 22;
// A pointer that moved less has tapped.
export const TAP_PX = 8;

const table = document.getElementById("table");
const turn = document.getElementById("turn");

// On a narrow screen the table stands on its head end, and is twice as large.
export function turnTable() {
  const upright = portrait.matches;
  table.setAttribute("viewBox", upright ? "-44 -44 488 888" : "-44 -44 888 488");
  turn.setAttribute("transform", upright ? "translate(0 800) rotate(-90)" : "");
  table.closest(".stage").dataset.upright = upright;
}

export function unitsPerPixel() {
  const matrix = turn.getScreenCTM();
  return matrix ? 1 / Math.hypot(matrix.a, matrix.b) : 1;
}

// The place of a pointer, in diamonds.
export function placeOf(event) {
  const matrix = turn.getScreenCTM();
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  return toDiamonds(point.x, point.y);
}

// The ball of a layout that a pointer means.
export function nearest(layout, at) {
  const reach = Math.max(layout.radius, toDiamonds(REACH_PX * unitsPerPixel(), 0).x);
  const far = (ball) => Math.hypot(ball.x - at.x, ball.y - at.y);
  const near = layout.balls.filter((ball) => far(ball) <= reach);
  return near.sort((a, b) => far(a) - far(b))[0];
}

// How balls are drawn as the table stands now.
export const look = (layout, units) => ({
  radius: units(layout.radius),
  reach: REACH_PX * unitsPerPixel(),
  upright: portrait.matches ? "rotate(90)" : "",
});
