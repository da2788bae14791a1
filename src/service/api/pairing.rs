//! A device is paired: it shows the service's key once, and is known from then on, until all that
//! are paired are forgotten.

use crate::service::{
    App, Problem, Sent,
    access::{May, Visitor},
};
use axum::{
    Json,
    extract::State,
    http::{HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The key, as it was scanned or typed.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PairingBody {
    /// Groups and capitals do not matter.
    key: String,
}

/// What a paired device may do.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Allowed {
    /// Whatever the pages offer.
    All,
    /// Send pictures, and look on.
    SendPictures,
}

/// A device that is paired.
#[derive(Debug, Serialize, ToSchema)]
pub struct PairingView {
    may: Allowed,
}

/// Pair a browser: show the service's key once.
///
/// The answer sets a cookie; the browser is known by it from then on. Programs need not be paired:
/// they send the key with each request, as `Authorization: Bearer`.
#[utoipa::path(
    post, path = "/api/pairing", tag = "access", request_body = PairingBody,
    responses(
        (status = 200, description = "Paired", body = PairingView,
            headers(("Set-Cookie" = String, description = "What the browser is known by"))),
        (status = 400, description = "The body is no JSON", body = Problem,
            content_type = "application/problem+json"),
        (status = 401, description = "The key is for encrypted connections alone, and this is none",
            body = Problem, content_type = "application/problem+json"),
        (status = 403, description = "It is another key", body = Problem,
            content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and holds no key", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_pairing(
    State(app): State<App>,
    visitor: Visitor,
    sent: Sent,
) -> Result<Response, Problem> {
    let PairingBody { key } = sent.into_a("pairing", "no_pairing")?;
    let may = app.access.may(&key);
    let allowed = match visitor.wire.allows(may) {
        May::Watch => {
            tracing::warn!("a device showed a wrong key");
            let detail = "This is not the service's key. It stands in the terminal where the \
                          service was started, and on the set-up page of a paired device.";
            return Err(Problem::new(StatusCode::FORBIDDEN, "wrong_key", detail));
        }
        May::SendPictures if may == May::All => {
            let detail = "This connection is not encrypted, so the key should not be used on it: \
                          open the page with https:// in front.";
            return Err(Problem::new(StatusCode::UNAUTHORIZED, "not_encrypted", detail));
        }
        May::SendPictures => Allowed::SendPictures,
        May::All => Allowed::All,
    };
    // Where only this machine reaches the service there is nothing to be known by.
    let key = app.access.is_open_to_network().then_some(key.trim());
    Ok(known_by(key, visitor, allowed))
}

/// Tells a device what it may do, and sets what it is known by.
fn known_by(key: Option<&str>, visitor: Visitor, may: Allowed) -> Response {
    let mut response = Json(PairingView { may }).into_response();
    if let Some(Ok(cookie)) = key.map(|key| HeaderValue::from_str(&visitor.wire.cookie(key))) {
        response.headers_mut().insert(header::SET_COOKIE, cookie);
    }
    response
}

/// Forget all paired devices: the service makes a new key.
///
/// Whoever asks stays paired, as a browser by the cookie that the answer sets. All others show the
/// new key: it stands on the set-up page, in the file `access/key` of the data folder, and in the
/// terminal when the service is started next.
#[utoipa::path(
    delete, path = "/api/devices", tag = "access",
    responses(
        (status = 200, description = "Forgotten", body = PairingView,
            headers(("Set-Cookie" = String, description = "What the browser is known by now"))),
        (status = 409, description = "Only this machine reaches the service: nothing is paired",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn delete_devices(State(app): State<App>, visitor: Visitor) -> Result<Response, Problem> {
    let access = app.access.clone();
    let made = tokio::task::spawn_blocking(move || access.forget_devices()).await;
    match made {
        Ok(Ok(Some(key))) => {
            tracing::info!("all paired devices were forgotten, and a new key was made");
            Ok(known_by(Some(&key), visitor, Allowed::All))
        }
        Ok(Ok(None)) => {
            let detail = "Only this machine reaches the service, so no device is paired.";
            Err(Problem::new(StatusCode::CONFLICT, "nothing_paired", detail))
        }
        Ok(Err(error)) => Err(Problem::ours(&error)),
        Err(error) => Err(Problem::ours(&error)),
    }
}
