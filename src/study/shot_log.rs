//! What each rest of a camera brings to the study, kept as it comes: how the shot into it was aimed, and
//! where few balls lay.
//!
//! Layouts come one after the other, and only what is told of them is kept: twelve bytes for a shot, so
//! that five million rests are in memory at once. Whether a shot was made is the score's to say, and may
//! be corrected later; so that stands nowhere here. A rest that the user took back is told apart by the
//! score as well.

use super::{
    places::Places,
    shot_read::{Aim, ShotRead},
};
use crate::{layout::Layout, score::RestSeen};

/// Lengths are kept in steps of so many millimetres: a byte then reaches 3 m.
const STEP_MM: f64 = 12.0;
/// Stands for nothing.
const NO_CUT: i8 = i8::MIN;
const NO_LENGTH: u8 = u8::MAX;
/// Bits of what is kept beside the pocket.
const SURE: u8 = 8;
const AT_RAIL: u8 = 16;

/// A shot, packed. Rests are numbered one after the other: four thousand million are no record's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Kept {
    rest: u32,
    /// How many rests before that one the layout before was; others' cameras count too.
    back: u16,
    cut_deg: i8,
    to_ball: u8,
    to_pocket: u8,
    cue_way: u8,
    flags: u8,
}

/// All shots and positions of a camera so far.
#[derive(Debug, Clone, Default)]
pub struct ShotLog {
    shots: Vec<Kept>,
    places: Places,
    last: Option<(i64, Layout)>,
}

/// A shot with the rests around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShotKnown {
    /// The rest that the balls came to, and the one before it.
    pub rest: i64,
    pub before: i64,
    pub read: ShotRead,
}

fn packed(length_mm: Option<f64>) -> u8 {
    let steps = |mm: f64| (mm / STEP_MM).round().min(f64::from(NO_LENGTH - 1)) as u8;
    length_mm.map_or(NO_LENGTH, steps)
}

impl Kept {
    fn new(rest: u32, before: i64, read: &ShotRead) -> Self {
        let aim = read.aim;
        let sure = if aim.is_some_and(|aim| aim.sure) { SURE } else { 0 };
        let at_rail = if read.at_rail { AT_RAIL } else { 0 };
        Self {
            rest,
            back: u16::try_from(i64::from(rest) - before).unwrap_or(u16::MAX),
            cut_deg: aim.map_or(NO_CUT, |aim| aim.cut_deg.round() as i8),
            to_ball: packed(aim.map(|aim| aim.to_ball_mm)),
            to_pocket: packed(aim.map(|aim| aim.to_pocket_mm)),
            cue_way: packed(read.cue_way_mm),
            flags: aim.map_or(0, |aim| aim.pocket as u8) | sure | at_rail,
        }
    }

    fn known(self) -> ShotKnown {
        let mm = |steps: u8| f64::from(steps) * STEP_MM;
        let aim = (self.cut_deg != NO_CUT).then(|| Aim {
            pocket: usize::from(self.flags & (SURE - 1)),
            cut_deg: f64::from(self.cut_deg),
            to_ball_mm: mm(self.to_ball),
            to_pocket_mm: mm(self.to_pocket),
            sure: self.flags & SURE != 0,
        });
        ShotKnown {
            rest: i64::from(self.rest),
            before: i64::from(self.rest) - i64::from(self.back),
            read: ShotRead {
                aim,
                at_rail: self.flags & AT_RAIL != 0,
                cue_way_mm: (self.cue_way != NO_LENGTH).then(|| mm(self.cue_way)),
            },
        }
    }
}

impl ShotLog {
    /// Takes the next rest of the camera. One that it knows already, and one of which part is hidden,
    /// brings nothing.
    pub fn take(&mut self, seen: &RestSeen) {
        if seen.layout.obstructed || self.last.as_ref().is_some_and(|(last, _)| *last >= seen.id) {
            return;
        }
        let Ok(rest) = u32::try_from(seen.id) else { return };
        self.places.take(rest, &seen.layout);
        if let Some((before, layout)) = &self.last {
            // More balls than before: they are being racked or put back.
            let balls = |layout: &Layout| layout.object_balls().count();
            let known = |read| Kept::new(rest, *before, &read);
            if balls(&seen.layout) <= balls(layout) {
                self.shots.extend(ShotRead::between(layout, &seen.layout).map(known));
            }
        }
        self.last = Some((seen.id, seen.layout.clone()));
    }

