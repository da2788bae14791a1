//! The encrypted way in: which certificate is shown, and keeping it fresh while the service runs.

use super::{
    AccessError, OwnCertificate,
    authority::{self, Kept},
};
use crate::service::server::stopped;
use std::{
    path::{Path, PathBuf},
    sync::{Arc, PoisonError, RwLock},
    time::Duration,
};
use tokio::{sync::watch, time::sleep};
use tokio_rustls::{
    TlsAcceptor,
    rustls::{
        self, ServerConfig,
        crypto::{CryptoProvider, ring},
        pki_types::{CertificateDer, PrivateKeyDer, pem::PemObject},
        server::{ClientHello, ResolvesServerCert},
        sign::CertifiedKey,
    },
};

/// How often it is looked whether another certificate has to be shown: addresses change when a
/// router gives others, and a user's certificate is renewed by other programs.
const LOOK: Duration = Duration::from_secs(60);

/// Where the certificate comes from.
#[derive(Debug, Clone)]
enum Origin {
    /// Signed by an authority of our own, in this folder, for these further names.
    Made {
        folder: PathBuf,
        hosts: Vec<String>,
    },
    Own(OwnCertificate),
}

/// A certificate as it was got, to tell whether another has to be shown.
#[derive(Debug, Clone, PartialEq)]
struct Got {
    certificate_pem: Vec<u8>,
    key_pem: Vec<u8>,
    /// The authority's certificate, where it is ours.
    authority_pem: Option<String>,
}

/// The encrypted way in. Cheap to clone.
#[derive(Debug, Clone)]
pub(super) struct Tls {
    origin: Origin,
    shown: Arc<Shown>,
    config: Arc<ServerConfig>,
}

/// What is shown at present.
#[derive(Debug)]
struct Shown(RwLock<(Arc<CertifiedKey>, Got)>);

