//! Open questions that later rests can make idle: what each hangs on, and what settles it.
//!
//! Input: questions as they are asked, and each later step with what is back on the table. Output:
//! the rests whose questions need no answer any more.

use super::{
    Attempt,
    change::{Change, CueBall, still},
    seen::{BallSeen, Seen},
    step::{Step, Whence},
};

/// Who plays so many more shots and then racks fourteen beside the last ball had not missed.
const PLAYED_ON: u32 = 4;

/// Questions that later rests can make idle, by the rest they are about.
#[derive(Debug, Clone, Default)]
pub(super) struct Doubts {
    taken: Option<i64>,
    set_up: Option<i64>,
    idle: Option<i64>,
    /// Whether the cue ball was pocketed or the player clears the table.
    cleared: Option<i64>,
    /// Whether what was read as the cue ball was another one, and the cue ball pocketed.
    mistaken: Option<i64>,
    /// Whether the attempt had ended there, each with the shots that had been counted then.
    ended: Vec<(i64, u32)>,
}

/// What a later rest can settle a question by.
pub(super) struct LaterRest<'a> {
    pub step: &'a Step,
    /// Whether the step is beyond doubt.
    pub sure: bool,
    /// Whether the cue ball is on the table again, and nothing else has changed.
    pub cue_put_down: bool,
    /// Whether what was read as the cue ball before shows to have been it.
    pub cue_ball_known: bool,
    /// Whether all is back that had been taken off by hand.
    pub all_back: bool,
    /// Whether so long was not watched that the table may have been set up anew.
    pub renewed: bool,
    /// The rest before.
    pub rest_before: Option<i64>,
    /// The attempt that is going on.
    pub attempt: Option<&'a Attempt>,
}

impl Doubts {
    /// Keeps in mind that a question asks whether the attempt that goes on had ended at a rest.
    pub fn ended_perhaps(&mut self, rest: i64, attempt: Option<&Attempt>) {
        self.ended.push((rest, shots_counted(attempt)));
    }

    /// Keeps in mind that a question asks whether what was read as the cue ball at a rest was another one.
    pub fn mistaken_perhaps(&mut self, rest: i64) {
        self.mistaken = Some(rest);
    }

    /// A rest that the next one set right: that one tells no more of it.
    pub fn set_right(&mut self) {
        self.mistaken = None;
    }

    /// Keeps in mind that a question asks whether the table was being cleared at a rest.
    pub fn cleared_perhaps(&mut self, rest: i64) {
        self.cleared = Some(rest);
    }

    /// Keeps in mind the question about a step into a rest; false where the same one stands already.
    pub fn keep(
        &mut self,
        rest: i64,
        step: &Step,
        between_attempts: bool,
        no_stroke: bool,
    ) -> bool {
        let doubt = match step {
            Step::Shot { .. } if no_stroke => &mut self.taken,
            Step::ByHand => &mut self.taken,
            Step::SettingUp if between_attempts => &mut self.idle,
            Step::SettingUp => &mut self.set_up,
            _ => return true,
        };
        let stands = doubt.is_some() && *step == Step::SettingUp;
        if !stands {
            *doubt = Some(rest);
        }
        !stands
    }

    /// The rests whose questions this one settles.
    pub fn settled(&mut self, later: &LaterRest) -> Vec<i64> {
        let mut settled = Vec::new();
        if later.renewed {
            // What begins behind such a gap need not be what was asked about before it.
            self.idle = None;
        }
        // Who clears the table does not put the cue ball down among what is left.
        let cleared = self.cleared.take().filter(|_| later.cue_put_down);
        let mistaken = self.mistaken.take().filter(|_| later.cue_ball_known);
        let at_the_next = |rest: &i64| later.rest_before == Some(*rest);
        settled.extend(cleared.into_iter().chain(mistaken).filter(at_the_next));
        match later.step {
            Step::AttemptOn { .. } => settled.extend(self.idle.take()),
            _ if !later.sure => {}
            Step::ByHand | Step::SettingUp if later.all_back => settled.extend(self.taken.take()),
            Step::CameBack { whence: Whence::NeverGone, .. } => settled.extend(self.taken.take()),
            Step::ReRack => {
                // Nothing can have been played if the rack stands at the very next rest.
                if self.set_up == later.rest_before {
                    settled.extend(self.set_up.take());
                }
                let shots = shots_counted(later.attempt);
                let ended = std::mem::take(&mut self.ended).into_iter();
                let played_on = |&(_, then): &(i64, u32)| shots.saturating_sub(then) >= PLAYED_ON;
                settled.extend(ended.filter(played_on).map(|(rest, _)| rest));
            }
            _ => {}
        }
        settled
    }
}

/// Whether a rest behind this step shows that what was read as the cue ball before was it: it lies there
/// with all the others on the table, or was struck from there.
pub(super) fn is_cue_ball(cue: &BallSeen, step: &Step, (change, now): (&Change, &Seen)) -> bool {
    match change.cue {
        CueBall::Still => now.count() == 15,
        CueBall::Moved => {
            let is_stroke = matches!(step, Step::Shot { .. } | Step::Miss);
            is_stroke && !change.new.iter().any(|ball| still(cue, ball))
        }
        CueBall::Gone | CueBall::Came | CueBall::Absent => false,
    }
}

/// The shots of an attempt, those whose rests were missed too.
fn shots_counted(attempt: Option<&Attempt>) -> u32 {
    attempt.map_or(0, |attempt| attempt.shots.iter().map(|shot| u32::from(shot.shots)).sum())
}
