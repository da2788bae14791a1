//! The advice in sentences that a player understands, from its figures alone.

use super::answer::Advice;
use super::break_ball::BreakBalls;
use super::break_shot::BreakAdvice;
use super::pattern::{Pattern, Step};
use super::scan::Kind;
use super::trouble::{BreakOut, ClosedBall, Timing, Trouble, Waiting, When};
use crate::motion::{Hit, UNREAD_FROM, ball_name};
use crate::table::pocket_name;
use std::f64::consts::FRAC_PI_4;

/// A tip placed less far off than this is in the middle.
const MIDDLE: f64 = 0.12;

/// What to do and why.
pub(super) fn sentences(advice: &Advice) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(break_shot) = &advice.break_shot {
        said.extend(of_break_shot(break_shot));
    } else {
        said.extend(of_now(&advice.trouble));
        match advice.patterns.first() {
            Some(best) if said.is_empty() => said.push(of_pattern(best)),
            Some(best) => said.push(format!("Or, without breaking out: {}", of_pattern(best))),
            None => said.push("No shot is on that this player would make.".into()),
        }
        of_trouble(&advice.trouble, &mut said);
        of_break_balls(&advice.break_balls, &mut said);
    }
    said.extend(
        advice.no_break_shot.iter().map(|why| format!("No advice on a break shot: {why}.")),
    );
    said
}

/// A hit as one plays it: speed, height and side.
pub fn hit_words(hit: &Hit) -> String {
    let height = match hit.height {
        height if height > MIDDLE => format!("{:.0} % high", 100.0 * height),
        height if height < -MIDDLE => format!("{:.0} % low", -100.0 * height),
        _ => "middle height".into(),
    };
    let side = match hit.side {
        side if side > MIDDLE => format!(", {:.0} % right side", 100.0 * side),
        side if side < -MIDDLE => format!(", {:.0} % left side", -100.0 * side),
        _ => String::new(),
    };
    format!("{:.1} m/s, {height}{side}", hit.speed_m_s)
}

/// How a ball comes to drop, in a few words; nothing where it is cut straight in.
pub fn way_words(way: Kind) -> String {
    match way {
        Kind::Direct => String::new(),
        Kind::Bank { x, y } => format!("off the cushion at {x:.1}, {y:.1}"),
        Kind::Combination { first } => format!("by {}", ball_name(first)),
        Kind::Kiss { off } => format!("off {}", ball_name(off)),
        Kind::Carom { first } => format!("by the cue ball off {}", ball_name(first)),
    }
}

pub(super) fn hundred(part: f64) -> f64 {
    (100.0 * part).round()
}

fn of_break_shot(advice: &BreakAdvice) -> Option<String> {
    let best = advice.recommended()?;
    let ball = advice.break_ball.map_or("the last ball".into(), |n| ball_name(usize::from(n)));
    Some(format!(
        "Break with {ball} into the {}: {}. {}",
        pocket_name(best.pocket),
        hit_words(&best.hit),
        advice.why
    ))
}

pub(super) fn shot_words(step: &Step) -> String {
    let way = match way_words(step.way) {
        way if way.is_empty() => way,
        way => format!(" {way}"),
    };
    format!("{} into the {}{way}", ball_name(step.ball), pocket_name(step.pocket))
}

fn of_pattern(pattern: &Pattern) -> String {
    let Some((first, later)) = pattern.steps.split_first() else {
        return "No shot is on.".into();
    };
    let mut text = format!(
        "Play {} ({:.0} of 100): {}",
        shot_words(first),
        hundred(first.probability),
        hit_words(&first.hit)
    );
    if let Some(landing) = &first.landing {
        text.push_str(&format!(
            "; the cue ball comes to rest about {:.1}, {:.1}",
            landing.at.x, landing.at.y
        ));
    }
    text.push('.');
    if !later.is_empty() {
        let order: Vec<String> = later.iter().map(|step| short(step.ball)).collect();
        text.push_str(&format!(" Then {}.", order.join(", ")));
    }
    if let Some(ball) = pattern.break_ball {
        let key = pattern.key_ball.filter(|_| !later.is_empty());
        let key = key.map(|key| format!(", after {} as the key ball", ball_name(key)));
        text.push_str(&format!(
            " {} is left for the break shot{}.",
            capital(&ball_name(ball)),
            key.unwrap_or_default()
        ));
    }
    text
}

/// A ball's number, or its whole name where it has none.
fn short(ball: usize) -> String {
    if ball < UNREAD_FROM { ball.to_string() } else { ball_name(ball) }
}

pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

/// Balls by name: "balls 2, 3 and 4".
fn listed(balls: &[usize]) -> String {
    let [_, _, ..] = balls else {
        return balls.first().map(|ball| ball_name(*ball)).unwrap_or_default();
    };
    let names: Vec<String> = balls.iter().map(|ball| short(*ball)).collect();
    let (last, others) = names.split_last().map_or(("", &names[..]), |(l, o)| (l.as_str(), o));
    format!("balls {} and {last}", others.join(", "))
}

