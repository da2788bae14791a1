//! The made-up player racks: for an opening, and again behind a closing layout.

use super::{
    placings::{CueTo, by_the_table},
    player::{Player, TrueAttempt},
};
use stillcloth::score::Cause;

impl Player {
    /// Lays the balls out for the opening.
    pub(super) fn set_up(&mut self) {
        if self.chance(self.habits.gaps) {
            let rests = 1 + self.world.random.below(3) as u32;
            self.world.look_away(rests);
            self.doubt();
            self.doubt_carries = true;
        }
        let slow = if self.habits.hurry { 0.05 } else { 1.0 };
        if self.chance(0.3) {
            // Balls lie about the foot before they are racked; a few can be balls that had left the
            // table.
            let before = self.world.balls.len();
            for number in self.world.off_table() {
                if self.chance(0.7) {
                    let at = self.world.place_near_foot();
                    self.world.balls.push((number, at));
                }
            }
            let stopped = |a: &TrueAttempt| a.cause == Some(Cause::Stopped);
            if self.world.balls.len() <= before + 3 && self.attempts.last().is_some_and(stopped) {
                self.doubt();
            }
            self.world.laid_by_hand();
            self.world.wait(10.0 * slow, 20.0 * slow);
            self.world.rest();
        }
        self.rack_for();
        // A new rack in place of one that stands shows itself by nothing but the rest that shows it.
        let stands = self.world.balls.len() >= 14;
        self.world.balls.clear();
        self.world.cue = None;
        let fifteen = self.chance(0.2);
        let loose = if fifteen { 0 } else { 1 + self.world.random.below(15) as u8 };
        let racked: Vec<u8> = (1..=15).filter(|number| *number != loose).collect();
        self.world.rack(&racked);
        // Where an attempt's end is in doubt, so is whether this rack is a re-rack of it.
        let before = self.attempts.last().is_some_and(|attempt| attempt.in_doubt);
        let carried = std::mem::take(&mut self.doubt_carries) || self.world.looking_away();
        self.attempts.push(TrueAttempt {
            racks: 1,
            in_doubt: carried,
            after_doubt: before,
            ..TrueAttempt::default()
        });
        if !stands && self.chance(self.habits.missed_racks) {
            self.world.hide += 1;
            self.doubt();
            // A stop is told by the next rack alone.
            let before = self.attempts.iter_mut().rev().nth(1);
            if let Some(before) = before.filter(|a| a.cause == Some(Cause::Stopped)) {
                before.in_doubt = true;
            }
        }
        if !fifteen {
            let at = self.world.free_place();
            self.world.balls.push((loose, at));
        }
        let cue_later = self.chance(0.2);
        if cue_later {
            self.rest();
            self.world.wait(2.0, 6.0);
        }
        self.world.cue = Some(self.world.free_place());
        self.rest();
        if self.chance(0.1) {
            // The cue ball or the loose ball is put elsewhere; both at once could be a shot.
            self.world.wait(2.0, 6.0);
            if fifteen || self.chance(0.5) {
                self.world.cue = Some(self.world.free_place());
            } else if let Some((number, _)) = self.world.balls.pop() {
                let at = self.world.free_place();
                self.world.balls.push((number, at));
            }
            self.rest();
        }
    }

    /// The time that racking takes.
    fn rack_for(&mut self) {
        if self.habits.hurry {
            self.world.wait(16.0, 25.0);
        } else {
            self.world.wait(35.0, 80.0);
        }
    }

    /// Racks again behind a closing layout, with what has to be placed.
    pub(super) fn re_rack(&mut self) {
        let slow = if self.habits.hurry { 0.05 } else { 1.0 };
        let last = self.world.balls.first().copied();
        let (last_goes, cue_goes) =
            by_the_table(&self.world.table, last.map(|(_, at)| at), self.world.cue.unwrap());
        if self.chance(0.3) {
            // The balls out of the pockets lie about the foot.
            for number in self.world.off_table() {
                if self.chance(0.6) {
                    let at = self.world.place_near_foot();
                    self.world.balls.push((number, at));
                }
            }
            self.world.laid_by_hand();
            self.world.wait(10.0 * slow, 15.0 * slow);
            self.rest();
        }
        self.rack_for();
        self.world.balls.clear();
        self.world.cue = None;
        let stays = last.zip(last_goes);
        let numbers: Vec<u8> =
            (1..=15).filter(|n| stays.is_none_or(|((number, _), _)| number != *n)).collect();
        self.world.rack(&numbers);
        if let Some(((number, _), place)) = stays {
            self.world.balls.push((number, place));
        }
        self.world.cue = match cue_goes {
            CueTo::Place(at) => Some(at),
            CueTo::Hand => {
                if self.chance(0.5) {
                    self.rest();
                    self.world.wait(3.0, 6.0);
                }
                let quarter_mm = self.world.table.length_mm / 4.0;
                let free = loop {
                    let at = self.world.free_place();
                    if at.x_mm < quarter_mm {
                        break at;
                    }
                };
                Some(free)
            }
        };
        self.attempt().racks += 1;
        if self.chance(self.habits.missed_racks) {
            self.world.hide += 1;
            self.doubt();
        }
        self.rest();
    }
}
