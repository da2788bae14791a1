//! What can have happened between two rests in the middle of a rack.

use super::{
    Cause, Step, Whence,
    change::{Change, CueBall, STILL_AT_LEAST_MM, still},
    numbers, rates,
    seen::{BallSeen, Racked},
    weigh::{Candidates, Situation},
};

/// The cue ball lies against a ball if their centres are no farther apart, in diameters.
const AGAINST_DIAMETERS: f64 = 1.3;
/// A ball hangs in the jaws if its centre is no farther from the pocket's edge, in diameters.
const HANGS_DIAMETERS: f64 = 0.8;

/// Who clears the table has taken so many balls off it by the next rest, mostly.
const LEAST_CLEARED: i64 = 3;

/// The candidates while a rack is being played.
pub(super) fn candidates(at: &Situation) -> Candidates {
    let mut list = Candidates::default();
    if let Some(racked) = at.now.racked {
        racked_anew(at, racked, &mut list);
        return list;
    }
    let gone = at.change.gone();
    let balls = u32::try_from(gone.max(0)).unwrap_or(0);
    if gone < 0 {
        more_balls(at, &mut list);
    } else {
        match at.change.cue {
            CueBall::Gone => cue_gone(at, gone, &mut list),
            CueBall::Moved => cue_moved(at, gone, balls, &mut list),
            CueBall::Came if at.change.left.is_empty() => list.add(Step::ByHand, 1.0),
            CueBall::Came => cue_moved(at, gone, balls, &mut list),
            CueBall::Still => cue_still(at, gone, balls, &mut list),
            CueBall::Absent => no_cue(at, gone, &mut list),
        }
    }
    if at.before.racked.is_none() && at.elapsed.holds_a_break() && at.now.lies_broken(at.change) {
        broken_unseen(at, &mut list);
    }
    if at.renewed > 0.0 {
        let run = 15_u32.saturating_sub(at.now.count());
        let on = at.now.cue.is_some() && run > 0;
        let ended = if on { None } else { Some(Cause::Unseen) };
        if at.now.count() == 0 {
            // Cleared, with the attempt's end unseen.
            let step = Step::Several { shots: 1, potted: 0, re_racks: 0, ended };
            list.add(step, at.renewed * rates::MISSES);
            list.add(Step::Stopped, at.renewed * rates::CLEARING);
            return list;
        }
        let cue = if at.change.cue == CueBall::Still { rates::CUE_RETURNS } else { 1.0 };
        list.add(Step::AttemptOn { run, ended }, at.renewed * rates::MISSES * cue);
    }
    list
}

/// Fewer balls each time something else moved as well: a hand that clears the table moves none.
fn cleared(at: &Situation, gone: i64) -> f64 {
    if gone < 1 {
        return 0.0;
    }
    let all = if at.now.objects.is_empty() { 0.2 } else { rates::CLEARING };
    rates::STOPS * all * further(at.change.moved())
}

/// The attempt may have ended with a shot that nobody watched, and the table is being cleared since.
fn ended_and_cleared(at: &Situation, gone: i64, list: &mut Candidates) {
    if gone < LEAST_CLEARED {
        return;
    }
    let weight = at.missed.shot * rates::CLEARING;
    let mut last_shot = |potted: u32, cause, part: f64| {
        let step = Step::Several { shots: 1, potted, re_racks: 0, ended: Some(cause) };
        list.add(step, weight * part);
    };
    last_shot(0, Cause::Miss, rates::MISSES);
    last_shot(0, Cause::Scratch, rates::SCRATCHES);
    last_shot(1, Cause::Stopped, rates::POTS * rates::STOPS);
}

