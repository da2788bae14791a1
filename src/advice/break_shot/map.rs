//! Where a good break ball and its cue ball lie on a table, for a player; and the best places for
//! the opening break shot, where both are in hand.
//!
//! Input: a table with its physics, the player. Output: over a grid of break-ball places the best of
//! the cue-ball places tried, with the figures of [`LEAST_HITS`] simulated hits of its best hit.
//! Method: cue-ball places stand on rays around each pocket's line (cuts to 60° to either side,
//! three distances); places, speeds and heights are played a few times each and narrowed in stages.
//! The table is the same on both sides, so one half is played and the other mirrored. The opening's
//! places are the map's best, moved in small steps while that helps, then advised on like any
//! layout.
//!
//! Any-time: a deadline leaves the places that are done, every other one being done first.

use super::closing::{CUE, Closing};
use super::figures::BreakFigures;
use super::search::{Game, LEAST_HITS, Trial};
use super::stroke::Stroke;
use super::{BreakAdvice, advice_on};
use crate::advice::direct::Direct;
use crate::advice::window::Windows;
use crate::advice::{Bound, Player};
use crate::layout::diagram::{self, BestSpot, Spot};
use crate::motion::{Bed, Hit};
use crate::table::{DiamondPoint, Rack, TablePoint, TableSize};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::{available_parallelism, scope};
use std::time::Instant;

/// Between break-ball places, in diamonds.
const SPACING: f64 = 0.3;
/// Break balls this far up the table are in reach of the rack, in diamonds.
const NEAREST_X: f64 = 4.2;
/// Balls lie at least this far from the cushion noses, in millimetres: a cue has to pass over.
const OFF_CUSHION_MM: f64 = 60.0;
const HEIGHTS: [f64; 3] = [-0.4, 0.0, 0.4];

/// How much is tried at a place.
struct Effort {
    cuts_deg: &'static [f64],
    distances_mm: &'static [f64],
    speeds_m_s: &'static [f64],
    /// Hits that a cue-ball place with its hit gets in all, and how many stay.
    stages: [(usize, usize); 3],
    /// Hits of the figures.
    hits: usize,
}

const WHOLE: Effort = Effort {
    cuts_deg: &[12.0, 22.0, 32.0, 42.0, 52.0, 60.0],
    distances_mm: &[300.0, 550.0, 850.0],
    speeds_m_s: &[4.5, 6.5],
    stages: [(3, 10), (24, 3), (80, 1)],
    hits: LEAST_HITS,
};
const SKETCH: Effort = Effort {
    cuts_deg: &[22.0, 35.0, 48.0],
    distances_mm: &[450.0],
    speeds_m_s: &[5.5],
    stages: [(2, 8), (10, 3), (24, 1)],
    hits: 80,
};
/// Steps by which the opening's places are moved, in millimetres.
const STEPS_MM: [f64; 2] = [45.0, 20.0];
const STEP_HITS: usize = 80;
/// Opening places stand at least this far apart, in diamonds.
const APART: f64 = 0.6;
/// How many of them are told.
const BEST: usize = 3;

/// A break ball's place with the best cue-ball place found for it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BreakPlace {
    pub break_ball: DiamondPoint,
    pub cue_ball: DiamondPoint,
    /// The pocket of the break ball, numbered as in [`BreakChoice`](super::BreakChoice).
    #[schemars(range(min = 0, max = 5))]
    pub pocket: usize,
    /// The best hit found.
    pub hit: Hit,
    pub figures: BreakFigures,
}

/// The map of a table for a player.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BreakMap {
    pub table: TableSize,
    /// Between neighbouring places, in diamonds.
    pub spacing: f64,
    /// Row by row from the head; places from which no pot was found are left out.
    pub places: Vec<BreakPlace>,
    /// False where the deadline left places out.
    pub whole: bool,
}

/// A place for the opening break shot, where break ball and cue ball are in hand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Opening {
    pub break_ball: DiamondPoint,
    pub cue_ball: DiamondPoint,
    pub advice: BreakAdvice,
}

