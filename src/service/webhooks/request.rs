//! One POST to a listener: a connection, a request, its answer. HTTP/1.1, with TLS where the address
//! says so, certificates checked against the system's own.
//!
//! Nothing is followed: whatever is not 2xx is the listener's refusal. An answer's body is taken in
//! within bounds and thrown away. Knows no event, no record and no schedule.

use super::{ListenerUrl, schedule};
use axum::{
    body::Bytes,
    http::{HeaderValue, Method, Request, Response, StatusCode, header},
};
use http_body_util::{BodyExt, Full, Limited};
use hyper::body::Incoming;
use hyper_util::rt::TokioIo;
use jiff::{SignedDuration, Timestamp};
use std::{sync::Arc, time::Duration};
use thiserror::Error;
use tokio::{
    io::{AsyncRead, AsyncWrite},
    net::TcpStream,
    time::timeout,
};
use tokio_rustls::{
    TlsConnector,
    rustls::{self, ClientConfig, RootCertStore, pki_types::ServerName},
};

/// The time one try may take, from connecting to the end of the answer; the specification
/// recommends 15 to 30 s.
pub const TRY_TIME: Duration = Duration::from_secs(15);

/// An answer is not looked at, only taken in.
const MAX_ANSWER_BYTES: usize = 64 << 10;

/// Who sends.
const AGENT: HeaderValue =
    HeaderValue::from_static(concat!("stillcloth/", env!("CARGO_PKG_VERSION")));

