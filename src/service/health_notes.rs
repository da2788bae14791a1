//! Camera health as events: each change is written into the record, so that followers and listeners
//! hear of it in its place among rests and score.
//!
//! Follows the status board. A camera counts as starting until the board says otherwise, and what
//! changed and changed back between two looks at the board is not told.

use super::{
    App, CameraName, CameraStatus, Health,
    announcement::{HEALTH_KIND, HealthData},
    status::now,
    vitals::Part,
};
use crate::record::{Note, RecordError};
use std::collections::BTreeMap;
use tokio::task::spawn_blocking;

/// Writes down each change of a camera's health until the service stops.
pub(super) async fn write_down(app: App, part: Part) {
    let _part = part;
    let mut stopping = app.stopping.subscribe();
    let mut changes = app.cameras.board().changes();
    let mut told: BTreeMap<CameraName, Health> = BTreeMap::new();
    loop {
        changes.mark_unchanged();
        let cameras = app.cameras.board().all();
        told.retain(|name, _| cameras.iter().any(|camera| camera.name == *name));
        for camera in cameras {
            let before = told.insert(camera.name.clone(), camera.health);
            if before.unwrap_or(Health::Starting) != camera.health
                && let Err(error) = tell(&app, camera).await
            {
                tracing::error!("a camera's health was not announced: {error}");
            }
        }
        tokio::select! {
            changed = changes.changed() => if changed.is_err() { return },
            () = super::server::stopped(&mut stopping) => return,
        }
    }
}

async fn tell(app: &App, camera: CameraStatus) -> Result<(), RecordError> {
    let data =
        HealthData { source: camera.source.into(), health: camera.health, words: camera.words };
    let note = Note {
        at: now(),
        camera: camera.name.to_string(),
        kind: HEALTH_KIND,
        body: serde_json::to_value(data).map_err(RecordError::Json)?,
    };
    let record = app.record.clone();
    // The record's own wait is for threads that may.
    spawn_blocking(move || record.note(note)).await.map_err(|_| RecordError::Closed)??;
    Ok(())
}