/// A cue-ball place with a hit under trial.
struct Try {
    closing: Closing,
    trial: Trial,
}

impl BreakMap {
    /// The places of one side, the best first.
    fn ranked(&self) -> Vec<&BreakPlace> {
        let worth = |place: &BreakPlace| place.figures.worth_balls.mean;
        // One side is enough: the other is its mirror image.
        let one_side = |place: &&BreakPlace| place.break_ball.y <= 2.0 + 1e-6;
        let mut places: Vec<&BreakPlace> = self.places.iter().filter(one_side).collect();
        places.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
        places
    }

    /// The best places of one side that stand apart from each other.
    fn best(&self) -> Vec<&BreakPlace> {
        let mut chosen: Vec<&BreakPlace> = Vec::new();
        for place in self.ranked() {
            let apart = |other: &&BreakPlace| {
                let (a, b) = (place.break_ball, other.break_ball);
                (a.x - b.x).hypot(a.y - b.y) >= APART
            };
            if chosen.len() < BEST && chosen.iter().all(apart) {
                chosen.push(place);
            }
        }
        chosen
    }

    /// The map as a drawing.
    pub fn svg(&self) -> String {
        let worth = |place: &BreakPlace| place.figures.worth_balls.mean;
        let most = self.places.iter().map(worth).fold(1.0, f64::max);
        let on_table = |place: DiamondPoint| place.on_table(&self.table);
        let spot =
            |place: &BreakPlace| Spot { at: on_table(place.break_ball), part: worth(place) / most };
        let spots: Vec<Spot> = self.places.iter().map(spot).collect();
        let best: Vec<&BreakPlace> = self.best();
        let marks: Vec<BestSpot> = best
            .iter()
            .map(|p| BestSpot { at: on_table(p.break_ball), cue_ball: on_table(p.cue_ball) })
            .collect();
        let told: Vec<String> = best
            .iter()
            .map(|place| {
                format!(
                    "Break ball at {:.2}, {:.2} with the cue ball at {:.2}, {:.2}: a next shot in {:.0} of 100 hits, worth {:.1} balls.",
                    place.break_ball.x,
                    place.break_ball.y,
                    place.cue_ball.x,
                    place.cue_ball.y,
                    100.0 * place.figures.next_shot.mean,
                    worth(place)
                )
            })
            .collect();
        diagram::svg_of_spots(
            &self.table,
            (&spots, &marks),
            ("Places for a break ball", &format!("WORTH {most:.1} BALLS"), &told.join(" ")),
        )
    }
}

/// The map of a table, on all cores; `seen` is told how many of how many places are done.
pub fn map(
    bed: &Bed,
    player: &Player,
    seed: u64,
    deadline: Option<Instant>,
    seen: &(dyn Fn(usize, usize) + Sync),
) -> BreakMap {
    let over = || deadline.is_some_and(|deadline| Instant::now() >= deadline);
    let table = *bed.table();
    let mut grid = break_ball_places(&table);
    grid.sort_by_key(|(parity, _)| *parity);
    let (next, done) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let worker = || {
        let mut places = Vec::new();
        while let Some((_, at)) = grid.get(next.fetch_add(1, Ordering::Relaxed)) {
            if over() {
                break;
            }
            places.extend(best_at(bed, player, *at, seed));
            seen(done.fetch_add(1, Ordering::Relaxed) + 1, grid.len());
        }
        places
    };
    let threads = available_parallelism().map_or(1, NonZero::get);
    let mut places: Vec<BreakPlace> = scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(worker)).collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap_or_default()).collect()
    });
    let whole = done.into_inner() == grid.len();
    let middle = 2.0;
    let mirrored: Vec<BreakPlace> =
        places.iter().filter(|place| place.break_ball.y < middle - 1e-6).map(mirror).collect();
    places.extend(mirrored);
    places.sort_by(|a, b| {
        let (a, b) = (a.break_ball, b.break_ball);
        a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y))
    });
    BreakMap { table, spacing: SPACING, places, whole }
}

