//! Misses by what a shot was: cut, ways, side, what went before, time of the session.
//!
//! Input: the shots of a story ([`super::shots`]). Output: for each kind how many were played and missed
//! with the chance of a miss and its interval (`hazard`). What is counted is what rests tell: the likeliest
//! ball and pocket of each shot. A shot for which no straight way was open is in the tables that need no
//! aim alone. Side spin, height and speed of a hit cannot be told from balls at rest and have no table.

use super::{
    hazard::{Rate, Tally},
    shot_log::ShotLog,
    shots::{After, Shot, each_shot},
};
use crate::score::Story;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What shots are sorted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum By {
    /// Degrees between the cue ball's way and the object ball's.
    Cut,
    /// To which side the ball was cut.
    CutSide,
    /// The cue ball's way to the ball.
    ToBall,
    /// The ball's way to its pocket.
    ToPocket,
    /// Whether the cue ball lay at a rail.
    CueBall,
    /// The shot before.
    After,
    /// How far into the session the attempt began.
    Session,
}

/// One kind of shot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MissesOf {
    /// In words: `30 to 45°`.
    pub kind: String,
    #[serde(flatten)]
    pub rate: Rate,
}

/// Misses by one of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MissTable {
    pub by: By,
    pub kinds: Vec<MissesOf>,
}

/// Misses by all of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Misses {
    /// Shots that are seen one by one.
    pub shots: u64,
    /// Of them those for which a straight way was open to a ball that moved.
    pub aimed: u64,
    /// Of these those in which no other ball can have been meant.
    pub sure: u64,
    pub tables: Vec<MissTable>,
}

const CUTS: [&str; 6] =
    ["under 10°", "10 to 20°", "20 to 30°", "30 to 45°", "45 to 60°", "over 60°"];
const CUT_ENDS_DEG: [f64; 5] = [10.0, 20.0, 30.0, 45.0, 60.0];
const SIDES: [&str; 3] = ["to the left", "nearly straight", "to the right"];
/// A cut of less is to neither side, in degrees.
pub(super) const STRAIGHT_DEG: f64 = 5.0;
const WAYS: [&str; 4] = ["under 0.5 m", "0.5 to 1 m", "1 to 1.5 m", "over 1.5 m"];
const WAY_ENDS_MM: [f64; 3] = [500.0, 1000.0, 1500.0];
const CUE_BALLS: [&str; 2] = ["at a rail", "away from the rails"];
const AFTERS: [&str; 4] =
    ["none: the first one", "a break shot", "cue ball ran under 0.8 m", "cue ball ran farther"];
const SESSIONS: [&str; 5] =
    ["first 15 min", "15 to 30 min", "30 to 60 min", "1 to 2 h", "after 2 h"];
const SESSION_ENDS_MIN: [f64; 4] = [15.0, 30.0, 60.0, 120.0];

const ALL: [(By, &[&str]); 7] = [
    (By::Cut, &CUTS),
    (By::CutSide, &SIDES),
    (By::ToBall, &WAYS),
    (By::ToPocket, &WAYS),
    (By::CueBall, &CUE_BALLS),
    (By::After, &AFTERS),
    (By::Session, &SESSIONS),
];

impl By {
    /// Which of its kinds a shot is; none where that is not known.
    fn kind(self, shot: &Shot) -> Option<usize> {
        let among = |ends: &[f64], value: f64| ends.partition_point(|end| *end <= value);
        let aim = shot.read.aim;
        match self {
            Self::Cut => Some(among(&CUT_ENDS_DEG, aim?.cut_deg.abs())),
            Self::CutSide => Some(match aim?.cut_deg {
                cut if cut >= STRAIGHT_DEG => 0,
                cut if cut <= -STRAIGHT_DEG => 2,
                _ => 1,
            }),
            Self::ToBall => Some(among(&WAY_ENDS_MM, aim?.to_ball_mm)),
            Self::ToPocket => Some(among(&WAY_ENDS_MM, aim?.to_pocket_mm)),
            Self::CueBall => Some(usize::from(!shot.read.at_rail)),
            Self::After => Some(match shot.after? {
                After::Nothing => 0,
                After::Break => 1,
                After::ShortWay => 2,
                After::LongWay => 3,
            }),
            Self::Session => Some(among(&SESSION_ENDS_MIN, f64::from(shot.session_min))),
        }
    }
}

