//! What can have happened between two rests at a table racked and not yet broken.

use super::{
    Step,
    change::{Change, CueBall},
    numbers, play, rates,
    seen::{Racked, Seen},
    weigh::{Candidates, Situation},
};

/// The candidates between the racked table and the first shot at it. Before the first shot of an
/// attempt the player sets up as they like; at a re-rack both balls are to stay, but for those that
/// are placed and a cue ball in hand: `free` says that they need not.
pub(super) fn candidates(at: &Situation, free: bool) -> Candidates {
    let set_up = if free { rates::SETS_UP } else { rates::NUDGES };
    let Some(racked) = at.now.racked else { return broken(at, free) };
    let mut list = Candidates::default();
    let gone = at.change.gone();
    let loose_before = match at.before.racked {
        Some(Racked::Fourteen { loose }) => loose.is_some(),
        _ => false,
    };
    let loose_now = matches!(racked, Racked::Fourteen { loose: Some(_) });
    let moved = at.change.moved() > 0;
    let anew = numbers::favour_untouched(at.before, at.now).recip();
    match at.change.cue {
        // The cue ball elsewhere and a ball more, behind a re-rack: by hand, or all of it is a new
        // attempt's rack.
        CueBall::Moved if gone < 0 && !free => {
            list.add(Step::SettingUp, rates::NUDGES);
            list.add(Step::OpeningRack, rates::STOPS * anew);
        }
        _ if gone < 0 => list.add(Step::SettingUp, 1.0),
        // The last ball elsewhere behind a re-rack: by hand, or all of it is a new attempt's rack.
        CueBall::Still if moved && !free => {
            list.add(Step::SettingUp, rates::NUDGES);
            list.add(Step::OpeningRack, rates::STOPS * rates::LEFT_IN_PLACE * anew);
        }
        CueBall::Still | CueBall::Absent | CueBall::Came => {
            list.add(Step::SettingUp, 1.0);
            let lifted = at.change.cue == CueBall::Absent && moved;
            if (at.change.cue == CueBall::Came || lifted) && !free {
                let in_place = loose_now && at.change.untouched();
                let left = if in_place { rates::LEFT_IN_PLACE } else { 1.0 };
                list.add(Step::OpeningRack, rates::STOPS * left * anew);
            }
        }
        CueBall::Moved if gone > 0 && loose_before && !loose_now => {
            list.add(Step::Shot { potted: 1 }, rates::POTS * rates::RACK_UNTOUCHED);
            list.add(Step::SettingUp, set_up * rates::TAKEN);
        }
        CueBall::Moved if moved => {
            list.add(Step::SettingUp, set_up * if free { 0.15 * (1.0 + anew) } else { 0.02 });
            list.add(Step::Miss, rates::MISSES * rates::RACK_UNTOUCHED);
            if !free {
                list.add(Step::OpeningRack, rates::STOPS * anew);
            }
        }
        CueBall::Moved => {
            list.add(Step::SettingUp, set_up);
            list.add(Step::Miss, rates::MISSES * rates::TOUCHES_NOTHING * 0.5);
        }
        CueBall::Gone if moved || gone > 0 => {
            list.add(Step::SettingUp, set_up * 0.1);
            list.add(Step::Scratch, rates::SCRATCHES * rates::RACK_UNTOUCHED);
        }
        CueBall::Gone => {
            list.add(Step::ByHand, set_up);
            list.add(Step::Scratch, rates::SCRATCHES * 2e-3);
            if !free {
                list.add(Step::OpeningRack, rates::STOPS * rates::LEFT_IN_PLACE * anew);
            }
        }
    }
    if moved && at.elapsed.holds_a_break() {
        // Whatever was played at the rack before, this one is another attempt's.
        let on = Step::AttemptOn { run: 0, ended: None };
        list.add(on, at.renewed.max(at.missed.shot) * rates::MISSES * anew.max(1.0));
    }
    if moved && at.renewed > 0.0 {
        list.add(Step::OpeningRack, at.renewed * rates::STOPS * anew.max(1.0));
        let played = Step::Several { shots: 14, potted: 14, re_racks: 1, ended: None };
        list.add(played, at.rack_played * anew.max(1.0));
    }
    list
}

/// Whether the rack lacks a ball or two and nothing moved: no shot does that, but a hand or a
/// reading.
pub(super) fn lacks_few(before: &Seen, change: &Change) -> bool {
    let untouched = matches!(change.cue, CueBall::Still | CueBall::Absent);
    before.racked.is_some() && untouched && change.new.is_empty() && change.left.len() <= 2
}

/// The rack is no longer complete: a first shot, or hands that take it apart.
fn broken(at: &Situation, free: bool) -> Candidates {
    if lacks_few(at.before, at.change) {
        let mut list = Candidates::default();
        list.add(Step::SettingUp, 1.0);
        return list;
    }
    let hands = at.change.cue == CueBall::Still || at.change.gone() < 0;
    let mut list = match at.change.cue {
        // A cue ball in hand is placed and played before a rest shows it.
        CueBall::Came | CueBall::Absent => {
            let seen = if at.now.cue.is_some() { CueBall::Moved } else { CueBall::Gone };
            let change = Change { cue: seen, ..at.change.clone() };
            play::candidates(&Situation { change: &change, ..*at })
        }
        _ => play::candidates(at),
    };
    // Hands that take a rack apart leave the balls about it.
    let apart = if at.now.scattered() { 1e-3 } else { 1.0 };
    if at.before.racked.is_none() && at.change.left.is_empty() {
        list.add(Step::SettingUp, 1.0);
    } else if free && hands {
        let apart = if at.change.gone() < 0 { 1.0 } else { apart };
        list.add(Step::SettingUp, rates::SETS_UP * apart);
    } else if free && (at.now.cue.is_none() || (at.before.count() > 14 && at.change.gone() == 0)) {
        list.add(Step::SettingUp, rates::SETS_UP * rates::TAKES_APART * apart);
    }
    list
}
