//! What can have happened since a closing layout: the rack is set up, with the last ball and the
//! cue ball in their places or placed as the rule asks.

use super::{
    Cause, CueBallGoes, LastBallGoes, Placing, Step,
    change::{CueBall, still},
    rates,
    seen::Racked,
    weigh::{Candidates, Situation},
};

/// The candidates since a closing layout, which is the layout compared with.
pub(super) fn candidates(at: &Situation, placing: Placing) -> Candidates {
    let last = at.before.objects.first();
    let last_still = last.is_none_or(|last| at.now.objects.iter().any(|ball| still(last, ball)));
    let cue_still = at.change.cue == CueBall::Still;
    let fit = Fit {
        last_still,
        cue_still,
        last: last_still || placing.last_ball != LastBallGoes::Stays,
        cue: cue_still || placing.cue_ball != CueBallGoes::Stays,
    };
    let mut list = Candidates::default();
    match at.now.racked {
        Some(racked) => racked_again(at, racked, &fit, &mut list),
        None if at.now.count() >= 13 => lies_open(at, &fit, &mut list),
        None if at.now.count() <= at.before.count() => untouched(at, &fit, &mut list),
        None => list.add(Step::SettingUp, 1.0),
    }
    if at.renewed > 0.0 && at.now.count() >= 2 && !(fit.last_still && fit.cue_still) {
        let run = 15_u32.saturating_sub(at.now.count());
        list.add(Step::AttemptOn { run, ended: None }, at.renewed * rates::MISSES);
    }
    list
}

/// Which of the two balls lie as the rule wants them.
struct Fit {
    last_still: bool,
    cue_still: bool,
    /// Still, or to be placed.
    last: bool,
    cue: bool,
}

fn racked_again(at: &Situation, racked: Racked, fit: &Fit, list: &mut Candidates) {
    // Where all fifteen are racked because of a placing the last ball has left its place.
    let last = fit.last || (racked == Racked::Fifteen && at.before.objects.is_empty());
    let chance = |fits: bool, otherwise: f64| if fits { 1.0 } else { otherwise };
    list.add(Step::ReRack, chance(last, 0.01) * chance(fit.cue, 0.05));
    let other = rates::STOPS_AT_CLOSING
        * if fit.last_still { rates::LEFT_IN_PLACE } else { 1.0 }
        * if fit.cue_still { 0.02 } else { 1.0 };
    list.add(Step::OpeningRack, other);
    // A re-rack, a miss and a new opening rack, all unseen.
    let unwatched = (at.renewed * rates::MISSES) * if fit.last_still { 0.05 } else { 1.0 };
    list.add(Step::AttemptOn { run: 0, ended: None }, unwatched);
}

/// Most of the balls lie on the table, not racked: laid out for racking, or the break shot has been
/// played and no rest showed the rack.
fn lies_open(at: &Situation, fit: &Fit, list: &mut Candidates) {
    let spread = at.now.spread();
    if fit.cue_still || fit.last_still || !(spread || (!fit.cue && !fit.last)) {
        list.add(Step::SettingUp, 1.0);
        return;
    }
    list.add(Step::SettingUp, rates::LIES_OPEN);
    let potted = 15_u32.saturating_sub(at.now.count());
    let several = |ended| Step::Several { shots: 1, potted, re_racks: 1, ended };
    let seen = if spread { 0.05 } else { 0.005 };
    if at.now.cue.is_none() {
        let ended = Some(Cause::Scratch);
        list.add(Step::Several { shots: 1, potted: 0, re_racks: 1, ended }, seen * 0.2);
    } else if potted == 0 {
        list.add(several(Some(Cause::Miss)), seen);
    } else {
        list.add(several(None), seen * rates::POTS);
        list.add(several(Some(Cause::Miss)), seen * rates::MISSES * at.hidden);
    }
}

/// No more balls than at the closing layout itself.
fn untouched(at: &Situation, fit: &Fit, list: &mut Candidates) {
    list.add(Step::SettingUp, if fit.last || fit.cue { rates::NUDGES } else { 6e-5 });
    if fit.cue || at.change.cue != CueBall::Moved {
        return;
    }
    let touched = if fit.last_still { rates::TOUCHES_NOTHING } else { 1.0 };
    if at.now.count() < at.before.count() {
        list.add(Step::Shot { potted: 1 }, rates::PLAYS_CLOSING * rates::POTS);
    } else {
        list.add(Step::Miss, rates::PLAYS_CLOSING * rates::MISSES * touched);
    }
}
