//! Choices of speed, height and side, played many times and narrowed in stages.
//!
//! Input: the balls before a break, the player. Output: the choices that were played to the end,
//! each with at least [`LEAST_HITS`] simulated hits. Method: a grid of speeds and heights is played a
//! few times each; the best stay, get side variants, then half steps around the best two. Each
//! choice of a stage meets the same errors, hit by hit, so that choices are compared and not luck.
//! The finalists, and what differs from the best in one thing only (for the sentence that says why),
//! are then played afresh: the figures told are not those by which they were chosen.
//!
//! Any-time: when the deadline is over, the stages are cut; the two best are still played to the end
//! (some 0.1 s). Without a deadline the result depends on nothing but input and seed.

use super::aim::{self, Stroke, Window};
use super::closing::{BREAK_BALL, CUE, Closing};
use super::figures::Tally;
use super::next_shot::Ways;
use super::outcome::Outcome;
use crate::advice::Player;
use crate::motion::{self, Bed, Hit, Placed, Shot};
use crate::random::Random;
use crate::table::{Rack, TablePoint};
use std::time::Instant;

/// Fewest simulated hits of a choice that is reported.
pub const LEAST_HITS: usize = 300;

const SPEEDS_M_S: [f64; 5] = [2.5, 4.0, 5.5, 7.0, 8.5];
const HEIGHTS: [f64; 5] = [-0.7, -0.35, 0.0, 0.35, 0.7];
const SIDE: f64 = 0.4;
const HALF_STEP: Stroke = Stroke { speed_m_s: 0.75, height: 0.175, side: 0.2 };
/// What a contrast differs by.
const CONTRAST: Stroke = Stroke { speed_m_s: 0.4, height: 0.5, side: SIDE };
/// Hits that a choice gets in the first stage, and in the later ones.
const FIRST_HITS: usize = 40;
const LATER_HITS: usize = 100;
/// How many stay after the first stage, how many get side variants, half steps, the final.
const STAY: usize = 8;
const SIDED: usize = 4;
const HALVED: usize = 2;
const FINALISTS: usize = 4;
/// Pockets with less than this part of the best one's chance are not tried.
const LEAST_PART: f64 = 0.4;
/// Hits of the final are numbered from here, those of the stages below it.
const FINAL_FROM: u64 = 1 << 32;
/// Places of the cue ball at rest that are kept of a choice, for drawing.
const KEPT_ENDS: usize = 60;
/// The slowest and fastest that is advised, m/s.
const SLOWEST_M_S: f64 = 1.5;
const FASTEST_M_S: f64 = 10.0;

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
    pub window: Window,
    pub stroke: Stroke,
    pub meant: Hit,
    pub tally: Tally,
    pub cue_ends: Vec<TablePoint>,
}

impl<'a> Game<'a> {
    pub fn new(bed: &'a Bed, player: &'a Player, closing: &'a Closing, seed: u64) -> Self {
        let ways = Ways::new(bed.table(), player.aim_rad);
        let middling = ways.middling_chance();
        Self { bed, player, closing, rack: Rack::on(bed.table()), ways, middling, seed }
    }

    /// The pockets worth trying, the likeliest first.
    pub fn windows(&self) -> Vec<Window> {
        let (cue, ball) = (self.closing.cue(), self.closing.break_ball());
        let racked: Vec<Placed> =
            self.closing.balls.iter().filter(|b| b.id > BREAK_BALL).copied().collect();
        let chance = |window: &Window| self.ways.of_window(cue, ball, window);
        let mut windows: Vec<(f64, Window)> = aim::windows(self.bed, ball, &racked)
            .into_iter()
            .filter_map(|window| Some((chance(&window)?, window)))
            .collect();
        windows.sort_by(|a, b| b.0.total_cmp(&a.0));
        let best = windows.first().map_or(0.0, |(chance, _)| *chance);
        windows.retain(|(chance, _)| *chance >= LEAST_PART * best);
        windows.truncate(2);
        windows.into_iter().map(|(_, window)| window).collect()
    }

    /// A choice with its aim; none where the break ball cannot be sent into the window so.
    pub fn trial(&self, window: Window, stroke: Stroke) -> Option<Trial> {
        let (cue, ball) = (self.closing.cue(), self.closing.break_ball());
        let meant = aim::solve(self.bed, cue, ball, &window, stroke)?;
        Some(Trial { window, stroke, meant, tally: Tally::default(), cue_ends: Vec::new() })
    }

    /// Plays a choice until it has so many hits; the n-th hit has the same errors in every choice.
    pub fn play(&self, trial: &mut Trial, hits: usize, numbered_from: u64) {
        for number in trial.tally.hits()..hits {
            let mut random = Random::stream(self.seed, numbered_from + number as u64);
            let hit = self.player.played(&trial.meant, &mut random);
            let Some(shot) = self.shot(&hit) else { return };
            let outcome =
                Outcome::of(self.closing, &self.rack, &self.ways, trial.window.pocket, &shot);
            if outcome.goes_on() && trial.cue_ends.len() < KEPT_ENDS {
                trial.cue_ends.extend(outcome.cue_end);
            }
            trial.tally.add(&outcome, self.middling);
        }
    }

    /// A hit from the balls before the break.
    pub fn shot(&self, hit: &Hit) -> Option<Shot> {
        motion::play(self.bed, &self.closing.balls, CUE, hit).ok()
    }

