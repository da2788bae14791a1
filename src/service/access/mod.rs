//! Who may do what: this machine alone, or a network whose people may look on, and change something
//! once their device was paired.
//!
//! A device is paired by showing the key that the service made at its first use; it gets a cookie
//! that holds it. Programs show it with each request. Whoever asks, the request has to be meant for
//! this service and, where it changes something, come from its own pages (`guard.rs`): without
//! that, any page open in a browser beside could act here. Knows no camera and no score.

mod authority;
mod document;
mod guard;
mod keys;
mod machine;
mod tls;

pub(super) use document::describe;
pub(super) use guard::{Paired, Visitor, Wire, guard};

use axum::http::uri::Authority;
use keys::Keys;
use sha2::{Digest, Sha256};
use std::{
    net::{IpAddr, SocketAddr},
    path::{Path, PathBuf},
    sync::{Arc, Mutex, PoisonError},
};
use thiserror::Error;
use tls::Tls;
use tokio::sync::watch;
use tokio_rustls::TlsAcceptor;

/// The folder in the data folder where keys and certificates are kept.
const FOLDER: &str = "access";

/// How the service is opened.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct AccessSettings {
    /// Open to the network, encrypted, and changed by paired devices alone.
    pub lan: bool,
    /// Names by which the service is reached, besides this machine's own.
    pub hosts: Vec<String>,
    /// Shown instead of one of the service's own making.
    pub certificate: Option<OwnCertificate>,
}

/// A certificate of the user's, as PEM files.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnCertificate {
    /// The certificate, and those that lead from it to an authority.
    pub certificate: PathBuf,
    pub key: PathBuf,
}

/// Why the service was not opened.
#[derive(Debug, Error)]
pub enum AccessError {
    #[error(
        "{address} is not this machine alone: add --lan, which lets the network look on and asks \
         for a key before anything is changed"
    )]
    NotLan { address: SocketAddr },
    #[error("a certificate is shown to the network alone: give --lan too")]
    CertificateWithoutLan,
    #[error(
        "'{host}' is no host's name: give one as table.example, without https:// and without port; \
         addresses need not be given"
    )]
    NoHost { host: String },
    #[error("cannot use {path}: {source}")]
    File { path: PathBuf, source: std::io::Error },
    #[error("{path} holds no key. Delete it, and another is made; devices are to be paired again")]
    NoKey { path: PathBuf },
    #[error("{path} cannot be used for encryption: {why}")]
    NoCertificate { path: PathBuf, why: String },
    #[error("no certificate can be made: {why}")]
    NotMade { why: String },
    #[error("the system gave no random bytes for a key: {why}")]
    NoRandomness { why: String },
}

/// What somebody may do; each may what those before it may.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum May {
    Watch,
    SendPictures,
    All,
}

/// Who may do what. Cheap to clone.
#[derive(Clone)]
pub(super) struct Access {
    inner: Arc<Inner>,
}

struct Inner {
    /// Names by which requests may be meant for this service; addresses always may.
    hosts: Vec<String>,
    /// Those of them that the user gave.
    given: Vec<String>,
    /// None where only this machine reaches the service.
    lan: Option<Lan>,
}

struct Lan {
    /// The keys of now; whoever was let in by others may look here whether they still hold.
    keys: watch::Sender<Keys>,
    /// Held while new ones are made, so that file and service have the same.
    making: Mutex<()>,
    tls: Tls,
    port: u16,
    folder: PathBuf,
}

impl Access {
    /// This machine alone, which may do all.
    pub(super) fn here() -> Self {
        Self::new(&[], None)
    }

    fn new(given: &[String], lan: Option<Lan>) -> Self {
        let given: Vec<String> = given.iter().map(|host| host.to_ascii_lowercase()).collect();
        let own = machine::names().into_iter().chain(["localhost".to_string()]);
        let hosts = own.chain(given.iter().cloned()).collect();
        Self { inner: Arc::new(Inner { hosts, given, lan }) }
    }

    /// Opens the service as the settings have it, at an address that is bound already; keys and
    /// certificates are made at the first time.
    ///
    /// # Errors
    /// Where that cannot be.
    pub(super) fn open(
        settings: &AccessSettings,
        data: &Path,
        address: SocketAddr,
    ) -> Result<Self, AccessError> {
        for host in &settings.hosts {
            if !machine::is_host_name(host) || host.parse::<IpAddr>().is_ok() {
                return Err(AccessError::NoHost { host: host.clone() });
            }
        }
        if !settings.lan {
            if settings.certificate.is_some() {
                return Err(AccessError::CertificateWithoutLan);
            }
            if !address.ip().is_loopback() {
                return Err(AccessError::NotLan { address });
            }
            return Ok(Self::new(&settings.hosts, None));
        }
        let folder = data.join(FOLDER);
        let tls = Tls::open(&folder, &settings.hosts, settings.certificate.as_ref())?;
        let public = machine::main_address().filter(|address| !authority::is_private(*address));
        if let (Some(address), None) = (public, &settings.certificate) {
            tracing::warn!(
                "{address} is a public address, and the service's own authority vouches for private \
                 ones alone: reach it by its name with .local, or give a certificate of your own"
            );
        }
        let keys = watch::Sender::new(Keys::open(&folder)?);
        let lan = Lan { keys, making: Mutex::new(()), tls, port: address.port(), folder };
        Ok(Self::new(&settings.hosts, Some(lan)))
    }