impl Shown {
    fn now(&self) -> (Arc<CertifiedKey>, Got) {
        self.0.read().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

impl ResolvesServerCert for Shown {
    fn resolve(&self, _: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(self.now().0)
    }
}

impl Tls {
    /// The user's own certificate, or one of our own making.
    ///
    /// # Errors
    /// Where there is no certificate to be had, or its key is another's.
    pub(super) fn open(
        folder: &Path,
        hosts: &[String],
        own: Option<&OwnCertificate>,
    ) -> Result<Self, AccessError> {
        let origin = match own {
            Some(own) => Origin::Own(own.clone()),
            None => Origin::Made { folder: folder.into(), hosts: hosts.to_vec() },
        };
        let provider = Arc::new(ring::default_provider());
        let got = origin.get()?;
        let key = got.certified(&origin, &provider)?;
        let shown = Arc::new(Shown(RwLock::new((Arc::new(key), got))));
        let not_made = |error: rustls::Error| AccessError::NotMade { why: error.to_string() };
        let mut config = ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .map_err(not_made)?
            .with_no_client_auth()
            .with_cert_resolver(Arc::clone(&shown) as Arc<dyn ResolvesServerCert>);
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(Self { origin, shown, config: Arc::new(config) })
    }

    /// What takes in encrypted connections.
    pub(super) fn acceptor(&self) -> TlsAcceptor {
        TlsAcceptor::from(Arc::clone(&self.config))
    }

    /// The certificate of our own authority, in DER; none where the user's own is shown.
    pub(super) fn authority(&self) -> Option<Vec<u8>> {
        let pem = self.shown.now().1.authority_pem?;
        Some(CertificateDer::from_pem_slice(pem.as_bytes()).ok()?.to_vec())
    }

    /// Shows another certificate where there has to be one; tells whether it did.
    ///
    /// # Errors
    /// As at the opening; what was shown stays.
    fn refresh(&self) -> Result<bool, AccessError> {
        let got = self.origin.get()?;
        if got == self.shown.now().1 {
            return Ok(false);
        }
        let key = got.certified(&self.origin, self.config.crypto_provider())?;
        let mut shown = self.shown.0.write().unwrap_or_else(PoisonError::into_inner);
        *shown = (Arc::new(key), got);
        Ok(true)
    }

    /// Keeps the certificate fresh until the service stops.
    pub(super) async fn keep_fresh(self, mut stopping: watch::Receiver<bool>) {
        let mut told = String::new();
        loop {
            tokio::select! {
                () = sleep(LOOK) => {}
                () = stopped(&mut stopping) => return,
            }
            let tls = self.clone();
            let refreshed = tokio::task::spawn_blocking(move || tls.refresh()).await;
            let now = match refreshed {
                Ok(Ok(true)) => "another certificate is shown from now on".into(),
                Ok(Ok(false)) => String::new(),
                Ok(Err(error)) => format!("the certificate stays as it was: {error}"),
                Err(error) => format!("the certificate stays as it was: {error}"),
            };
            // What does not change is said once.
            if now != told && !now.is_empty() {
                tracing::warn!("{now}");
            }
            told = now;
        }
    }
}

impl Origin {
    fn get(&self) -> Result<Got, AccessError> {
        match self {
            Self::Made { folder, hosts } => {
                let made = authority::open(folder, hosts)?;
                let Kept { certificate_pem, key_pem, .. } = made.server;
                Ok(Got {
                    certificate_pem: certificate_pem.into(),
                    key_pem: key_pem.into(),
                    authority_pem: Some(made.authority.certificate_pem),
                })
            }
            Self::Own(OwnCertificate { certificate, key }) => {
                let read = |path: &PathBuf| {
                    std::fs::read(path)
                        .map_err(|source| AccessError::File { path: path.clone(), source })
                };
                let (certificate_pem, key_pem) = (read(certificate)?, read(key)?);
                Ok(Got { certificate_pem, key_pem, authority_pem: None })
            }
        }
    }

    /// Where the certificate and its key are found, for words.
    fn places(&self) -> (PathBuf, PathBuf) {
        match self {
            Self::Made { folder, .. } => (folder.clone(), folder.clone()),
            Self::Own(own) => (own.certificate.clone(), own.key.clone()),
        }
    }
}

impl Got {
    fn certified(
        &self,
        origin: &Origin,
        provider: &CryptoProvider,
    ) -> Result<CertifiedKey, AccessError> {
        let (certificate, key) = origin.places();
        let no_certificate = |why: String| AccessError::NoCertificate { path: certificate, why };
        let chain = CertificateDer::pem_slice_iter(&self.certificate_pem)
            .collect::<Result<Vec<_>, _>>()
            .map_err(|error| no_certificate.clone()(error.to_string()))?;
        if chain.is_empty() {
            return Err(no_certificate("it holds no certificate in PEM".into()));
        }
        let no_key = |why: String| AccessError::NoCertificate { path: key, why };
        let private = PrivateKeyDer::from_pem_slice(&self.key_pem)
            .map_err(|error| no_key.clone()(format!("it holds no private key: {error}")))?;
        CertifiedKey::from_der(chain, private, provider).map_err(|error| match error {
            rustls::Error::InconsistentKeys(_) => no_key("it is another certificate's key".into()),
            other => no_certificate(other.to_string()),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn write_pair(own: &OwnCertificate) {
        let key = rcgen::KeyPair::generate().unwrap();
        let params = rcgen::CertificateParams::new(["table.example".to_string()]).unwrap();
        fs::write(&own.certificate, params.self_signed(&key).unwrap().pem()).unwrap();
        fs::write(&own.key, key.serialize_pem()).unwrap();
    }

    #[test]
    fn a_certificate_that_was_renewed_is_shown_and_a_damaged_one_is_not() {
        let folder = std::env::temp_dir().join(format!("stillcloth-tls-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let own =
            OwnCertificate { certificate: folder.join("own.pem"), key: folder.join("key.pem") };
        write_pair(&own);
        let tls = Tls::open(&folder, &[], Some(&own)).unwrap();
        let shown = || tls.shown.now().0.cert.clone();
        let first = shown();
        assert!(!tls.refresh().unwrap());
        write_pair(&own);
        assert!(tls.refresh().unwrap());
        let second = shown();
        assert_ne!(second, first);
        fs::write(&own.certificate, "half of a certific").unwrap();
        assert!(tls.refresh().is_err());
        assert_eq!(shown(), second, "what was shown stays");
        fs::remove_dir_all(&folder).unwrap();
    }
}
