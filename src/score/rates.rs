//! How often things happen between two rests of a player alone: what the candidate steps are
//! weighed with.
//!
//! These are orders of magnitude judged from how the game is played, not fitted to anything. That
//! is enough, since two readings nearer to each other than 1 : 150 are put to the user.

/// A shot pockets something.
pub(super) const POTS: f64 = 0.8;
/// A shot pockets nothing.
pub(super) const MISSES: f64 = 0.12;
/// The cue ball is lost.
pub(super) const SCRATCHES: f64 = 0.02;
/// Part of the misses and scratches in which no object ball moved.
pub(super) const TOUCHES_NOTHING: f64 = 0.01;
/// Part of the shots that leave the cue ball where it lay.
pub(super) const CUE_RETURNS: f64 = 1.4e-4;
/// The same where it lay against the ball that it hit, or nearly.
pub(super) const CUE_STOPS_DEAD: f64 = 0.02;
/// Two readings of a ball that lies still differ by no less, as standard deviations go: cameras shake.
pub(super) const STILL_SIGMA_MM: f64 = 1.5;
/// That a cue ball seems off its place by a little counts for no more.
pub(super) const MOVED_AT_MOST: f64 = 100.0;
/// Part of the shots at a racked table that leave the rack as it is.
pub(super) const RACK_UNTOUCHED: f64 = 0.1;

/// Part of the shots, other than breaks, that move eight balls or more and all that there are.
pub(super) const MOVES_ALL: f64 = 0.03;

/// An object ball is moved by hand; each further one is [`FURTHER`] times as likely.
pub(super) const NUDGES: f64 = 3e-3;
pub(super) const FURTHER: f64 = 0.1;
/// The cue ball is moved by hand, with the run going on.
pub(super) const CUE_BY_HAND: f64 = 1e-3;
/// The cue ball is lifted and a rest is seen without it.
pub(super) const CUE_LIFTED: f64 = 5e-4;
/// A ball is taken off the table by hand, or is on it and not seen.
pub(super) const TAKEN: f64 = 1e-3;
/// A ball that hung in the jaws drops by itself.
pub(super) const DROPS_LATE: f64 = 1e-2;
/// A ball that left the table is put on it again.
pub(super) const LEAVES_TABLE: f64 = 2e-3;
/// A reading lacks a ball that is on the table.
pub(super) const OVERLOOKED: f64 = 1e-3;

/// What is read as the cue ball is another white one so many times as often as the reading says, since a
/// striped ball may show nothing but its white: of 29 read with a sureness of 0.98 to 0.99 one was.
const CUE_MISTAKEN: f64 = 2.5;
const CUE_MISTAKEN_AT_MOST: f64 = 0.3;

/// The chance that what is read as the cue ball, with so much doubt, is none.
pub(super) fn cue_mistaken(doubt: f64) -> f64 {
    (CUE_MISTAKEN * doubt).min(CUE_MISTAKEN_AT_MOST)
}

/// Whose attempt is over by a miss plays on at the balls for practice so often.
pub(super) const PLAYS_ON: f64 = 0.3;

/// The player stops in the middle of a run.
pub(super) const STOPS: f64 = 2e-3;
/// A rest is seen while the table is being cleared, with just this many balls gone.
pub(super) const CLEARING: f64 = 2e-2;
/// The player stops at a closing layout.
pub(super) const STOPS_AT_CLOSING: f64 = 2e-4;
/// The balls are set up anew before the first shot.
pub(super) const SETS_UP: f64 = 0.3;
/// Balls lie open, most of them, while they are set up.
pub(super) const LIES_OPEN: f64 = 0.02;
/// A rack is taken apart by hand, and a rest is seen then.
pub(super) const TAKES_APART: f64 = 2e-4;
/// A stroke at a closing layout without racking again.
pub(super) const PLAYS_CLOSING: f64 = 0.02;
/// All fifteen are racked again, since the last ball and the cue ball were both in the way.
pub(super) const FIFTEEN_AGAIN: f64 = 0.03;
/// A last ball is left in its place for an opening rack.
pub(super) const LEFT_IN_PLACE: f64 = 0.05;

/// Behind a break shot one of the balls lies where the last one lay before: mostly where that is
/// one of the rack's own places.
pub(super) const LIES_THERE_ANEW: f64 = 0.1;

/// Balls are seen to roll, with nobody over the table, before they come to rest: behind a stroke, unless
/// the player stays bent over the table or many balls move; and where hands rolled them, as some do who
/// clear it.
const ROLLS_AT_STROKE: f64 = 0.8;
const ROLLS_BY_HAND: f64 = 0.1;

