//! Whole attempts of a simulated player, to measure what advice is worth.
//!
//! Input: a bed, a player, a way to choose hits. Output: the run of each attempt. An attempt begins
//! with fourteen racked and a break ball beside them, the cue ball placed for it, a little different
//! each time, and ends with a miss or a scratch; racks are set up again by the rules. The planner
//! may believe in other physics than those that play. Not modelled: safeties; a player without a
//! shot that is on has missed.

use super::session::rules::{Goes, rerack};
use crate::advice::{Advisor, NextHit, Player, PlayerError};
use crate::motion::{self, Bed, Outcome, Physics, Placed};
use crate::random::Random;
use crate::table::{Rack, TablePoint, TableSize};

/// What chooses the hits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Planner {
    /// The program's advice.
    Advice,
    /// Always the likeliest pot with a natural roll.
    LikeliestPot,
}

/// Runs end here at the latest.
const LONGEST: usize = 300;

/// Plays the attempt of a number and gives its run. `believed` is the bed that the planner reckons
/// with, `bed` the one that is played on. Two planners begin an attempt of one number alike.
///
/// # Errors
/// [`PlayerError`] for errors that nobody makes.
pub fn self_play(
    bed: &Bed,
    believed: &Bed,
    player: Player,
    planner: Planner,
    (number, seed): (u64, u64),
) -> Result<usize, PlayerError> {
    let mut advisor = Advisor::new(believed, player, seed)?;
    let mut random = Random::stream(seed, number);
    Ok(run(bed, &player, &mut random, |balls| match planner {
        Planner::Advice => advisor.next_hit(balls),
        Planner::LikeliestPot => advisor.likeliest_pot(balls),
    }))
}

/// Physics of which each parameter that differs from table to table is off by a part, up or down by
/// chance. What a bounce gives back is held below all of it.
pub fn off_by(physics: &Physics, part: f64, random: &mut Random) -> Physics {
    let mut off = |value: f64| value * (1.0 + random.pick([-part, part]));
    let most_restitution = 0.99;
    Physics {
        sliding_friction: off(physics.sliding_friction),
        rolling_resistance: off(physics.rolling_resistance),
        spin_decay_rad_s2: off(physics.spin_decay_rad_s2),
        ball_restitution: off(physics.ball_restitution).min(most_restitution),
        ball_friction: off(physics.ball_friction),
        cushion_restitution: off(physics.cushion_restitution).min(most_restitution),
        cushion_friction: off(physics.cushion_friction),
        tip_reach_per_radius: off(physics.tip_reach_per_radius),
        ..*physics
    }
}

/// One attempt.
fn run(
    bed: &Bed,
    player: &Player,
    random: &mut Random,
    mut choose: impl FnMut(&[Placed]) -> Option<NextHit>,
) -> usize {
    let table = bed.table();
    let mut balls = opening(table, random);
    let mut run = 0;
    while run < LONGEST {
        let Some(next) = choose(&balls) else { break };
        let hit = player.played(&next.hit, random);
        let Ok(shot) = motion::play(bed, &balls, 0, &hit) else { break };
        let before = balls.len();
        balls = shot
            .rest
            .iter()
            .filter_map(|rest| match rest.outcome {
                Outcome::Lies(place) => Some(Placed { id: rest.ball, place }),
                Outcome::Dropped { .. } => None,
            })
            .collect();
        if balls.len() == before || balls.iter().all(|ball| ball.id != 0) {
            break;
        }
        run += before - balls.len();
        if balls.len() <= 2 {
            balls = racked(table, &balls);
        }
    }
    run
}

/// Fourteen racked, a break ball above the rack and the cue ball for a cut into the corner.
fn opening(table: &TableSize, random: &mut Random) -> Vec<Placed> {
    let rack = Rack::on(table);
    let apex = table.foot_spot();
    let mut near = |x_mm: f64, y_mm: f64| {
        TablePoint::new(
            apex.x_mm + x_mm + random.between(-15.0, 15.0),
            apex.y_mm + y_mm + random.between(-15.0, 15.0),
        )
    };
    let ball = near(70.0, 190.0);
    let cue = near(-330.0, 60.0);
    let racked = rack.continuing().iter().zip(2..).map(|(place, id)| Placed { id, place: *place });
    [Placed { id: 0, place: cue }, Placed { id: 1, place: ball }]
        .into_iter()
        .chain(racked)
        .collect()
}

/// The table after the balls were racked again.
fn racked(table: &TableSize, left: &[Placed]) -> Vec<Placed> {
    let rack = Rack::on(table);
    let place = |cue: bool| left.iter().find(|ball| (ball.id == 0) == cue).map(|ball| ball.place);
    let (Some(cue), last) = (place(true), place(false)) else { return left.to_vec() };
    let goes = rerack(table, last, cue);
    let head = table.head_spot();
    let to = |goes: Goes, now: Option<TablePoint>| match goes {
        Goes::Stays => now,
        Goes::Racked => None,
        Goes::To(place) => Some(place),
        // Behind the head string, a little off the spot.
        Goes::InHand => Some(TablePoint::new(head.x_mm - 60.0, head.y_mm - 200.0)),
    };
    let cue = to(goes.cue, Some(cue)).unwrap_or(head);
    let last = to(goes.last, last);
    let places: Vec<TablePoint> = match last {
        Some(last) => std::iter::once(last).chain(rack.continuing().iter().copied()).collect(),
        None => rack.places().to_vec(),
    };
    let objects = places.into_iter().zip(1..).map(|(place, id)| Placed { id, place });
    std::iter::once(Placed { id: 0, place: cue }).chain(objects).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::advice::Level;

    #[test]
    fn advice_runs_longer_than_the_likeliest_pot() {
        let bed = Bed::new(&TableSize::NINE_FOOT, &Physics::default()).unwrap();
        let mean = |planner| {
            let run = |k| self_play(&bed, &bed, Level::Club.prior(), planner, (k, 1)).unwrap();
            (0..12).map(run).sum::<usize>()
        };
        let (advice, likeliest) = (mean(Planner::Advice), mean(Planner::LikeliestPot));
        assert!(advice > likeliest, "{advice} {likeliest}");
    }
}
