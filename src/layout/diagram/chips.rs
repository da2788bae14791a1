//! Number chips beside the balls, and where they go.
//!
//! Method: each chip has a few hundred candidate places around its ball (directions times gaps).
//! A place costs by what it hides (balls, pockets, sights), by the length of its leader and by what
//! the leader crosses; two chips cost by overlapping and by crossing leaders. From a start, chips
//! are moved one at a time to the place that is cheapest given the others, until none moves
//! (coordinate descent; it ends since the total falls each time). The starts are each chip's
//! cheapest place, and rings of several widths around all the balls, which untangles a rack; the
//! best end of them is taken. It is a local optimum and depends on the layout alone.

use super::balls::{Drawn, Look};
use super::look;
use super::sheet::{Pen, Sheet};
use crate::layout::strokes;

/// More balls than any layout has; further ones get no chip, since placing costs by the square.
const MOST_CHIPS: usize = 24;
const DIRECTIONS: u32 = 32;
/// Free lengths between a ball and its chip.
const GAPS: [f64; 9] = [9.0, 24.0, 48.0, 80.0, 120.0, 170.0, 230.0, 300.0, 390.0];
/// Kept free around a chip.
const CLEAR: f64 = 9.0;
const SWEEPS: usize = 16;
/// How far outside the outermost of its neighbours a chip of a ring start stands.
const RINGS: [f64; 3] = [60.0, 130.0, 220.0];
/// How near balls stand that are ringed together.
const NEIGHBOURS: f64 = 330.0;

/// A chip with its place.
#[derive(Clone, Debug)]
pub struct Chip {
    pub look: Look,
    pub label: String,
    pub bounds: Bounds,
    /// From the ball's middle to the chip's border.
    pub leader: Segment,
    /// Other balls lie on the leader's way.
    passes_over: bool,
}

pub type Segment = [[f64; 2]; 2];

/// A rectangle by its middle and half sizes.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    pub middle: [f64; 2],
    pub half: [f64; 2],
}

impl Bounds {
    fn overlaps(&self, other: &Self, clear: f64) -> bool {
        (0..2).all(|axis| {
            (self.middle[axis] - other.middle[axis]).abs()
                < self.half[axis] + other.half[axis] + clear
        })
    }

    /// Distance from a point, zero inside.
    pub fn distance(&self, point: [f64; 2]) -> f64 {
        let beyond =
            |axis: usize| ((point[axis] - self.middle[axis]).abs() - self.half[axis]).max(0.0);
        beyond(0).hypot(beyond(1))
    }

    /// How far the border lies from the middle in a direction.
    fn reach(&self, direction: [f64; 2]) -> f64 {
        let along = |axis: usize| self.half[axis] / direction[axis].abs().max(1e-9);
        along(0).min(along(1))
    }

    fn corners(&self) -> [[f64; 2]; 4] {
        let ([x, y], [a, b]) = (self.middle, self.half);
        [[x - a, y - b], [x + a, y - b], [x + a, y + b], [x - a, y + b]]
    }

    fn crossed_by(&self, segment: &Segment) -> bool {
        let apart = (0..2).any(|axis| {
            let (from, to) = (segment[0][axis], segment[1][axis]);
            self.middle[axis] + self.half[axis] < from.min(to)
                || self.middle[axis] - self.half[axis] > from.max(to)
        });
        if apart {
            return false;
        }
        let [a, b, c, d] = self.corners();
        self.distance(segment[0]) == 0.0
            || self.distance(segment[1]) == 0.0
            || [[a, b], [b, c], [c, d], [d, a]].iter().any(|side| crosses(side, segment))
    }
}

struct Candidate {
    bounds: Bounds,
    /// From the ball's middle to the chip's border.
    leader: Segment,
    passes_over: bool,
    cost: f64,
}

/// Chooses a place for the chip of every ball that has a label.
pub fn place(sheet: &Sheet, balls: &[Drawn]) -> Vec<Chip> {
    let labelled: Vec<usize> =
        (0..balls.len()).filter(|i| !balls[*i].label.is_empty()).take(MOST_CHIPS).collect();
    let choices: Vec<Vec<Candidate>> =
        labelled.iter().map(|i| candidates(sheet, balls, *i)).collect();
    let mut starts = vec![vec![0; choices.len()]];
    starts.extend(RINGS.map(|ring| {
        let on_ring =
            |(i, choices): (&usize, &Vec<Candidate>)| ring_start(balls, *i, choices, ring);
        labelled.iter().zip(&choices).map(on_ring).collect()
    }));
    let ends = starts.into_iter().map(|start| settle(&choices, start));
    let best = ends.min_by(|a, b| total(&choices, a).total_cmp(&total(&choices, b)));
    let chosen = best.unwrap_or_default();
    let taken = labelled.iter().zip(choices.iter().zip(chosen));
    taken
        .filter_map(|(ball, (choices, chosen))| Some((&balls[*ball], choices.get(chosen)?)))
        .map(|(ball, place)| chip(ball, place))
        .collect()
}