/// The places of one half, with their colour on a chessboard.
fn break_ball_places(table: &TableSize) -> Vec<(usize, TablePoint)> {
    let rack = Rack::on(table);
    let mut places = Vec::new();
    for row in 0..=7_u8 {
        let y = 2.0 - SPACING * f64::from(row);
        for column in 0..=13_u8 {
            let x = NEAREST_X + SPACING * f64::from(column);
            let place = DiamondPoint { x, y }.on_table(table);
            if on_bed(table, place) && !rack.holds_part_of(place) {
                places.push((usize::from(row + column) % 2, place));
            }
        }
    }
    places
}

fn on_bed(table: &TableSize, place: TablePoint) -> bool {
    (OFF_CUSHION_MM..=table.length_mm - OFF_CUSHION_MM).contains(&place.x_mm)
        && (OFF_CUSHION_MM..=table.width_mm - OFF_CUSHION_MM).contains(&place.y_mm)
}

fn mirror(place: &BreakPlace) -> BreakPlace {
    let across = |place: DiamondPoint| DiamondPoint { y: 4.0 - place.y, ..place };
    let side = super::closing::Side { mirrored: true };
    BreakPlace {
        break_ball: across(place.break_ball),
        cue_ball: across(place.cue_ball),
        pocket: side.pocket(place.pocket),
        hit: side.hit(&place.hit),
        figures: place.figures,
    }
}

/// The best cue-ball place for a break ball; none where nothing can be potted.
fn best_at(bed: &Bed, player: &Player, at: TablePoint, seed: u64) -> Option<BreakPlace> {
    searched_at((bed, player), at, &WHOLE, seed)
}

/// The same in a fraction of the time, with figures of fewer hits.
pub(in crate::advice) fn sketched_at(
    bed: &Bed,
    player: &Player,
    at: TablePoint,
    seed: u64,
) -> Option<BreakPlace> {
    searched_at((bed, player), at, &SKETCH, seed)
}

fn searched_at(
    (bed, player): (&Bed, &Player),
    at: TablePoint,
    effort: &Effort,
    seed: u64,
) -> Option<BreakPlace> {
    let mut tries: Vec<Try> = Vec::new();
    for (closing, pot) in cue_ball_places(bed, player, at, effort) {
        let game = Game::new(bed, player, &closing, seed);
        for speed_m_s in effort.speeds_m_s.iter().copied() {
            for height in HEIGHTS {
                let stroke = Stroke { speed_m_s, height, side: 0.0 };
                let trial = game.trial(&pot, stroke);
                tries.extend(trial.map(|trial| Try { closing: closing.clone(), trial }));
            }
        }
    }
    for (hits, stay) in effort.stages {
        for Try { closing, trial } in &mut tries {
            Game::new(bed, player, closing, seed).play(trial, hits, 0);
        }
        tries.sort_by(|a, b| b.trial.worth().total_cmp(&a.trial.worth()));
        tries.truncate(stay);
    }
    let Try { closing, mut trial } = tries.into_iter().next()?;
    let game = Game::new(bed, player, &closing, seed);
    game.afresh(&mut trial, effort.hits);
    (trial.outcomes.len() >= effort.hits).then(|| BreakPlace {
        break_ball: closing.in_layout(closing.break_ball()),
        cue_ball: closing.in_layout(closing.cue()),
        pocket: closing.side.pocket(trial.pot.pocket),
        hit: closing.side.hit(&trial.meant),
        figures: BreakFigures::of(&trial.outcomes, game.middling),
    })
}

