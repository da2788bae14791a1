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
//! Any-time: when the deadline is over, the stages are cut; the two best are still played to the end
//! (some 0.1 s). Without a deadline the result depends on nothing but input and seed.

use super::aim::{self, Stroke, Window};
use super::closing::{BREAK_BALL, CUE, Closing};
use super::figures::worth;
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
const HEIGHTS: [f64; 7] = [-0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75];
const SIDES: [f64; 5] = [-0.5, -0.25, 0.0, 0.25, 0.5];
const HALF_STEP: Stroke = Stroke { speed_m_s: 0.75, height: 0.125, side: 0.125 };
/// What a contrast differs by: a part of the speed, the rest in steps of its own.
const CONTRAST: Stroke = Stroke { speed_m_s: 0.4, height: 0.5, side: 0.4 };
/// The stages: how many hits a choice gets in all, and how many choices stay.
const STAGES: [(usize, usize); 4] = [(6, 50), (18, 20), (50, 8), (120, 4)];
/// How many get half steps, and of how many hits.
const HALVED: usize = 2;
const HALVED_HITS: usize = 80;
/// How many are played to the end before what differs from the best in one thing.
const FINALISTS: usize = 4;
/// Pockets with less than this part of the best one's chance are not tried.
const LEAST_PART: f64 = 0.4;
/// Hits of the final are numbered from here, those of the stages below it.
const FINAL_FROM: u64 = 1 << 32;
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
    pub outcomes: Vec<Outcome>,
    worth: f64,
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
        let diameter_mm = self.bed.table().ball_diameter_mm;
        let open = |ghost: TablePoint| {
            racked.iter().all(|b| aim::from_way_mm(b.place, cue, ghost) >= diameter_mm)
        };
        let chance = |window: &Window| {
            let seen = open(aim::ghost(ball, window.middle_rad, diameter_mm));
            self.ways.of_window(cue, ball, window).filter(|_| seen)
        };
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
        Some(Trial { window, stroke, meant, outcomes: Vec::new(), worth: 0.0 })
    }

    /// Plays a choice until it has so many hits; the n-th hit has the same errors in every choice.
    pub fn play(&self, trial: &mut Trial, hits: usize, numbered_from: u64) {
        for number in trial.outcomes.len()..hits {
            let mut random = Random::stream(self.seed, numbered_from + number as u64);
            let hit = self.player.played(&trial.meant, &mut random);
            let Some(shot) = self.shot_at_rack(&hit, &mut random) else { return };
            let outcome =
                Outcome::of(self.closing, &self.rack, &self.ways, trial.window.pocket, &shot);
            trial.worth += worth(&outcome, self.middling);
            trial.outcomes.push(outcome);
        }
    }

    /// Plays a choice to the end, by hits that did not choose it.
    pub fn afresh(&self, trial: &mut Trial) {
        (trial.outcomes, trial.worth) = (Vec::new(), 0.0);
        self.play(trial, LEAST_HITS, FINAL_FROM);
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
    pub fn search(&self, deadline: Option<Instant>) -> (Vec<Trial>, bool) {
        let over = || deadline.is_some_and(|deadline| Instant::now() >= deadline);
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
            let (window, stroke) = (best.window, best.stroke);
            let trials = contrasts(stroke).into_iter().filter_map(|s| self.trial(window, s));
            self.finish(trials.collect(), &mut played, &over);
        }
        (played, !over())
    }

    /// Every choice of the grid, none played yet; middling ones first.
    fn grid(&self) -> Vec<Trial> {
        let mut trials = Vec::new();
        let windows = self.windows();
        for speed_m_s in by_distance(SPEEDS_M_S) {
            for height in by_distance(HEIGHTS) {
                for side in by_distance(SIDES) {
                    let stroke = Stroke { speed_m_s, height, side }.held();
                    trials.extend(windows.iter().filter_map(|w| self.trial(*w, stroke)));
                }
            }
        }
        trials
    }

    /// Adds half steps around the best and sorts them in.
    fn half_steps(&self, trials: &mut Vec<Trial>, over: &dyn Fn() -> bool) {
        let best: Vec<(Window, Stroke)> =
            trials.iter().take(HALVED).map(|trial| (trial.window, trial.stroke)).collect();
        let steps = best.iter().flat_map(|(window, stroke)| {
            half_steps(*stroke).into_iter().map(move |stroke| (*window, stroke))
        });
        for (window, stroke) in steps {
            if over() {
                return;
            }
            let Some(mut trial) = self.trial(window, stroke) else { continue };
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
            self.afresh(&mut trial);
            if trial.outcomes.len() >= LEAST_HITS {
                played.push(trial);
            }
        }
        best_first(played);
    }
}

impl Trial {
    /// Whether two are the same choice.
    fn is(&self, other: &Self) -> bool {
        self.window.pocket == other.window.pocket && self.stroke == other.stroke
    }

    /// Mean worth of its hits, in balls.
    pub fn worth(&self) -> f64 {
        self.worth / self.outcomes.len().max(1) as f64
    }
}

impl Stroke {
    /// Held to what the tip reaches with room for the player's errors, and to sensible speeds.
    fn held(self) -> Self {
        let out = (self.height.hypot(self.side) / 0.9).max(1.0);
        let rounded = |value: f64| (value * 1000.0).round() / 1000.0;
        Self {
            speed_m_s: rounded(self.speed_m_s.clamp(SLOWEST_M_S, FASTEST_M_S)),
            // No −0, whose sign would be told.
            height: rounded(self.height / out) + 0.0,
            side: rounded(self.side / out) + 0.0,
        }
    }
}

fn best_first(trials: &mut [Trial]) {
    trials.sort_by(|a, b| b.worth().total_cmp(&a.worth()));
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
