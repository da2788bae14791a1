//! A certificate authority of this machine's own, and the server certificate that it signs.
//!
//! Phones give the camera to encrypted pages alone, and no public authority signs for an address
//! like 192.168.1.20. So an authority is made here at the first use; a phone that is told to trust
//! it trusts this machine. What it may sign for is written into it (RFC 5280, 4.2.1.10): private
//! addresses, `.local`, and this machine's names. Its key, should it ever be taken, opens nothing
//! else. Both lie in the data folder, for its owner's eyes only.

use super::{AccessError, machine};
use crate::private_file;
use jiff::{Span, Timestamp, ToSpan, civil::Date, tz::TimeZone};
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType,
    ExtendedKeyUsagePurpose, GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose,
    NameConstraints, date_time_ymd,
};
use serde::{Deserialize, Serialize};
use std::{
    collections::BTreeSet,
    net::{IpAddr, Ipv6Addr},
    path::Path,
};

const AUTHORITY_FILE: &str = "authority.json";
const SERVER_FILE: &str = "server.json";

/// Phones would have to be told anew when it ends.
const AUTHORITY_YEARS: i64 = 20;

/// Some systems take no server certificate that holds longer than 398 days.
const SERVER_DAYS: i64 = 380;

/// A server certificate with fewer days left is made anew.
const RENEW_DAYS: i64 = 60;

/// Networks that no public authority signs for (RFC 1918, 3927, 6598, 4193), and the machine itself.
const PRIVATE: [&str; 8] = [
    "10.0.0.0/8",
    "172.16.0.0/12",
    "192.168.0.0/16",
    "169.254.0.0/16",
    "100.64.0.0/10",
    "127.0.0.0/8",
    "fc00::/7",
    "::1/128",
];

/// A certificate with its key, as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Kept {
    /// What it calls itself; the issuer's name in what it signs.
    common_name: String,
    /// What it may sign for, or is for.
    pub(super) names: BTreeSet<String>,
    pub(super) until: Date,
    pub(super) certificate_pem: String,
    pub(super) key_pem: String,
}

/// What a service shows, and what a phone is told to trust.
pub(super) struct Made {
    pub(super) authority: Kept,
    pub(super) server: Kept,
}

/// The certificates that are kept in a folder; made where there are none, where they are about to
/// end, or where this machine has other names or addresses now.
///
/// # Errors
/// Where a file cannot be read or written, or no certificate can be made.
pub(super) fn open(folder: &Path, hosts: &[String]) -> Result<Made, AccessError> {
    let own: BTreeSet<String> = machine::names().into_iter().chain(hosts.iter().cloned()).collect();
    let authority = match load(&folder.join(AUTHORITY_FILE))? {
        Some(kept) if own.is_subset(&kept.names) && !ends_within(&kept, SERVER_DAYS) => kept,
        before => {
            if before.is_some() {
                tracing::warn!(
                    "this machine has other names than its certificate authority may sign for, or \
                     that is about to end: another is made, and phones have to be told to trust it"
                );
            }
            let made = new_authority(own.clone()).map_err(not_made)?;
            save(&folder.join(AUTHORITY_FILE), &made)?;
            made
        }
    };
    let addresses = machine::addresses().into_iter().filter(|address| is_private(*address));
    let loopback = ["localhost", "127.0.0.1", "::1"].map(String::from);
    let names: BTreeSet<String> =
        own.into_iter().chain(loopback).chain(addresses.map(|it| it.to_string())).collect();
    let server = match load(&folder.join(SERVER_FILE))? {
        Some(kept)
            if kept.names == names
                && !ends_within(&kept, RENEW_DAYS)
                && kept.common_name == authority.common_name =>
        {
            kept
        }
        _ => {
            let made = new_server(&authority, names).map_err(not_made)?;
            save(&folder.join(SERVER_FILE), &made)?;
            tracing::info!(until = %made.until, "made a server certificate");
            made
        }
    };
    Ok(Made { authority, server })
}

