//! What the advice gains: recommended hits against a fixed medium stun, over random closing layouts.
//!
//! Input: a table, a player, how many layouts, a seed. Output: means over the layouts with 95 %
//! intervals, and the mean gain layout by layout. Method: the break ball lies anywhere in the foot
//! half and the cue ball anywhere, both outside the rack, where the player pots the break ball more
//! often than not; each hit is played with errors that had no part in the search, the same for both.
//! The stun has [`STUN_M_S`] and the height with which the cue ball slides without spin as it meets
//! the break ball. A layout from which the rack is out of reach counts like any other.

use super::closing::{BREAK_BALL, Closing};
use super::next_shot::OPEN_CHANCE;
use super::outcome::Outcome;
use super::search::Game;
use super::stroke::Stroke;
use crate::advice::direct::Direct;
use crate::advice::{Bound, Estimate, Player};
use crate::motion::{Bed, Physics};
use crate::random::Random;
use crate::table::{Rack, TablePoint, TableSize};
use serde::Serialize;

/// Speed of the medium stun, m/s.
pub const STUN_M_S: f64 = 4.5;
/// Hits of each side on a layout.
const HITS: usize = 60;
/// Layouts that are drawn for one that is kept, at most.
const DRAWS: usize = 2000;

/// One side of the comparison; means over layouts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Played {
    /// Loose balls that the player has to go on with: none where the run is over.
    pub loose_balls: Estimate,
    pub next_shot: Estimate,
    pub pocketed: Estimate,
    pub scratch: Estimate,
}

/// The recommended hit beside the medium stun.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AgainstStun {
    pub layouts: usize,
    pub hits_each: usize,
    pub advised: Played,
    pub stun: Played,
    /// Advised less stun, layout by layout.
    pub gain_loose_balls: Estimate,
    pub gain_next_shot: Estimate,
}

/// Loose balls, next shot, pocketed, scratch: means of one layout.
type Means = [f64; 4];

/// Plays both sides over random closing layouts; none where no layout was found. `done` is told how
/// many layouts are.
pub fn against_stun(
    bed: &Bed,
    player: &Player,
    layouts: usize,
    seed: u64,
    mut done: impl FnMut(usize),
) -> Option<AgainstStun> {
    let mut random = Random::new(seed);
    let mut pairs: Vec<(Means, Means)> = Vec::new();
    for number in 0..layouts as u64 {
        done(pairs.len());
        let Some((closing, pot)) = draw(bed, player, &mut random) else { break };
        let planned = Game::new(bed, player, &closing, seed.wrapping_add(number));
        let (trials, _) = planned.search(&Bound::default());
        let Some(best) = trials.first() else { continue };
        let played = Game::new(bed, player, &closing, !seed.wrapping_add(number));
        let of = |pot: &Direct, stroke: Stroke| {
            let mut trial = played.trial(pot, stroke)?;
            played.play(&mut trial, HITS, 0);
            (!trial.outcomes.is_empty()).then(|| means(&trial.outcomes))
        };
        let way_mm = pot.to_meeting_mm;
        let stun = of(&pot, stun(bed.physics(), way_mm));
        pairs.extend(of(&best.pot, best.stroke).zip(stun));
    }
    let side = |of: fn(&(Means, Means)) -> &Means| {
        let column = |i: usize| Estimate::of(pairs.iter().map(|pair| of(pair)[i]));
        Played {
            loose_balls: column(0),
            next_shot: column(1),
            pocketed: column(2),
            scratch: column(3),
        }
    };
    let gain = |i: usize| Estimate::of(pairs.iter().map(|(advised, stun)| advised[i] - stun[i]));
    (!pairs.is_empty()).then(|| AgainstStun {
        layouts: pairs.len(),
        hits_each: HITS,
        advised: side(|pair| &pair.0),
        stun: side(|pair| &pair.1),
        gain_loose_balls: gain(0),
        gain_next_shot: gain(1),
    })
}

fn means(outcomes: &[Outcome]) -> Means {
    let over = |value: fn(&Outcome) -> f64| {
        outcomes.iter().map(value).sum::<f64>() / outcomes.len() as f64
    };
    [
        over(|outcome| outcome.loose as f64),
        over(|outcome| super::figures::part(outcome.open())),
        over(|outcome| super::figures::part(outcome.made)),
        over(|outcome| super::figures::part(outcome.scratched)),
    ]
}

/// A random closing layout, with the likeliest pot.
fn draw(bed: &Bed, player: &Player, random: &mut Random) -> Option<(Closing, Direct)> {
    let table = bed.table();
    let rack = Rack::on(table);
    (0..DRAWS).find_map(|_| {
        let (ball, cue) = (place(table, 0.5, random), place(table, 0.0, random));
        let apart = ball.distance_mm(cue) > 1.5 * table.ball_diameter_mm;
        if !apart || rack.holds_part_of(ball) || rack.holds_part_of(cue) {
            return None;
        }
        let closing = Closing::between(table, cue, ball);
        let pots = Game::new(bed, player, &closing, 0).pots();
        let pot = pots.into_iter().find(|pot| pot.ball == BREAK_BALL)?;
        (pot.chance >= OPEN_CHANCE).then_some((closing, pot))
    })
}

/// Somewhere on the bed, from a part of its length to the foot.
fn place(table: &TableSize, from: f64, random: &mut Random) -> TablePoint {
    let radius_mm = table.ball_radius_mm();
    TablePoint::new(
        random.between((from * table.length_mm).max(radius_mm), table.length_mm - radius_mm),
        random.between(radius_mm, table.width_mm - radius_mm),
    )
}

/// The medium stun: backspin that the cloth has just taken when the cue ball has gone `way_mm`.
///
/// A ball hit at height −b has spun back by 5/2 b v; sliding turns it by 5/2 μ g t, so that nothing
/// is left after t = b v / (μ g), on a way of v t − μ g t² / 2 (b in radii).
pub(super) fn stun(physics: &Physics, way_mm: f64) -> Stroke {
    let slows_m_s2 = physics.sliding_friction * physics.gravity_m_s2;
    let under = (STUN_M_S * STUN_M_S - 0.002 * slows_m_s2 * way_mm).max(0.0);
    let slides_s = (STUN_M_S - under.sqrt()) / slows_m_s2;
    let low = slows_m_s2 * slides_s / STUN_M_S;
    Stroke { speed_m_s: STUN_M_S, height: -low / physics.tip_reach_per_radius, side: 0.0 }.held()
}