    /// What takes in encrypted connections, where the service is open to the network.
    pub(super) fn acceptor(&self) -> Option<TlsAcceptor> {
        self.inner.lan.as_ref().map(|lan| lan.tls.acceptor())
    }

    /// Keeps the certificate fresh until the service stops; nothing to do where there is none.
    pub(super) async fn keep_fresh(self, stopping: watch::Receiver<bool>) {
        if let Some(lan) = &self.inner.lan {
            lan.tls.clone().keep_fresh(stopping).await;
        }
    }

    /// Whether others on the network reach the service.
    pub(super) fn is_open_to_network(&self) -> bool {
        self.inner.lan.is_some()
    }

    /// The certificate of the service's own authority, in DER; none where there is none.
    pub(super) fn authority(&self) -> Option<Vec<u8>> {
        self.inner.lan.as_ref().and_then(|lan| lan.tls.authority())
    }

    /// What the holder of a key may do.
    pub(super) fn may(&self, key: &str) -> May {
        self.inner.lan.as_ref().map_or(May::All, |lan| lan.keys.borrow().may(key))
    }

    /// Makes new keys, so that no device is paired any more; the key for all. None where only this
    /// machine reaches the service, and nothing is paired.
    ///
    /// # Errors
    /// Where they cannot be made or kept; all devices stay paired then.
    pub(super) fn forget_devices(&self) -> Result<Option<String>, AccessError> {
        let Some(lan) = &self.inner.lan else { return Ok(None) };
        let _making = lan.making.lock().unwrap_or_else(PoisonError::into_inner);
        let keys = Keys::make(&lan.folder)?;
        let all = keys.reveal(May::All).to_string();
        lan.keys.send_replace(keys);
        Ok(Some(all))
    }

    /// Waits until the devices that are paired at the call have been forgotten.
    pub(super) fn forgotten(&self) -> impl Future<Output = ()> + Send + use<> {
        let keys = self.inner.lan.as_ref().map(|lan| lan.keys.subscribe());
        async move {
            if let Some(mut keys) = keys
                && keys.changed().await.is_ok()
            {
                return;
            }
            std::future::pending::<()>().await;
        }
    }

    /// How another device comes here and is paired; none where only this machine reaches the
    /// service.
    pub(super) fn invitation(&self) -> Option<Invitation> {
        let lan = self.inner.lan.as_ref()?;
        let host = match machine::main_address() {
            Some(IpAddr::V6(v6)) => format!("[{v6}]"),
            Some(IpAddr::V4(v4)) => v4.to_string(),
            None => "localhost".into(),
        };
        Some(Invitation {
            host: format!("{host}:{}", lan.port),
            all: lan.keys.borrow().reveal(May::All).into(),
            pictures: lan.keys.borrow().reveal(May::SendPictures).into(),
            key_file: Keys::file(&lan.folder),
            fingerprint: self.authority().map(|der| fingerprint(&der)),
        })
    }
}

/// How a device comes to this service and is paired. What is behind `#` in a link a browser keeps
/// to itself: it stands in no log on the way.
pub struct Invitation {
    /// Address and port as others on the network reach them.
    host: String,
    all: String,
    pictures: String,
    key_file: PathBuf,
    fingerprint: Option<String>,
}

/// A certificate's SHA-256, as systems show it.
pub(super) fn fingerprint(der: &[u8]) -> String {
    let digest = Sha256::digest(der);
    digest.iter().map(|byte| format!("{byte:02X}")).collect::<Vec<_>>().join(" ")
}

impl Invitation {
    /// The same, by the name and port by which a device came here already, unless that is this
    /// machine's own way to itself.
    pub(super) fn at(self, host: &str) -> Self {
        let Ok(authority) = host.parse::<Authority>() else { return self };
        let name = authority.host().trim_start_matches('[').trim_end_matches(']');
        let own = name.parse::<IpAddr>().map_or(name == "localhost", |it| it.is_loopback());
        if own { self } else { Self { host: host.into(), ..self } }
    }

    /// Where anybody on the network may look on.
    pub fn watch_link(&self) -> String {
        format!("https://{}/", self.host)
    }

    /// Where a device is told to trust this machine; not encrypted, since it does not trust it yet.
    pub fn certificate_link(&self) -> String {
        format!("http://{}/certificate", self.host)
    }

    /// What the certificate there is known by; none where the user's own is shown.
    pub fn fingerprint(&self) -> Option<&str> {
        self.fingerprint.as_deref()
    }

    /// Pairs a device, which may do all from then on.
    pub fn pairing_link(&self) -> String {
        format!("https://{}/pair#{}", self.host, self.all)
    }

    /// Pairs a phone that becomes a camera.
    pub fn phone_link(&self) -> String {
        format!("https://{}/phone#{}", self.host, self.all)
    }

    /// Pairs a phone for single pictures alone, over an unencrypted connection.
    pub fn pictures_link(&self) -> String {
        format!("http://{}/phone#{}", self.host, self.pictures)
    }

    /// The file that holds the key.
    pub fn key_file(&self) -> &Path {
        &self.key_file
    }
}