fn not_made(error: rcgen::Error) -> AccessError {
    AccessError::NotMade { why: error.to_string() }
}

fn load(path: &Path) -> Result<Option<Kept>, AccessError> {
    let text = private_file::read(path)
        .map_err(|source| AccessError::File { path: path.into(), source })?;
    text.map(|text| serde_json::from_str(&text))
        .transpose()
        .map_err(|error| AccessError::NoCertificate { path: path.into(), why: error.to_string() })
}

fn save(path: &Path, kept: &Kept) -> Result<(), AccessError> {
    let text = serde_json::to_string_pretty(kept)
        .map_err(|error| AccessError::NotMade { why: error.to_string() })?;
    private_file::write(path, &(text + "\n"))
        .map_err(|source| AccessError::File { path: path.into(), source })
}

fn today() -> Date {
    TimeZone::UTC.to_datetime(Timestamp::now()).date()
}

fn day_after(span: Span) -> Date {
    today().saturating_add(span)
}

fn ends_within(kept: &Kept, days: i64) -> bool {
    kept.until <= day_after(days.days())
}

/// Whether an address is one that the authority may vouch for.
pub(super) fn is_private(address: IpAddr) -> bool {
    match address {
        IpAddr::V4(v4) => {
            let [a, b, ..] = v4.octets();
            v4.is_private() || v4.is_link_local() || (a == 100 && b & 0xc0 == 64)
        }
        IpAddr::V6(v6) => v6 == Ipv6Addr::LOCALHOST || v6.is_unique_local(),
    }
}

/// What an authority and a server certificate have in common.
fn params(common_name: &str, until: Date) -> CertificateParams {
    let mut params = CertificateParams::default();
    params.distinguished_name = DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, common_name);
    // The numbers are a date's, so they fit.
    let part = |number: i8| u8::try_from(number).unwrap_or(1);
    let day =
        |date: Date| date_time_ymd(i32::from(date.year()), part(date.month()), part(date.day()));
    // Clocks of phones are not all right.
    (params.not_before, params.not_after) = (day(day_after((-2).days())), day(until));
    params
}

fn new_authority(own: BTreeSet<String>) -> Result<Kept, rcgen::Error> {
    let until = day_after(AUTHORITY_YEARS.years());
    let machine = own.iter().find(|name| !name.contains('.')).map_or("this machine", |name| name);
    // A common name has 64 letters at most.
    let made = Timestamp::now().strftime("%Y-%m-%d %H:%M:%S");
    let common_name = format!("Stillcloth on {machine:.24}, {made}");
    let mut params = params(&common_name, until);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    let names = own.iter().map(String::as_str).chain(["local", "localhost"]);
    let networks = PRIVATE.iter().filter_map(|network| network.parse::<CidrSubnet>().ok());
    params.name_constraints = Some(NameConstraints {
        permitted_subtrees: names
            .map(|name| GeneralSubtree::DnsName(name.into()))
            .chain(networks.map(GeneralSubtree::IpAddress))
            .collect(),
        excluded_subtrees: Vec::new(),
    });
    let key = KeyPair::generate()?;
    let certificate_pem = params.self_signed(&key)?.pem();
    Ok(Kept { common_name, names: own, until, certificate_pem, key_pem: key.serialize_pem() })
}

