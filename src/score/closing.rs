//! What can have happened since a closing layout: the rack is set up, with the last ball and the
//! cue ball in their places or placed as the rule asks.

use super::{
    Cause, CueBallGoes, LastBallGoes, Placing, Step, Whence,
    change::{Change, CueBall, still},
    placing, play, rates,
    seen::{BallSeen, ON_SPOT_MM, Racked, Seen},
    weigh::{Candidates, Situation},
};
use crate::table::{DiamondPoint, TablePoint};

/// So many balls on the table, at least, may be what a break shot left of a rack.
const LIE_OPEN_FROM: u32 = 11;
/// Whether a ball is in the way is judged by the player's eye: as it is read, or as it would be
/// with either ball so far off.
const JUDGED_WITHIN_MM: f64 = 10.0;

/// The candidates since a closing layout, which is the layout compared with. Where it was not
/// `seen` it holds what of it lay still until then.
pub(super) fn candidates(at: &Situation, seen: bool) -> Candidates {
    let fit = Fit::of(at.before, at.now, at.change, seen);
    let mut list = Candidates::default();
    if at.now.racked.is_none()
        && let Some(laid) = at.laid.filter(|laid| laid.count() >= 12)
        && let Some(stroke) = Change::between(laid, at.now).stroke()
    {
        break_missed(laid.count(), stroke, &mut list);
        return list;
    }
    match at.now.racked {
        Some(racked) => racked_again(at, racked, &fit, &mut list),
        None if at.now.count() >= LIE_OPEN_FROM => lies_open(at, &fit, &mut list),
        None if at.now.count() <= at.before.count() => untouched(at, &fit, &mut list),
        None => laid_out(at, &mut list),
    }
    if at.renewed > 0.0 && at.now.count() >= 2 && !(fit.last_still && fit.cue_still) {
        let run = 15_u32.saturating_sub(at.now.count());
        list.add(Step::AttemptOn { run, ended: None }, at.renewed * rates::MISSES);
    }
    list
}

/// Which of the two balls lie as the rule wants them.
pub(super) struct Fit {
    last_still: bool,
    cue_still: bool,
    /// As the rule asks.
    pub last: bool,
    pub cue: bool,
}

impl Fit {
    /// Between a closing layout, whether it was `seen` or only what of it lay still until then, and
    /// a later one.
    pub fn of(before: &Seen, now: &Seen, change: &Change, seen: bool) -> Self {
        let last = before.objects.first();
        let last_still = last.is_some_and(|last| now.objects.iter().any(|b| still(last, b)));
        let cue_still = change.cue == CueBall::Still;
        if !seen && last.is_none() {
            return Self { last_still, cue_still, last: true, cue: cue_still };
        }
        let fits = asked_for(before).into_iter().map(|asked| {
            let last = match asked.last_ball {
                LastBallGoes::Stays => last_still,
                LastBallGoes::InRack => now.racked.is_none_or(|racked| racked == Racked::Fifteen),
                LastBallGoes::HeadSpot | LastBallGoes::CentreSpot => {
                    asked.last_ball_spot().is_some_and(|spot| loose_on(now, spot))
                }
            };
            let cue = match (asked.cue_ball, now.cue) {
                (CueBallGoes::Stays, _) => cue_still,
                (_, None) => true,
                (CueBallGoes::InHand, Some(cue)) => {
                    cue.at.x_mm < now.table.head_spot().x_mm + ON_SPOT_MM
                }
                (CueBallGoes::HeadSpot | CueBallGoes::CentreSpot, Some(cue)) => {
                    asked.cue_ball_spot().is_some_and(|spot| near(now, cue.at, spot))
                }
            };
            (last, cue)
        });
        let best = fits.max_by_key(|(last, cue)| u8::from(*last) + u8::from(*cue));
        let (last, cue) = best.unwrap_or((last_still, cue_still));
        Self { last_still, cue_still, last, cue }
    }
}

fn near(seen: &Seen, at: TablePoint, spot: DiamondPoint) -> bool {
    at.distance_mm(spot.on_table(&seen.table)) < ON_SPOT_MM
}

fn loose_on(now: &Seen, spot: DiamondPoint) -> bool {
    match now.racked {
        Some(Racked::Fourteen { loose }) => loose.is_some_and(|ball| near(now, ball.at, spot)),
        Some(Racked::Fifteen) => false,
        None => now.objects.iter().any(|ball| near(now, ball.at, spot)),
    }
}

/// What the player can have judged the rule to ask.
fn asked_for(closing: &Seen) -> Vec<Placing> {
    let Some(cue) = closing.cue else { return vec![Placing::STAY] };
    let last = closing.objects.first().map(|ball| ball.at);
    let about = |at: TablePoint| {
        let d = JUDGED_WITHIN_MM;
        [(0.0, 0.0), (d, 0.0), (-d, 0.0), (0.0, d), (0.0, -d)]
            .map(|(dx, dy)| TablePoint::new(at.x_mm + dx, at.y_mm + dy))
    };
    let mut all = Vec::new();
    for cue in about(cue.at) {
        let lasts = last.map_or_else(|| vec![None], |last| about(last).map(Some).to_vec());
        for last in lasts {
            let asked = placing(last, cue, &closing.table);
            if !all.contains(&asked) {
                all.push(asked);
            }
        }
    }
    all
}