fn cue_gone(at: &Situation, gone: i64, list: &mut Candidates) {
    let touched = !at.change.left.is_empty();
    let share = if touched { 1.0 } else { rates::TOUCHES_NOTHING };
    let scratches = rates::SCRATCHES * moves_all(at);
    list.add(Step::Scratch, scratches * rates::share_of_scratches(gone) * share);
    if !touched {
        list.add(Step::ByHand, rates::CUE_LIFTED);
    }
    list.add(Step::Stopped, cleared(at, gone));
    ended_and_cleared(at, gone, list);
    for potted in 1..=u32::try_from(gone).unwrap_or(0) {
        let step =
            Step::Several { shots: potted + 1, potted, re_racks: 0, ended: Some(Cause::Scratch) };
        let made = at.missed.rests(i64::from(potted)) * power(rates::POTS, i64::from(potted));
        let scratched = rates::share_of_scratches(gone - i64::from(potted));
        list.add(step, made * scratches * scratched);
    }
}

fn cue_moved(at: &Situation, gone: i64, balls: u32, list: &mut Candidates) {
    let watched = 1.0 - at.missed.rest;
    if gone > 0 {
        let made = rates::POTS * rates::share_of_pots(gone) * moves_all(at);
        list.add(Step::Shot { potted: balls }, made * watched);
        // As many shots as balls, with no rest seen between them; the last may have been a miss.
        let between = at.missed.rests(gone - 1);
        let mut several = |shots, ended, weight| {
            let step = Step::Several { shots, potted: balls, re_racks: 0, ended };
            list.add(step, weight * power(rates::POTS, gone) * any_moves_all(at, shots));
        };
        if gone > 1 {
            several(balls, None, between);
        }
        let missed = at.missed.rests(gone) * rates::MISSES;
        several(balls + 1, Some(Cause::Miss), missed);
        if gone > 1 {
            let at_once =
                at.missed.rest * rates::share_of_pots(gone) / power(rates::POTS, gone - 1);
            several(2, Some(Cause::Miss), at_once * rates::MISSES);
        }
        // Who clears the table seldom moves the cue ball and leaves it.
        list.add(Step::Stopped, rates::FURTHER * cleared(at, gone));
        ended_and_cleared(at, gone, list);
        return;
    }
    let touched = !at.change.left.is_empty();
    let share = if touched { 1.0 } else { rates::TOUCHES_NOTHING };
    list.add(Step::Miss, rates::MISSES * share * moves_all(at));
    // Unwatched it may have been a scratch, with the cue ball in play again.
    let unwatched = (at.missed.rest - rates::MISSED_WATCHED).max(0.0);
    let step = Step::Several { shots: 1, potted: 0, re_racks: 0, ended: Some(Cause::Scratch) };
    list.add(step, unwatched * rates::SCRATCHES);
    let by_hand = at.missed.hands_fit * by_hand(at.change);
    list.add(Step::ByHand, rates::CUE_BY_HAND * by_hand / rates::NUDGES);
    list.add(PLAYED_ON, overlooked(at) * moves_all(at));
    if at.taken > 0 && touched {
        // The ball that was taken, or not read, is back, and another one went.
        list.add(Step::Shot { potted: 1 }, rates::POTS * rates::FURTHER);
    }
    // A rack played to its end and the next begun leaves as many as there were.
    if at.renewed > 0.0 && at.before.count() > 1 {
        let step = Step::Several { shots: 14, potted: 14, re_racks: 1, ended: None };
        list.add(step, at.renewed * rates::POTS.powi(14));
    }
}

/// One shot that pocketed a ball, where one that had been counted as gone before was on the table still:
/// nothing is added.
pub(super) const PLAYED_ON: Step = Step::Several { shots: 1, potted: 0, re_racks: 0, ended: None };

/// The weight of a ball pocketed now, where one that was counted as gone at the shot before was
/// overlooked then: it lies where it lay, or may.
pub(super) fn overlooked(at: &Situation) -> f64 {
    let seen_again = |ball: &BallSeen| {
        let same = |old: &BallSeen| old.number.zip(ball.number).is_none_or(|(a, b)| a == b);
        at.last.vanished.iter().any(|old| still(old, ball) && same(old))
    };
    let back = numbers::favour_none_back(at.before, at.now).recip();
    if at.last.potted > 0 && at.change.new.iter().any(seen_again) {
        10.0 * rates::OVERLOOKED * back
    } else if at.last.may_be_back(at.change) {
        let share = rates::share_of_pots(i64::from(at.last.at_once));
        rates::POTS * rates::OVERLOOKED / share * back
    } else {
        0.0
    }
}

