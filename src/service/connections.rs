//! Taking in connections: so many at a time, each with a limit on how long its head may take, and
//! each let go in peace when the service stops.
//!
//! Where the service is open to the network both ways in, encrypted and not, are one port: the first
//! byte tells them apart (22 begins a TLS record, RFC 8446, 5.1, and no HTTP request).

use super::{access::Wire, patience::Patient};
use axum::Router;
use hyper::{
    body::Incoming,
    server::conn::http1,
    service::{Service, service_fn},
};
use hyper_util::{
    rt::{TokioIo, TokioTimer},
    service::TowerToHyperService,
};
use socket2::SockRef;
use std::{
    collections::HashMap,
    io,
    net::IpAddr,
    pin::pin,
    sync::{Arc, Mutex, PoisonError},
    time::Duration,
};
use tokio::{
    io::{AsyncRead, AsyncWrite},
    net::{TcpListener, TcpStream},
    sync::{OwnedSemaphorePermit, Semaphore, watch},
    time::{sleep, timeout},
};
use tokio_rustls::{TlsAcceptor, server::TlsStream};

/// Connections at a time, those who follow the events included: more than may follow, so that
/// these do not shut the others out, and within the 1024 open files that a system usually allows.
const MAX_CONNECTIONS: usize = 768;

/// Connections of one other machine at a time: no phone that has gone wild shuts the rest out.
const MAX_CONNECTIONS_EACH: usize = 128;

/// What begins an encrypted connection.
const TLS_HANDSHAKE: u8 = 22;

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

/// What connections come in by.
#[derive(Clone)]
pub(super) struct Door {
    /// None where nothing is encrypted.
    pub(super) tls: Option<TlsAcceptor>,
    /// The time a client may leave what is sent to it untaken.
    pub(super) write_time: Duration,
}

/// The connections that other machines have open.
#[derive(Clone, Default)]
struct Open(Arc<Mutex<HashMap<IpAddr, usize>>>);

/// One connection's place, given back when dropped.
struct Place {
    open: Open,
    /// None for this machine's own, where a hundred pages may be open behind one address.
    peer: Option<IpAddr>,
    _room: OwnedSemaphorePermit,
}

impl Open {
    /// A place for a connection from an address; none where that has enough.
    fn take(&self, peer: IpAddr, room: OwnedSemaphorePermit) -> Option<Place> {
        let peer = (!peer.is_loopback()).then_some(peer);
        if let Some(peer) = peer {
            let mut open = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            let count = open.entry(peer).or_default();
            if *count >= MAX_CONNECTIONS_EACH {
                return None;
            }
            *count += 1;
        }
        Some(Place { open: self.clone(), peer, _room: room })
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let Some(peer) = self.peer else { return };
        let mut open = self.open.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = open.get_mut(&peer) {
            *count -= 1;
            if *count == 0 {
                open.remove(&peer);
            }
        }
    }
}

/// Serves until `stopping` turns true, then lets open requests finish.
pub(super) async fn serve(
    listener: TcpListener,
    router: Router,
    door: Door,
    mut stopping: watch::Receiver<bool>,
) {
    let room = Arc::new(Semaphore::new(MAX_CONNECTIONS));
    let open = Open::default();
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
        let (stream, peer) = match accepted {
            Ok((stream, peer)) => (stream, peer.ip().to_canonical()),
            Err(error) => {
                tracing::warn!("no connection: {error}");
                sleep(AFTER_FAILURE).await;
                continue;
            }
        };
        let Some(place) = open.take(peer, place) else {
            tracing::warn!("{peer} has {MAX_CONNECTIONS_EACH} connections open and gets no more");
            continue;
        };
        let (door, router, stopping) = (door.clone(), router.clone(), stopping.clone());
        tokio::spawn(async move {
            take_in(stream, peer, door, router, stopping).await;
            drop(place);
        });
    }
    // All places are free again once the last connection has ended.
    let all = u32::try_from(MAX_CONNECTIONS).unwrap_or(u32::MAX);
    if timeout(GRACE, room.acquire_many(all)).await.is_err() {
        tracing::warn!("some requests were still open when the service stopped");
    }
}