fn new_server(authority: &Kept, names: BTreeSet<String>) -> Result<Kept, rcgen::Error> {
    let until = day_after(SERVER_DAYS.days());
    let mut server = CertificateParams::new(names.iter().cloned().collect::<Vec<_>>())?;
    let CertificateParams { not_before, not_after, distinguished_name, .. } =
        params("Stillcloth", until);
    (server.not_before, server.not_after) = (not_before, not_after);
    server.distinguished_name = distinguished_name;
    server.use_authority_key_identifier_extension = true;
    server.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    server.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    // The issuer's name and key are all that its certificate is needed for.
    let issuer = Issuer::new(
        params(&authority.common_name, authority.until),
        KeyPair::from_pem(&authority.key_pem)?,
    );
    let key = KeyPair::generate()?;
    let certificate_pem = server.signed_by(&key, &issuer)?.pem();
    Ok(Kept {
        common_name: authority.common_name.clone(),
        names,
        until,
        certificate_pem,
        key_pem: key.serialize_pem(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;

    /// A folder of its own for each test, gone afterwards.
    struct Folder(PathBuf);

    impl Folder {
        fn new(name: &str) -> Self {
            let name = format!("stillcloth-authority-{name}-{}", std::process::id());
            Self(std::env::temp_dir().join(name))
        }

        /// Puts other words into what is kept of the server certificate.
        fn change_server(&self, change: impl FnOnce(&mut Kept)) {
            let path = self.0.join(SERVER_FILE);
            let mut kept = load(&path).unwrap().unwrap();
            change(&mut kept);
            save(&path, &kept).unwrap();
        }
    }

    impl Drop for Folder {
        fn drop(&mut self) {
            let _ = std::fs::remove_dir_all(&self.0);
        }
    }

    #[test]
    fn the_server_certificate_is_made_anew_when_it_has_to_be_and_the_authority_stays() {
        let folder = Folder::new("renewed");
        let first = open(&folder.0, &[]).unwrap();
        let again = open(&folder.0, &[]).unwrap();
        assert_eq!((&again.authority, &again.server), (&first.authority, &first.server));

        folder.change_server(|kept| kept.until = day_after((RENEW_DAYS + 1).days()));
        let still = open(&folder.0, &[]).unwrap();
        assert_eq!(still.server.key_pem, first.server.key_pem, "not before its time");
        folder.change_server(|kept| kept.until = day_after(RENEW_DAYS.days()));
        let renewed = open(&folder.0, &[]).unwrap();
        assert_ne!(renewed.server.key_pem, first.server.key_pem, "near its end");

        folder.change_server(|kept| {
            kept.names.insert("192.168.99.99".into());
        });
        let moved = open(&folder.0, &[]).unwrap();
        assert_ne!(moved.server.key_pem, renewed.server.key_pem, "another address");
        assert_eq!(moved.server.names, first.server.names);
        assert_eq!(moved.authority, first.authority, "devices go on trusting it");
    }

    #[test]
    fn a_name_that_the_authority_may_not_sign_for_takes_another_authority() {
        let folder = Folder::new("named");
        let first = open(&folder.0, &[]).unwrap();
        let named = open(&folder.0, &["table.example".into()]).unwrap();
        assert_ne!(named.authority, first.authority);
        assert!(named.server.names.contains("table.example"));
        let without = open(&folder.0, &[]).unwrap();
        assert_eq!(without.authority, named.authority, "one that may sign for more will do");
        assert!(!without.server.names.contains("table.example"));
    }

    #[test]
    fn what_is_no_certificate_is_named() {
        let folder = Folder::new("odd");
        private_file::write(&folder.0.join(AUTHORITY_FILE), "{}").unwrap();
        let refused = open(&folder.0, &[]).err().map(|error| error.to_string()).unwrap();
        assert!(refused.contains(AUTHORITY_FILE), "{refused}");
    }

    #[test]
    fn only_private_addresses_are_vouched_for() {
        for (address, private) in [
            ("192.168.1.20", true),
            ("10.0.0.1", true),
            ("172.31.0.1", true),
            ("172.32.0.1", false),
            ("100.64.0.1", true),
            ("100.128.0.1", false),
            ("8.8.8.8", false),
            ("fd00::1", true),
            ("2001:db8::1", false),
        ] {
            assert_eq!(is_private(address.parse().unwrap()), private, "{address}");
        }
    }
}
