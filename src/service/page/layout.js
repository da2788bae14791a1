// A layout that is being drawn: balls in diamonds on a table of some size. No page, no pointer.

const SIZE = { length_mm: 2540, width_mm: 1270, ball_diameter_mm: 57.15 };
const FEET = ["given", "seen", "open"];

export const MOST_BALLS = 40;

export class Layout {
  constructor(table = SIZE, balls = [], foot = "given") {
    this.table = { ...table };
    this.balls = balls;
    this.foot = foot;
  }

  // Half a ball in diamonds.
  get radius() {
    return (4 * this.table.ball_diameter_mm) / this.table.length_mm;
  }

  find(kind, number) {
    return this.balls.find((ball) => ball.kind === kind && ball.number === number);
  }

  // The nearest place to one that lies on the cloth and in no other ball; none where all is full.
  free(x, y, own) {
    const others = this.balls.filter((ball) => ball !== own);
    const inside = (value, most) => Math.min(most - this.radius, Math.max(this.radius, value));
    let place = { x: inside(x, 8), y: inside(y, 4) };
    const least = 2 * this.radius;
    // A hair apart, so that rounding does not make balls overlap.
    const apart = least + 1e-4;
    for (let round = 0; round < 40; round += 1) {
      const hit = others.find((ball) => Math.hypot(place.x - ball.x, place.y - ball.y) < least);
      if (!hit) return place;
      let [dx, dy] = [place.x - hit.x, place.y - hit.y];
      const far = Math.hypot(dx, dy);
      // Out of the ball that is in the way, and a little further round each time it does not help.
      const angle = (far > 1e-9 ? Math.atan2(dy, dx) : 0) + 0.35 * Math.floor(round / 4);
      [dx, dy] = [Math.cos(angle), Math.sin(angle)];
      place = { x: inside(hit.x + apart * dx, 8), y: inside(hit.y + apart * dy, 4) };
    }
    return null;
  }

  // Somewhere free for a ball that has no place yet.
  anywhere() {
    const start = { x: 2, y: 2 };
    for (let ring = 0; ring < 60; ring += 1) {
      const angle = ring * 2.4;
      const place = this.free(
        start.x + 0.08 * ring * Math.cos(angle),
        start.y + 0.04 * ring * Math.sin(angle),
      );
      if (place) return place;
    }
    return null;
  }

  // The triangle: apex on the foot spot, rows away from the head.
  rack(without = 0) {
    const pitch = 2 * this.radius + 1e-4;
    const places = [];
    for (let row = 0; row < 5; row += 1)
      for (let column = 0; column <= row; column += 1)
        places.push({
          x: 6 + (row * pitch * Math.sqrt(3)) / 2,
          y: 2 + (column - row / 2) * pitch,
        });
    return places.slice(without);
  }

  turnRound() {
    for (const ball of this.balls) [ball.x, ball.y] = [8 - ball.x, 4 - ball.y];
  }

  // As the published schema has it. What is drawn is certain.
  json() {
    return {
      table: this.table,
      foot: this.foot,
      obstructed: false,
      balls: this.balls.map((ball) => ({
        kind: ball.kind,
        number: ball.number,
        x: rounded(ball.x),
        y: rounded(ball.y),
        sigma_mm: 0,
        confidence: 1,
        number_confidence: ball.number === null ? 0 : 1,
      })),
    };
  }

  static of(json) {
    const balls = json.balls.slice(0, MOST_BALLS).map(({ kind, number, x, y }) => ({
      kind,
      number: kind === "cue" ? 0 : (number ?? null),
      x,
      y,
    }));
    return new Layout(json.table, balls, json.foot);
  }

  // What stands behind # in a link: size, foot where it is open, and each ball with its place.
  fragment() {
    const { length_mm: length, width_mm: width, ball_diameter_mm: ball } = this.table;
    const name = ({ kind, number }) => (kind === "cue" ? "cue" : (number ?? "unread"));
    const balls = this.balls.map((ball) => `${name(ball)}:${rounded(ball.x)},${rounded(ball.y)}`);
    const foot = this.foot === "open" ? "&foot=open" : "";
    return `table=${length}x${width}x${ball}${foot}&balls=${balls.join(";")}`;
  }

  // The layout of a link; throws where it is none.
  static fromFragment(text) {
    const parts = new URLSearchParams(text);
    const [length_mm, width_mm, ball_diameter_mm] = (parts.get("table") ?? "").split("x").map(Number);
    const table = { length_mm, width_mm, ball_diameter_mm };
    const sized = length_mm > 500 && length_mm < 6000 && width_mm > 250 && width_mm < 3000;
    if (!sized || !(ball_diameter_mm > 20 && ball_diameter_mm < 100)) throw new Error("table");
    const foot = parts.get("foot") ?? "given";
    if (!FEET.includes(foot)) throw new Error("foot");
    const written = (parts.get("balls") ?? "").split(";").filter(Boolean);
    if (written.length > MOST_BALLS) throw new Error("balls");
    return new Layout(table, written.map(ballOf), foot);
  }
}

const rounded = (value) => Math.round(10000 * value) / 10000;

function ballOf(text) {
  const [, name, x, y] = /^(cue|unread|\d{1,2}):(-?[\d.]+),(-?[\d.]+)$/.exec(text) ?? [];
  const place = { x: Number(x), y: Number(y) };
  const number = name === "cue" ? 0 : name === "unread" ? null : Number(name);
  const fits = place.x >= -1 && place.x <= 9 && place.y >= -1 && place.y <= 5;
  if (!fits || (name !== "cue" && number !== null && !(number >= 1 && number <= 15)))
    throw new Error(`ball ${text}`);
  return { kind: name === "cue" ? "cue" : "object", number, ...place };
}