/// Cue-ball places from which a break ball can be potted, each with its pot.
fn cue_ball_places(
    bed: &Bed,
    player: &Player,
    at: TablePoint,
    effort: &Effort,
) -> Vec<(Closing, Direct)> {
    let table = bed.table();
    let rack = Rack::on(table);
    // Where the cue ball will lie says nothing yet: the break ball tells the side.
    let closing = Closing::between(table, at, at);
    let windows = Windows::of(bed).from(closing.break_ball());
    let mut found = Vec::new();
    for (pocket, window) in windows.iter().enumerate() {
        let Some(window) = window else { continue };
        let meeting = closing.break_ball().moved(window.middle_rad(), -table.ball_diameter_mm);
        for cut_deg in effort.cuts_deg.iter().flat_map(|cut| [-cut, *cut]) {
            for distance_mm in effort.distances_mm.iter().copied() {
                let way_rad = window.middle_rad() - cut_deg.to_radians();
                let cue = meeting.moved(way_rad, -distance_mm);
                if !on_bed(table, cue) || rack.holds_part_of(cue) {
                    continue;
                }
                let mut closing = closing.clone();
                closing.balls[CUE].place = cue;
                let pots = Game::new(bed, player, &closing, 0).pots_by(&windows);
                let pot = pots.into_iter().find(|pot| pot.pocket == pocket);
                found.extend(pot.map(|pot| (closing, pot)));
            }
        }
    }
    found
}

/// The best places for the opening break shot, the best first.
///
/// A deadline leaves those that are done; one at least, if the map has any place.
pub fn openings(
    bed: &Bed,
    player: &Player,
    map: &BreakMap,
    seed: u64,
    deadline: Option<Instant>,
) -> Vec<Opening> {
    let over = || deadline.is_some_and(|deadline| Instant::now() >= deadline);
    let bound = Bound { until: deadline, ..Bound::default() };
    let mut openings: Vec<Opening> = Vec::new();
    for place in map.best() {
        if over() && !openings.is_empty() {
            break;
        }
        let closing = moved_to_best(bed, player, place, seed);
        let advice = advice_on(bed, player, &closing, seed, &bound);
        openings.extend(advice.ok().map(|advice| Opening {
            break_ball: closing.in_layout(closing.break_ball()),
            cue_ball: closing.in_layout(closing.cue()),
            advice,
        }));
    }
    let worth = |opening: &Opening| {
        opening.advice.recommended().map_or(0.0, |best| best.figures.worth_balls.mean)
    };
    openings.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
    openings
}

/// Moves both balls in small steps while the place's hit gets better by it.
fn moved_to_best(bed: &Bed, player: &Player, place: &BreakPlace, seed: u64) -> Closing {
    let table = bed.table();
    let rack = Rack::on(table);
    let stroke = Stroke::of(&place.hit);
    let fits = |ball: TablePoint| on_bed(table, ball) && !rack.holds_part_of(ball);
    let tried = |cue: TablePoint, ball: TablePoint| {
        if !fits(cue) || !fits(ball) {
            return None;
        }
        let closing = Closing::between(table, cue, ball);
        let game = Game::new(bed, player, &closing, seed);
        let pot = game.pots().into_iter().find(|pot| pot.pocket == place.pocket)?;
        let mut trial = game.trial(&pot, stroke)?;
        game.play(&mut trial, STEP_HITS, 0);
        Some((trial.worth(), closing))
    };
    let (mut cue, mut ball) = (place.cue_ball.on_table(table), place.break_ball.on_table(table));
    let mut best = tried(cue, ball);
    for step_mm in STEPS_MM {
        let steps = [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)];
        for (dx, dy) in steps {
            let by = |place: TablePoint| {
                TablePoint::new(place.x_mm + step_mm * dx, place.y_mm + step_mm * dy)
            };
            for (new_cue, new_ball) in [(by(cue), by(ball)), (cue, by(ball)), (by(cue), ball)] {
                let new = tried(new_cue, new_ball);
                let worth = |tried: &Option<(f64, Closing)>| {
                    tried.as_ref().map_or(f64::NEG_INFINITY, |(worth, _)| *worth)
                };
                if worth(&new) > worth(&best) {
                    (best, cue, ball) = (new, new_cue, new_ball);
                }
            }
        }
    }
    best.map_or_else(|| Closing::between(table, cue, ball), |(_, closing)| closing)
}
