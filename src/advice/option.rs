//! Ways to go on from a position: shots with their hits, and what they leave.
//!
//! Input: balls, how many shots and hits to look at. Output: options, the most promising first. A
//! shot's hits differ in speed, height and side; each is aimed with throw, played once as meant, and
//! kept if it pockets its ball and leaves the cue ball on the table. Then `weigh` plays options as
//! this player would, and what counts is the mean of the balls they bring and leave to come.
//! Not modelled: elevated hits, safeties.

use super::advisor::Advisor;
use super::aim;
use super::direct::Direct;
use super::normal;
use super::odds::{Goal, odds};
use super::outcome::{self, Played, cue_of, objects};
use super::scan::{self, Kind};
use crate::motion::{Hit, Placed};

/// Speeds, as multiples of the least that reaches the pocket.
const PACES: [f64; 5] = [1.0, 1.35, 1.8, 2.5, 3.5];
const HEIGHTS: [f64; 4] = [-0.7, -0.3, 0.1, 0.5];
/// With side only these are looked at: paces, heights, sides.
const SIDE_PACES: [f64; 3] = [1.0, 1.5, 2.2];
const SIDE_HEIGHTS: [f64; 2] = [-0.3, 0.3];
const SIDES: [f64; 2] = [-0.5, 0.5];
/// Speeds that open a rack, m/s, looked at while so many balls are left.
const OPENING_M_S: [f64; 3] = [4.0, 5.5, 7.0];
const OPENING_FROM: usize = 10;
const FASTEST_M_S: f64 = 7.5;
/// Shots with less than this part of the best one's chance are left out.
const LEAST_PART: f64 = 0.45;
/// Below this chance of the best direct pot others than direct ones are looked for.
const POOR: f64 = 0.45;

/// One way to go on.
#[derive(Debug, Clone)]
pub(super) struct Choice {
    pub goal: Goal,
    pub way: Kind,
    pub hit: Hit,
    /// By the fast formula.
    pub chance: f64,
    /// What is left when it is played as meant.
    pub played: Played,
    /// Balls that it brings and leaves to come, expected.
    pub value: f64,
}

/// How far to look.
#[derive(Debug, Clone, Copy)]
pub(super) struct Breadth {
    pub shots: usize,
    /// Options kept of each shot.
    pub hits: usize,
    /// Speeds that are looked at, as multiples of the least that reaches the pocket, and heights.
    pub paces: &'static [f64],
    pub heights: &'static [f64],
    /// Whether hits with side are looked at.
    pub side: bool,
    /// Whether banks and combinations are looked for when no direct pot is good.
    pub indirect: bool,
}

impl Breadth {
    /// As much as is worth the time for one shot.
    pub const WHOLE: Self =
        Self { shots: 6, hits: 4, paces: &PACES, heights: &HEIGHTS, side: true, indirect: true };
    /// Enough for a first answer.
    pub const NARROW: Self =
        Self { paces: &[1.0, 1.6, 2.5], heights: &[-0.5, 0.0, 0.45], side: false, ..Self::WHOLE };
    /// So little that a rack can be played through many times.
    pub const QUICK: Self = Self {
        shots: 2,
        hits: 1,
        paces: &[1.0, 1.8],
        heights: &[-0.3, 0.3],
        side: false,
        indirect: false,
    };
}

