//! Rests read one after the other, their layouts parsed and what is made of them worked out on other
//! threads meanwhile.
//!
//! Batches of rows go round the parsers in turn and come to the one who sees them in the same order; few
//! are under way at a time, so that memory is bounded. Who sees them costs most, so that what was seen
//! goes back to its parser to be freed: it was taken from the parser's memory.

use super::{RecordError, rows::RawRest};
use crate::score::RestSeen;
use rusqlite::Rows;
use std::{
    num::NonZero,
    sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel},
    thread::{Scope, available_parallelism},
};

/// Rows of a batch, batches under way for each parser, and the most parsers.
const BATCH: usize = 256;
const UNDER_WAY: usize = 2;
const MOST_PARSERS: usize = 3;

/// A row with the rest that it holds, or what is wrong with it.
pub(super) type Read = (RawRest, Result<RestSeen, RecordError>);

/// What a parser read, batch by batch, and the way back for what was seen of it.
type Parsed = (Receiver<Vec<Read>>, Sender<Vec<Read>>);

/// The way to a parser, and from it to who sees what it read.
type Lane = (SyncSender<Vec<RawRest>>, Parsed);

/// Sees each rest of a query for rests, in its order.
///
/// # Errors
/// Where the rows cannot be read, or as `see` has it.
pub(super) fn each_rest<E: From<rusqlite::Error> + Send>(
    rows: &mut Rows<'_>,
    see: impl FnMut(&Read) -> Result<(), E> + Send,
) -> Result<(), E> {
    let cores = available_parallelism().map_or(1, NonZero::get);
    std::thread::scope(|scope| {
        let parsers = cores.clamp(1, MOST_PARSERS);
        let (unparsed, parsed): (Vec<_>, Vec<_>) = (0..parsers).map(|_| parser(scope)).unzip();
        let seer = scope.spawn(move || see_in_turn(&parsed, see));
        let all_read = deal_out(rows, &unparsed);
        drop(unparsed);
        let seen = seer.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        seen.and(all_read.map_err(E::from))
    })
}

/// Deals the rows out to the parsers, until all are read or nobody wants more.
fn deal_out(rows: &mut Rows<'_>, parsers: &[SyncSender<Vec<RawRest>>]) -> rusqlite::Result<()> {
    for parser in parsers.iter().cycle() {
        let batch = next_batch(rows)?;
        let over = batch.len() < BATCH;
        if parser.send(batch).is_err() || over {
            break;
        }
    }
    Ok(())
}

/// Sees what the parsers hand on, each in turn, until the one whose turn it is has no more.
fn see_in_turn<E>(
    parsers: &[Parsed],
    mut see: impl FnMut(&Read) -> Result<(), E>,
) -> Result<(), E> {
    for (parsed, seen) in parsers.iter().cycle() {
        // A parser that is gone too early has panicked, and the scope tells that.
        let Ok(batch) = parsed.recv() else { break };
        batch.iter().try_for_each(&mut see)?;
        // One that has read all is gone too, and what is left is freed here.
        let _ = seen.send(batch);
    }
    Ok(())
}

fn next_batch(rows: &mut Rows<'_>) -> rusqlite::Result<Vec<RawRest>> {
    let mut batch = Vec::with_capacity(BATCH);
    while batch.len() < BATCH
        && let Some(row) = rows.next()?
    {
        batch.push(RawRest::from_row(row)?);
    }
    Ok(batch)
}

fn parser<'scope>(scope: &'scope Scope<'scope, '_>) -> Lane {
    let (give, batches) = sync_channel::<Vec<RawRest>>(UNDER_WAY);
    let (hand_on, parsed) = sync_channel(UNDER_WAY);
    let (give_back, seen) = channel();
    scope.spawn(move || {
        for batch in batches {
            seen.try_iter().for_each(drop::<Vec<Read>>);
            let read = batch.into_iter().map(|row| {
                let seen = row.parsed();
                (row, seen)
            });
            if hand_on.send(read.collect()).is_err() {
                return;
            }
        }
    });
    (give, (parsed, give_back))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::rows::REST_COLUMNS;
    use rusqlite::Connection;

    /// So many rows, of which every hundredth is damaged.
    fn rows(count: i64) -> Connection {
        let connection = Connection::open_in_memory().unwrap();
        connection
            .execute_batch(
                "CREATE TABLE rests (id, at_unix_ms, unseen_ms, camera, layout_json, \
                 picture_sha256, picture_type, row_sha256)",
            )
            .unwrap();
        let layout = r#"{"table":{"length_mm":2540.0,"width_mm":1270.0},"foot":"given",
            "obstructed":false,"balls":[]}"#;
        for id in 1..=count {
            let layout = if id % 100 == 0 { "torn" } else { layout };
            connection
                .execute(
                    "INSERT INTO rests VALUES ($1, $1, 0, 'table', $2, '', 'image/jpeg', '')",
                    (id, layout),
                )
                .unwrap();
        }
        connection
    }

    fn read(connection: &Connection, upto: i64) -> Result<Vec<(i64, bool)>, RecordError> {
        let sql = format!("SELECT {REST_COLUMNS} FROM rests ORDER BY id");
        let mut statement = connection.prepare(&sql)?;
        let mut read = Vec::new();
        each_rest(&mut statement.query([])?, |(row, seen)| {
            if row.id > upto {
                return Err(RecordError::Closed);
            }
            read.push((row.id, seen.as_ref().is_ok_and(|seen| seen.id == row.id)));
            Ok(())
        })?;
        Ok(read)
    }

    #[test]
    fn rests_come_in_order_each_with_what_is_wrong_with_it() {
        for count in [0, 1, BATCH as i64, 5 * BATCH as i64 + 7] {
            let read = read(&rows(count), i64::MAX).unwrap();
            let expected: Vec<(i64, bool)> = (1..=count).map(|id| (id, id % 100 != 0)).collect();
            assert_eq!(read, expected);
        }
    }

    #[test]
    fn who_has_seen_enough_waits_for_no_parser() {
        assert!(matches!(read(&rows(4000), 300), Err(RecordError::Closed)));
    }
}
