//! Whether all that was kept is still there and unchanged.

use super::{
    RecordError,
    pictures::sha256,
    store::{RawRest, Store},
};
use std::fmt;

/// What a check of the whole record found.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckReport {
    pub rests: usize,
    /// Empty where all is well.
    pub problems: Vec<Problem>,
}

/// Something that is not as it was written.
#[derive(Debug, Clone, PartialEq)]
pub enum Problem {
    /// The database's own check complains.
    Database {
        says: String,
    },
    /// Ids are given one after the other, so a gap is a lost row.
    MissingRest {
        id: i64,
    },
    ChangedRest {
        id: i64,
    },
    UnreadableRest {
        id: i64,
        why: String,
    },
    MissingPicture {
        id: i64,
        picture_sha256: String,
    },
    ChangedPicture {
        id: i64,
        picture_sha256: String,
    },
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Database { says } => write!(f, "the database says: {says}"),
            Self::MissingRest { id } => write!(f, "rest {id} is missing"),
            Self::ChangedRest { id } => write!(f, "rest {id} was changed after it was written"),
            Self::UnreadableRest { id, why } => write!(f, "rest {id} cannot be read: {why}"),
            Self::MissingPicture { id, picture_sha256 } => {
                write!(f, "the picture {picture_sha256} of rest {id} is missing")
            }
            Self::ChangedPicture { id, picture_sha256 } => {
                write!(f, "the picture {picture_sha256} of rest {id} was changed")
            }
        }
    }
}

impl Store {
    /// Reads everything back: the database's own check, every row and every picture.
    pub(super) fn check(&self) -> Result<CheckReport, RecordError> {
        let mut report = CheckReport { rests: 0, problems: self.database_complaints()? };
        let mut statement = self.connection.prepare(&RawRest::select_all())?;
        for row in statement.query_map([], RawRest::from_row)? {
            let row = row?;
            let expected = report.rests as i64 + 1 + missing(&report.problems);
            report.problems.extend((expected..row.id).map(|id| Problem::MissingRest { id }));
            report.rests += 1;
            self.check_row(row, &mut report.problems);
        }
        Ok(report)
    }

    fn database_complaints(&self) -> Result<Vec<Problem>, RecordError> {
        let mut statement = self.connection.prepare("PRAGMA integrity_check")?;
        let lines = statement.query_map([], |row| row.get::<_, String>(0))?;
        let mut problems = Vec::new();
        for says in lines {
            let says = says?;
            if says != "ok" {
                problems.push(Problem::Database { says });
            }
        }
        Ok(problems)
    }

    fn check_row(&self, row: RawRest, problems: &mut Vec<Problem>) {
        let id = row.id;
        if !row.is_as_written() {
            problems.push(Problem::ChangedRest { id });
        }
        let rest = match row.into_rest() {
            Ok(rest) => rest,
            Err(error) => {
                problems.push(Problem::UnreadableRest { id, why: error.to_string() });
                return;
            }
        };
        let picture_sha256 = rest.picture_sha256.clone();
        match std::fs::read(self.picture_path(&rest)) {
            Err(_) => problems.push(Problem::MissingPicture { id, picture_sha256 }),
            Ok(bytes) if sha256(&bytes) != picture_sha256 => {
                problems.push(Problem::ChangedPicture { id, picture_sha256 });
            }
            Ok(_) => {}
        }
    }
}

fn missing(problems: &[Problem]) -> i64 {
    problems.iter().filter(|problem| matches!(problem, Problem::MissingRest { .. })).count() as i64
}
