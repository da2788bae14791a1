//! Brings one listener its events: what is due, signed, one after the other, until it is taken, is
//! tried often enough, or the listener says that it is gone.
//!
//! What is to be delivered stands in the record, written with the event, so nothing is forgotten
//! over a restart; a try whose outcome could not be written down is made again. Each listener has a
//! courier and a task of its own: one that hangs holds up nobody. A try that failed does not hold
//! up the events after it.

use super::{Client, DeliveryError, ListenerUrl, Message, Secret, TRIES, next_try};
use crate::{
    record::{Delivery, DeliveryOutcome, Event, KnownListener, Record, RecordError},
    service::{Metrics, announcement, metrics, status::now, vitals::Part},
};
use axum::{body::Bytes, http::StatusCode};
use jiff::{SignedDuration, Timestamp};
use std::time::Duration;
use tokio::{sync::watch, time::sleep};

/// Deliveries read from the record in one go.
const BATCH: u32 = 20;

/// The record is looked at again after this at the latest, so that a clock that was set does not
/// put a try off for days.
const LONGEST_WAIT: Duration = Duration::from_secs(60);

/// The pause where the record could not be read or written.
const AFTER_FAILURE: SignedDuration = SignedDuration::from_secs(5);

/// Brings one listener its events.
pub struct Courier {
    record: Record,
    metrics: Metrics,
    client: Client,
    id: i64,
    url: ListenerUrl,
    secret: Secret,
    /// The listener has asked to be left in peace until then.
    quiet_until: Option<Timestamp>,
    gone: bool,
}

impl Courier {
    /// A courier for a listener that the record knows; `try_time` is what one try may take.
    ///
    /// # Errors
    /// Where the listener's address or secret in the record is none.
    pub fn new(
        record: Record,
        listener: &KnownListener,
        metrics: Metrics,
        try_time: Duration,
    ) -> Result<Self, super::ListenerError> {
        let url: ListenerUrl = listener.url.parse()?;
        Ok(Self {
            record,
            metrics,
            client: Client::new(url.clone(), try_time),
            id: listener.id,
            url,
            secret: listener.secret.parse()?,
            quiet_until: None,
            gone: listener.disabled_at.is_some(),
        })
    }

    /// Whom it brings them to.
    pub fn url(&self) -> &ListenerUrl {
        &self.url
    }

    /// Delivers all that is due by the clock, and tells when to look again; none where nothing
    /// waits.
    ///
    /// # Errors
    /// Where the record cannot be read or written. What was on its way then is tried again.
    pub async fn deliver_due(
        &mut self,
        clock: impl Fn() -> Timestamp,
    ) -> Result<Option<Timestamp>, RecordError> {
        loop {
            if self.gone {
                return Ok(None);
            }
            if self.is_quiet(clock()) {
                return Ok(self.quiet_until);
            }
            let due = self.record.due_deliveries(self.id, clock(), BATCH).await?;
            if due.deliveries.is_empty() {
                return Ok(due.next);
            }
            for delivery in due.deliveries {
                self.deliver(delivery, clock()).await?;
                if self.gone || self.is_quiet(clock()) {
                    break;
                }
            }
        }
    }

    fn is_quiet(&self, now: Timestamp) -> bool {
        self.quiet_until.is_some_and(|until| now < until)
    }

    /// Delivers until the service stops.
    pub(in crate::service) async fn run(mut self, part: Part, mut stopping: watch::Receiver<bool>) {
        let _part = part;
        let mut announcements = self.record.announcements();
        let running = async {
            while !self.gone {
                announcements.mark_unchanged();
                let next = self.deliver_due(now).await.unwrap_or_else(|error| {
                    tracing::error!(listener = %self.url, "no deliveries: {error}");
                    now().checked_add(AFTER_FAILURE).ok()
                });
                let pause = next.map_or(LONGEST_WAIT, |next| {
                    let pause = next.duration_since(now());
                    Duration::try_from(pause).unwrap_or_default().min(LONGEST_WAIT)
                });
                tokio::select! {
                    changed = announcements.changed() => if changed.is_err() { return },
                    () = sleep(pause) => {}
                }
            }
        };
        tokio::select! {
            () = running => {}
            () = crate::service::server::stopped(&mut stopping) => {}
        }
    }

    async fn deliver(&mut self, delivery: Delivery, now: Timestamp) -> Result<(), RecordError> {
        let outcome = match self.document(delivery.event).await? {
            Some(body) => self.try_once(&delivery, body, now).await,
            // The log has told why; it will not get better.
            None => DeliveryOutcome::GivenUp,
        };
        self.metrics.delivery(match outcome {
            DeliveryOutcome::Delivered => metrics::Delivery::Delivered,
            DeliveryOutcome::TryAgain(_) => metrics::Delivery::Failed,
            DeliveryOutcome::GivenUp => metrics::Delivery::GivenUp,
            DeliveryOutcome::ListenerGone => metrics::Delivery::ListenerGone,
        });
        self.gone = outcome == DeliveryOutcome::ListenerGone;
        self.record.note_delivery(delivery, outcome, now).await
    }

    /// An event's document; none where the event cannot be read.
    async fn document(&self, event: i64) -> Result<Option<Bytes>, RecordError> {
        let found: Option<Event> = self.record.events_after(event - 1, 1).await?.pop();
        let Some(found) = found.filter(|found| found.id == event) else {
            tracing::error!(listener = %self.url, "event {event} is to be delivered and is not there");
            return Ok(None);
        };
        match announcement::document(&found) {
            Ok(body) => Ok(Some(body)),
            Err(error) => {
                tracing::error!(listener = %self.url, "{error}");
                Ok(None)
            }
        }
    }

    async fn try_once(
        &mut self,
        delivery: &Delivery,
        body: Bytes,
        now: Timestamp,
    ) -> DeliveryOutcome {
        let signature = self.secret.sign(&delivery.message_id, now.as_second(), &body);
        let id = delivery.message_id.clone();
        let message = Message { id, sent_at: now, signature, body };
        let Err(error) = self.client.post(&message).await else {
            return DeliveryOutcome::Delivered;
        };
        let (tries, event) = (delivery.tries + 1, delivery.event);
        let mut asked_for = None;
        if let DeliveryError::Refused { status, retry_after } = error {
            if status == StatusCode::GONE {
                tracing::warn!(
                    listener = %self.url,
                    "it answered that it is gone for good and gets nothing more; to take it on \
                     again, start once without it"
                );
                return DeliveryOutcome::ListenerGone;
            }
            asked_for = retry_after;
            self.quiet_until = asked_for.and_then(|pause| now.checked_add(pause).ok());
        }
        match next_try(tries, now, asked_for, random()) {
            Some(next) => {
                tracing::info!(listener = %self.url, "event {event}, try {tries} of {TRIES}: {error}; again at {next:.0}");
                DeliveryOutcome::TryAgain(next)
            }
            None => {
                tracing::warn!(listener = %self.url, "event {event} is given up after {tries} tries: {error}");
                DeliveryOutcome::GivenUp
            }
        }
    }
}

/// A random number in 0..1; the middle where the system gives none.
fn random() -> f64 {
    getrandom::u32().map_or(0.5, |number| f64::from(number) / f64::from(u32::MAX))
}