/// Why a message did not arrive; told in the log and in the record.
#[derive(Debug, Error)]
pub enum DeliveryError {
    #[error("no connection: {0}")]
    Connect(std::io::Error),
    #[error("no trusted connection: {0}")]
    Tls(std::io::Error),
    #[error(
        "TLS is not to be had here: {why}. Install the system's certificates (ca-certificates)"
    )]
    NoTls { why: String },
    #[error("no answer: {0}")]
    Http(#[from] hyper::Error),
    #[error("no answer within {0:?}")]
    TooSlow(Duration),
    #[error("the request could not be made: {0}")]
    Request(#[from] axum::http::Error),
    #[error("it answered {status}")]
    Refused {
        status: StatusCode,
        /// How long it asked to be left in peace.
        retry_after: Option<SignedDuration>,
    },
}

/// A signed message on its way.
#[derive(Debug, Clone)]
pub(super) struct Message {
    pub(super) id: String,
    /// When this try is made.
    pub(super) sent_at: Timestamp,
    pub(super) signature: String,
    pub(super) body: Bytes,
}

/// Who makes the requests to one listener.
pub(super) struct Client {
    to: ListenerUrl,
    tls: Result<TlsConnector, String>,
    try_time: Duration,
}

impl Client {
    /// A client that trusts whom the system trusts.
    pub(super) fn new(to: ListenerUrl, try_time: Duration) -> Self {
        let tls = if to.tls() { system_roots().and_then(connector) } else { Err(String::new()) };
        Self { to, tls, try_time }
    }

    /// Sends a message; well only if the listener answers 2xx in time.
    pub(super) async fn post(&self, message: &Message) -> Result<(), DeliveryError> {
        let to = &self.to;
        let trying = async {
            let stream =
                TcpStream::connect((to.host(), to.port())).await.map_err(DeliveryError::Connect)?;
            if !to.tls() {
                return exchange(stream, to, message).await;
            }
            let tls = self.tls.clone().map_err(|why| DeliveryError::NoTls { why })?;
            let name = ServerName::try_from(to.host().to_string())
                .map_err(|error| DeliveryError::Tls(std::io::Error::other(error)))?;
            exchange(tls.connect(name, stream).await.map_err(DeliveryError::Tls)?, to, message)
                .await
        };
        timeout(self.try_time, trying).await.unwrap_or(Err(DeliveryError::TooSlow(self.try_time)))
    }
}

/// The certificates that the system trusts.
fn system_roots() -> Result<RootCertStore, String> {
    let found = rustls_native_certs::load_native_certs();
    let mut roots = RootCertStore::empty();
    roots.add_parsable_certificates(found.certs);
    match found.errors.first() {
        Some(error) if roots.is_empty() => Err(error.to_string()),
        _ if roots.is_empty() => Err("the system trusts nobody".into()),
        _ => Ok(roots),
    }
}

fn connector(roots: RootCertStore) -> Result<TlsConnector, String> {
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map_err(|error| error.to_string())?
        .with_root_certificates(roots)
        .with_no_client_auth();
    Ok(TlsConnector::from(Arc::new(config)))
}

/// Speaks HTTP over a connection.
async fn exchange(
    stream: impl AsyncRead + AsyncWrite + Send + Unpin + 'static,
    to: &ListenerUrl,
    message: &Message,
) -> Result<(), DeliveryError> {
    let (mut sender, connection) =
        hyper::client::conn::http1::handshake(TokioIo::new(stream)).await?;
    let request = Request::builder()
        .method(Method::POST)
        .uri(to.path_and_query())
        .header(header::HOST, to.authority())
        .header(header::USER_AGENT, AGENT)
        .header(header::CONTENT_TYPE, HeaderValue::from_static("application/json"))
        .header("webhook-id", &message.id)
        .header("webhook-timestamp", message.sent_at.as_second())
        .header("webhook-signature", &message.signature)
        .body(Full::new(message.body.clone()))?;
    let answering = async {
        let answer = sender.send_request(request).await?;
        take_in(answer, message.sent_at).await
    };
    // The connection is driven beside the question, and ends with it.
    tokio::select! {
        answer = answering => answer,
        ended = connection => match ended {
            Err(error) => Err(error.into()),
            Ok(()) => Err(DeliveryError::Connect(std::io::ErrorKind::UnexpectedEof.into())),
        },
    }
}

async fn take_in(answer: Response<Incoming>, now: Timestamp) -> Result<(), DeliveryError> {
    let status = answer.status();
    let retry_after = answer.headers().get(header::RETRY_AFTER);
    let retry_after = retry_after
        .and_then(|text| text.to_str().ok())
        .and_then(|text| schedule::retry_after(text, now));
    // Taken in so that the other side can close in peace; its content does not matter.
    let _ = Limited::new(answer.into_body(), MAX_ANSWER_BYTES).collect().await;
    if status.is_success() { Ok(()) } else { Err(DeliveryError::Refused { status, retry_after }) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::{
        io::{AsyncReadExt, AsyncWriteExt},
        net::TcpListener,
    };
    use tokio_rustls::{
        TlsAcceptor,
        rustls::{
            ServerConfig,
            pki_types::{CertificateDer, PrivatePkcs8KeyDer},
        },
    };

    /// A listener with a certificate that it made itself; says 200 to whoever trusts it.
    async fn listener() -> (u16, CertificateDer<'static>) {
        let made = rcgen::generate_simple_self_signed(vec!["localhost".into()]).unwrap();
        let certificate = made.cert.der().clone();
        let key = PrivatePkcs8KeyDer::from(made.signing_key.serialize_der());
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_no_client_auth()
            .with_single_cert(vec![certificate.clone()], key.into())
            .unwrap();
        let socket = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let port = socket.local_addr().unwrap().port();
        let acceptor = TlsAcceptor::from(Arc::new(config));
        tokio::spawn(async move {
            while let Ok((stream, _)) = socket.accept().await {
                let Ok(mut stream) = acceptor.accept(stream).await else { continue };
                let mut got = Vec::new();
                while !got.ends_with(b"\r\n\r\n{}") && stream.read_buf(&mut got).await.unwrap() > 0
                {
                }
                let answer = b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\n\r\n";
                stream.write_all(answer).await.unwrap();
                let _ = stream.shutdown().await;
            }
        });
        (port, certificate)
    }

    #[tokio::test]
    async fn a_certificate_has_to_be_trusted_and_of_the_right_name() {
        let (port, certificate) = listener().await;
        let message = Message {
            id: "msg_1".into(),
            sent_at: Timestamp::UNIX_EPOCH,
            signature: "v1,x".into(),
            body: Bytes::from_static(b"{}"),
        };
        let post = |host: &str, trusted: Option<&CertificateDer<'static>>| {
            let to = format!("https://{host}:{port}/in").parse().unwrap();
            let mut client = Client::new(to, Duration::from_secs(5));
            if let Some(trusted) = trusted {
                let mut roots = RootCertStore::empty();
                roots.add(trusted.clone()).unwrap();
                client.tls = connector(roots);
            }
            let message = &message;
            async move { client.post(message).await }
        };
        post("localhost", Some(&certificate)).await.unwrap();
        let other_name = post("127.0.0.1", Some(&certificate)).await;
        assert!(matches!(other_name, Err(DeliveryError::Tls(_))), "{other_name:?}");
        let untrusted = post("localhost", None).await;
        let refused = matches!(untrusted, Err(DeliveryError::Tls(_) | DeliveryError::NoTls { .. }));
        assert!(refused, "{untrusted:?}");
    }
}