/// One connection, from its first byte to its end.
async fn take_in(
    stream: TcpStream,
    peer: IpAddr,
    door: Door,
    router: Router,
    mut stopping: watch::Receiver<bool>,
) {
    // Small answers and events should leave at once.
    if let Err(error) = stream.set_nodelay(true) {
        tracing::debug!("a connection stays slow: {error}");
    }
    if let Err(error) = SockRef::from(&stream).set_send_buffer_size(SYSTEM_BUFFER_BYTES) {
        tracing::debug!("a connection may take more memory than others: {error}");
    }
    let mut wire = Wire { encrypted: false, here: peer.is_loopback() };
    let Some(tls) = door.tls else {
        return answer(Patient::new(stream, door.write_time), wire, router, stopping).await;
    };
    let greeting = timeout(HEAD_TIME, greet(stream, &tls, door.write_time));
    let greeted = tokio::select! {
        greeted = greeting => greeted,
        () = super::server::stopped(&mut stopping) => return,
    };
    match greeted {
        Ok(Ok(Greeted::Plain(stream))) => answer(stream, wire, router, stopping).await,
        Ok(Ok(Greeted::Encrypted(stream))) => {
            wire.encrypted = true;
            answer(stream, wire, router, stopping).await;
        }
        // A phone that does not trust the certificate hangs up here: ordinary before it is told to.
        Ok(Err(error)) => tracing::debug!("{peer} hung up before its first request: {error}"),
        Err(_) => tracing::debug!("{peer} was too slow to begin"),
    }
}

/// A connection whose first byte was seen.
enum Greeted {
    Plain(Patient<TcpStream>),
    Encrypted(Box<TlsStream<Patient<TcpStream>>>),
}

/// Waits for what a client begins with.
async fn greet(stream: TcpStream, tls: &TlsAcceptor, write_time: Duration) -> io::Result<Greeted> {
    let mut first = [0];
    if stream.peek(&mut first).await? == 0 {
        return Err(io::ErrorKind::UnexpectedEof.into());
    }
    let stream = Patient::new(stream, write_time);
    if first == [TLS_HANDSHAKE] {
        Ok(Greeted::Encrypted(Box::new(tls.accept(stream).await?)))
    } else {
        Ok(Greeted::Plain(stream))
    }
}

/// Answers the requests of one connection.
async fn answer<S>(stream: S, wire: Wire, router: Router, mut stopping: watch::Receiver<bool>)
where
    S: AsyncRead + AsyncWrite + Unpin + Send + 'static,
{
    let service = service_fn(move |mut request: hyper::Request<Incoming>| {
        request.extensions_mut().insert(wire);
        TowerToHyperService::new(router.clone()).call(request)
    });
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_TIME)
        .max_buf_size(BUFFER_BYTES)
        .serve_connection(TokioIo::new(stream), service)
        .with_upgrades();
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
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn no_other_machine_takes_all_places_and_what_it_leaves_is_free_again() {
        let room = Arc::new(Semaphore::new(MAX_CONNECTIONS));
        let open = Open::default();
        let [wild, other, here] = ["192.168.1.20", "192.168.1.21", "127.0.0.1"]
            .map(|address| address.parse::<IpAddr>().unwrap());
        let take = |peer: IpAddr| {
            let permit = Arc::clone(&room).try_acquire_owned().unwrap();
            open.take(peer, permit)
        };
        let mut held: Vec<Place> = (0..MAX_CONNECTIONS_EACH).filter_map(|_| take(wild)).collect();
        assert_eq!(held.len(), MAX_CONNECTIONS_EACH);
        assert!(take(wild).is_none() && take(other).is_some());
        let many = (0..2 * MAX_CONNECTIONS_EACH).filter_map(|_| take(here)).collect::<Vec<_>>();
        assert_eq!(
            many.len(),
            2 * MAX_CONNECTIONS_EACH,
            "this machine's own pages are not counted"
        );
        held.pop();
        assert!(take(wild).is_some());
        drop((held, many));
        assert_eq!(room.available_permits(), MAX_CONNECTIONS);
        assert!(open.0.lock().unwrap().is_empty(), "and nothing is remembered of it");
    }
}
