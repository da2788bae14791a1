//! Programs that want each layout sent to them: planners, loggers.
//!
//! Each listener is followed up on a task of its own, which reads the record by id as every
//! follower does, and POSTs one layout after the other as JSON. A listener that does not take a
//! layout is tried a few times, with longer and longer pauses, and then that layout is passed over
//! and logged; nobody else waits for it. Plain HTTP only: a listener elsewhere than on this network
//! is reached through a relay of the user's.

use super::{App, api::RestView};
use crate::record::RestQuery;
use axum::{
    body::Bytes,
    http::{HeaderValue, Method, Request, Uri, header},
};
use http_body_util::{BodyExt, Full, Limited};
use hyper_util::rt::TokioIo;
use std::{fmt, str::FromStr, time::Duration};
use thiserror::Error;
use tokio::{net::TcpStream, sync::watch, time::timeout};

/// The time one try may take, from connecting to the end of the answer.
const TRY_TIME: Duration = Duration::from_secs(5);

/// Pauses between the tries for one layout.
const PAUSES: [Duration; 3] =
    [Duration::from_millis(500), Duration::from_secs(2), Duration::from_secs(8)];

/// Layouts read from the record in one go.
const BATCH: u32 = 20;

/// An answer is not looked at, only taken in.
const MAX_ANSWER_BYTES: usize = 64 << 10;

/// Where layouts are sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listener {
    address: Uri,
    host: String,
    port: u16,
}

/// Why a listener's address was refused.
#[derive(Debug, Error, PartialEq)]
pub enum ListenerError {
    #[error(
        "'{text}' is no address of a listener: write it as in http://192.168.1.20:9000/layouts"
    )]
    NoAddress { text: String },
    #[error(
        "'{text}' is not plain HTTP, and nothing else is spoken: give an http:// address, of a relay if need be"
    )]
    NotHttp { text: String },
}

/// Why a layout did not arrive; told in the log.
#[derive(Debug, Error)]
enum DeliveryError {
    #[error("no connection: {0}")]
    Connect(std::io::Error),
    #[error("no answer: {0}")]
    Http(#[from] hyper::Error),
    #[error("no answer within {} s", TRY_TIME.as_secs())]
    TooSlow,
    #[error("it answered {0}")]
    Refused(hyper::StatusCode),
    #[error("the request could not be made: {0}")]
    Request(#[from] axum::http::Error),
    #[error("the layout could not be written: {0}")]
    Json(#[from] serde_json::Error),
}

impl FromStr for Listener {
    type Err = ListenerError;

    fn from_str(text: &str) -> Result<Self, ListenerError> {
        let no_address = || ListenerError::NoAddress { text: text.into() };
        let address: Uri = text.parse().map_err(|_| no_address())?;
        match address.scheme_str() {
            Some("http") => {}
            Some(_) => return Err(ListenerError::NotHttp { text: text.into() }),
            None => return Err(no_address()),
        }
        let host = address.host().ok_or_else(no_address)?.trim_matches(['[', ']']).to_string();
        let port = address.port_u16().unwrap_or(80);
        Ok(Self { address, host, port })
    }
}

impl fmt::Display for Listener {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Whatever stands after the path may be a secret of the user's.
        write!(f, "http://{}:{}{}", self.host, self.port, self.address.path())
    }
}

impl Listener {
    /// Sends every layout from now on, until the service stops.
    pub(super) fn follow(self, app: App) -> tokio::task::JoinHandle<()> {
        tokio::spawn(async move {
            let mut stopping = app.stopping.subscribe();
            tokio::select! {
                () = self.send_all(&app) => {}
                () = stopped(&mut stopping) => {}
            }
        })
    }

    async fn send_all(&self, app: &App) {
        let mut announcements = app.record.announcements();
        let newest = app.record.newest(None, 1).await.unwrap_or_default();
        let mut last = newest.first().map_or(0, |rest| rest.id);
        loop {
            let query = RestQuery { after: last, limit: BATCH, ..RestQuery::default() };
            let rests = app.record.list(query).await.unwrap_or_else(|error| {
                tracing::error!(listener = %self, "no layouts to send: {error}");
                Vec::new()
            });
            let nothing_new = rests.is_empty();
            for rest in rests {
                last = rest.id;
                self.send(rest.into()).await;
            }
            if nothing_new && announcements.changed().await.is_err() {
                return;
            }
        }
    }

    /// Sends one layout; gives up after a few tries.
    async fn send(&self, rest: RestView) {
        let id = rest.id;
        let mut pauses = PAUSES.iter();
        loop {
            let error = match timeout(TRY_TIME, self.try_to_send(&rest)).await {
                Ok(Ok(())) => return,
                Ok(Err(error)) => error,
                Err(_) => DeliveryError::TooSlow,
            };
            let Some(pause) = pauses.next() else {
                tracing::warn!(listener = %self, "layout {id} was passed over: {error}");
                return;
            };
            tracing::debug!(listener = %self, "layout {id} did not arrive yet: {error}");
            tokio::time::sleep(*pause).await;
        }
    }

    async fn try_to_send(&self, rest: &RestView) -> Result<(), DeliveryError> {
        let body = Bytes::from(serde_json::to_vec(rest)?);
        let connection = TcpStream::connect((self.host.as_str(), self.port))
            .await
            .map_err(DeliveryError::Connect)?;
        let (mut sender, connection) =
            hyper::client::conn::http1::handshake(TokioIo::new(connection)).await?;
        let driver = tokio::spawn(connection);
        let path = self.address.path_and_query().map_or("/", |path| path.as_str());
        let request = Request::builder()
            .method(Method::POST)
            .uri(path)
            .header(header::HOST, self.authority())
            .header(header::CONTENT_TYPE, HeaderValue::from_static("application/json"))
            .body(Full::new(body))?;
        let response = sender.send_request(request).await?;
        let status = response.status();
        // Taken in so that the other side can close in peace; its content does not matter.
        let _ = Limited::new(response.into_body(), MAX_ANSWER_BYTES).collect().await;
        driver.abort();
        if status.is_success() { Ok(()) } else { Err(DeliveryError::Refused(status)) }
    }

    fn authority(&self) -> &str {
        self.address
            .authority()
            .map_or("", |authority| authority.as_str().rsplit('@').next().unwrap_or_default())
    }
}

/// Returns when the service stops.
pub(super) async fn stopped(stopping: &mut watch::Receiver<bool>) {
    // An error means that nobody is left who could stop it: as good as stopped.
    let _ = stopping.wait_for(|stopping| *stopping).await;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_checked_before_the_service_starts() {
        let listener: Listener = "http://127.0.0.1:9000/in?key=1".parse().unwrap();
        assert_eq!(listener.to_string(), "http://127.0.0.1:9000/in");
        assert_eq!(listener.authority(), "127.0.0.1:9000");
        assert_eq!("http://[::1]/".parse::<Listener>().unwrap().host, "::1");
        for text in ["", "planner", "http://", "/layouts"] {
            let refused = text.parse::<Listener>();
            assert!(matches!(refused, Err(ListenerError::NoAddress { .. })), "{text}");
        }
        let refused = "https://planner/".parse::<Listener>();
        assert!(matches!(refused, Err(ListenerError::NotHttp { .. })));
    }
}
