//! Events on their way to those who follow: read from the record once, however many follow.
//!
//! A follower has a place, the last id it got, and asks for what comes after. The newest events are
//! held ready, so that a thousand followers do not ask the record a thousand times; who is further
//! behind reads from the record, a few at a time. Nothing is held for a follower while it waits.

use super::{
    announcement::{self, GAP_KIND, GapData},
    api::RestView,
};
use crate::record::{Event, REST_KIND, Record, RecordError};
use axum::body::Bytes;
use std::{collections::VecDeque, fmt::Write, sync::Arc};
use tokio::sync::{Mutex, Semaphore, watch};

/// Events held ready.
const HELD: usize = 128;

/// Events that a follower gets at a time: they wait in memory for a slow one.
const BATCH: usize = 16;

/// Followers that may read from the record at a time.
const CATCHING_UP: usize = 2;

/// An event as it goes out: whole server-sent events, ready to be sent.
#[derive(Debug)]
pub(super) struct Passed {
    pub(super) id: i64,
    pub(super) text: Bytes,
}

/// The newest events, in order and without a hole.
#[derive(Debug)]
struct Held {
    events: VecDeque<Arc<Passed>>,
    newest: i64,
}

/// The events of a record, for many to follow. Cheap to clone.
#[derive(Debug, Clone)]
pub(super) struct Feed {
    record: Record,
    held: Arc<Mutex<Held>>,
    catching_up: Arc<Semaphore>,
}

impl Feed {
    pub(super) fn new(record: Record) -> Self {
        let newest = *record.announcements().borrow();
        let held = Arc::new(Mutex::new(Held { events: VecDeque::new(), newest }));
        Self { record, held, catching_up: Arc::new(Semaphore::new(CATCHING_UP)) }
    }

    /// The newest event's id, and when there is a newer one.
    pub(super) fn announcements(&self) -> watch::Receiver<i64> {
        self.record.announcements()
    }

    /// The events after an id, oldest first, a few at a time; none where there is none yet.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub(super) async fn after(&self, last: i64) -> Result<Vec<Arc<Passed>>, RecordError> {
        let announced = *self.announcements().borrow();
        if last >= announced {
            return Ok(Vec::new());
        }
        let mut held = self.held.lock().await;
        if held.newest < announced {
            self.refill(&mut held, announced).await?;
        }
        let oldest = held.events.front().map_or(i64::MAX, |event| event.id);
        if last.saturating_add(1) >= oldest {
            let newer = held.events.iter().filter(|event| event.id > last);
            return Ok(newer.take(BATCH).cloned().collect());
        }
        drop(held);
        let _turn = self.catching_up.acquire().await.map_err(|_| RecordError::Closed)?;
        let events = self.record.events_after(last, BATCH as u32).await?;
        Ok(events.iter().map(|event| Arc::new(pass(event))).collect())
    }

    /// Takes what came since into what is held.
    async fn refill(&self, held: &mut Held, announced: i64) -> Result<(), RecordError> {
        let from = held.newest.max(announced - HELD as i64);
        let events = self.record.events_after(from, HELD as u32).await?;
        if from > held.newest || events.first().is_some_and(|event| event.id > held.newest + 1) {
            held.events.clear();
        }
        for event in &events {
            held.newest = event.id;
            held.events.push_back(Arc::new(pass(event)));
        }
        // A row that cannot be read at all must not be asked for again and again.
        held.newest = held.newest.max(announced);
        while held.events.len() > HELD {
            held.events.pop_front();
        }
        Ok(())
    }
}

/// An event as it goes out.
fn pass(event: &Event) -> Passed {
    let text = match announcement::document(event) {
        Ok(json) => {
            let mut text = String::new();
            // The place of a follower that is let go between the two is still before both.
            if event.kind == REST_KIND
                && let Some(rest) = event.rest.clone()
                && let Ok(view) = serde_json::to_string(&RestView::from(rest))
            {
                server_sent(&mut text, "layout", None, &view);
            }
            server_sent(&mut text, &event.kind, Some(event.id), &String::from_utf8_lossy(&json));
            text.into()
        }
        Err(error) => {
            tracing::error!("{error}");
            gap(event.id - 1, event.id + 1, "An event in the record is damaged.")
        }
    };
    Passed { id: event.id, text }
}

/// The event that tells of a gap. Its id is the last one missed, so that a follower that is let go
/// here does not run into the gap again.
pub(super) fn gap(after: i64, next: i64, why: &str) -> Bytes {
    let data = GapData { after, next, why: why.into() };
    let mut text = String::new();
    match serde_json::to_string(&data) {
        Ok(json) => server_sent(&mut text, GAP_KIND, Some(next - 1), &json),
        Err(error) => tracing::error!("a gap after {after} was not told: {error}"),
    }
    text.into()
}

/// Writes a server-sent event (HTML standard, section 9.2.6). JSON as written here has no line
/// break in it.
pub(super) fn server_sent(text: &mut String, name: &str, id: Option<i64>, data: &str) {
    // Writing to a text cannot fail.
    let _ = writeln!(text, "event: {name}");
    if let Some(id) = id {
        let _ = writeln!(text, "id: {id}");
    }
    let _ = writeln!(text, "data: {data}\n");
}
