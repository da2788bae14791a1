//! The records followed anew by the rules of 14.1: whether the run claimed is the run that follows,
//! and which changes of layout the rules do not explain.
//!
//! The numbers of the records stand for those of rests, so that what the score says of a rest is said
//! of its record. A record costs what a rest costs the score, whatever went before.

use super::{
    entry::{Head, Record},
    finding::{Finding, FindingKind as Kind, Place},
};
use crate::{
    score::{Attempt, Follower, Placed, RestSeen, ScoreEvent, Step},
    table::TableSize,
};

/// Readings of one table's length differ by less than this part of it.
pub(super) const TABLE_WITHIN: f64 = 0.02;

/// The records so far.
#[derive(Debug, Default)]
pub(super) struct Replay {
    follower: Follower,
    last: u32,
    last_at_unix_ms: Option<i64>,
    table: Option<TableSize>,
    findings: Vec<Finding>,
    ended_early: bool,
}

/// What the records come to.
#[derive(Debug)]
pub(super) struct Outcome {
    pub attempt: Option<Attempt>,
    pub table: Option<TableSize>,
    pub findings: Vec<Finding>,
}

impl Replay {
    /// Takes the next record, which holds together by itself.
    pub fn take(&mut self, record: Record) {
        let number = record.record;
        let mut found = |kind, text: String| {
            self.findings.push(Finding::new(Place::Record(number), kind, text));
        };
        if let Some(before) = self.last_at_unix_ms.filter(|before| record.at_unix_ms <= *before) {
            let by_ms = before.abs_diff(record.at_unix_ms);
            let text = format!(
                "its time is {by_ms} ms before that of the record before it: times have to rise"
            );
            found(Kind::NotLater, text);
        }
        let table = record.layout.table;
        let first = *self.table.get_or_insert(table);
        if !is_same_table(&table, &first) {
            let text = format!(
                "its table is {:.0} mm long, the first record's {:.0} mm",
                table.length_mm, first.length_mm
            );
            found(Kind::OtherTable, text);
        }
        self.last = number;
        self.last_at_unix_ms = Some(record.at_unix_ms);
        self.follow(record);
        // This record may show that the attempt was not over at the one before, though it was read so.
        let over = self.first_attempt().and_then(|attempt| attempt.over);
        let early = over.filter(|over| over.rest < i64::from(number) && !self.ended_early);
        if let Some(over) = early {
            self.ended_early = true;
            let text =
                format!("the attempt is over at record {}: nothing of it stands behind", over.rest);
            self.findings.push(Finding::new(Place::Record(number), Kind::EndsEarly, text));
        }
    }

    fn follow(&mut self, record: Record) {
        let Record { record: number, at_unix_ms, unseen_ms, said, layout, .. } = record;
        let rest = RestSeen { id: i64::from(number), at_unix_ms, unseen_ms, layout };
        let (may_set_up, placed) = (self.follower.may_set_up(), self.follower.placed(&rest));
        let told = self.follower.take(&rest, said.as_ref());
        let place = Place::Record(number);
        if let Some(said) = &said {
            let text = format!("on the player's word alone: {:?}", said.words());
            self.findings.push(Finding::new(place, Kind::Said, text));
            return;
        }
        let step = told.into_iter().find_map(|event| match event {
            ScoreEvent::Rest { step, .. } => Some(step),
            _ => None,
        });
        let Some(step) = step else { return };
        self.findings.extend(
            unexplained(&step, number, may_set_up, placed)
                .map(|(kind, text)| Finding::new(place, kind, text)),
        );
    }

    fn first_attempt(&self) -> Option<&Attempt> {
        self.follower.story().attempts.first()
    }

    /// Holds what follows against what is claimed.
    pub fn end(self, head: &Head) -> Outcome {
        let mut findings = self.findings;
        let mut found = |place, kind, text: String| findings.push(Finding::new(place, kind, text));
        let story = self.follower.story();
        let attempt = story.attempts.first().cloned();
        let begins = attempt.as_ref().is_some_and(|it| it.start_seen && it.began_rest == 1);
        if !begins {
            let text =
                "an attempt begins with fifteen balls racked, and this layout shows no such rack";
            found(Place::Record(1), Kind::NoStart, text.into());
        }
        if let Some(attempt) = &attempt {
            for question in story.questions.iter().filter(|asked| asked.attempt == Some(1)) {
                let record = u32::try_from(question.rest).unwrap_or(self.last);
                found(Place::Record(record), Kind::Doubtful, question.text.clone());
            }
            if attempt.over.is_none() {
                let text = "the attempt is not over here: records behind it are missing";
                found(Place::Record(self.last), Kind::NoEnd, text.into());
            }
            if attempt.run != head.run {
                let text = format!(
                    "a run of {} is claimed, and {} follows from the records",
                    head.run, attempt.run
                );
                found(Place::Head, Kind::RunDiffers, text);
            }
            if let Some(over) = attempt.over.filter(|over| over.cause != head.ended) {
                let text = format!(
                    "how it ended is told as: {}; by the records: {}",
                    head.ended.words(),
                    over.cause.words()
                );
                found(Place::Head, Kind::EndDiffers, text);
            }
        }
        Outcome { attempt, table: self.table, findings }
    }
}

/// Whether two readings can be of tables of one size.
pub(super) fn is_same_table(a: &TableSize, b: &TableSize) -> bool {
    (a.length_mm - b.length_mm).abs() <= TABLE_WITHIN * b.length_mm
}

/// What the rules do not explain of a step that was read from the layouts.
fn unexplained(
    step: &Step,
    number: u32,
    may_set_up: bool,
    placed: Option<Placed>,
) -> Option<(Kind, String)> {
    let told = |kind, text: &str| Some((kind, text.to_string()));
    match step {
        Step::ReRack => {
            let Placed { last_ball, cue_ball } = placed?;
            let what = match (last_ball, cue_ball) {
                (true, true) => return None,
                (false, true) => "the last ball lies",
                (true, false) => "the cue ball lies",
                (false, false) => "last ball and cue ball lie",
            };
            told(Kind::Placed, &format!("{what} not where the rule has it at a re-rack"))
        }
        Step::SettingUp if !may_set_up => {
            told(Kind::Unexplained, "balls changed that no shot can have changed so")
        }
        Step::ByHand => told(Kind::Unexplained, "balls were moved by hand while a rack was played"),
        Step::CameBack { .. } => {
            told(Kind::Unexplained, "a ball that had gone is on the table again")
        }
        Step::Several { .. } => {
            told(Kind::Unseen, "shots were played before it that no record shows")
        }
        Step::AttemptOn { .. } if number > 1 => {
            told(Kind::Unseen, "the attempt ended before it, and no record shows how")
        }
        _ => None,
    }
}
