//! Numbered steps that bring a record of any age to the present form.

use super::RecordError;
use rusqlite::Connection;

/// Each step's SQL; its place in the list is the version it leads to. Steps are only ever added.
pub(super) const STEPS: [&str; 5] = [
    include_str!("sql/0001_rests.sql"),
    include_str!("sql/0002_events.sql"),
    include_str!("sql/0003_notes.sql"),
    include_str!("sql/0004_contests.sql"),
    include_str!("sql/0005_hand_kept.sql"),
];

/// The present version.
pub(super) const KNOWN: i64 = STEPS.len() as i64;

/// The version of a record; 0 where nothing is in it yet.
///
/// # Errors
/// Where the database cannot be read.
pub(super) fn version(connection: &Connection) -> Result<i64, RecordError> {
    let sql = "SELECT COALESCE(MAX(version), 0) FROM record_version";
    Ok(connection.query_row(sql, [], |row| row.get(0))?)
}

/// Brings the database to the present version, each step in a transaction of its own.
///
/// # Errors
/// Where a newer program has written the record, or the database refuses.
pub(super) fn migrate(connection: &mut Connection) -> Result<(), RecordError> {
    migrate_to(connection, STEPS.len())
}

pub(super) fn migrate_to(connection: &mut Connection, target: usize) -> Result<(), RecordError> {
    connection
        .execute_batch("CREATE TABLE IF NOT EXISTS record_version (version BIGINT NOT NULL)")?;
    let found = version(connection)?;
    if found > KNOWN {
        return Err(RecordError::TooNew { found, known: KNOWN });
    }
    for (step, sql) in (1_i64..).zip(STEPS).take(target).skip(found.max(0) as usize) {
        let transaction = connection.transaction()?;
        transaction.execute_batch(sql)?;
        transaction.execute("INSERT INTO record_version (version) VALUES ($1)", [step])?;
        transaction.commit()?;
        tracing::info!(step, "the record was brought to version {step}");
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn schema(connection: &Connection) -> Vec<String> {
        let mut statement = connection
            .prepare("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name")
            .unwrap();
        statement.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
    }

    #[test]
    fn an_old_record_step_by_step_equals_a_fresh_one() {
        let mut fresh = Connection::open_in_memory().unwrap();
        migrate(&mut fresh).unwrap();
        let mut old = Connection::open_in_memory().unwrap();
        for version in 0..=STEPS.len() {
            migrate_to(&mut old, version).unwrap();
        }
        migrate(&mut old).unwrap();
        assert!(!schema(&fresh).is_empty());
        assert_eq!(schema(&fresh), schema(&old));
    }

    #[test]
    fn a_record_of_a_newer_program_is_refused() {
        let mut newer = Connection::open_in_memory().unwrap();
        migrate(&mut newer).unwrap();
        newer.execute("INSERT INTO record_version (version) VALUES (999)", []).unwrap();
        assert!(matches!(migrate(&mut newer), Err(RecordError::TooNew { found: 999, .. })));
    }
}