    /// The choices played to the end, the best first, and whether every stage was run.
    pub fn search(&self, deadline: Option<Instant>) -> (Vec<Trial>, bool) {
        let over = || deadline.is_some_and(|deadline| Instant::now() >= deadline);
        let (mut trials, mut whole) = self.coarse(&over);
        whole &= self.narrow(&mut trials, &over);
        let Some(leader) = trials.first() else { return (Vec::new(), whole) };
        let (window, stroke) = (leader.window, leader.stroke);
        trials.truncate(FINALISTS);
        // The two best come first, so that a deadline leaves them.
        let contrasts = contrasts(stroke).into_iter().filter_map(|s| self.trial(window, s));
        let at = trials.len().min(2);
        let new: Vec<Trial> = contrasts.filter(|c| !trials.iter().any(|t| t.is(c))).collect();
        trials.splice(at..at, new);
        let mut played = Vec::new();
        for mut trial in trials {
            if played.len() >= 2 && over() {
                whole = false;
                break;
            }
            (trial.tally, trial.cue_ends) = (Tally::default(), Vec::new());
            self.play(&mut trial, LEAST_HITS, FINAL_FROM);
            played.push(trial);
        }
        played.retain(|trial| trial.tally.hits() >= LEAST_HITS);
        best_first(&mut played);
        (played, whole)
    }

    fn coarse(&self, over: &dyn Fn() -> bool) -> (Vec<Trial>, bool) {
        let mut trials: Vec<Trial> = Vec::new();
        let mut whole = true;
        let windows = self.windows();
        // Middling hits first: a deadline then leaves those.
        for speed_m_s in by_distance(SPEEDS_M_S) {
            for height in by_distance(HEIGHTS) {
                for window in &windows {
                    if over() && trials.len() >= 2 {
                        whole = false;
                        continue;
                    }
                    let stroke = Stroke { speed_m_s, height, side: 0.0 };
                    if let Some(mut trial) = self.trial(*window, stroke) {
                        self.play(&mut trial, FIRST_HITS, 0);
                        trials.push(trial);
                    }
                }
            }
        }
        best_first(&mut trials);
        (trials, whole)
    }

    /// Later stages; false where the deadline cut them.
    fn narrow(&self, trials: &mut Vec<Trial>, over: &dyn Fn() -> bool) -> bool {
        trials.truncate(STAY);
        for trial in trials.iter_mut() {
            if over() {
                break;
            }
            self.play(trial, LATER_HITS, 0);
        }
        best_first(trials);
        let sides = |stroke: Stroke| {
            [-SIDE, SIDE].map(|side| Stroke { side, ..stroke }.held()).to_vec()
        };
        self.around(trials, SIDED, sides, over);
        self.around(trials, HALVED, half_steps, over);
        !over()
    }

    /// Adds variants of the best and sorts them in.
    fn around(
        &self,
        trials: &mut Vec<Trial>,
        of_best: usize,
        variants: impl Fn(Stroke) -> Vec<Stroke>,
        over: &dyn Fn() -> bool,
    ) {
        let best: Vec<(Window, Stroke)> =
            trials.iter().take(of_best).map(|trial| (trial.window, trial.stroke)).collect();
        for (window, stroke) in best {
            for variant in variants(stroke) {
                if over() {
                    break;
                }
                let Some(mut trial) = self.trial(window, variant) else { continue };
                if trials.iter().any(|known| known.is(&trial)) {
                    continue;
                }
                self.play(&mut trial, LATER_HITS, 0);
                trials.push(trial);
            }
        }
        // What has few hits is not compared with what has many.
        trials.retain(|trial| trial.tally.hits() >= LATER_HITS || over());
        best_first(trials);
    }
}

impl Trial {
    /// Whether two are the same choice.
    fn is(&self, other: &Self) -> bool {
        self.window.pocket == other.window.pocket && self.stroke == other.stroke
    }
}

impl Stroke {
    /// Held to what the tip reaches with room for the player's errors, and to sensible speeds.
    fn held(self) -> Self {
        let out = (self.height.hypot(self.side) / 0.9).max(1.0);
        let rounded = |value: f64| (value * 1000.0).round() / 1000.0;
        Self {
            speed_m_s: rounded(self.speed_m_s.clamp(SLOWEST_M_S, FASTEST_M_S)),
            height: rounded(self.height / out),
            side: rounded(self.side / out),
        }
    }
}

fn best_first(trials: &mut [Trial]) {
    trials.sort_by(|a, b| b.tally.mean_worth().total_cmp(&a.tally.mean_worth()));
}

/// The middle one first, then outward.
fn by_distance<const N: usize>(mut values: [f64; N]) -> [f64; N] {
    let middle = values[N / 2];
    values.sort_by(|a, b| (a - middle).abs().total_cmp(&(b - middle).abs()));
    values
}

fn half_steps(at: Stroke) -> Vec<Stroke> {
    let mut steps = Vec::new();
    for sign in [-1.0, 1.0] {
        let Stroke { speed_m_s, height, side } = HALF_STEP;
        steps.push(Stroke { speed_m_s: at.speed_m_s + sign * speed_m_s, ..at }.held());
        steps.push(Stroke { height: at.height + sign * height, ..at }.held());
        steps.push(Stroke { side: at.side + sign * side, ..at }.held());
    }
    steps
}

/// Choices that differ from one in a single thing.
fn contrasts(of: Stroke) -> Vec<Stroke> {
    let mut strokes = Vec::new();
    for sign in [-1.0, 1.0] {
        let height = of.height + sign * CONTRAST.height;
        if height.abs() <= 0.9 {
            strokes.push(Stroke { height, ..of });
        }
        strokes.push(Stroke { speed_m_s: of.speed_m_s * (1.0 + sign * CONTRAST.speed_m_s), ..of });
    }
    strokes.push(Stroke { side: if of.side == 0.0 { CONTRAST.side } else { 0.0 }, ..of });
    strokes.into_iter().map(Stroke::held).collect()
}
