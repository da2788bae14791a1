//! What can have happened between two rests while no attempt is known to be on.
//!
//! Balls are shot for practice, put away and laid out, and nothing counts until the next opening
//! rack. An attempt whose opening rack no rest showed is asked about: at a fresh start of the
//! program with the first shot that is seen, later when the table is suddenly full and broken.

use super::{
    Cause, Step, rates,
    seen::{Racked, Seen},
    weigh::{Candidates, Situation},
};

/// What is known of an attempt while none is being followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Idle {
    /// Nothing was seen before: one may be on.
    #[default]
    Fresh,
    /// The one before is over.
    Over,
    /// Balls lie as behind a break that was not seen.
    PerhapsBroken,
}

/// The candidates, and what is known afterwards if none of them begins an attempt.
pub(super) fn candidates(at: &Situation, idle: Idle) -> (Candidates, Idle) {
    let mut list = Candidates::default();
    // Fourteen that stand there since the attempt before are no opening rack.
    let stood = at.change.untouched() && at.now.racked == Some(Racked::Fourteen { loose: None });
    if at.now.racked.is_some() && !stood {
        list.add(Step::OpeningRack, 1.0);
        list.add(Step::AttemptOn { run: 14, ended: None }, at.rack_played);
        return (list, Idle::Over);
    }
    let left = 15_u32.saturating_sub(at.now.count());
    let broken_now = at.now.lies_broken(at.change);
    if broken_now || (at.renewed > 0.0 && at.now.all_anew(at.change)) {
        list.add(Step::SettingUp, rates::LIES_OPEN);
        broken(at.now, &mut list);
        return (list, Idle::PerhapsBroken);
    }
    list.add(Step::SettingUp, rates::LIES_OPEN);
    if at.before.stands_racked()
        && at.before.cue.is_some()
        && at.now.all_anew(at.change)
        && let Some((_, ended)) = at.change.stroke()
    {
        // A rack of which a ball was overlooked, and the first shot at it.
        let step = match ended {
            Some(Cause::Scratch) => Step::AttemptOn { run: 0, ended },
            _ if left == 0 => Step::AttemptOn { run: 0, ended: Some(Cause::Miss) },
            _ => Step::AttemptOn { run: left, ended: None },
        };
        list.add(step, rates::POTS);
        return (list, Idle::Over);
    }
    if idle != Idle::Over
        && let Some((potted, ended)) = at.change.stroke()
    {
        let whole = if ended == Some(Cause::Scratch) || potted == 0 {
            15_u32.saturating_sub(at.before.count())
        } else {
            left
        };
        // Behind an unseen break this is most likely the first rack.
        let first = if idle == Idle::PerhapsBroken { 2.0 } else { 0.5 };
        list.add(Step::AttemptOn { run: whole, ended }, rates::POTS * first * 0.1);
        list.add(Step::AttemptOn { run: potted, ended }, rates::POTS * 0.1);
        // Whatever is answered, the next shot need not ask again.
        return (list, Idle::Over);
    }
    // Laid out, most likely; if strokes follow it was a break that left the balls about the foot.
    if at.now.count() >= 12 && at.change.new.len() >= 8 && at.now.all_anew(at.change) {
        return (list, Idle::PerhapsBroken);
    }
    (list, idle)
}

/// The candidates at the very first rest.
pub(super) fn at_start(now: &Seen) -> (Candidates, Idle) {
    let mut list = Candidates::default();
    if now.racked.is_some() {
        list.add(Step::OpeningRack, 1.0);
        return (list, Idle::Over);
    }
    list.add(Step::SettingUp, rates::LIES_OPEN);
    if now.count() >= 12 && now.scattered() {
        broken(now, &mut list);
        return (list, Idle::PerhapsBroken);
    }
    (list, Idle::Fresh)
}

/// An attempt whose break shot was not seen.
fn broken(now: &Seen, list: &mut Candidates) {
    let left = 15_u32.saturating_sub(now.count());
    if now.cue.is_none() {
        let step = Step::AttemptOn { run: 0, ended: Some(Cause::Scratch) };
        list.add(step, rates::LIES_OPEN * 0.5);
        return;
    }
    if left > 0 {
        list.add(Step::AttemptOn { run: left, ended: None }, rates::LIES_OPEN * 0.6);
    }
    let ended = Some(Cause::Miss);
    list.add(Step::AttemptOn { run: left, ended }, rates::LIES_OPEN * 0.3);
}
