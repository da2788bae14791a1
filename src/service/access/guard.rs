//! What every request goes through before its handler: is it meant for this service, does it come
//! from a page of its own, and may whoever sent it do that?
//!
//! - A page of another site whose name was made to lead here sends that name as `Host`: names that
//!   are not this machine's are refused. Addresses cannot be made to lead elsewhere, and may stand.
//! - A browser says from which page it was told to change something (`Origin`, or else
//!   `Sec-Fetch-Site`): only the service's own pages may. Programs say nothing.
//! - Whatever is not only looked at (each method but GET and HEAD, each upgrade) needs a key, shown
//!   as a cookie or as `Authorization: Bearer`. Handlers that hand out pictures of the room ask for
//!   [`Paired`].

use super::{Access, May};
use crate::service::{App, Problem, api};
use axum::{
    extract::{FromRequestParts, Request, State},
    http::{
        HeaderMap, HeaderName, StatusCode, Uri,
        header::{AUTHORIZATION, COOKIE, HOST, ORIGIN, UPGRADE},
        request::Parts,
        uri::Authority,
    },
    middleware::Next,
    response::{IntoResponse, Response},
};
use std::{net::IpAddr, time::Duration};

/// The time a request that changes something may take in all, from its head to its answer. Reading
/// a large photo on a slow machine, after others, takes long; a body that never comes would too.
const CHANGE_TIME: Duration = Duration::from_secs(120);

/// A browser's word on where a request comes from.
const FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// Cookies by the way they are sent: one set over an encrypted connection is never sent over
/// another, and could not be set anew there either.
const COOKIES: [(bool, &str); 2] = [(true, "stillcloth"), (false, "stillcloth-plain")];

/// Browsers keep no cookie for longer than 400 days.
const COOKIE_SECONDS: u32 = 400 * 24 * 3600;

/// How a connection came in.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::service) struct Wire {
    pub(in crate::service) encrypted: bool,
    /// From this machine itself.
    pub(in crate::service) here: bool,
}

impl Wire {
    /// What a key is good for on this connection: the one for all is not used where it may be
    /// overheard, so that nobody gets into the habit.
    pub(in crate::service) fn allows(self, may: May) -> May {
        if self.encrypted || self.here { may } else { may.min(May::SendPictures) }
    }

    /// The cookie that holds a key on connections like this one.
    pub(in crate::service) fn cookie(self, key: &str) -> String {
        let [(_, encrypted), (_, plain)] = COOKIES;
        let (name, secure) = if self.encrypted { (encrypted, "; Secure") } else { (plain, "") };
        format!("{name}={key}; Path=/; Max-Age={COOKIE_SECONDS}; HttpOnly; SameSite=Strict{secure}")
    }
}

/// Whoever sent a request.
#[derive(Debug, Clone, Copy)]
pub(in crate::service) struct Visitor {
    pub(in crate::service) may: May,
    pub(in crate::service) wire: Wire,
}

impl<S: Sync> FromRequestParts<S> for Visitor {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        // Every request bears it; one that does not may do nothing.
        let nobody = Self { may: May::Watch, wire: Wire::default() };
        Ok(parts.extensions.get().copied().unwrap_or(nobody))
    }
}

/// A visitor who may do all: for what is more than looking on, though it changes nothing.
pub(in crate::service) struct Paired;

impl<S: Sync> FromRequestParts<S> for Paired {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let visitor = Visitor::from_request_parts(parts, state).await?;
        if visitor.may == May::All { Ok(Self) } else { Err(not_paired(visitor)) }
    }
}

/// Lets a request through to its handler, with the [`Visitor`] who sent it, or refuses it.
pub(in crate::service) async fn guard(
    State(app): State<App>,
    mut request: Request,
    next: Next,
) -> Response {
    let wire = request.extensions().get().copied().unwrap_or_default();
    let visitor = match app.access.judge(wire, &request) {
        Ok(visitor) => visitor,
        Err(problem) => {
            api::frames::drain(request.into_body(), app.limits.frame_bytes).await;
            return problem.into_response();
        }
    };
    request.extensions_mut().insert(visitor);
    if request.method().is_safe() {
        return next.run(request).await;
    }
    tokio::time::timeout(CHANGE_TIME, next.run(request)).await.unwrap_or_else(|_| {
        let seconds = CHANGE_TIME.as_secs();
        let detail = format!("This was not done within {seconds} s: send it again.");
        Problem::new(StatusCode::REQUEST_TIMEOUT, "too_slow", detail).into_response()
    })
}

/// What one must be allowed to do to change something at an address.
fn needed(path: &str) -> May {
    let camera = path.strip_prefix("/api/cameras/").and_then(|rest| rest.strip_suffix("/frames"));
    match path {
        "/api/pairing" => May::Watch,
        "/api/frames" => May::SendPictures,
        _ if camera.is_some_and(|camera| !camera.contains('/')) => May::SendPictures,
        _ => May::All,
    }
}

