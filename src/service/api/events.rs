//! Layouts as they come, as server-sent events (HTML standard, section 9.2).
//!
//! Each follower reads the record from the id it has, and waits for the record's announcements
//! when it has caught up. So a follower that comes back, or is slow, gets every layout once and in
//! order, and needs no memory of ours. Events: `layout` with the layout's id, and `camera`, without
//! an id, when a camera's state changes.

use super::RestView;
use crate::{
    record::RestQuery,
    service::{App, CameraStatus, Problem},
};
use axum::{
    extract::{Query, State, rejection::QueryRejection},
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{
        IntoResponse, Response,
        sse::{Event, KeepAlive, Sse},
    },
};
use futures_util::stream::{Stream, unfold};
use serde::Deserialize;
use std::{collections::VecDeque, convert::Infallible};
use tokio::sync::watch;
use utoipa::IntoParams;

/// Layouts read from the record in one go.
const BATCH: u32 = 50;

/// Where to begin.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct EventParams {
    /// Begin after this id; where neither this nor Last-Event-ID is given, begin with what is new.
    after: Option<i64>,
}

/// Follow the layouts live.
#[utoipa::path(
    get, path = "/api/events", tag = "layouts",
    params(
        EventParams,
        ("Last-Event-ID" = Option<i64>, Header,
            description = "The last id that was seen: what came after is sent first"),
    ),
    responses(
        (status = 200, description = "Events `layout` (data: a rest) and `camera` (data: a camera)",
            body = String, content_type = "text/event-stream"),
        (status = 400, description = "The id is none", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_events(
    State(app): State<App>,
    headers: HeaderMap,
    params: Result<Query<EventParams>, QueryRejection>,
) -> Result<Response, Problem> {
    let mut announcements = app.record.announcements();
    let newest = *announcements.borrow_and_update();
    let last = match headers.get("last-event-id") {
        Some(id) => Some(parse_id(id)?),
        None => params?.0.after,
    };
    let follower = Follower {
        // An id from another record may lie ahead of this one.
        last: last.map_or(newest, |last| last.min(newest)),
        announcements,
        changes: app.cameras.board().changes(),
        stopping: app.stopping.subscribe(),
        ready: VecDeque::new(),
        told: Vec::new(),
        app: app.clone(),
    };
    let keep_alive = KeepAlive::new().interval(app.limits.keep_alive);
    let events = Sse::new(stream(follower)).keep_alive(keep_alive);
    Ok(([(header::CACHE_CONTROL, HeaderValue::from_static("no-store"))], events).into_response())
}

fn parse_id(id: &HeaderValue) -> Result<i64, Problem> {
    id.to_str().ok().and_then(|text| text.trim().parse().ok()).ok_or_else(|| {
        Problem::new(
            StatusCode::BAD_REQUEST,
            "last_event_id",
            "Last-Event-ID has to be the id of a layout, a whole number.",
        )
    })
}

/// One who follows, and what it has got so far.
struct Follower {
    app: App,
    last: i64,
    announcements: watch::Receiver<i64>,
    changes: watch::Receiver<u64>,
    stopping: watch::Receiver<bool>,
    ready: VecDeque<Event>,
    /// The states of the cameras as this follower knows them.
    told: Vec<CameraStatus>,
}

fn stream(follower: Follower) -> impl Stream<Item = Result<Event, Infallible>> {
    unfold(follower, |mut follower| async move {
        let event = follower.next().await?;
        Some((Ok(event), follower))
    })
}

impl Follower {
    /// The next event; none when the service stops or its record fails.
    async fn next(&mut self) -> Option<Event> {
        loop {
            if let Some(event) = self.ready.pop_front() {
                return Some(event);
            }
            if *self.stopping.borrow() {
                return None;
            }
            // Marked as seen before reading, so that what comes meanwhile wakes us again.
            self.announcements.mark_unchanged();
            self.changes.mark_unchanged();
            self.gather_cameras();
            self.gather_layouts().await?;
            if self.ready.is_empty() {
                tokio::select! {
                    changed = self.announcements.changed() => changed.ok()?,
                    changed = self.changes.changed() => changed.ok()?,
                    changed = self.stopping.changed() => changed.ok()?,
                }
            }
        }
    }

    async fn gather_layouts(&mut self) -> Option<()> {
        let query = RestQuery { after: self.last, limit: BATCH, ..RestQuery::default() };
        let rests = match self.app.record.list(query).await {
            Ok(rests) => rests,
            Err(error) => {
                tracing::error!("a follower was let go: {error}");
                return None;
            }
        };
        for rest in rests {
            self.last = rest.id;
            let id = rest.id.to_string();
            match Event::default().event("layout").id(id).json_data(RestView::from(rest)) {
                Ok(event) => self.ready.push_back(event),
                Err(error) => tracing::error!("layout {} was not passed on: {error}", self.last),
            }
        }
        Some(())
    }

    fn gather_cameras(&mut self) {
        let now = self.app.cameras.board().all();
        for status in &now {
            let known = self.told.iter().any(|told| {
                told.name == status.name
                    && (told.state, told.health) == (status.state, status.health)
                    && told.words == status.words
            });
            if !known && let Ok(event) = Event::default().event("camera").json_data(status) {
                self.ready.push_back(event);
            }
        }
        self.told = now;
    }
}
