//! The pages that people look at, drawn by the server and kept fresh by one small script.

mod html;

use super::App;
use axum::{
    Router,
    http::{HeaderValue, header},
    response::IntoResponse,
    routing::get,
};

/// Files inside the program change with the program alone.
const CACHE: HeaderValue = HeaderValue::from_static("private, max-age=300");

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/", get(html::live))
        .route("/layouts/{id}", get(html::one))
        .route("/stillcloth.css", get(|| file("text/css; charset=utf-8", include_str!("page.css"))))
        .route("/live.js", get(|| file("text/javascript; charset=utf-8", include_str!("live.js"))))
        .route("/mark.svg", get(|| file("image/svg+xml", include_str!("mark.svg"))))
}

async fn file(media_type: &'static str, text: &'static str) -> impl IntoResponse {
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static(media_type)),
        (header::CACHE_CONTROL, CACHE),
    ];
    (headers, text)
}