/// Few shots move every ball on the table, but for the break.
fn moves_all(at: &Situation) -> f64 {
    let all = at.change.new.len() >= 8 && at.now.all_anew(at.change);
    if all && at.before.racked.is_none() { rates::MOVES_ALL } else { 1.0 }
}

/// Any of so many shots may have moved all that has moved.
fn any_moves_all(at: &Situation, shots: u32) -> f64 {
    (f64::from(shots) * moves_all(at)).min(1.0)
}

fn power(base: f64, exponent: i64) -> f64 {
    base.powi(i32::try_from(exponent).unwrap_or(i32::MAX))
}

fn further(balls: usize) -> f64 {
    power(rates::FURTHER, i64::try_from(balls).unwrap_or(i64::MAX))
}

/// The weight of so many balls pocketed, one by one or at one shot, down to a closing layout, with
/// none of the rests seen, and so many racks set up then.
fn played_out(at: &Situation, balls: u32, racks: u32) -> f64 {
    if !at.elapsed.holds(1, racks) {
        return 0.0;
    }
    let balls = i64::from(balls);
    // Who stands in the way of one rest is likely to stand in the way of the next.
    let one_by_one = power(at.missed.rest.max(0.1), balls - 1) * power(rates::POTS, balls);
    let at_once = rates::POTS * rates::share_of_pots(balls);
    at.missed.rest.max(rates::CLOSING_MISSED) * one_by_one.max(at_once)
}

/// The weight of so many balls moved by hand; of [`rates::NUDGES`] for none.
fn by_hand(change: &Change) -> f64 {
    rates::NUDGES * further(change.moved())
}

fn cue_still(at: &Situation, gone: i64, balls: u32, list: &mut Candidates) {
    let cue = at.before.cue;
    let against_mm = AGAINST_DIAMETERS * at.now.table.ball_diameter_mm;
    let is_against =
        |ball: &BallSeen| cue.is_some_and(|cue| cue.at.distance_mm(ball.at) < against_mm);
    let stops = if at.change.left.iter().any(is_against) {
        rates::CUE_STOPS_DEAD
    } else {
        // Read often enough, a ball left alone seems off its place as well.
        let both = cue.zip(at.now.cue).filter(|_| at.rolled);
        rates::CUE_RETURNS * both.map_or(1.0, |(old, new)| favour_moved(&old, &new))
    };
    if gone == 0 {
        list.add(Step::ByHand, at.missed.hands_fit * by_hand(at.change) / rates::FURTHER);
        list.add(Step::Miss, rates::MISSES * stops);
        return;
    }
    let moved = further(at.change.moved());
    list.add(Step::ByHand, rates::TAKEN * power(rates::FURTHER, gone - 1) * moved);
    list.add(Step::Shot { potted: balls }, rates::POTS * stops * rates::share_of_pots(gone));
    let edge_mm = HANGS_DIAMETERS * at.now.table.ball_diameter_mm;
    let hung = |ball: &BallSeen| {
        let near = |pocket: &crate::table::Pocket| {
            ball.at.distance_mm(pocket.centre) < pocket.radius_mm + edge_mm
        };
        at.now.table.pockets().iter().any(near)
    };
    if gone == 1 && at.change.new.is_empty() && at.change.left.iter().any(hung) {
        list.add(Step::Shot { potted: 1 }, rates::DROPS_LATE);
    }
    // The cue ball is often the last to be put away.
    list.add(Step::Stopped, 5.0 * cleared(at, gone) * if gone > 2 { 10.0 } else { 1.0 });
}