/// How well it fits that balls were seen to roll, or were not, to a stroke or to hands; to what may have
/// been either it fits as well as to the better of them.
pub(super) fn seen_to_roll(rolled: bool, stroke: Option<bool>) -> f64 {
    let fits = |chance: f64| if rolled { chance } else { 1.0 - chance };
    let (stroke_fits, hands_fit) = (fits(ROLLS_AT_STROKE), fits(ROLLS_BY_HAND));
    match stroke {
        Some(true) => stroke_fits,
        Some(false) => hands_fit,
        None => stroke_fits.max(hands_fit),
    }
}

/// The balls of one stroke roll for 5 s mostly, and hardly ever for more than 9; from the first of two
/// strokes to where the balls of the second lie the player has to look, walk and aim besides. Weibull
/// distributions, each by its scale and shape.
const ONE_ROLLS: (f64, f64) = (6000.0, 3.5);
const TWO_ROLL: (f64, f64) = (14_000.0, 2.0);
/// From the last ball's standing still until a rest is told.
const TOLD_AFTER_MS: f64 = 500.0;
/// More time than this tells no more.
const LONGEST_TOLD_MS: f64 = 60_000.0;
/// What is told to be balls that roll is something else so often.
const ROLL_MISTAKEN: f64 = 1e-3;
/// Who lets balls roll before the camera loses sight of them has played a shot.
const ROLLED_BY_STROKE: f64 = 0.95;

/// How many times likelier two strokes are to take so long than one, from balls that roll when the camera
/// loses sight of the table to a rest that balls are seen to roll to.
///
/// `by_pace`: how many times likelier the whole time is with two, if what rolled was something else.
fn favour_two(lost_rolling_ms: u64, by_pace: f64) -> f64 {
    // Whole milliseconds of any gap that matters are exact in f64; far out both densities vanish.
    let ms = (lost_rolling_ms as f64 - TOLD_AFTER_MS).clamp(1.0, LONGEST_TOLD_MS);
    let takes = |(scale, shape): (f64, f64)| {
        let part = ms / scale;
        shape / scale * part.powf(shape - 1.0) * (-part.powf(shape)).exp()
    };
    (ROLL_MISTAKEN / by_pace + takes(ONE_ROLLS) / takes(TWO_ROLL)).recip()
}

/// Whether it is likelier that two strokes took so long than that the balls of one rolled on.
pub(super) fn outlasts_a_stroke(lost_rolling_ms: u64) -> bool {
    favour_two(lost_rolling_ms, 1.0) > 1.0
}

/// The chance that a rest was missed, which is so likely without that, where balls rolled when the camera
/// lost sight of the table so long before a rest that balls were seen to roll to.
pub(super) fn hidden_in_roll(hidden: f64, lost_rolling_ms: u64, by_pace: f64) -> f64 {
    favoured(hidden, favour_two(lost_rolling_ms, by_pace))
}

/// A chance where what is seen is so many times likelier with it than without.
pub(super) fn favoured(chance: f64, times: f64) -> f64 {
    chance * times / (chance * times + 1.0 - chance)
}

/// The chance that a shot was missed in a gap, where balls rolled when it began.
pub(super) fn shot_begun(shot_hidden: f64) -> f64 {
    shot_hidden.max(ROLLED_BY_STROKE)
}

/// Whether so short a time was not watched that balls cannot have rolled to rest in it.
pub(super) fn saw_all(unseen_ms: u64) -> bool {
    unseen_ms < HIDES_FROM_MS / 2
}

/// A rest is missed though the table was watched.
pub(super) const MISSED_WATCHED: f64 = 2e-3;
/// The closing layout is missed: the player steps to the table at once to rack.
pub(super) const CLOSING_MISSED: f64 = 0.05;
/// No rest hides in a shorter gap: it would have to hold all the time between two strokes.
const HIDES_FROM_MS: u64 = 2500;
const HIDES_WITHIN_MS: f64 = 8000.0;
/// But hands are at the balls sooner than a stroke follows.
const HIDES_BEFORE_HANDS_MS: u64 = 1500;
/// A shot with the rest behind it takes no less, but for the fewest.
const HURRIED_MS: u64 = 4000;
/// From rest to rest, whoever is in a hurry takes so long for a shot, and for a rack.
const SHOT_MS: i64 = 2500;
const RACK_MS: i64 = 3000;
/// Nobody takes the balls left off the table, racks fifteen and breaks them in less.
const RACKED_AND_BROKEN_MS: i64 = 12_000;
/// No attempt begins in a shorter gap: fifteen balls have to be racked.
const RACKING_MS: f64 = 15_000.0;
/// No rack is set up, played and set up again in a shorter gap.
const RACK_PLAYED_MS: f64 = 120_000.0;
const RENEWED_WITHIN_MS: f64 = 300_000.0;

