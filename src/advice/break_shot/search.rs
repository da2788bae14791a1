//! Choices of speed, height and side, played many times and narrowed in stages.
//!
//! Input: the balls before a break, the player. Output: the choices that were played to the end,
//! each with at least [`LEAST_HITS`] simulated hits. Method: a grid of speeds, heights and sides is
//! played a few times each, and the best more often from stage to stage (successive halving); then
//! come half steps around the best two. Each
//! choice of a stage meets the same errors, hit by hit, so that choices are compared and not luck.
//! The finalists, and what differs from the best in one thing only (for the sentence that says why),
//! are then played afresh: the figures told are not those by which they were chosen.
//!
//! Any-time: when the bound is over, the stages are cut; the two best are still played to the end
//! (some 0.1 s). Without a bound the result depends on nothing but input and seed.

use super::closing::{BREAK_BALL, CUE, Closing};
use super::figures::worth;
use super::next_shot::Ways;
use super::outcome::Outcome;
use super::stroke::{HEIGHTS, SIDES, SPEEDS_M_S, Stroke, outward};
use crate::advice::aim::aim_for;
use crate::advice::direct::{Direct, directs};
use crate::advice::window::{Window, Windows};
use crate::advice::{Bound, Player};
use crate::motion::{self, Bed, Hit, Shot};
use crate::random::Random;
use crate::table::{Rack, TablePoint};

/// Fewest simulated hits of a choice that is reported.
pub const LEAST_HITS: usize = 300;

/// The stages: how many hits a choice gets in all, and how many choices stay.
const STAGES: [(usize, usize); 4] = [(6, 50), (18, 20), (50, 8), (120, 4)];
/// How many get half steps, and of how many hits.
const HALVED: usize = 2;
const HALVED_HITS: usize = 80;
/// How many are played to the end before what differs from the best in one thing.
const FINALISTS: usize = 4;
/// Pockets with less than this part of the best one's chance are not tried.
const LEAST_PART: f64 = 0.4;
const MOST_POTS: usize = 2;
/// Tries to find an aim, throw and swerve allowed for.
const AIM_TRIES: usize = 6;
/// Hits of the final are numbered from here, those of the stages below it.
const FINAL_FROM: u64 = 1 << 32;
/// Speed and hits of a glance at a break shot.
const GLANCE: (f64, usize) = (5.5, 6);

/// Everything that hits are simulated on.
pub(super) struct Game<'a> {
    pub bed: &'a Bed,
    pub player: &'a Player,
    pub closing: &'a Closing,
    pub rack: Rack,
    pub ways: Ways,
    /// The player's chance of a middling shot.
    pub middling: f64,
    pub seed: u64,
}

/// A choice under trial.
#[derive(Debug, Clone)]
pub(super) struct Trial {
    pub pot: Direct,
    pub stroke: Stroke,
    pub meant: Hit,
    pub outcomes: Vec<Outcome>,
    worth: f64,
}

impl<'a> Game<'a> {
    pub fn new(bed: &'a Bed, player: &'a Player, closing: &'a Closing, seed: u64) -> Self {
        let ways = Ways::new(bed.table(), player.aim_rad);
        let middling = ways.middling_chance();
        Self { bed, player, closing, rack: Rack::on(bed.table()), ways, middling, seed }
    }

    /// The pots of the break ball, the likeliest first, by what the pockets take from its place.
    pub fn pots_by(&self, windows: &[Option<Window>; 6]) -> Vec<Direct> {
        let ball = self.closing.break_ball();
        let of_ball = |place| if place == ball { *windows } else { [None; 6] };
        let mut pots = directs(self.bed, self.player, &self.closing.balls, of_ball);
        pots.retain(|pot| pot.ball == BREAK_BALL);
        pots.sort_by(|a, b| b.chance.total_cmp(&a.chance));
        pots
    }

    /// The pots worth trying.
    pub fn pots(&self) -> Vec<Direct> {
        let windows = Windows::of(self.bed).from(self.closing.break_ball());
        let mut pots = self.pots_by(&windows);
        let best = pots.first().map_or(0.0, |pot| pot.chance);
        pots.retain(|pot| pot.chance > 0.0 && pot.chance >= LEAST_PART * best);
        pots.truncate(MOST_POTS);
        pots
    }

    /// A choice with its aim; none where the break ball cannot be sent into the pocket so.
    pub fn trial(&self, pot: &Direct, stroke: Stroke) -> Option<Trial> {
        let ball = &self.closing.balls[BREAK_BALL];
        let wished_rad = pot.window.middle_rad();
        let cue = self.closing.cue();
        let aim_rad = aim_for(self.bed, cue, ball, wished_rad, &stroke.at(0.0), AIM_TRIES)?;
        let meant = stroke.at(aim_rad);
        Some(Trial { pot: *pot, stroke, meant, outcomes: Vec::new(), worth: 0.0 })
    }

    /// Plays a choice until it has so many hits; the n-th hit has the same errors in every choice.
    pub fn play(&self, trial: &mut Trial, hits: usize, numbered_from: u64) {
        for number in trial.outcomes.len()..hits {
            let mut random = Random::stream(self.seed, numbered_from + number as u64);
            let hit = self.player.played(&trial.meant, &mut random);
            let Some(shot) = self.shot_at_rack(&hit, &mut random) else { return };
            let outcome =
                Outcome::of(self.closing, &self.rack, &self.ways, trial.pot.pocket, &shot);
            trial.worth += worth(&outcome, self.middling);
            trial.outcomes.push(outcome);
        }
    }