impl Advisor<'_> {
    /// The options of a position, the most promising first.
    pub(super) fn options(&mut self, balls: &[Placed], breadth: Breadth) -> Vec<Choice> {
        let mut directs = self.quick_directs(balls);
        directs.sort_by(|a, b| b.chance.total_cmp(&a.chance));
        let best = directs.first().map_or(0.0, |direct| direct.chance);
        directs.retain(|direct| direct.chance >= LEAST_PART * best);
        directs.truncate(breadth.shots);
        let mut options = Vec::new();
        for direct in &directs {
            let mut of_shot = self.hits_of(balls, direct, breadth);
            of_shot.sort_by(|a, b| b.value.total_cmp(&a.value));
            of_shot.truncate(breadth.hits);
            options.extend(of_shot);
        }
        if breadth.indirect && best < POOR {
            options.extend(self.indirect_options(balls));
        }
        options.sort_by(|a, b| b.value.total_cmp(&a.value));
        options
    }

    /// Hits for one direct pot, as meant.
    fn hits_of(&mut self, balls: &[Placed], direct: &Direct, breadth: Breadth) -> Vec<Choice> {
        let meant = self.meant(balls, direct, breadth);
        let mut options = Vec::with_capacity(meant.len());
        for hit in meant {
            let Some(hit) = self.aimed(balls, direct, &hit, 1) else { continue };
            let goal = (direct.ball, direct.pocket);
            options.extend(self.option(balls, goal, (Kind::Direct, hit), direct.chance));
        }
        options
    }

    fn option(
        &mut self,
        balls: &[Placed],
        goal: Goal,
        (way, hit): (Kind, Hit),
        chance: f64,
    ) -> Option<Choice> {
        let (played, _) = outcome::play(self.bed, balls, &hit)?;
        if !played.makes(goal) {
            return None;
        }
        let value = chance * (played.dropped.len() as f64 + self.worth(&played.after));
        Some(Choice { goal, way, hit, chance, played, value })
    }

    /// Hits to try for a pot, their aims still open.
    pub(super) fn meant(&self, balls: &[Placed], direct: &Direct, breadth: Breadth) -> Vec<Hit> {
        let &Direct { to_meeting_mm, to_pocket_mm, cut_rad, .. } = direct;
        let least = aim::least_speed_m_s(self.bed, to_meeting_mm, to_pocket_mm, cut_rad);
        let mut speeds: Vec<f64> = breadth.paces.iter().map(|pace| pace * least).collect();
        if objects(balls).count() >= OPENING_FROM {
            speeds.extend(OPENING_M_S.iter().filter(|speed| **speed > least));
        }
        speeds.retain(|speed| *speed <= FASTEST_M_S);
        if speeds.is_empty() {
            speeds.push(least.min(FASTEST_M_S));
        }
        let mut hits = Vec::new();
        for speed in speeds {
            let at = |height: &f64| Hit { height: *height, ..Hit::centre(0.0, speed) };
            hits.extend(breadth.heights.iter().map(at));
        }
        if breadth.side {
            for speed in
                SIDE_PACES.map(|pace| pace * least).into_iter().filter(|s| *s <= FASTEST_M_S)
            {
                for height in SIDE_HEIGHTS {
                    hits.extend(SIDES.map(|side| Hit { height, side, ..Hit::centre(0.0, speed) }));
                }
            }
        }
        hits
    }

    /// Banks, combinations, caroms and kisses as options.
    fn indirect_options(&mut self, balls: &[Placed]) -> Vec<Choice> {
        let Some(cue) = cue_of(balls) else { return Vec::new() };
        let firsts: Vec<Placed> = objects(balls).copied().collect();
        let mut options = Vec::new();
        for first in &firsts {
            for found in scan::indirect(self.bed, balls, cue, first) {
                let chance = normal::within(found.half_aim_rad, self.player.aim_rad);
                let goal = (found.ball, found.pocket);
                options.extend(self.option(balls, goal, (found.kind, found.hit), chance));
            }
        }
        options
    }

    /// Plays an option as this player does, and what it brings and leaves on the mean.
    pub(super) fn weigh(&mut self, balls: &[Placed], choice: &Choice, draws: (usize, u64)) -> f64 {
        let odds = odds(self.bed, &self.player, balls, (&choice.hit, choice.goal), draws);
        let mut sum = 0.0;
        for played in &odds.going_on {
            sum += played.dropped.len() as f64 + self.worth(&played.after);
        }
        sum / draws.0.max(1) as f64
    }
}
