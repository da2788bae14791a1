//! `stillcloth measure --advice N`: whole attempts by the advice and by the likeliest pot, and the
//! break shot's advice against a fixed medium stun.
//!
//! Intervals are of 95 %. That of a ratio of mean runs comes from the two means' own by the delta
//! method, as if the attempts of both had nothing in common.

use serde::Serialize;
use std::error::Error;
use std::fmt::Write as _;
use std::sync::{
    Mutex, PoisonError,
    atomic::{AtomicUsize, Ordering},
};
use stillcloth::advice::break_shot::{self, AgainstStun, STUN_M_S};
use stillcloth::advice::{Estimate, Level};
use stillcloth::motion::{Bed, Physics};
use stillcloth::random::Random;
use stillcloth::staged::{Planner, off_by, self_play};
use stillcloth::table::TableSize;

/// By so much the physics that is played is off what the planner believes.
const OFF: f64 = 0.10;
/// A line of progress after so many attempts of a series.
const EVERY: usize = 10;

/// Attempts of one player by one planner.
struct Series {
    level: Level,
    planner: Planner,
    /// Whether the physics is off.
    off: bool,
    runs: Mutex<Vec<usize>>,
}

/// Both planners of one player.
#[derive(Serialize)]
struct Compared {
    level: Level,
    /// By what part the physics was off what the planners believed.
    physics_off: f64,
    attempts: usize,
    advice_run: Estimate,
    likeliest_pot_run: Estimate,
    ratio: f64,
    /// Its 95 % interval.
    ratio_between: [f64; 2],
}

#[derive(Serialize)]
struct BreakShots {
    level: Level,
    stun_m_s: f64,
    #[serde(flatten)]
    figures: AgainstStun,
}

#[derive(Serialize)]
struct Measured {
    runs: Vec<Compared>,
    break_shots: Vec<BreakShots>,
}

pub fn run(
    (seed, count): (u64, u64),
    level: Option<Level>,
    json: bool,
) -> Result<(), Box<dyn Error>> {
    let levels = level.map_or_else(|| Level::ALL.to_vec(), |level| vec![level]);
    let believed = Bed::new(&TableSize::NINE_FOOT, &Physics::default())?;
    let series = attempts(&levels, &believed, (seed, count))?;
    let runs: Vec<Compared> = series.chunks(2).filter_map(compared).collect();
    let mut break_shots = Vec::new();
    for level in levels {
        let done = |done: usize| {
            if done.is_multiple_of(EVERY) {
                eprintln!("{}, break shots: {done} of {count} layouts", level.name());
            }
        };
        let count = usize::try_from(count)?;
        let figures = break_shot::against_stun(&believed, &level.prior(), count, seed, done);
        break_shots.extend(figures.map(|figures| BreakShots {
            level,
            stun_m_s: STUN_M_S,
            figures,
        }));
    }
    let measured = Measured { runs, break_shots };
    let text = if json { serde_json::to_string_pretty(&measured)? + "\n" } else { told(&measured) };
    Ok(crate::commands::output::write(&text)?)
}

/// Plays all series, the n-th attempts of all before the next ones of any.
fn attempts(
    levels: &[Level],
    believed: &Bed,
    (seed, count): (u64, u64),
) -> Result<Vec<Series>, Box<dyn Error>> {
    let mut series = Vec::new();
    for level in levels {
        for off in [false, true] {
            for planner in [Planner::Advice, Planner::LikeliestPot] {
                series.push(Series { level: *level, planner, off, runs: Mutex::default() });
            }
        }
    }
    let next = AtomicUsize::new(0);
    let failed: Mutex<Option<String>> = Mutex::new(None);
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let job = next.fetch_add(1, Ordering::Relaxed);
                    let number = (job / series.len()) as u64;
                    let Some(one) = series.get(job % series.len()).filter(|_| number < count)
                    else {
                        break;
                    };
                    match one.play(believed, (number, seed)) {
                        Ok(run) => one.note(run, count),
                        Err(error) => {
                            let mut failed = failed.lock().unwrap_or_else(PoisonError::into_inner);
                            *failed = Some(error.to_string());
                            break;
                        }
                    }
                }
            });
        }
    });
    match failed.into_inner().unwrap_or_else(PoisonError::into_inner) {
        Some(error) => Err(error.into()),
        None => Ok(series),
    }
}

