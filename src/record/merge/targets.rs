//! Where the new rests of each of the other record's cameras go.

use super::{each_rest, known_rest};
use crate::record::{RecordError, RecordReader};
use rusqlite::Connection;
use std::collections::{BTreeMap, HashMap};

/// A camera's name has no more letters.
const LONGEST_CAMERA: usize = 40;

/// Where the new rests of one of the other record's cameras go.
#[derive(Debug)]
pub(super) struct Target {
    pub(super) camera: String,
    /// The last rest that was here, where it is not one of the other record's too: how long the table
    /// was not watched until the first new one is reckoned from its time.
    pub(super) gap_from_unix_ms: Option<i64>,
}

/// Where the new rests of each of the other record's cameras go.
pub(super) fn targets(
    here: &Connection,
    other: &RecordReader,
) -> Result<HashMap<String, Target>, RecordError> {
    /// What a first look at a camera's rests tells.
    #[derive(Default)]
    struct Looked {
        /// The last rest that both records have, as it is here.
        shared: Option<(i64, String)>,
        first_new_unix_ms: Option<i64>,
    }
    let mut cameras: BTreeMap<String, Looked> = BTreeMap::new();
    each_rest(&other.connection, |row| {
        let known = known_rest(here, &row)?;
        let looked = cameras.entry(row.camera).or_default();
        match known {
            Some(rest) => looked.shared = Some(rest),
            None => {
                let first = looked.first_new_unix_ms.get_or_insert(row.at_unix_ms);
                *first = row.at_unix_ms.min(*first);
            }
        }
        Ok(())
    })?;
    let latest = |camera: &str| -> Result<Option<(i64, i64)>, RecordError> {
        let sql = "SELECT MAX(id), MAX(at_unix_ms) FROM rests WHERE camera = $1";
        let found: (Option<i64>, Option<i64>) =
            here.query_row(sql, [camera], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(found.0.zip(found.1))
    };
    let mut targets: HashMap<String, Target> = HashMap::new();
    let names: Vec<String> = cameras.keys().cloned().collect();
    for (name, looked) in cameras {
        let Some(first_new) = looked.first_new_unix_ms else { continue };
        let (shared, wanted) = match looked.shared {
            Some((id, camera)) => (Some(id), camera),
            None => (None, name.clone()),
        };
        let taken = |wanted: &str| targets.values().any(|target| target.camera == wanted);
        let target = match latest(&wanted)? {
            _ if taken(&wanted) => None,
            None => Some(Target { camera: wanted, gap_from_unix_ms: None }),
            Some((id, at)) if first_new > at => {
                let gap_from_unix_ms = (shared != Some(id)).then_some(at);
                Some(Target { camera: wanted, gap_from_unix_ms })
            }
            Some(_) => None,
        };
        let target = match target {
            Some(target) => target,
            None => {
                let mut number = 2;
                let camera = loop {
                    let end = format!("-{number}");
                    let kept: String = name.chars().take(LONGEST_CAMERA - end.len()).collect();
                    let fresh = kept + &end;
                    let free = !names.contains(&fresh) && !taken(&fresh);
                    if free && latest(&fresh)?.is_none() {
                        break fresh;
                    }
                    number += 1;
                };
                Target { camera, gap_from_unix_ms: None }
            }
        };
        targets.insert(name, target);
    }
    Ok(targets)
}
