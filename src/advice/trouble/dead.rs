//! Dead combinations: two balls that lie so that one drops wherever the other is struck from.
//!
//! Input: object balls at rest. Output: pairs with their pocket. Method: the cue ball is put down in
//! thought around the first ball and played fully into it; what counts is in how many of those hits
//! the second drops. Degenerates: where there is no room for the cue ball, a pair is not dead.

use crate::advice::advisor::Advisor;
use crate::advice::outcome::{self, CUE};
use crate::motion::{Hit, Placed};
use schemars::JsonSchema;
use serde::Serialize;

/// Only balls nearer to each other than this can be dead, in mm.
const NEAR_MM: f64 = 4.0;
/// Where the cue ball comes from, off the line through both balls, in degrees; from how far, in mm.
const FROM_DEG: [f64; 7] = [0.0, -15.0, 15.0, -30.0, 30.0, -42.0, 42.0];
const BACK_MM: f64 = 150.0;
const SPEED_M_S: f64 = 2.2;
/// Fewer hits say nothing.
const LEAST_HITS: usize = 3;
/// In this part of the hits the ball has to drop.
const DEAD: f64 = 0.8;

/// A combination that is dead.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct DeadCombination {
    /// The ball that drops.
    pub ball: usize,
    pub pocket: usize,
    /// The ball that is struck.
    pub first: usize,
    /// In how many of the hits from different sides it dropped.
    pub share: f64,
}

impl Advisor<'_> {
    /// The dead combinations among object balls.
    pub(super) fn dead(&self, lying: &[Placed]) -> Vec<DeadCombination> {
        let near_mm = self.bed.table().ball_diameter_mm + NEAR_MM;
        let pairs = lying.iter().flat_map(|first| lying.iter().map(move |ball| (first, ball)));
        let near = pairs.filter(|(first, ball)| {
            first.id != ball.id && first.place.distance_mm(ball.place) < near_mm
        });
        near.filter_map(|(first, ball)| self.dead_pair(lying, first, ball)).collect()
    }

    fn dead_pair(
        &self,
        lying: &[Placed],
        first: &Placed,
        ball: &Placed,
    ) -> Option<DeadCombination> {
        let table = self.bed.table();
        let diameter = table.ball_diameter_mm;
        let line = first.place.direction_to(ball.place);
        let mut balls = vec![Placed { id: CUE, place: first.place }];
        balls.extend_from_slice(lying);
        let mut hits = 0;
        let mut dropped = [0_usize; 6];
        for from_deg in FROM_DEG {
            let aim_rad = line + from_deg.to_radians();
            let cue = first.place.moved(aim_rad, -diameter - BACK_MM);
            let taken = |other: &Placed| {
                other.id != first.id && other.place.distance_to_way_mm(cue, first.place) < diameter
            };
            if lying.iter().any(|other| other.id != ball.id && taken(other)) {
                continue;
            }
            balls[0].place = cue;
            let Some((played, _)) =
                outcome::play(self.bed, &balls, &Hit::centre(aim_rad, SPEED_M_S))
            else {
                continue;
            };
            hits += 1;
            let pocket = played.dropped.iter().find(|(id, _)| *id == ball.id).map(|(_, p)| *p);
            if let Some(count) = pocket.and_then(|pocket| dropped.get_mut(pocket)) {
                *count += 1;
            }
        }
        let (pocket, most) = dropped.iter().enumerate().max_by_key(|(_, count)| **count)?;
        let share = *most as f64 / hits.max(1) as f64;
        (hits >= LEAST_HITS && share >= DEAD).then_some(DeadCombination {
            ball: ball.id,
            pocket,
            first: first.id,
            share,
        })
    }
}