fn of_trouble(trouble: &Trouble, said: &mut Vec<String>) {
    for cluster in &trouble.clusters {
        let has = if cluster.closed.len() == 1 { "has" } else { "have" };
        let mut text = format!(
            "{} lie in a cluster; {} {has} no open pocket",
            capital(&listed(&cluster.balls)),
            listed(&cluster.closed)
        );
        let steps = trouble.closed.iter().filter(|closed| cluster.closed.contains(&closed.ball));
        let steps: Option<Vec<usize>> = steps.map(|closed| closed.solved_by_step).collect();
        if let Some(last) = steps.and_then(|steps| steps.into_iter().max()) {
            text.push_str(&format!(" until shot {last} of that order"));
        }
        said.push(text + ".");
    }
    let told = |closed: &&ClosedBall| {
        let clustered = trouble.clusters.iter().any(|c| c.closed.contains(&closed.ball));
        !clustered || !closed.blockers.is_empty()
    };
    said.extend(trouble.closed.iter().filter(told).map(of_closed));
    for dead in &trouble.dead {
        said.push(format!(
            "{} is dead into the {} when {} is struck.",
            capital(&ball_name(dead.ball)),
            pocket_name(dead.pocket),
            ball_name(dead.first)
        ));
    }
    let now = trouble.timing.as_ref().is_some_and(|timing| timing.when == When::Now);
    if !now {
        said.extend(trouble.break_outs.first().map(of_break_out));
        said.extend(trouble.timing.as_ref().map(of_timing));
    }
}

/// Breaking out at once, where attempts say so: that is what to do first.
fn of_now(trouble: &Trouble) -> Option<String> {
    let timing = trouble.timing.as_ref().filter(|timing| timing.when == When::Now)?;
    let break_out = of_break_out(trouble.break_outs.first()?);
    Some(format!("{} {break_out}", of_timing(timing)))
}

fn of_timing(timing: &Timing) -> String {
    let (now, later, attempts) = (timing.now_balls.mean, timing.later_balls.mean, timing.attempts);
    let Waiting { ball, pocket, .. } = timing.waits_with;
    let wait = format!("{} into the {}", ball_name(ball), pocket_name(pocket));
    match timing.when {
        When::Now => format!(
            "Break out now: {attempts} attempts that began so brought {now:.1} balls on average, and {later:.1} when they waited with {wait}."
        ),
        When::Later => format!(
            "Wait: {attempts} attempts that began with {wait} brought {later:.1} balls on average, and {now:.1} when they broke out at once."
        ),
        When::Either => format!(
            "To break out at once or to wait with {wait} made no difference that {attempts} attempts could show: {now:.1} and {later:.1} balls."
        ),
    }
}

fn of_closed(closed: &ClosedBall) -> String {
    let mut text = format!("{} has no open pocket", capital(&ball_name(closed.ball)));
    if !closed.blockers.is_empty() {
        let is = if closed.blockers.len() == 1 { "is" } else { "are each" };
        text.push_str(&format!("; {} {is} in its way", listed(&closed.blockers)));
    }
    text.push_str(&match closed.solved_by_step {
        Some(step) => format!(": solved by shot {step} of that order."),
        None => ".".into(),
    });
    text
}

/// From which side something comes, on a table seen from the head end.
fn side_words(from_deg: f64) -> &'static str {
    let quarter = (from_deg.to_radians() / (2.0 * FRAC_PI_4)).round() as i64;
    match quarter.rem_euclid(4) {
        0 => "the foot end",
        1 => "the side of y = 4",
        2 => "the head end",
        _ => "the side of y = 0",
    }
}

fn of_break_out(best: &BreakOut) -> String {
    let mut text = format!(
        "{} into the {} at {} sends the cue ball from {} onto {} at {:.1} m/s: on average it opens {:.1} of its shut balls, in {:.0} of 100 hits all, and leaves a next shot in {:.0}",
        capital(&ball_name(best.ball)),
        pocket_name(best.pocket),
        hit_words(&best.hit),
        side_words(best.from_deg),
        ball_name(best.meets),
        best.speed_m_s,
        best.freed.mean,
        hundred(best.opens.mean),
        hundred(best.next_shot.mean),
    );
    if best.shuts.mean > 0.0 {
        text.push_str(&format!("; {:.0} of 100 shut another", hundred(best.shuts.mean)));
    }
    text.push('.');
    let sure: Vec<usize> = best.insurance.iter().take(3).map(|insurance| insurance.ball).collect();
    match sure[..] {
        [] => text.push_str(" No ball is sure to be playable after it."),
        [_] => text.push_str(&format!(
            " {} is the insurance: playable nearly wherever the cue ball ends.",
            capital(&listed(&sure))
        )),
        _ => text.push_str(&format!(
            " {} are the insurance: playable nearly wherever the cue ball ends.",
            capital(&listed(&sure))
        )),
    }
    text
}

fn of_break_balls(balls: &BreakBalls, said: &mut Vec<String>) {
    if let Some(best) = balls.candidates.first() {
        let lies = if best.lies_well { "lies well for" } else { "lies best, and not well, for" };
        said.push(format!(
            "{} {lies} the break shot: with the cue ball at {:.1}, {:.1} it leaves a next shot in {:.0} of 100.",
            capital(&ball_name(best.ball)),
            best.cue_ball.x,
            best.cue_ball.y,
            hundred(best.next_shot.mean)
        ));
    }
    if let Some(nudge) = &balls.nudge {
        said.push(format!(
            "To make a break ball: {} into the {} at {} moves {} to about {:.1}, {:.1}, from where a break shot leaves a next shot in {:.0} of 100 instead of {:.0}; the pot is made in {:.0}.",
            ball_name(nudge.ball),
            pocket_name(nudge.pocket),
            hit_words(&nudge.hit),
            ball_name(nudge.moved),
            nudge.to.x,
            nudge.to.y,
            hundred(nudge.next_shot_then.mean),
            hundred(nudge.next_shot_now.mean),
            hundred(nudge.probability.mean)
        ));
    }
}
