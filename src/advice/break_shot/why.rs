//! Why a hit is recommended, in sentences for a pupil, taken from the simulated hits alone.
//!
//! Input: the choices that were played, the best first. Output: text. Method: how the cue ball comes
//! off the rack is told from where it came to lie; what speaks for the hit is told by the choices
//! that differ from it in one thing only, and by the figure that differs most against what it may be
//! off by. What no figure shows is not said.

use super::figures::{BreakFigures, gain, part, worth};
use super::meeting::{Meeting, Spin};
use super::outcome::Outcome;
use super::search::Trial;
use super::{BreakChoice, LEAST_HITS};
use crate::advice::Estimate;
use crate::motion::Hit;

/// Most contrasts that are told.
const MOST_CONTRASTS: usize = 2;
/// A part of the hits that is most of them.
const MOST: f64 = 0.6;

/// In which one thing two hits differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Thing {
    Speed,
    Height,
    Side,
}

/// The sentences.
pub(super) fn why(choices: &[BreakChoice], trials: &[Trial], middling: f64) -> String {
    let (Some((best, others)), Some((hits, others_hits))) =
        (choices.split_first(), trials.split_first())
    else {
        return String::new();
    };
    let mut text = happens(best);
    let mut told: Vec<(Thing, f64, String)> = others
        .iter()
        .zip(others_hits)
        .filter_map(|(other, its_hits)| {
            let thing = only_difference(best, other)?;
            let pair = Pair { best, hits, other, its_hits, middling };
            let loss = best.figures.worth_balls.mean - other.figures.worth_balls.mean;
            Some((thing, loss, pair.reason(thing)?))
        })
        .collect();
    told.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut things: Vec<Thing> = Vec::new();
    for (thing, _, reason) in told {
        if things.len() < MOST_CONTRASTS && !things.contains(&thing) {
            things.push(thing);
            text.push(' ');
            text.push_str(&reason);
        }
    }
    if things.is_empty() {
        text.push_str(&format!(
            " Another height, speed or side made no difference that {LEAST_HITS} hits of each could show."
        ));
    }
    if let Some(second) = others.first() {
        text.push_str(&runner_up(best, second));
    }
    text
}

fn runner_up(best: &BreakChoice, second: &BreakChoice) -> String {
    format!(
        " Runner-up: {} at {:.1} m/s, worth {:.1} balls where this is worth {:.1}.",
        spin_name(second.spin),
        second.hit.speed_m_s,
        second.figures.worth_balls.mean,
        best.figures.worth_balls.mean
    )
}

/// How the cue ball meets the rack and what becomes of it.
fn happens(choice: &BreakChoice) -> String {
    let figures = &choice.figures;
    let Some(meeting) = &choice.meeting else {
        return format!(
            "Played without error the cue ball does not meet the rack; with this player's errors it does in {} of 100 hits.",
            hundred(figures.meets_rack)
        );
    };
    let ball = match meeting.ball {
        Some(number) => format!("ball {number}"),
        None => format!(
            "the {} ball of the rack's {} row",
            ordinal(meeting.place_in_row),
            ordinal(meeting.row)
        ),
    };
    let cushions = match meeting.cushions {
        0 => String::new(),
        1 => " off one cushion".into(),
        count => format!(" off {count} cushions"),
    };
    let met = format!(
        "{} the cue ball meets {ball} {}{cushions} ({:.0}° off its centre)",
        spin_name(choice.spin),
        squareness(meeting),
        meeting.off_centre_deg
    );
    format!("With {met}, {}.", comes_off(figures))
}

fn spin_name(spin: Spin) -> &'static str {
    match spin {
        Spin::Follow => "follow",
        Spin::Stun => "stun",
        Spin::Draw => "draw",
    }
}

/// Of how much of the ball is met: full at 0°, half at 30°, a quarter at 49°.
fn squareness(meeting: &Meeting) -> &'static str {
    match meeting.off_centre_deg {
        off if off < 15.0 => "squarely",
        off if off < 40.0 => "about half full",
        _ => "thinly",
    }
}

fn comes_off(figures: &BreakFigures) -> String {
    let runs_on = 1.0 - figures.thrown_back - figures.stays;
    let cm = (figures.beyond_mm.abs() / 10.0).round();
    if figures.thrown_back >= MOST {
        format!("and the rack throws it back, {cm} cm on average")
    } else if figures.stays >= MOST {
        format!("and it stays there: within 20 cm in {} of 100 hits", hundred(figures.stays))
    } else if runs_on >= MOST {
        format!("and it runs on past that, {cm} cm on average")
    } else {
        format!(
            "and of 100 hits the rack throws it back in {}, {} leave it there and {} let it run on",
            hundred(figures.thrown_back),
            hundred(figures.stays),
            hundred(runs_on)
        )
    }
}