fn chip(ball: &Drawn, place: &Candidate) -> Chip {
    Chip {
        look: ball.look,
        label: ball.label.clone(),
        bounds: place.bounds,
        leader: place.leader,
        passes_over: place.passes_over,
    }
}

/// The place that lies nearest to a ring around the ball's neighbours, straight out from them.
fn ring_start(balls: &[Drawn], own: usize, choices: &[Candidate], ring: f64) -> usize {
    let at = balls[own].at;
    let apart = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let near = balls.iter().map(|ball| ball.at).filter(|other| apart(at, *other) < NEIGHBOURS);
    let near: Vec<_> = near.collect();
    let count = near.len() as f64;
    let middle = [0, 1].map(|axis| near.iter().map(|p| p[axis]).sum::<f64>() / count);
    let radius = near.iter().map(|p| apart(middle, *p)).fold(0.0, f64::max) + ring;
    let out = apart(at, middle).max(1e-9);
    let goal = [0, 1].map(|axis| middle[axis] + (at[axis] - middle[axis]) / out * radius);
    (0..choices.len())
        .min_by(|a, b| {
            let off = |i: usize| apart(choices[i].bounds.middle, goal);
            off(*a).total_cmp(&off(*b))
        })
        .unwrap_or(0)
}

fn total(choices: &[Vec<Candidate>], chosen: &[usize]) -> f64 {
    let taken: Vec<_> = choices.iter().zip(chosen).filter_map(|(c, i)| c.get(*i)).collect();
    let pairs = taken.iter().enumerate().flat_map(|(i, a)| taken[..i].iter().map(move |b| (a, b)));
    taken.iter().map(|c| c.cost).sum::<f64>() + pairs.map(|(a, b)| between(a, b)).sum::<f64>()
}

/// One place of each chip, by index: a local optimum of the total cost.
fn settle(choices: &[Vec<Candidate>], start: Vec<usize>) -> Vec<usize> {
    let mut chosen = start;
    for _ in 0..SWEEPS {
        let mut moved = false;
        for one in 0..choices.len() {
            let total = |choice: &Candidate| {
                let others = (0..choices.len()).filter(|other| *other != one);
                choice.cost + others.map(|o| between(choice, &choices[o][chosen[o]])).sum::<f64>()
            };
            let costs: Vec<f64> = choices[one].iter().map(total).collect();
            let best = (0..costs.len()).min_by(|a, b| costs[*a].total_cmp(&costs[*b])).unwrap_or(0);
            if costs[best] < costs[chosen[one]] {
                chosen[one] = best;
                moved = true;
            }
        }
        if !moved {
            break;
        }
    }
    chosen
}

fn size_of(label: &str) -> [f64; 2] {
    let around = 2.0 * look::CHIP_PADDING + look::NUMBER_STROKE;
    let high = look::NUMBER + around;
    let wide = strokes::text_width(label, look::NUMBER) + around + 4.0;
    [wide.max(high * 0.86), high]
}

/// The places a chip could take, cheapest first.
fn candidates(sheet: &Sheet, balls: &[Drawn], own: usize) -> Vec<Candidate> {
    let ball = &balls[own];
    let half = size_of(&ball.label).map(|length| length / 2.0);
    let mut found = Vec::new();
    for step in 0..DIRECTIONS {
        let (sin, cos) =
            (f64::from(step) / f64::from(DIRECTIONS) * std::f64::consts::TAU).sin_cos();
        for gap in GAPS {
            let mut bounds = Bounds { middle: ball.at, half };
            let away = ball.radius + gap + bounds.reach([cos, sin]);
            bounds.middle = [ball.at[0] + cos * away, ball.at[1] + sin * away];
            let inside = bounds.corners().into_iter().all(|corner| sheet.holds(corner));
            if inside && bounds.distance(ball.at) >= ball.radius + 4.0 {
                let end = away - bounds.reach([cos, sin]);
                let leader = [ball.at, [ball.at[0] + cos * end, ball.at[1] + sin * end]];
                found.push(candidate(sheet, balls, own, bounds, leader));
            }
        }
    }
    found.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    found
}

