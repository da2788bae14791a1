//! Taking in connections: so many at a time, each with a limit on how long its head may take, and
//! each let go in peace when the service stops.

use super::patience::Patient;
use axum::Router;
use hyper::server::conn::http1;
use hyper_util::{
    rt::{TokioIo, TokioTimer},
    service::TowerToHyperService,
};
use socket2::SockRef;
use std::{pin::pin, sync::Arc, time::Duration};
use tokio::{
    net::TcpListener,
    sync::{Semaphore, watch},
    time::{sleep, timeout},
};

/// Connections at a time, those who follow the events included: more than may follow, so that
/// these do not shut the others out, and within the 1024 open files that a system usually allows.
const MAX_CONNECTIONS: usize = 768;

/// What may wait in memory for one client, on its way in or out, in bytes. Larger answers are sent
/// piece by piece.
const BUFFER_BYTES: usize = 64 << 10;

/// What may wait in the system for one client, in bytes; left to itself, it would be megabytes.
const SYSTEM_BUFFER_BYTES: usize = 256 << 10;

/// The time a client has for a request's head, and a connection may idle between two.
const HEAD_TIME: Duration = Duration::from_secs(20);

/// The time that open requests have to end when the service stops.
const GRACE: Duration = Duration::from_secs(5);

/// Pause after the system would not give a connection (too many open files, say).
const AFTER_FAILURE: Duration = Duration::from_millis(100);

/// Serves until `stopping` turns true, then lets open requests finish.
pub(super) async fn serve(
    listener: TcpListener,
    router: Router,
    write_time: Duration,
    mut stopping: watch::Receiver<bool>,
) {
    let room = Arc::new(Semaphore::new(MAX_CONNECTIONS));
    loop {
        let accepting = async {
            let place = Arc::clone(&room).acquire_owned().await.ok()?;
            Some((listener.accept().await, place))
        };
        let (accepted, place) = tokio::select! {
            accepted = accepting => match accepted {
                Some(accepted) => accepted,
                None => break,
            },
            () = super::server::stopped(&mut stopping) => break,
        };
        let stream = match accepted {
            Ok((stream, _)) => stream,
            Err(error) => {
                tracing::warn!("no connection: {error}");
                sleep(AFTER_FAILURE).await;
                continue;
            }
        };
        // Small answers and events should leave at once.
        if let Err(error) = stream.set_nodelay(true) {
            tracing::debug!("a connection stays slow: {error}");
        }
        if let Err(error) = SockRef::from(&stream).set_send_buffer_size(SYSTEM_BUFFER_BYTES) {
            tracing::debug!("a connection may take more memory than others: {error}");
        }
        let stream = TokioIo::new(Patient::new(stream, write_time));
        let connection = http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(HEAD_TIME)
            .max_buf_size(BUFFER_BYTES)
            .serve_connection(stream, TowerToHyperService::new(router.clone()))
            .with_upgrades();
        let mut stopping = stopping.clone();
        tokio::spawn(async move {
            let mut connection = pin!(connection);
            let ended = tokio::select! {
                ended = connection.as_mut() => ended,
                () = super::server::stopped(&mut stopping) => {
                    connection.as_mut().graceful_shutdown();
                    connection.await
                }
            };
            if let Err(error) = ended {
                tracing::debug!("a connection ended early: {error}");
            }
            drop(place);
        });
    }
    // All places are free again once the last connection has ended.
    let all = u32::try_from(MAX_CONNECTIONS).unwrap_or(u32::MAX);
    if timeout(GRACE, room.acquire_many(all)).await.is_err() {
        tracing::warn!("some requests were still open when the service stopped");
    }
}