fn racked_again(at: &Situation, racked: Racked, fit: &Fit, list: &mut Candidates) {
    let chance = |fits: bool, otherwise: f64| if fits { 1.0 } else { otherwise };
    let loose_lies = |last: f64| match racked {
        Racked::Fourteen { loose: None } => 1.0,
        Racked::Fourteen { .. } | Racked::Fifteen => last,
    };
    list.add(Step::ReRack, chance(fit.last, loose_lies(0.01)) * chance(fit.cue, 0.05));
    let other = rates::STOPS_AT_CLOSING
        * chance(!fit.last_still, rates::LEFT_IN_PLACE)
        * chance(!fit.cue_still, 0.02);
    list.add(Step::OpeningRack, other);
    shot_at_rack_missed(at, racked, fit, list);
    // A re-rack, a miss and a new opening rack, all unseen.
    let unwatched = at.renewed * rates::MISSES * chance(!fit.last_still, rates::LEFT_IN_PLACE);
    list.add(Step::AttemptOn { run: 0, ended: None }, unwatched);
}

/// The rack may have been set up and a shot played at it that left it as it was, with neither seen: the
/// last ball is gone, or lies elsewhere, and so does the cue ball.
fn shot_at_rack_missed(at: &Situation, racked: Racked, fit: &Fit, list: &mut Candidates) {
    if at.change.cue != CueBall::Moved || fit.cue {
        return;
    }
    let (potted, ended, part) = match racked {
        Racked::Fourteen { loose: None } => (1, None, rates::POTS),
        Racked::Fourteen { .. } if !fit.last => (0, Some(Cause::Miss), rates::MISSES),
        Racked::Fourteen { .. } | Racked::Fifteen => return,
    };
    let step = Step::Several { shots: 1, potted, re_racks: 1, ended };
    list.add(step, at.missed.shot * part * rates::RACK_UNTOUCHED);
}

/// Most of the balls lie on the table, not racked: laid out for racking, or the break shot has been
/// played and no rest showed the rack.
fn lies_open(at: &Situation, fit: &Fit, list: &mut Candidates) {
    list.add(Step::SettingUp, rates::LIES_OPEN);
    if fit.cue_still {
        return;
    }
    let potted = 15_u32.saturating_sub(at.now.count());
    let several = |ended| Step::Several { shots: 1, potted, re_racks: 1, ended };
    let by_chance = if fit.last_still { rates::LIES_THERE_ANEW } else { 1.0 };
    // Two balls are as likely as one, at a break.
    let many = rates::share_of_pots(i64::from(potted)) / rates::share_of_pots(2);
    let lies = match at.now.scattered() {
        true => 0.05,
        false if !fit.cue && !fit.last => 0.005,
        // As where a ball or two are in their places, and the others about to be racked.
        false => 5e-4,
    };
    let seen = lies * by_chance * many.min(1.0);
    if at.now.cue.is_none() {
        let ended = Some(Cause::Scratch);
        list.add(Step::Several { shots: 1, potted: 0, re_racks: 1, ended }, seen * 0.2);
    } else if potted == 0 {
        list.add(several(Some(Cause::Miss)), seen);
    } else {
        list.add(several(None), seen * rates::POTS);
        list.add(several(Some(Cause::Miss)), seen * rates::MISSES * at.missed.rest);
    }
}

/// A stroke at balls that were taken as laid out: the rack and the break shot were not seen.
fn break_missed(laid: u32, (gone, ended): (u32, Option<Cause>), list: &mut Candidates) {
    let potted = 15_u32.saturating_sub(laid) + gone;
    list.add(Step::SettingUp, rates::LIES_OPEN);
    let step = Step::Several { shots: 2, potted, re_racks: 1, ended };
    list.add(step, rates::LIES_OPEN * 0.5);
}

/// Some balls lie on the table again: laid out for racking, or one is back that was counted.
fn laid_out(at: &Situation, list: &mut Candidates) {
    let back = u32::try_from(-at.change.gone()).unwrap_or(0);
    if back <= at.taken && at.change.cue == CueBall::Still {
        list.add(Step::ByHand, 1.0);
        return;
    }
    if back != 1 || at.last.potted == 0 || at.change.cue != CueBall::Still {
        list.add(Step::SettingUp, 1.0);
        return;
    }
    let came_back = |whence| Step::CameBack { balls: 1, whence };
    let at_place = |of: &dyn Fn(&BallSeen) -> bool| at.change.new.iter().any(of);
    if at_place(&|ball| at.last.vanished.iter().any(|old| still(old, ball))) {
        list.add(Step::SettingUp, 1e-3);
        list.add(came_back(Whence::NeverGone), if at.last.stroke { 1e-2 } else { 1.0 });
    } else if at_place(&|ball| at.now.lies_spotted(ball)) {
        list.add(Step::SettingUp, 1.0);
        list.add(came_back(Whence::LeftTable), rates::LIES_OPEN);
    } else {
        list.add(Step::SettingUp, 1.0);
    }
}

/// No more balls than at the closing layout itself.
fn untouched(at: &Situation, fit: &Fit, list: &mut Candidates) {
    list.add(Step::SettingUp, if fit.last || fit.cue { rates::NUDGES } else { 6e-5 });
    if fit.cue || at.change.cue != CueBall::Moved {
        return;
    }
    list.add(play::PLAYED_ON, play::overlooked(at));
    let touched = if fit.last_still { rates::TOUCHES_NOTHING } else { 1.0 };
    if at.now.count() < at.before.count() {
        list.add(Step::Shot { potted: 1 }, rates::PLAYS_CLOSING * rates::POTS);
    } else {
        list.add(Step::Miss, rates::PLAYS_CLOSING * rates::MISSES * touched);
    }
}