/// A place with what it costs whatever the other chips do.
fn candidate(
    sheet: &Sheet,
    balls: &[Drawn],
    own: usize,
    bounds: Bounds,
    leader: Segment,
) -> Candidate {
    let gap = length(&leader) - balls[own].radius;
    let (mut cost, mut passes_over) = (gap, false);
    for (_, other) in balls.iter().enumerate().filter(|(i, _)| *i != own) {
        // The cue ball's ticks are part of it.
        let reach = if other.look == Look::Cue { 2.2 * other.radius } else { other.radius };
        let distance = bounds.distance(other.at);
        if distance < reach + 3.0 {
            cost += 4000.0;
        }
        // A chip nearer to another ball than to its own reads as that ball's.
        if distance - other.radius < gap {
            cost += 60.0;
        }
        // A leader across another ball is bad, one across its middle reads as that ball's.
        let aside = distance_to(&leader, other.at) / other.radius;
        if aside < 1.0 {
            cost += 100.0 + 250.0 * (1.0 - aside);
            passes_over = true;
        }
    }
    // On the rails it may hide a sight, and it hides the cushion line.
    let (l, w) = (look::LENGTH, sheet.across);
    let on_cloth =
        bounds.corners().into_iter().all(|[x, y]| (0.0..=l).contains(&x) && (0.0..=w).contains(&y));
    if !on_cloth {
        cost += 90.0;
    }
    // Beside a ball reads better than above or below it.
    cost += (leader[1][1] - leader[0][1]).abs() / length(&leader).max(1.0) * 12.0;
    Candidate { bounds, leader, passes_over, cost }
}

/// What two places cost together.
fn between(one: &Candidate, other: &Candidate) -> f64 {
    let mut cost = 0.0;
    if one.bounds.overlaps(&other.bounds, CLEAR) {
        cost += 8000.0;
    }
    if one.bounds.crossed_by(&other.leader) || other.bounds.crossed_by(&one.leader) {
        cost += 2500.0;
    }
    if crosses(&one.leader, &other.leader) {
        cost += 500.0;
    }
    cost
}

fn length([from, to]: &Segment) -> f64 {
    (to[0] - from[0]).hypot(to[1] - from[1])
}

/// Distance of a point from a segment.
fn distance_to([from, to]: &Segment, point: [f64; 2]) -> f64 {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let square = (dx * dx + dy * dy).max(1e-12);
    let along = ((point[0] - from[0]) * dx + (point[1] - from[1]) * dy) / square;
    let along = along.clamp(0.0, 1.0);
    (point[0] - from[0] - along * dx).hypot(point[1] - from[1] - along * dy)
}

fn crosses([a, b]: &Segment, [c, d]: &Segment) -> bool {
    let apart = (0..2).any(|axis| {
        a[axis].max(b[axis]) < c[axis].min(d[axis]) || c[axis].max(d[axis]) < a[axis].min(b[axis])
    });
    if apart {
        return false;
    }
    let side = |p: &[f64; 2], q: &[f64; 2], r: &[f64; 2]| {
        (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
    };
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

/// Draws the leaders that the balls may cover.
pub fn draw_under(sheet: &mut Sheet, chips: &[Chip]) {
    for chip in chips.iter().filter(|chip| !chip.passes_over) {
        leader(sheet, chip);
    }
}

/// Draws the chips, and the leaders that have to pass over balls: their own ball is marked.
pub fn draw_over(sheet: &mut Sheet, chips: &[Chip]) {
    for chip in chips.iter().filter(|chip| chip.passes_over) {
        leader(sheet, chip);
        sheet.disc(chip.leader[0], 9.0, look::PAPER);
        sheet.disc(chip.leader[0], 6.5, look::INK);
    }
    for chip in chips {
        one(sheet, chip);
    }
}

fn leader(sheet: &mut Sheet, chip: &Chip) {
    let line = vec![chip.leader.to_vec()];
    sheet.lines(&line, Pen { colour: look::PAPER, width: 13.0 }, "");
    sheet.lines(&line, Pen { colour: look::INK, width: 6.0 }, "");
}

fn one(sheet: &mut Sheet, chip: &Chip) {
    let (fill, ink, border) = match chip.look {
        Look::Solid(_) | Look::Cue => (look::INK, look::PAPER, ""),
        Look::Striped(_) => (look::PAPER, look::INK, ""),
        Look::Unread => (look::PAPER, look::INK, r#" stroke-dasharray="15 13""#),
    };
    let ([x, y], [a, b]) = (chip.bounds.middle, chip.bounds.half);
    let line = 8.0;
    let more = format!(
        r#"rx="{}" stroke="{}" stroke-width="{line}"{border}"#,
        look::CHIP_CORNER,
        look::INK
    );
    sheet.block(
        [x - a + line / 2.0, y - b + line / 2.0],
        [2.0 * a - line, 2.0 * b - line],
        fill,
        &more,
    );
    let wide = strokes::text_width(&chip.label, look::NUMBER);
    let pen = Pen { colour: ink, width: look::NUMBER_STROKE };
    sheet.text(&chip.label, [x - wide / 2.0, y - look::NUMBER / 2.0], look::NUMBER, pen);
}
