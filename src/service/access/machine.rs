//! The names and addresses by which this machine is reached.

use std::{
    collections::BTreeSet,
    net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket},
};

/// An address that no machine has (RFC 5737): asking for the way there names the machine's own
/// address on its network. Nothing is sent.
const NOBODY: SocketAddr = SocketAddr::new(IpAddr::V4(Ipv4Addr::new(192, 0, 2, 1)), 9);

/// The names that this machine goes by at home: its own, and that with `.local` behind it.
pub(super) fn names() -> Vec<String> {
    let node = rustix::system::uname();
    let name = node.nodename().to_str().unwrap_or_default();
    let name = name.split('.').next().unwrap_or_default().to_ascii_lowercase();
    if is_host_name(&name) && name != "localhost" {
        vec![format!("{name}.local"), name]
    } else {
        Vec::new()
    }
}

/// Whether a text can be a host's name.
pub(super) fn is_host_name(text: &str) -> bool {
    let is_part = |part: &str| {
        !part.is_empty()
            && part.len() < 64
            && part.chars().all(|letter| letter.is_ascii_alphanumeric() || letter == '-')
            && !part.starts_with('-')
            && !part.ends_with('-')
    };
    text.len() < 254 && text.split('.').all(is_part)
}

/// The addresses at which others on the network reach this machine, link-local ones excepted.
pub(super) fn addresses() -> BTreeSet<IpAddr> {
    let all = if_addrs::get_if_addrs().unwrap_or_else(|error| {
        tracing::warn!("the machine's addresses cannot be looked up: {error}");
        Vec::new()
    });
    all.into_iter()
        .filter(|one| !one.is_loopback() && !one.is_link_local())
        .map(|one| one.ip())
        .collect()
}

/// The address that others on the network most likely reach.
pub(super) fn main_address() -> Option<IpAddr> {
    let on_the_way = || {
        let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
        socket.connect(NOBODY).ok()?;
        Some(socket.local_addr().ok()?.ip()).filter(|address| !address.is_unspecified())
    };
    on_the_way().or_else(|| {
        let addresses = addresses();
        addresses.iter().find(|address| address.is_ipv4()).or(addresses.first()).copied()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_a_hosts_name_is_none() {
        for name in ["table", "table.local", "a-1.example"] {
            assert!(is_host_name(name), "{name}");
        }
        for name in ["", ".", "a..b", "-a", "a_b", "a b", "ä", "a:1", &"a".repeat(70)] {
            assert!(!is_host_name(name), "{name}");
        }
    }
}
