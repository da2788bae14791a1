//! The score of each camera, folded from what is on disk.

use super::{
    RecordError,
    rows::{CORRECTION_COLUMNS, REST_COLUMNS, RawCorrection, RawRest},
};
use crate::score::{Follower, Step};
use rusqlite::Connection;
use std::collections::HashMap;

/// Followers held at a time. Camera names come from outside; any other is folded again on demand.
const HELD: usize = 32;

/// One follower to a camera, made when it is first asked for.
#[derive(Debug, Default)]
pub(super) struct Followers {
    by_camera: HashMap<String, Follower>,
}

impl Followers {
    /// A camera's follower, to be put back once what it took is on disk.
    pub(super) fn take(
        &mut self,
        connection: &Connection,
        camera: &str,
    ) -> Result<Follower, RecordError> {
        match self.by_camera.remove(camera) {
            Some(follower) => Ok(follower),
            None => Self::fold(connection, camera),
        }
    }

    pub(super) fn put_back(&mut self, camera: &str, follower: Follower) {
        if self.by_camera.len() >= HELD
            && let Some(other) = self.by_camera.keys().next().cloned()
        {
            self.by_camera.remove(&other);
        }
        self.by_camera.insert(camera.into(), follower);
    }

    /// Follows all rests of a camera with all corrections of them. Rows that are damaged are told
    /// and left out.
    pub(super) fn fold(connection: &Connection, camera: &str) -> Result<Follower, RecordError> {
        let said = corrections(connection, camera)?;
        let mut statement = connection.prepare_cached(&format!(
            "SELECT {REST_COLUMNS} FROM rests WHERE camera = $1 ORDER BY id"
        ))?;
        let mut rows = statement.query([camera])?;
        let mut follower = Follower::new();
        while let Some(row) = rows.next()? {
            match RawRest::from_row(row)?.into_seen() {
                Ok(seen) => {
                    follower.take(&seen, said.get(&seen.id));
                }
                Err(error) => tracing::error!("left out of the score: {error}"),
            }
        }
        Ok(follower)
    }
}

/// The last word on each rest of a camera.
pub(super) fn corrections(
    connection: &Connection,
    camera: &str,
) -> Result<HashMap<i64, Step>, RecordError> {
    let mut statement = connection.prepare_cached(&format!(
        "SELECT {CORRECTION_COLUMNS} FROM corrections WHERE camera = $1 ORDER BY id"
    ))?;
    let rows = statement.query_map([camera], RawCorrection::from_row)?;
    let mut said = HashMap::new();
    for row in rows {
        let row = row?;
        match row.step() {
            Ok(Some(step)) => said.insert(row.rest_id, step),
            Ok(None) => said.remove(&row.rest_id),
            Err(error) => {
                tracing::error!("left out of the score: {error}");
                None
            }
        };
    }
    Ok(said)
}