fn not_paired(visitor: Visitor) -> Problem {
    let (kind, detail) = match (visitor.may, visitor.wire) {
        (May::SendPictures, wire) if !wire.encrypted && !wire.here => (
            "not_encrypted",
            "Over this connection, which is not encrypted, pictures may be sent and nothing else: \
             open the address with https:// in front.",
        ),
        _ => (
            "not_paired",
            "This device may look on. To change something it has to be paired once: open /pair, \
             or scan the code of the set-up page on a device that is. A program sends the key as \
             Authorization: Bearer.",
        ),
    };
    Problem::new(StatusCode::UNAUTHORIZED, kind, detail)
}

impl Access {
    /// Holds that a request is meant for this service and, where it is more than looking on, that it
    /// comes from the service's own pages or a program, and is allowed; tells who sent it.
    fn judge(&self, wire: Wire, request: &Request) -> Result<Visitor, Problem> {
        let (uri, headers) = (request.uri(), request.headers());
        let host = one(headers, &HOST).and_then(|host| host.parse::<Authority>().ok());
        let host = host.ok_or_else(|| {
            let detail = "The request does not say for whom it is: send a Host header.";
            Problem::new(StatusCode::BAD_REQUEST, "no_host", detail)
        })?;
        if !self.is_ours(&host) || uri.authority().is_some_and(|uri| !self.is_ours(uri)) {
            let detail = format!(
                "This service does not go by the name {}: use this machine's name or address, or \
                 give the name with --host when the service starts.",
                host.host()
            );
            return Err(Problem::new(StatusCode::MISDIRECTED_REQUEST, "another_host", detail));
        }
        let changes = !request.method().is_safe() || headers.contains_key(UPGRADE);
        if changes && !self.is_own_page(wire, &host, headers) {
            return Err(Problem::new(
                StatusCode::FORBIDDEN,
                "another_origin",
                "Pages of other sites may change nothing here: use the service's own page, or a \
                 program.",
            ));
        }
        let may = if self.inner.lan.is_some() {
            let shown = keys(headers, wire).map(|key| self.may(key));
            wire.allows(shown.max().unwrap_or(May::Watch))
        } else {
            May::All
        };
        let visitor = Visitor { may, wire };
        let enough = !changes || needed(uri.path()) <= may;
        if enough { Ok(visitor) } else { Err(not_paired(visitor)) }
    }

    /// Whether a name in a request is one of this service's.
    fn is_ours(&self, authority: &Authority) -> bool {
        let host = authority.host();
        let address = host.trim_start_matches('[').trim_end_matches(']');
        let host = host.strip_suffix('.').unwrap_or(host).to_ascii_lowercase();
        address.parse::<IpAddr>().is_ok() || self.inner.hosts.contains(&host)
    }

    /// Whether a request that changes something was sent by a page of this service, or by a program.
    fn is_own_page(&self, wire: Wire, host: &Authority, headers: &HeaderMap) -> bool {
        let Some(origin) = one(headers, &ORIGIN) else {
            let site = one(headers, &FETCH_SITE);
            return !headers.contains_key(ORIGIN)
                && site.is_none_or(|site| ["same-origin", "none"].contains(&site));
        };
        let Some(origin) = origin.parse::<Uri>().ok() else { return false };
        let Some(authority) = origin.authority() else { return false };
        let scheme = origin.scheme_str();
        let way = if wire.encrypted { scheme == Some("https") } else { scheme.is_some() };
        // What stands before the service may send another Host; its own name was given then.
        let given = self.inner.given.iter().any(|given| given == authority.as_str());
        way && (authority == host || given)
    }
}

/// A header that stands there once, as text.
fn one<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    let mut all = headers.get_all(name).iter();
    let value = all.next()?.to_str().ok()?;
    all.next().is_none().then_some(value)
}

/// The keys that a request shows.
fn keys(headers: &HeaderMap, wire: Wire) -> impl Iterator<Item = &str> {
    let text = |name| headers.get_all(name).iter().filter_map(|value| value.to_str().ok());
    let bearer = text(AUTHORIZATION).filter_map(|value| value.strip_prefix("Bearer "));
    let cookies = text(COOKIE).flat_map(|value| value.split(';')).filter_map(move |pair| {
        let (name, value) = pair.trim().split_once('=')?;
        COOKIES.contains(&(wire.encrypted, name)).then_some(value)
    });
    bearer.chain(cookies)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_it_may_be_overheard_the_key_for_all_is_good_for_pictures_alone() {
        let wires = [(true, false), (false, true), (true, true), (false, false)];
        let allowed = wires.map(|(encrypted, here)| Wire { encrypted, here }.allows(May::All));
        assert_eq!(allowed, [May::All, May::All, May::All, May::SendPictures]);
        let overheard = Wire { encrypted: false, here: false };
        assert_eq!(overheard.allows(May::SendPictures), May::SendPictures);
        assert_eq!(overheard.allows(May::Watch), May::Watch);
    }

    #[test]
    fn the_key_for_pictures_opens_nothing_else() {
        for path in ["/api/frames", "/api/cameras/phone/frames"] {
            assert_eq!(needed(path), May::SendPictures, "{path}");
        }
        for path in [
            "/api/corrections",
            "/api/readings",
            "/api/cameras/phone/trials",
            "/api/cameras/phone/calibration",
            "/api/cameras/phone/trials/frames",
            "/api/frames/1",
            "/",
        ] {
            assert_eq!(needed(path), May::All, "{path}");
        }
    }
}