fn hundred(part: f64) -> i64 {
    (100.0 * part).round() as i64
}

fn ordinal(place: usize) -> &'static str {
    ["first", "second", "third", "fourth", "fifth"].get(place.wrapping_sub(1)).unwrap_or(&"last")
}

/// The one thing in which two choices differ; none where it is more or nothing.
fn only_difference(best: &BreakChoice, other: &BreakChoice) -> Option<Thing> {
    let differs = |of: fn(&Hit) -> f64| (of(&best.hit) - of(&other.hit)).abs() > 1e-6;
    let differing = [
        (differs(|hit| hit.speed_m_s), Thing::Speed),
        (differs(|hit| hit.height), Thing::Height),
        (differs(|hit| hit.side), Thing::Side),
    ];
    let mut things = differing.iter().filter(|(differs, _)| *differs).map(|(_, thing)| *thing);
    let thing = things.next().filter(|_| best.pocket == other.pocket)?;
    things.next().is_none().then_some(thing)
}

/// The recommended choice beside another, both with their hits.
struct Pair<'a> {
    best: &'a BreakChoice,
    hits: &'a Trial,
    other: &'a BreakChoice,
    its_hits: &'a Trial,
    /// The player's chance of a middling shot.
    middling: f64,
}

impl Pair<'_> {
    fn gain(&self, value: impl Fn(&Outcome) -> Option<f64>) -> Estimate {
        gain(&self.hits.outcomes, &self.its_hits.outcomes, value)
    }

    /// What the other choice loses, by its most telling figure; none where nothing is sure.
    fn reason(&self, thing: Thing) -> Option<String> {
        let (mine, its) = (&self.best.figures, &self.other.figures);
        let middling = self.middling;
        if !self.gain(|outcome| Some(worth(outcome, middling))).is_sure() {
            return None;
        }
        let of_hundred = |verb: &str, its: &Estimate, mine: &Estimate| {
            let (its, mine) = (hundred(its.mean), hundred(mine.mean));
            format!("{verb} in {its} of 100 hits instead of {mine}")
        };
        let next = self.gain(|outcome| Some(part(outcome.open())));
        // Where a miss or a scratch explains the lost next shot, that is what is told.
        let causes = [
            (
                self.gain(|outcome| Some(part(outcome.made))),
                of_hundred("the break ball drops", &its.pocketed, &mine.pocketed),
            ),
            (
                self.gain(|outcome| Some(-part(outcome.scratched))),
                of_hundred("the cue ball scratches", &its.scratch, &mine.scratch),
            ),
        ];
        let causes = causes.into_iter().filter(|(cause, _)| cause.mean >= MOST * next.mean);
        let more = [
            (next, of_hundred("there is a next shot", &its.next_shot, &mine.next_shot)),
            (
                self.gain(|outcome| outcome.goes_on().then_some(outcome.loose as f64)),
                format!(
                    "{:.1} balls come loose instead of {:.1}",
                    its.loose_balls.mean, mine.loose_balls.mean
                ),
            ),
        ];
        let telling = |gain: &Estimate| gain.mean / gain.plus_minus.max(1e-9);
        let most = |a: &(Estimate, String), b: &(Estimate, String)| {
            telling(&a.0).total_cmp(&telling(&b.0))
        };
        let cause = causes.filter(|(gain, _)| gain.is_sure()).max_by(most);
        let (gain, said) = cause.or_else(|| more.into_iter().max_by(most))?;
        gain.is_sure().then(|| format!("{}, {said}.", otherwise(self.best, self.other, thing)))
    }
}

/// What the other does in place of the best.
fn otherwise(best: &BreakChoice, other: &BreakChoice, thing: Thing) -> String {
    match thing {
        Thing::Speed if other.hit.speed_m_s < best.hit.speed_m_s => {
            format!("Played softer, at {:.1} m/s", other.hit.speed_m_s)
        }
        Thing::Speed => format!("Played harder, at {:.1} m/s", other.hit.speed_m_s),
        Thing::Height if other.spin != best.spin => {
            format!("With {} instead of {}", spin_name(other.spin), spin_name(best.spin))
        }
        Thing::Height if other.hit.height > best.hit.height => "Hit higher on the ball".into(),
        Thing::Height => "Hit lower on the ball".into(),
        Thing::Side if other.hit.side == 0.0 => "Without side".into(),
        Thing::Side if other.hit.side > 0.0 => "With right side".into(),
        Thing::Side => "With left side".into(),
    }
}
