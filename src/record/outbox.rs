//! Who is to be told by HTTP, and what they have yet to be told.
//!
//! A delivery is written in the transaction of its event, so that none is forgotten whatever
//! happens. How and when it is tried is the business of whoever delivers.

use super::{RecordError, event::MAX_ANSWER};
use crate::digest::sha256;
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, params};

/// A try that is put off further than this was put off by a clock that has jumped since.
const FURTHEST_TRY_MS: i64 = 4 * 86_400_000;

/// A program that gets each event, as the settings name it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListenerSetting {
    pub url: String,
    /// What messages to it are signed with.
    pub secret: String,
}

/// A listener that the record knows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownListener {
    pub id: i64,
    pub url: String,
    pub secret: String,
    /// It answered that it is gone for good, and gets nothing more. To take it on again, start
    /// once without it in the settings.
    pub disabled_at: Option<Timestamp>,
}

/// An event that a listener has yet to get.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Delivery {
    pub event: i64,
    pub listener: i64,
    /// The same at every try, and no other event's in this record or another.
    pub message_id: String,
    /// How often it was tried before.
    pub tries: u32,
}

/// What a listener is to get now, and when to look again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Due {
    /// In the order of their events.
    pub deliveries: Vec<Delivery>,
    /// When the next one that waits is due; none where none waits.
    pub next: Option<Timestamp>,
}

/// How a try went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DeliveryOutcome {
    Delivered,
    /// Try again at this time.
    TryAgain(Timestamp),
    /// It was tried often enough.
    GivenUp,
    /// The listener is gone for good: it is disabled, and all that waits for it is given up.
    ListenerGone,
}