    /// The shots in order, from the one into a rest or the next after it.
    pub fn shots_from(&self, rest: i64) -> impl Iterator<Item = ShotKnown> + '_ {
        let at = self.shots.partition_point(|shot| i64::from(shot.rest) < rest);
        self.shots[at..].iter().copied().map(Kept::known)
    }

    /// The shot into a rest.
    pub fn shot(&self, rest: i64) -> Option<ShotKnown> {
        self.shots_from(rest).next().filter(|shot| shot.rest == rest)
    }

    /// Where few balls lay.
    pub fn places(&self) -> &Places {
        &self.places
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        layout::{Ball, BallKind},
        table::{FootEnd, TableSize},
    };

    fn rest(id: i64, balls: &[(u8, f64, f64)]) -> RestSeen {
        let ball = |&(number, x, y): &(u8, f64, f64)| Ball {
            kind: if number == 0 { BallKind::Cue } else { BallKind::Object },
            number: Some(number),
            x,
            y,
            sigma_mm: 0.5,
            confidence: 0.99,
            number_confidence: 0.95,
        };
        let layout =
            Layout::of(TableSize::NINE_FOOT, FootEnd::Given, balls.iter().map(ball).collect());
        RestSeen { id, at_unix_ms: id * 10_000, unseen_ms: 0, layout }
    }

    #[test]
    fn a_shot_is_kept_as_it_was_read_to_a_degree_and_a_centimetre() {
        let before = rest(4, &[(0, 3.0, 1.0), (9, 6.5, 2.9), (2, 1.0, 3.0)]);
        let after = rest(9, &[(0, 5.0, 2.2), (2, 1.0, 3.0)]);
        let mut log = ShotLog::default();
        for seen in [&before, &after, &before] {
            log.take(seen);
        }
        let read = ShotRead::between(&before.layout, &after.layout).unwrap();
        let known = log.shot(9).unwrap();
        assert_eq!((known.rest, known.before, log.shots.len()), (9, 4, 1));
        let (aim, kept) = (read.aim.unwrap(), known.read.aim.unwrap());
        assert_eq!((kept.pocket, kept.sure), (aim.pocket, aim.sure));
        assert!((kept.cut_deg - aim.cut_deg).abs() <= 0.5);
        assert!((kept.to_ball_mm - aim.to_ball_mm).abs() <= STEP_MM / 2.0);
        assert!((kept.to_pocket_mm - aim.to_pocket_mm).abs() <= STEP_MM / 2.0);
        let way = known.read.cue_way_mm.unwrap() - read.cue_way_mm.unwrap();
        assert!(way.abs() <= STEP_MM / 2.0);
        assert_eq!(log.shot(4), None);
        assert_eq!(size_of::<Kept>(), 12);
    }

    #[test]
    fn a_hidden_table_and_balls_put_back_are_no_shots() {
        let mut log = ShotLog::default();
        log.take(&rest(1, &[(0, 3.0, 1.0), (9, 6.5, 2.9)]));
        let mut hidden = rest(2, &[(0, 4.0, 1.0)]);
        hidden.layout.obstructed = true;
        log.take(&hidden);
        log.take(&rest(3, &[(0, 4.0, 1.0), (9, 6.5, 2.9), (2, 1.0, 3.0)]));
        assert_eq!(log.shots_from(0).count(), 0);
        log.take(&rest(4, &[(9, 6.5, 2.9), (2, 2.0, 3.0)]));
        let scratch = log.shot(4).unwrap();
        assert_eq!((scratch.before, scratch.read.cue_way_mm), (3, None));
    }
}
