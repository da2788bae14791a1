//! Why a hit is recommended, in sentences for a pupil, taken from the simulated hits alone.
//!
//! Input: the choices that were played, the best first. Output: text. Method: how the cue ball comes
//! off the rack is told from where it came to lie; what speaks for the hit is told by the choices
//! that differ from it in one thing only, and by the figure that differs most against what it may be
//! off by. What no figure shows is not said.

use super::figures::{BreakFigures, Estimate};
use super::meeting::{Meeting, Spin};
use super::{BreakChoice, LEAST_HITS};
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
pub(super) fn why(choices: &[BreakChoice]) -> String {
    let Some((best, others)) = choices.split_first() else { return String::new() };
    let mut text = happens(best);
    let mut told: Vec<(Thing, f64, String)> = others
        .iter()
        .filter_map(|other| {
            let thing = only_difference(best, other)?;
            let reason = reason(best, other, thing)?;
            let loss = best.figures.worth_balls.mean - other.figures.worth_balls.mean;
            Some((thing, loss, reason))
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
    text
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
        None => format!("the {} of the rack's row {}", ordinal(meeting.place_in_row), meeting.row),
    };
    let cushions = match meeting.cushions {
        0 => String::new(),
        1 => " off one cushion".into(),
        count => format!(" off {count} cushions"),
    };
    let met = format!(
        "{} {ball} {}{cushions} ({:.0}° off its centre)",
        spin_name(choice.spin),
        squareness(meeting),
        meeting.off_centre_deg
    );
    format!("With {met}, {}.", comes_off(figures))
}

fn spin_name(spin: Spin) -> &'static str {
    match spin {
        Spin::Follow => "follow the cue ball meets",
        Spin::Stun => "stun the cue ball meets",
        Spin::Draw => "draw the cue ball meets",
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

/// What the other choice loses, by its most telling figure; none where nothing is sure.
fn reason(best: &BreakChoice, other: &BreakChoice, thing: Thing) -> Option<String> {
    let (mine, its) = (&best.figures, &other.figures);
    if !mine.worth_balls.differs_from(&its.worth_balls) {
        return None;
    }
    let of_hundred = |verb: &'static str| {
        move |its: f64, mine: f64| format!("{verb} in {} of 100 hits instead of {}", hundred(its), hundred(mine))
    };
    // How the other is worse, and how to say it.
    type Told = Box<dyn Fn(f64, f64) -> String>;
    let told: [(f64, Estimate, Estimate, Told); 4] = [
        (1.0, mine.pocketed, its.pocketed, Box::new(of_hundred("the break ball drops"))),
        (-1.0, mine.scratch, its.scratch, Box::new(of_hundred("the cue ball scratches"))),
        (1.0, mine.next_shot, its.next_shot, Box::new(of_hundred("there is a next shot"))),
        (
            1.0,
            mine.loose_balls,
            its.loose_balls,
            Box::new(|its, mine| format!("{its:.1} balls come loose instead of {mine:.1}")),
        ),
    ];
    let telling = |(sign, mine, its, _): &(f64, Estimate, Estimate, Told)| {
        sign * (mine.mean - its.mean) / mine.plus_minus.hypot(its.plus_minus).max(1e-9)
    };
    let worst = told.iter().max_by(|a, b| telling(a).total_cmp(&telling(b)))?;
    if telling(worst) < 1.0 {
        return None;
    }
    let (_, mine, its, say) = worst;
    Some(format!("{}, {}.", otherwise(best, other, thing), say(its.mean, mine.mean)))
}

/// What the other does in place of the best.
fn otherwise(best: &BreakChoice, other: &BreakChoice, thing: Thing) -> String {
    match thing {
        Thing::Speed if other.hit.speed_m_s < best.hit.speed_m_s => {
            format!("Played softer, at {:.1} m/s", other.hit.speed_m_s)
        }
        Thing::Speed => format!("Played harder, at {:.1} m/s", other.hit.speed_m_s),
        Thing::Height if other.spin != best.spin => {
            let name = |spin| match spin {
                Spin::Follow => "follow",
                Spin::Stun => "stun",
                Spin::Draw => "draw",
            };
            format!("With {} instead of {}", name(other.spin), name(best.spin))
        }
        Thing::Height if other.hit.height > best.hit.height => "Hit higher on the ball".into(),
        Thing::Height => "Hit lower on the ball".into(),
        Thing::Side if other.hit.side == 0.0 => "Without side".into(),
        Thing::Side if other.hit.side > 0.0 => "With right side".into(),
        Thing::Side => "With left side".into(),
    }
}