impl Series {
    fn play(&self, believed: &Bed, (number, seed): (u64, u64)) -> Result<usize, Box<dyn Error>> {
        let player = self.level.prior();
        let mut bed = None;
        if self.off {
            let mut random = Random::stream(!seed, number);
            let physics = off_by(believed.physics(), OFF, &mut random);
            bed = Some(Bed::new(believed.table(), &physics)?);
        }
        let bed = bed.as_ref().unwrap_or(believed);
        Ok(self_play(bed, believed, player, self.planner, (number, seed))?)
    }

    fn name(&self) -> String {
        let planner = match self.planner {
            Planner::Advice => "advice",
            Planner::LikeliestPot => "likeliest pot",
        };
        let off = if self.off { ", physics off" } else { "" };
        format!("{}{off}, {planner}", self.level.name())
    }

    fn note(&self, run: usize, of: u64) {
        let mut runs = self.runs.lock().unwrap_or_else(PoisonError::into_inner);
        runs.push(run);
        if runs.len().is_multiple_of(EVERY) {
            let mean = estimate(&runs);
            eprintln!(
                "{}: {} of {of} attempts, mean run {:.2} ± {:.2}",
                self.name(),
                runs.len(),
                mean.mean,
                mean.plus_minus
            );
        }
    }

    fn mean(&self) -> (usize, Estimate) {
        let runs = self.runs.lock().unwrap_or_else(PoisonError::into_inner);
        (runs.len(), estimate(&runs))
    }
}

fn estimate(runs: &[usize]) -> Estimate {
    Estimate::of(runs.iter().map(|run| *run as f64))
}

/// The advice's series beside that of the likeliest pot.
fn compared(pair: &[Series]) -> Option<Compared> {
    let [advice, likeliest] = pair else { return None };
    let ((attempts, advice_run), (_, likeliest_pot_run)) = (advice.mean(), likeliest.mean());
    let ratio = advice_run.mean / likeliest_pot_run.mean;
    let part = |run: &Estimate| run.plus_minus / run.mean;
    let off = part(&advice_run).hypot(part(&likeliest_pot_run)).exp();
    Some(Compared {
        level: advice.level,
        physics_off: if advice.off { OFF } else { 0.0 },
        attempts,
        advice_run,
        likeliest_pot_run,
        ratio,
        ratio_between: [ratio / off, ratio * off],
    })
}

fn told(measured: &Measured) -> String {
    let mut text = String::from(
        "| player | physics | attempts | mean run, advice | mean run, likeliest pot | ratio |\n| --- | --- | --- | --- | --- | --- |\n",
    );
    // Writing to a string cannot fail.
    for one in &measured.runs {
        let physics = if one.physics_off > 0.0 {
            format!("off by {:.0} %", 100.0 * one.physics_off)
        } else {
            "as believed".into()
        };
        let [low, high] = one.ratio_between;
        let _ = writeln!(
            text,
            "| {} | {physics} | {} | {} | {} | {:.2} ({low:.2} to {high:.2}) |",
            one.level.name(),
            one.attempts,
            figure(&one.advice_run, 1.0),
            figure(&one.likeliest_pot_run, 1.0),
            one.ratio,
        );
    }
    text.push_str(
        "\n| player | break shots | loose balls, advised | stun | gain | next shot %, advised | stun | gain |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for BreakShots { level, figures, .. } in &measured.break_shots {
        let AgainstStun { layouts, hits_each, advised, stun, .. } = figures;
        let _ = writeln!(
            text,
            "| {} | {layouts} × {hits_each} | {} | {} | {} | {} | {} | {} |",
            level.name(),
            figure(&advised.loose_balls, 1.0),
            figure(&stun.loose_balls, 1.0),
            figure(&figures.gain_loose_balls, 1.0),
            figure(&advised.next_shot, 100.0),
            figure(&stun.next_shot, 100.0),
            figure(&figures.gain_next_shot, 100.0),
        );
    }
    text.push_str(
        "\n± and ranges are 95 % intervals. An attempt begins with a break shot and ends with the first miss or scratch.\n",
    );
    text
}

fn figure(estimate: &Estimate, times: f64) -> String {
    format!("{:.2} ± {:.2}", times * estimate.mean, times * estimate.plus_minus)
}