/// The time from a rest to the next; none where a clock was set back.
#[derive(Debug, Clone, Copy)]
pub(super) struct Elapsed(Option<i64>);

impl Elapsed {
    pub fn between(before_unix_ms: i64, now_unix_ms: i64) -> Self {
        Self(now_unix_ms.checked_sub(before_unix_ms).filter(|ms| *ms >= 0))
    }

    /// In milliseconds.
    pub fn ms(self) -> Option<f64> {
        // Whole milliseconds of any time between two rests that matters are exact in f64.
        self.0.map(|ms| ms as f64)
    }

    /// Whether there was time for so many shots and racks.
    pub fn holds(self, shots: u32, racks: u32) -> bool {
        let least = i64::from(shots) * SHOT_MS + i64::from(racks) * RACK_MS;
        self.0.is_none_or(|ms| ms >= least)
    }

    /// Whether there was time for a rack to be set up in place of another and broken.
    pub fn holds_a_break(self) -> bool {
        self.0.is_none_or(|ms| ms >= RACKED_AND_BROKEN_MS)
    }
}

/// The chance that a rest was missed, and so that two shots look like one.
pub(super) fn hidden(unseen_ms: u64, elapsed: Elapsed) -> f64 {
    if !elapsed.holds(2, 0) {
        return 0.0;
    }
    MISSED_WATCHED + (1.0 - MISSED_WATCHED) * hidden_in(unseen_ms)
}

/// The chance that one more rest was missed in the same gap, behind which time for a shot has to be left.
pub(super) fn further_hidden(unseen_ms: u64, elapsed: Elapsed) -> f64 {
    hidden(unseen_ms.saturating_sub(HURRIED_MS), elapsed)
}

/// The chance that a shot was missed in a gap, whatever hands did behind it.
pub(super) fn shot_hidden(unseen_ms: u64, elapsed: Elapsed) -> f64 {
    if elapsed.holds(1, 0) { hidden_in(unseen_ms) } else { 0.0 }
}

/// The chance that a shot was missed in a gap too short for one with a stroke behind it, where balls were
/// racked right behind it.
pub(super) fn end_hidden(unseen_ms: u64, elapsed: Elapsed) -> f64 {
    let unseen_ms = unseen_ms.min(HIDES_FROM_MS);
    if elapsed.holds(1, 1) { hidden_from(HIDES_BEFORE_HANDS_MS, unseen_ms) } else { 0.0 }
}

/// Whether a gap is too short to hide a rest.
pub(super) fn hides_none(unseen_ms: u64) -> bool {
    hidden_in(unseen_ms) <= 0.0
}

fn hidden_in(unseen_ms: u64) -> f64 {
    hidden_from(HIDES_FROM_MS, unseen_ms)
}

/// Hardly any rest is over in the first seconds of a gap; later on each second is as likely as the
/// next to hold one.
fn hidden_from(least_ms: u64, unseen_ms: u64) -> f64 {
    // Whole milliseconds of any gap that matters are exact in f64.
    let over = unseen_ms.saturating_sub(least_ms) as f64 / HIDES_WITHIN_MS;
    1.0 - (-over * over / (1.0 + over)).exp()
}

/// The chance that a new attempt began without being seen.
pub(super) fn renewed(unseen_ms: u64) -> f64 {
    part(unseen_ms, RACKING_MS, RENEWED_WITHIN_MS)
}

/// The chance that a rack standing behind such a gap is a later one of an attempt that began in it.
pub(super) fn rack_played(unseen_ms: u64) -> f64 {
    POTS.powi(14) * part(unseen_ms, RACK_PLAYED_MS, RENEWED_WITHIN_MS)
}

fn part(unseen_ms: u64, from_ms: f64, within_ms: f64) -> f64 {
    // Whole milliseconds of any gap that matters are exact in f64.
    let over_ms = (unseen_ms as f64 - from_ms).max(0.0);
    1.0 - (-over_ms / within_ms).exp()
}

/// How a shot's pocketed balls share out over their number.
pub(super) fn share_of_pots(balls: i64) -> f64 {
    match balls {
        1 => 0.96,
        2 => 0.035,
        3 => 2e-3,
        n => 2e-3 * 0.03_f64.powi(i32::try_from(n - 3).unwrap_or(i32::MAX)),
    }
}

/// How a scratch's pocketed balls share out over their number.
pub(super) fn share_of_scratches(balls: i64) -> f64 {
    match balls {
        0 => 0.7,
        1 => 0.25,
        n => 0.03 * 0.06_f64.powi(i32::try_from(n - 2).unwrap_or(i32::MAX)),
    }
}
