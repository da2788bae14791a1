//! An attempt written as an entry, and held to what the organiser's check will say.

use super::{
    chain::{linked, signed_text},
    entry::{Head, LONGEST_LINE, MOST_BYTES, Record, Seal, VERSION},
    key::Signer,
    verify::{unfit_age, unfit_film, unfit_name},
};
use crate::{
    camera::picture::PictureFormat,
    layout::Layout,
    score::{Follower, RestSeen, Step},
};
use std::io::{self, Write};
use thiserror::Error;

/// Who enters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entrant {
    /// As it is to stand on the list.
    pub player: String,
    /// At the attempt, in whole years.
    pub age_years: Option<u8>,
    /// Where a film of the attempt is.
    pub film: Option<String>,
}

/// A rest of the attempt.
#[derive(Debug, Clone, PartialEq)]
pub struct EntryRecord {
    pub at_unix_ms: i64,
    pub unseen_ms: u64,
    pub layout: Layout,
    /// What the player corrected.
    pub said: Option<Step>,
    pub picture_sha256: String,
    pub picture_format: PictureFormat,
}

/// Why no entry was written.
#[derive(Debug, Error)]
pub enum EntryError {
    #[error("{0}")]
    Entrant(String),
    #[error(
        "the attempt's records begin without its opening rack, so nobody can tell how long the run \
         was: it cannot be entered"
    )]
    NoStart,
    #[error("the attempt is still going on: it can be entered when it is over")]
    GoingOn,
    #[error("the attempt is too long for an entry, which has at most {} MiB", MOST_BYTES >> 20)]
    TooLong,
    #[error("cannot write the entry: {0}")]
    Write(#[from] io::Error),
    #[error("a record could not be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

/// Writes an entry: all rests of one attempt, the opening rack first, the one that ended it last.
///
/// # Errors
/// Where who enters or the attempt is not such as can be entered, or nobody takes what is written.
pub fn write_entry(
    entrant: &Entrant,
    records: &[EntryRecord],
    signer: &Signer,
    mut to: impl Write,
) -> Result<(), EntryError> {
    let head = head(entrant, records, signer)?;
    let mut bytes = 0;
    let mut put = |line: String| -> Result<(), EntryError> {
        bytes += line.len() as u64 + 1;
        if bytes > MOST_BYTES || line.len() as u64 >= LONGEST_LINE {
            return Err(EntryError::TooLong);
        }
        to.write_all(line.as_bytes())?;
        Ok(to.write_all(b"\n")?)
    };
    let (line, head_sha256) = linked(&serde_json::to_string(&head)?, "");
    put(line)?;
    let mut chain_sha256 = String::new();
    for (record, number) in records.iter().zip(1..) {
        let record = Record {
            record: number,
            at_unix_ms: record.at_unix_ms,
            unseen_ms: record.unseen_ms,
            said: record.said.clone(),
            picture_sha256: record.picture_sha256.clone(),
            picture_type: record.picture_format.media_type().into(),
            layout: record.layout.clone(),
        };
        let line;
        (line, chain_sha256) = linked(&serde_json::to_string(&record)?, &chain_sha256);
        put(line)?;
    }
    let signature = signer.sign(&signed_text(&head_sha256, &chain_sha256));
    put(serde_json::to_string(&Seal { chain_sha256, signature })?)?;
    Ok(to.flush()?)
}

/// What is claimed: what follows from the records.
fn head(entrant: &Entrant, records: &[EntryRecord], signer: &Signer) -> Result<Head, EntryError> {
    let Entrant { player, age_years, film } = entrant;
    let unfit = unfit_name(player)
        .or_else(|| age_years.and_then(unfit_age))
        .or_else(|| film.as_deref().and_then(unfit_film));
    if let Some(why) = unfit {
        return Err(EntryError::Entrant(why));
    }
    let mut follower = Follower::new();
    for (record, id) in records.iter().zip(1..) {
        let EntryRecord { at_unix_ms, unseen_ms, layout, said, .. } = record.clone();
        follower.take(&RestSeen { id, at_unix_ms, unseen_ms, layout }, said.as_ref());
    }
    let attempt = follower.story().attempts.first();
    let attempt = attempt.filter(|it| it.start_seen && it.began_rest == 1);
    let attempt = attempt.ok_or(EntryError::NoStart)?;
    let over = attempt.over.ok_or(EntryError::GoingOn)?;
    Ok(Head {
        entry: VERSION,
        player: player.clone(),
        age_years: *age_years,
        film: film.clone(),
        key: signer.public().to_string(),
        run: attempt.run,
        ended: over.cause,
        records: u32::try_from(records.len()).map_err(|_| EntryError::TooLong)?,
    })
}