/// All listeners of the settings, the disabled ones too.
pub(super) fn listeners(connection: &Connection) -> Result<Vec<KnownListener>, RecordError> {
    let mut statement = connection.prepare_cached(
        "SELECT id, url, secret, disabled_at_unix_ms FROM listeners \
         WHERE removed_at_unix_ms IS NULL ORDER BY id",
    )?;
    let rows = statement.query_map([], |row| {
        let disabled: Option<i64> = row.get(3)?;
        Ok(KnownListener {
            id: row.get(0)?,
            url: row.get(1)?,
            secret: row.get(2)?,
            disabled_at: disabled.and_then(|at| Timestamp::from_millisecond(at).ok()),
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Makes the listeners those of the settings. What waits for one that stays goes on waiting; one
/// that is not named any more gets nothing more.
pub(super) fn set_listeners(
    connection: &Connection,
    settings: &[ListenerSetting],
    now: Timestamp,
) -> Result<Vec<KnownListener>, RecordError> {
    let now_ms = now.as_millisecond();
    let known = listeners(connection)?;
    for gone in known.iter().filter(|known| settings.iter().all(|set| set.url != known.url)) {
        connection.execute(
            "UPDATE listeners SET removed_at_unix_ms = $1 WHERE id = $2",
            params![now_ms, gone.id],
        )?;
        give_up_all(connection, gone.id, now_ms)?;
    }
    for setting in settings {
        match known.iter().find(|known| known.url == setting.url) {
            Some(known) => connection.execute(
                "UPDATE listeners SET secret = $1 WHERE id = $2",
                params![setting.secret, known.id],
            )?,
            None => connection.execute(
                "INSERT INTO listeners (id, url, secret) \
                 SELECT COALESCE(MAX(id), 0) + 1, $1, $2 FROM listeners",
                params![setting.url, setting.secret],
            )?,
        };
    }
    listeners(connection)
}

/// Writes down that an event is to be delivered to each listener.
pub(super) fn write_deliveries(
    connection: &Connection,
    event: i64,
    body_json: &str,
    listeners: &[KnownListener],
    now_ms: i64,
) -> Result<(), RecordError> {
    for listener in listeners.iter().filter(|listener| listener.disabled_at.is_none()) {
        // Of what was written and when: a record put back from a backup gives other ids.
        let content = format!("{event} {now_ms} {} {body_json}", listener.url);
        let message_id = format!("msg_{}", sha256(content.as_bytes()).get(..32).unwrap_or(""));
        connection
            .prepare_cached(
                "INSERT INTO deliveries (event_id, listener_id, message_id, tries, \
                 next_try_at_unix_ms, state, changed_at_unix_ms) \
                 VALUES ($1, $2, $3, 0, $4, 'due', $5)",
            )?
            .execute(params![event, listener.id, message_id, now_ms, now_ms])?;
    }
    Ok(())
}

/// What a listener is to get at a time.
pub(super) fn due_deliveries(
    connection: &Connection,
    listener: i64,
    now: Timestamp,
    limit: u32,
) -> Result<Due, RecordError> {
    let now_ms = now.as_millisecond();
    let furthest_ms = now_ms.saturating_add(FURTHEST_TRY_MS);
    let mut statement = connection.prepare_cached(
        "SELECT event_id, listener_id, message_id, tries FROM deliveries \
         WHERE listener_id = $1 AND state = 'due' \
         AND (next_try_at_unix_ms <= $2 OR next_try_at_unix_ms > $3) ORDER BY event_id LIMIT $4",
    )?;
    let rows = statement.query_map(
        params![listener, now_ms, furthest_ms, limit.clamp(1, MAX_ANSWER)],
        |row| {
            Ok(Delivery {
                event: row.get(0)?,
                listener: row.get(1)?,
                message_id: row.get(2)?,
                tries: row.get(3)?,
            })
        },
    )?;
    let deliveries = rows.collect::<Result<_, _>>()?;
    let next: Option<i64> = connection
        .prepare_cached(
            "SELECT MIN(next_try_at_unix_ms) FROM deliveries \
             WHERE listener_id = $1 AND state = 'due' AND next_try_at_unix_ms > $2",
        )?
        .query_row(params![listener, now_ms], |row| row.get(0))?;
    let next = next.map(|at| at.min(furthest_ms));
    Ok(Due { deliveries, next: next.and_then(|at| Timestamp::from_millisecond(at).ok()) })
}

/// Writes down how a try went.
pub(super) fn note_delivery(
    connection: &Connection,
    delivery: &Delivery,
    outcome: DeliveryOutcome,
    now: Timestamp,
) -> Result<(), RecordError> {
    let now_ms = now.as_millisecond();
    let (state, next_ms) = match outcome {
        DeliveryOutcome::Delivered => ("delivered", now_ms),
        DeliveryOutcome::TryAgain(at) => ("due", at.as_millisecond()),
        DeliveryOutcome::GivenUp | DeliveryOutcome::ListenerGone => ("given_up", now_ms),
    };
    // Whatever was settled meanwhile, such as by a listener's removal, stays settled.
    connection
        .prepare_cached(
            "UPDATE deliveries SET tries = tries + 1, state = $1, next_try_at_unix_ms = $2, \
             changed_at_unix_ms = $3 WHERE event_id = $4 AND listener_id = $5 AND state = 'due'",
        )?
        .execute(params![state, next_ms, now_ms, delivery.event, delivery.listener])?;
    if outcome == DeliveryOutcome::ListenerGone {
        connection.execute(
            "UPDATE listeners SET disabled_at_unix_ms = $1 WHERE id = $2",
            params![now_ms, delivery.listener],
        )?;
        give_up_all(connection, delivery.listener, now_ms)?;
    }
    Ok(())
}

fn give_up_all(connection: &Connection, listener: i64, now_ms: i64) -> Result<(), RecordError> {
    connection.execute(
        "UPDATE deliveries SET state = 'given_up', changed_at_unix_ms = $1 \
         WHERE listener_id = $2 AND state = 'due'",
        params![now_ms, listener],
    )?;
    Ok(())
}

/// How many deliveries stand how.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DeliveryCounts {
    pub due: u64,
    pub delivered: u64,
    pub given_up: u64,
}

/// How many deliveries stand how, over all listeners.
pub(super) fn delivery_counts(connection: &Connection) -> Result<DeliveryCounts, RecordError> {
    let count = |state: &str| -> Result<u64, RecordError> {
        let count: Option<i64> = connection
            .prepare_cached("SELECT COUNT(*) FROM deliveries WHERE state = $1")?
            .query_row([state], |row| row.get(0))
            .optional()?;
        Ok(u64::try_from(count.unwrap_or(0)).unwrap_or(0))
    };
    Ok(DeliveryCounts {
        due: count("due")?,
        delivered: count("delivered")?,
        given_up: count("given_up")?,
    })
}