impl Misses {
    /// None where no shot is seen by itself.
    pub fn of(story: &Story, log: &ShotLog) -> Option<Self> {
        let mut tallies = ALL.map(|(_, kinds)| vec![Tally::default(); kinds.len()]);
        let (mut shots, mut aimed, mut sure) = (0, 0, 0);
        each_shot(story, log, |shot| {
            shots += 1;
            aimed += u64::from(shot.read.aim.is_some());
            sure += u64::from(shot.read.aim.is_some_and(|aim| aim.sure));
            for ((by, _), tallies) in ALL.iter().zip(&mut tallies) {
                if let Some(kind) = by.kind(shot) {
                    tallies[kind].add(shot.missed);
                }
            }
        });
        let table = |((by, kinds), tallies): ((By, &[&str]), Vec<Tally>)| {
            let kinds = kinds.iter().zip(tallies).filter(|(_, tally)| tally.faced > 0);
            let of = |(kind, tally): (&&str, Tally)| MissesOf {
                kind: (*kind).into(),
                rate: Rate::of(tally),
            };
            MissTable { by, kinds: kinds.map(of).collect() }
        };
        let tables: Vec<MissTable> = ALL.into_iter().zip(tallies).map(table).collect();
        (shots > 0).then_some(Self { shots, aimed, sure, tables })
    }

    /// What of a shot is known only by its likeliest ball and pocket, and what not at all.
    pub fn in_words(&self) -> String {
        let Self { shots, aimed, sure, .. } = self;
        format!(
            "Of {shots} shots seen one by one, {aimed} had a straight way open to a ball that moved; in \
             {sure} of them no other ball can have been meant. The pocket is the likeliest one. Balls at \
             rest do not tell side spin, height or speed of a hit: there is nothing by those."
        )
    }
}

impl By {
    /// As a heading.
    pub const fn heading(self) -> &'static str {
        match self {
            Self::Cut => "Cut",
            Self::CutSide => "Side of the cut",
            Self::ToBall => "Cue ball to ball",
            Self::ToPocket => "Ball to pocket",
            Self::CueBall => "Cue ball",
            Self::After => "Shot before",
            Self::Session => "Time of the session",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::made_up::{MadeUp, Meant};

    fn tally(misses: &Misses, by: By, kind: &str) -> (u64, u64) {
        let table = misses.tables.iter().find(|table| table.by == by).unwrap();
        let of = table.kinds.iter().find(|of| of.kind == kind);
        of.map_or((0, 0), |of| (of.rate.tally.faced, of.rate.tally.missed))
    }

    const HOUR_MS: i64 = 3_600_000;

    #[test]
    fn shots_are_sorted_by_what_their_rests_tell() {
        let mut made_up = MadeUp::default();
        let shot = |cut_deg, made| Meant { cut_deg, made };
        made_up.play(0, &[shot(25.0, true), shot(-50.0, true), shot(2.0, false)]);
        made_up.play(20 * 60_000, &[shot(-50.0, false)]);
        made_up.play(5 * HOUR_MS, &[shot(33.0, false)]);
        let misses = Misses::of(&made_up.story, &made_up.log).unwrap();
        assert_eq!((misses.shots, misses.aimed, misses.sure), (5, 5, 5));
        for (by, kind, expected) in [
            (By::Cut, "20 to 30°", (1, 0)),
            (By::Cut, "45 to 60°", (2, 1)),
            (By::Cut, "under 10°", (1, 1)),
            (By::CutSide, "to the left", (2, 1)),
            (By::CutSide, "to the right", (2, 1)),
            (By::CutSide, "nearly straight", (1, 1)),
            (By::ToPocket, "0.5 to 1 m", (5, 3)),
            (By::After, "none: the first one", (3, 2)),
            (By::After, "a break shot", (1, 0)),
            (By::After, "cue ball ran under 0.8 m", (1, 1)),
            (By::Session, "first 15 min", (4, 2)),
            (By::Session, "15 to 30 min", (1, 1)),
            (By::CueBall, "away from the rails", (5, 3)),
        ] {
            assert_eq!(tally(&misses, by, kind), expected, "{by:?} {kind}");
        }
        assert!(misses.in_words().contains("side spin"));
    }

    #[test]
    fn a_clock_that_was_set_back_begins_a_session() {
        let mut made_up = MadeUp::default();
        let miss = [Meant { cut_deg: 10.0, made: false }];
        for began in [10 * HOUR_MS, 10 * HOUR_MS + 20 * 60_000, 2 * HOUR_MS] {
            made_up.play(began, &miss);
        }
        let misses = Misses::of(&made_up.story, &made_up.log).unwrap();
        assert_eq!(tally(&misses, By::Session, "first 15 min"), (2, 2));
        assert_eq!(tally(&misses, By::Session, "15 to 30 min"), (1, 1));
    }

    #[test]
    fn what_stands_for_several_shots_and_no_shot_at_all_tell_nothing() {
        let mut made_up = MadeUp::default();
        assert_eq!(Misses::of(&made_up.story, &made_up.log), None);
        made_up
            .play(0, &[Meant { cut_deg: 10.0, made: true }, Meant { cut_deg: 10.0, made: false }]);
        made_up.story.attempts[0].shots[0].shots = 2;
        let misses = Misses::of(&made_up.story, &made_up.log).unwrap();
        assert_eq!(misses.shots, 1);
        // What went before it is not known.
        assert!(misses.tables.iter().all(|table| table.by != By::After || table.kinds.is_empty()));
    }
}