/// How many times likelier a cue ball so little off its place is to have come to rest there than to have
/// been left alone: the errors of two readings are normal, a shot leaves it anywhere about. No less than 1.
fn favour_moved(old: &BallSeen, new: &BallSeen) -> f64 {
    let sigma_mm = old.sigma_mm.hypot(new.sigma_mm).max(rates::STILL_SIGMA_MM);
    let off = old.at.distance_mm(new.at) / sigma_mm;
    let about = (STILL_AT_LEAST_MM / sigma_mm).max(1.0);
    (2.0 * (off * off / 2.0).exp() / (about * about)).clamp(1.0, rates::MOVED_AT_MOST)
}

/// No cue ball, before and now, and object balls that changed: hands, or a shot with a cue ball
/// that no reading showed.
fn no_cue(at: &Situation, gone: i64, list: &mut Candidates) {
    list.add(Step::ByHand, by_hand(at.change));
    list.add(Step::Scratch, rates::SCRATCHES * rates::OVERLOOKED.sqrt());
    list.add(Step::Stopped, 10.0 * cleared(at, gone));
}

/// More object balls than before.
fn more_balls(at: &Situation, list: &mut Candidates) {
    let balls = u32::try_from(-at.change.gone()).unwrap_or(0);
    let stroke = !matches!(at.change.cue, CueBall::Still | CueBall::Absent);
    let untouched = if stroke { rates::FURTHER } else { 1.0 };
    if balls <= at.taken {
        list.add(Step::ByHand, untouched);
        if stroke && at.change.cue != CueBall::Came {
            list.add(Step::Miss, rates::MISSES * untouched);
        }
        return;
    }
    if at.change.cue == CueBall::Gone && balls == 1 {
        // A miss, and the cue ball lies there as one of the object balls.
        list.add(Step::Miss, rates::MISSES * rates::OVERLOOKED);
    }
    let racked = at.now.stands_racked();
    if at.last.potted >= balls {
        // A ball comes back alone; racking moves all the others too.
        let alone = if racked { rates::MOVES_ALL } else { 1.0 };
        came_back(at, balls, untouched * alone, list);
    }
    // Balls out of the pockets onto the table: the next rack is being laid out.
    let laid_out = match balls {
        _ if racked => 1.0,
        1 => 0.03,
        _ => 0.3,
    };
    list.add(Step::Stopped, rates::STOPS * laid_out);
    if at.change.cue == CueBall::Still && at.change.left.is_empty() {
        // Something passes for balls, or they were there and not read.
        list.add(Step::ByHand, rates::OVERLOOKED * power(rates::FURTHER, i64::from(balls) - 1));
    }
    let left = at.before.count();
    if stroke && (2..=4).contains(&left) {
        // The rack may have been played out, and it is the run's next that is laid out.
        let potted = left - 1;
        let step = Step::Several { shots: potted, potted, re_racks: 0, ended: None };
        list.add(
            step,
            played_out(at, potted, 0) * if at.change.still.len() == 1 { 1.0 } else { 0.15 },
        );
    }
    // Or the attempt ended first, while nobody watched.
    let unwatched = at.missed.shot;
    let ended = Some(Cause::Miss);
    let step = Step::Several { shots: 1, potted: 0, re_racks: 0, ended };
    let returned = if stroke { untouched } else { rates::CUE_RETURNS };
    list.add(step, unwatched * rates::MISSES * returned);
    let ended = Some(Cause::Scratch);
    let step = Step::Several { shots: 1, potted: 0, re_racks: 0, ended };
    list.add(step, unwatched * rates::SCRATCHES * returned);
    if at.missed.rest > 0.0 && at.before.count() > 0 && at.now.count() <= 15 {
        let potted = at.before.count() - 1 + 15 - at.now.count();
        let step = Step::Several { shots: potted.max(1), potted, re_racks: 1, ended: None };
        // A rack played with the cue ball back in its place is hardly one.
        let share = if stroke { untouched } else { rates::FURTHER.powi(2) };
        list.add(step, at.renewed.max(1e-6) * rates::POTS * share);
        if stroke {
            let ended = Some(Cause::Miss);
            let step = Step::Several { shots: potted + 1, potted, re_racks: 1, ended };
            list.add(step, at.renewed * rates::MISSES * untouched);
        }
    }
}