    /// Plays a choice so many times by hits that did not choose it.
    pub fn afresh(&self, trial: &mut Trial, hits: usize) {
        (trial.outcomes, trial.worth) = (Vec::new(), 0.0);
        self.play(trial, hits, FINAL_FROM);
    }

    /// A hit from the balls before the break.
    pub fn shot(&self, hit: &Hit) -> Option<Shot> {
        motion::play(self.bed, &self.closing.balls, CUE, hit).ok()
    }

    /// The same with a rack that stands a little off, as no rack stands twice alike.
    fn shot_at_rack(&self, hit: &Hit, random: &mut Random) -> Option<Shot> {
        let mut balls = self.closing.balls.clone();
        let sigma_mm = self.closing.rack_sigma_mm;
        let (x_mm, y_mm) = (sigma_mm * random.normal(), sigma_mm * random.normal());
        for ball in balls.iter_mut().filter(|ball| ball.id > BREAK_BALL) {
            ball.place.x_mm += x_mm;
            ball.place.y_mm += y_mm;
        }
        motion::play(self.bed, &balls, CUE, hit).ok()
    }

    /// The choices played to the end, the best first, and whether every stage was run.
    pub fn search(&self, bound: &Bound) -> (Vec<Trial>, bool) {
        let over = || bound.is_over();
        let mut trials = self.grid();
        for (hits, stay) in STAGES {
            if over() {
                break;
            }
            for trial in &mut trials {
                self.play(trial, hits, 0);
            }
            best_first(&mut trials);
            trials.truncate(stay);
        }
        self.half_steps(&mut trials, &over);
        let mut played = Vec::new();
        trials.truncate(FINALISTS);
        self.finish(trials, &mut played, &over);
        if let Some(best) = played.first() {
            let (pot, stroke) = (best.pot, best.stroke);
            let trials = stroke.contrasts().into_iter().filter_map(|s| self.trial(&pot, s));
            self.finish(trials.collect(), &mut played, &over);
        }
        (played, !over())
    }

    /// Every choice of the grid, none played yet; middling ones first.
    fn grid(&self) -> Vec<Trial> {
        let mut trials = Vec::new();
        let pots = self.pots();
        for speed_m_s in outward(SPEEDS_M_S) {
            for height in outward(HEIGHTS) {
                for side in outward(SIDES) {
                    let stroke = Stroke { speed_m_s, height, side }.held();
                    trials.extend(pots.iter().filter_map(|pot| self.trial(pot, stroke)));
                }
            }
        }
        trials
    }

    /// Adds half steps around the best and sorts them in.
    fn half_steps(&self, trials: &mut Vec<Trial>, over: &dyn Fn() -> bool) {
        let best: Vec<(Direct, Stroke)> =
            trials.iter().take(HALVED).map(|trial| (trial.pot, trial.stroke)).collect();
        let steps = best.iter().flat_map(|(pot, stroke)| {
            stroke.half_steps().into_iter().map(move |stroke| (*pot, stroke))
        });
        for (pot, stroke) in steps {
            if over() {
                return;
            }
            let Some(mut trial) = self.trial(&pot, stroke) else { continue };
            if !trials.iter().any(|known| known.is(&trial)) {
                self.play(&mut trial, HALVED_HITS, 0);
                trials.push(trial);
            }
        }
        best_first(trials);
    }

    /// Plays choices afresh to the end and sorts them in; two at least, whatever the time.
    fn finish(&self, trials: Vec<Trial>, played: &mut Vec<Trial>, over: &dyn Fn() -> bool) {
        for mut trial in trials {
            if played.len() >= 2 && over() {
                break;
            }
            if played.iter().any(|known| known.is(&trial)) {
                continue;
            }
            self.afresh(&mut trial, LEAST_HITS);
            if trial.outcomes.len() >= LEAST_HITS {
                played.push(trial);
            }
        }
        best_first(played);
    }
}

/// What a break shot from a cue ball's and a break ball's place brings, in balls, by a few hits of a
/// few ways to play it.
pub(in crate::advice) fn glanced_at(
    bed: &Bed,
    player: &Player,
    (cue, ball): (TablePoint, TablePoint),
    seed: u64,
) -> f64 {
    let closing = Closing::between(bed.table(), cue, ball);
    let game = Game::new(bed, player, &closing, seed);
    let Some(pot) = game.pots().into_iter().next() else { return 0.0 };
    let worth = |height: f64| {
        let stroke = Stroke { speed_m_s: GLANCE.0, height, side: 0.0 };
        let mut trial = game.trial(&pot, stroke)?;
        game.play(&mut trial, GLANCE.1, 0);
        Some(trial.worth())
    };
    [-0.5, 0.0, 0.5].into_iter().filter_map(worth).fold(0.0, f64::max)
}

impl Trial {
    /// Whether two are the same choice.
    fn is(&self, other: &Self) -> bool {
        self.pot.pocket == other.pot.pocket && self.stroke == other.stroke
    }

    /// Mean worth of its hits, in balls.
    pub fn worth(&self) -> f64 {
        self.worth / self.outcomes.len().max(1) as f64
    }
}

fn best_first(trials: &mut [Trial]) {
    trials.sort_by(|a, b| b.worth().total_cmp(&a.worth()));
}
