//! A run as the statistics take it: how many balls, how it ended, in which racks.
//!
//! A run that ended by a miss, a scratch or a foul is complete. One that the player stopped, or that
//! is still going on, is **censored**: it would have been at least as long. Balls are counted from 1
//! through the whole attempt; a ball's **place in its rack** is 0 for the one pocketed with the rack
//! standing (the break shot, the opening one included), then 1 to 13.

use crate::score::{Attempt, Cause};
use jiff::{Timestamp, civil::Date, tz::Offset};

/// Balls of a rack that are played before it is racked again.
pub const BALLS_A_RACK: u32 = 14;
/// Places in a rack: the break shot and the thirteen balls after it.
pub const PLACES: usize = BALLS_A_RACK as usize;

/// The day of a moment, in UTC: the days of all figures.
pub fn utc_day(at: Timestamp) -> Date {
    Offset::UTC.to_datetime(at).date()
}

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// By a shot that did not count.
    Missed,
    /// Not by a shot: the player stopped, nobody saw how it ended, or it goes on.
    Stopped,
}

/// One attempt, as far as the statistics need it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    /// The day it began, where that is known.
    pub day: Option<Date>,
    /// Balls that counted.
    pub balls: u32,
    pub ending: Ending,
    /// From a list that the player kept by hand: no camera saw it.
    pub hand_kept: bool,
    /// Balls that counted in each rack, the opening one first; the last may have none.
    racks: Vec<u32>,
}

impl Run {
    /// A run of which only the count is known: racks are of fourteen balls, as the rule has it.
    pub fn of_balls(day: Option<Date>, balls: u32, ending: Ending) -> Self {
        let mut racks = vec![BALLS_A_RACK; (balls / BALLS_A_RACK) as usize];
        racks.push(balls % BALLS_A_RACK);
        Self { day, balls, ending, hand_kept: false, racks }
    }

    /// The same, from a list that the player kept by hand.
    pub(super) fn by_hand(self) -> Self {
        Self { hand_kept: true, ..self }
    }

    /// An attempt of the score. None where its start was not seen: how long such a run really was
    /// nobody knows. Days are those of UTC.
    pub fn of_attempt(attempt: &Attempt) -> Option<Self> {
        if !attempt.start_seen {
            return None;
        }
        let ending = match attempt.over.map(|over| over.cause) {
            Some(Cause::Miss | Cause::Scratch | Cause::Foul) => Ending::Missed,
            Some(Cause::Stopped | Cause::Unseen) | None => Ending::Stopped,
        };
        let began = Timestamp::from_millisecond(attempt.began_unix_ms).ok();
        let day = began.map(utc_day);
        let mut run = Self::of_balls(day, attempt.run, ending);
        let seen = attempt.racks.iter().map(|rack| rack.number);
        let last = seen.chain(attempt.shots.iter().map(|shot| shot.rack)).max().unwrap_or(1);
        let mut racks = vec![0; last as usize];
        for shot in &attempt.shots {
            if let Some(balls) = racks.get_mut((shot.rack as usize).wrapping_sub(1)) {
                *balls += u32::from(shot.potted);
            }
        }
        // Racks that were not seen one by one, or a point taken back: the rule's count stands.
        let likely = racks.iter().all(|balls| *balls <= BALLS_A_RACK + 1);
        if likely && racks.iter().sum::<u32>() == attempt.run {
            run.racks = racks;
        }
        Some(run)
    }

    /// Balls that counted in each rack, the opening one first.
    pub fn racks(&self) -> &[u32] {
        &self.racks
    }

    /// Each ball of the attempt in order: the rack's number from 0, the place in it, and whether
    /// this was the shot that ended the run.
    pub fn each_ball(&self, mut see: impl FnMut(usize, usize, bool)) {
        for (rack, balls) in self.racks.iter().enumerate() {
            // A fifteenth ball fell together with another one.
            for place in 0..(*balls as usize).min(PLACES) {
                see(rack, place, false);
            }
        }
        if self.ending == Ending::Missed
            && let Some(balls) = self.racks.last()
        {
            see(self.racks.len() - 1, (*balls as usize).min(PLACES - 1), true);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::{Over, RackPlayed, ShotTaken};

    fn balls(run: &Run) -> Vec<(usize, usize, bool)> {
        let mut all = Vec::new();
        run.each_ball(|rack, place, missed| all.push((rack, place, missed)));
        all
    }

    #[test]
    fn a_miss_after_fourteen_balls_is_a_missed_break_shot() {
        let run = Run::of_balls(None, 14, Ending::Missed);
        assert_eq!(balls(&run).last(), Some(&(1, 0, true)));
        assert_eq!(balls(&run).len(), 15);
    }

    #[test]
    fn a_stopped_run_has_no_missed_ball() {
        let run = Run::of_balls(None, 3, Ending::Stopped);
        assert_eq!(balls(&run), [(0, 0, false), (0, 1, false), (0, 2, false)]);
    }

    fn attempt() -> Attempt {
        let shot = |rack, potted| ShotTaken { rest: 1, rack, potted, shots: 1 };
        let rack = |number| RackPlayed { number, racked_rest: None, closing_rest: None };
        Attempt {
            id: 1,
            began_rest: 1,
            began_unix_ms: 1_772_668_800_000,
            start_seen: true,
            run: 16,
            shots: vec![shot(1, 13), shot(1, 2), shot(2, 1), shot(2, 0)],
            racks: vec![rack(1), rack(2)],
            over: Some(Over { cause: Cause::Scratch, rest: 9, at_unix_ms: 0 }),
            sure: true,
        }
    }

    #[test]
    fn the_score_tells_which_rack_a_ball_was_in() {
        let run = Run::of_attempt(&attempt()).unwrap();
        // Fifteen balls fell in the first rack, so the miss is at the second ball of the second.
        assert_eq!((run.racks(), run.balls), (&[15, 1][..], 16));
        assert_eq!(balls(&run).last(), Some(&(1, 1, true)));
        assert_eq!(run.day.unwrap().to_string(), "2026-03-05");
    }

    #[test]
    fn racks_that_do_not_add_up_are_counted_by_the_rule() {
        let run = Run::of_attempt(&Attempt { run: 17, ..attempt() }).unwrap();
        assert_eq!(run.racks(), [14, 3]);
    }

    #[test]
    fn what_did_not_end_by_a_shot_is_censored_and_an_unseen_start_left_out() {
        let going_on = Attempt { over: None, ..attempt() };
        assert_eq!(Run::of_attempt(&going_on).unwrap().ending, Ending::Stopped);
        assert_eq!(Run::of_attempt(&Attempt { start_seen: false, ..attempt() }), None);
    }
}