/// The table lies as behind a break shot whose rack no rest showed.
fn broken_unseen(at: &Situation, list: &mut Candidates) {
    let run = 15_u32.saturating_sub(at.now.count());
    let on = at.now.cue.is_some() && run > 0;
    let ended = match at.now.cue {
        None => Some(Cause::Scratch),
        Some(_) if on => None,
        Some(_) => Some(Cause::Miss),
    };
    // What a single shot can have moved it most likely did.
    let whole = if at.change.gone() > 0 && at.change.new.len() < 8 { 0.04 } else { 0.2 };
    let whole = whole / numbers::favour_same(at.before, at.now);
    list.add(Step::AttemptOn { run, ended }, rates::STOPS * whole);
    let before = at.before.count().saturating_sub(1);
    let potted = before + if ended == Some(Cause::Scratch) { 0 } else { run };
    let step = Step::Several { shots: before + 1, potted, re_racks: 1, ended };
    list.add(step, rates::STOPS * whole);
}

/// Where the balls that are back can have been.
fn came_back(at: &Situation, balls: u32, untouched: f64, list: &mut Candidates) {
    let seen_again = |ball: &BallSeen| at.last.vanished.iter().any(|old| still(old, ball));
    let spotted = |ball: &BallSeen| at.now.lies_spotted(ball);
    let new = &at.change.new;
    let all = |of: &dyn Fn(&BallSeen) -> bool| {
        new.iter().filter(|ball| of(ball)).count() >= usize::try_from(balls).unwrap_or(usize::MAX)
    };
    let (old_place, on_spot) = (all(&seen_again), all(&spotted));
    let per_ball = power(rates::FURTHER, i64::from(balls) - 1) * untouched;
    let left = if on_spot { 1.0 } else { 0.05 };
    // A ball that went without a stroke and lies in its place again was taken and put back.
    let never = match (old_place, at.last.stroke) {
        (true, true) => 1.0,
        (true, false) => 1e3,
        (false, _) => 0.05,
    };
    let step = |whence| Step::CameBack { balls, whence };
    list.add(step(Whence::LeftTable), rates::LEAVES_TABLE * left * per_ball);
    list.add(step(Whence::NeverGone), rates::OVERLOOKED * never * per_ball);
    list.add(step(Whence::Pocketed), rates::TAKEN * 0.05 * per_ball);
}

/// The table is racked though more than one ball was left: a new attempt, or the rest of the rack
/// was played without being seen.
fn racked_anew(at: &Situation, racked: Racked, list: &mut Candidates) {
    let left = at.before.count();
    let in_place = match racked {
        Racked::Fourteen { loose: Some(ball) } => at.before.objects.iter().any(|b| still(b, &ball)),
        Racked::Fourteen { loose: None } | Racked::Fifteen => false,
    };
    let stopped = if in_place { rates::LEFT_IN_PLACE } else { 1.0 };
    list.add(Step::OpeningRack, rates::STOPS * stopped);
    let unwatched = at.missed.shot.max(at.missed.end).max(at.renewed);
    let on = |run| Step::AttemptOn { run, ended: None };
    list.add(on(0), unwatched * rates::MISSES * stopped);
    list.add(on(14), at.rack_played * rates::MISSES * stopped);
    if left <= 1 {
        // Down to the last ball by what was read as a hand.
        list.add(Step::ReRack, rates::TAKEN);
    } else {
        let potted = left - 1;
        let place = match racked {
            Racked::Fourteen { loose: Some(ball) } => {
                let lies = if in_place { 1.0 } else { 0.15 };
                lies * numbers::favour_left(at.before, &ball)
            }
            Racked::Fourteen { loose: None } => 0.15,
            Racked::Fifteen => rates::FIFTEEN_AGAIN,
        };
        let step = Step::Several { shots: potted, potted, re_racks: 1, ended: None };
        list.add(step, played_out(at, potted, 1) * place);
    }
}
