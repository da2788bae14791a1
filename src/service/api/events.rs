//! Events as they come, as server-sent events (HTML standard, section 9.2).
//!
//! A follower has a place among the events' ids, which have no hole, and gets what comes after it:
//! first what it missed, then what is new. So a follower that comes back, or is slow, gets every
//! event in order, and needs no memory of ours. Where ids are missing all the same it is told by an
//! event `gap`. Beside the record's events there are `layout`, just before each rest's own, with
//! the rest alone, and `camera`, when a camera's state changes; these two have no id.

use crate::{
    record::RecordError,
    service::{
        App, CameraStatus, Problem,
        feed::{self, Passed},
        metrics::FollowerCount,
    },
};
use axum::{
    body::{Body, Bytes},
    extract::{Query, State, rejection::QueryRejection},
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use futures_util::stream::{Stream, unfold};
use serde::Deserialize;
use std::{collections::VecDeque, convert::Infallible, sync::Arc};
use tokio::{sync::watch, time::timeout};
use utoipa::IntoParams;

/// A comment, sent when nothing else was for a while.
const SIGN_OF_LIFE: Bytes = Bytes::from_static(b":\n\n");

/// Where to begin.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct EventParams {
    /// Begin after this id; where neither this nor Last-Event-ID is given, begin with what is new.
    after: Option<i64>,
}

/// Follow the events live.
///
/// Each event of the record is one of `rest`, `attempt_began`, `shot`, `re_rack`, `placing`,
/// `attempt_over`, `question`, `settled`, `rescored`, `withdrawn` and `camera_health`, with its id;
/// its data is the document that `/api/schemas` describes. `gap` tells that ids are missing.
/// `layout` (data: a rest) and `camera` (data: a camera) have no id.
#[utoipa::path(
    get, path = "/api/events", tag = "events",
    params(
        EventParams,
        ("Last-Event-ID" = Option<i64>, Header,
            description = "The last id that was seen: what came after is sent first"),
    ),
    responses(
        (status = 200, description = "The events, for as long as the connection lasts",
            body = String, content_type = "text/event-stream"),
        (status = 400, description = "The id is none", body = Problem,
            content_type = "application/problem+json"),
        (status = 503, description = "Too many follow; Retry-After says when to come back",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn get_events(
    State(app): State<App>,
    headers: HeaderMap,
    params: Result<Query<EventParams>, QueryRejection>,
) -> Result<Response, Response> {
    let last = match headers.get("last-event-id") {
        Some(id) => Some(parse_id(id).map_err(IntoResponse::into_response)?),
        None => params.map_err(|error| Problem::from(error).into_response())?.0.after,
    };
    let counted = app.metrics.follower(app.limits.followers).ok_or_else(too_many)?;
    let announcements = app.feed.announcements();
    let newest = *announcements.borrow();
    let follower = Follower {
        last: last.unwrap_or(newest).max(0),
        announcements,
        changes: app.cameras.board().changes(),
        stopping: app.stopping.subscribe(),
        ready: VecDeque::new(),
        told: Vec::new(),
        app,
        _counted: counted,
    };
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static("text/event-stream")),
        (header::CACHE_CONTROL, HeaderValue::from_static("no-store")),
    ];
    Ok((headers, Body::from_stream(stream(follower))).into_response())
}

fn parse_id(id: &HeaderValue) -> Result<i64, Problem> {
    id.to_str().ok().and_then(|text| text.trim().parse().ok()).ok_or_else(|| {
        Problem::new(
            StatusCode::BAD_REQUEST,
            "last_event_id",
            "Last-Event-ID has to be the id of an event, a whole number.",
        )
    })
}

/// Turned away for good: a connection that stays open would take another's place.
fn too_many() -> Response {
    let problem = Problem::new(
        StatusCode::SERVICE_UNAVAILABLE,
        "too_many_followers",
        "Too many programs follow the events: end one of them, or come back later.",
    );
    ([(header::CONNECTION, HeaderValue::from_static("close"))], problem).into_response()
}

/// One who follows, and what it has got so far.
struct Follower {
    app: App,
    last: i64,
    announcements: watch::Receiver<i64>,
    changes: watch::Receiver<u64>,
    stopping: watch::Receiver<bool>,
    ready: VecDeque<Bytes>,
    /// The states of the cameras as this follower knows them.
    told: Vec<CameraStatus>,
    _counted: FollowerCount,
}

fn stream(follower: Follower) -> impl Stream<Item = Result<Bytes, Infallible>> {
    unfold(follower, |mut follower| async move {
        let event = follower.next().await?;
        Some((Ok(event), follower))
    })
}

impl Follower {
    /// What to send next; none when the service stops or its record fails.
    async fn next(&mut self) -> Option<Bytes> {
        loop {
            if let Some(event) = self.ready.pop_front() {
                return Some(event);
            }
            if *self.stopping.borrow() {
                return None;
            }
            // Marked as seen before reading, so that what comes meanwhile wakes us again.
            let newest = *self.announcements.borrow_and_update();
            self.changes.mark_unchanged();
            self.gather_cameras();
            if let Err(error) = self.gather_events(newest).await {
                tracing::error!("a follower was let go: {error}");
                return None;
            }
            if self.ready.is_empty() {
                let waiting = async {
                    tokio::select! {
                        changed = self.announcements.changed() => changed.ok(),
                        changed = self.changes.changed() => changed.ok(),
                        changed = self.stopping.changed() => changed.ok(),
                    }
                };
                match timeout(self.app.limits.keep_alive, waiting).await {
                    Ok(changed) => changed?,
                    Err(_) => return Some(SIGN_OF_LIFE),
                }
            }
        }
    }

    async fn gather_events(&mut self, newest: i64) -> Result<(), RecordError> {
        if self.last > newest {
            let why = "That id is of another record, or of later than this one goes back to.";
            self.ready.push_back(feed::gap(self.last, newest + 1, why));
            self.last = newest;
        }
        for event in self.app.feed.after(self.last).await? {
            self.take(&event);
        }
        Ok(())
    }

    fn take(&mut self, event: &Arc<Passed>) {
        if event.id > self.last + 1 {
            let why = "The record does not have these events any more.";
            self.ready.push_back(feed::gap(self.last, event.id, why));
        }
        self.last = event.id;
        self.ready.push_back(event.text.clone());
    }

    fn gather_cameras(&mut self) {
        let now = self.app.cameras.board().all();
        for status in &now {
            let known = self.told.iter().any(|told| {
                told.name == status.name
                    && (told.state, told.health) == (status.state, status.health)
                    && told.words == status.words
            });
            if !known && let Ok(json) = serde_json::to_string(status) {
                let mut text = String::new();
                feed::server_sent(&mut text, "camera", None, &json);
                self.ready.push_back(text.into());
            }
        }
        self.told = now;
    }
}
