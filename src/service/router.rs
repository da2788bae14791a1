//! All addresses of the service, and the document that describes them.

use super::{App, Problem, access, api, page, schemas};
use crate::{advice::ADVICE_SCHEMA, layout::LAYOUT_SCHEMA};
use axum::{
    Router,
    extract::DefaultBodyLimit,
    http::{HeaderName, HeaderValue, Method, StatusCode, Uri, header},
    middleware::{from_fn, from_fn_with_state, map_response},
    response::{IntoResponse, Response},
    routing::get,
};
use serde_json::Value;
use utoipa::OpenApi;
use utoipa_axum::{router::OpenApiRouter, routes};

/// Pages run nothing but their own script and load nothing from elsewhere.
const PAGE_POLICY: HeaderValue = HeaderValue::from_static(
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; \
     manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
);

/// Whether pages of other sites may show what is here; there is no name for it in the library.
const OTHER_SITES: HeaderName = HeaderName::from_static("cross-origin-resource-policy");

/// What is said of the whole; the addresses come from their handlers.
#[derive(OpenApi)]
#[openapi(info(
    title = "Stillcloth",
    description = "Where every ball lies on a pocket-billiard table, and the score: frames in, \
                   layouts and events out."
))]
struct Description;

fn api_router() -> OpenApiRouter<App> {
    OpenApiRouter::with_openapi(Description::openapi())
        .routes(routes!(api::frames::post_frame))
        .routes(routes!(api::stream::push_frames, api::posted::post_next_frame))
        .routes(routes!(api::layouts::get_list))
        .routes(routes!(api::layouts::get_latest))
        .routes(routes!(api::layouts::get_one))
        .routes(routes!(api::nearest::get_nearest))
        .routes(routes!(api::pictures::get_svg))
        .routes(routes!(api::pictures::get_png))
        .routes(routes!(api::pictures::get_frame))
        .routes(routes!(api::events::get_events))
        .routes(routes!(api::score::get_score))
        .routes(routes!(api::score::get_attempts))
        .routes(routes!(api::score::get_attempt))
        .routes(routes!(api::sheets::get_pdf))
        .routes(routes!(api::sheets::get_png))
        .routes(routes!(api::sheets::get_svg))
        .routes(routes!(api::corrections::post_correction))
        .routes(routes!(api::practice::post_practice))
        .routes(routes!(api::pairing::post_pairing))
        .routes(routes!(api::pairing::delete_devices))
        .routes(routes!(api::setup::post_trial))
        .routes(routes!(api::setup::get_calibration, api::setup::post_calibration))
        .layer(DefaultBodyLimit::max(api::corrections::MAX_BYTES))
        .routes(routes!(api::setup::get_picture))
        .routes(routes!(api::notes::post_note, api::notes::get_notes))
        .routes(routes!(api::again::post_again))
        .routes(routes!(api::skills::get_skills, api::skills::post_skills))
        .routes(routes!(api::contests::get_contests, api::contests::post_contest))
        .routes(routes!(api::contests::get_contest))
        .routes(routes!(api::contests::post_entry))
        .routes(routes!(api::contests::post_by_hand))
        .routes(routes!(api::contests::post_entry_state))
        .routes(routes!(api::contests::get_entry_file))
        .routes(routes!(api::contests::get_standings_csv))
        .routes(routes!(api::contests::get_standings_html))
        .merge(advice_router())
        .routes(routes!(api::readings::post_reading))
        .routes(routes!(api::pictures::post_svg))
        .routes(routes!(api::pictures::post_png))
        .routes(routes!(api::schemas::get_schemas))
        .routes(routes!(api::schemas::get_schema))
        .routes(routes!(api::state::get_cameras))
        .routes(routes!(api::state::get_health))
        .routes(routes!(api::state::get_metrics))
}

/// A layout is larger than a correction.
fn advice_router() -> OpenApiRouter<App> {
    OpenApiRouter::new()
        .routes(routes!(api::advice::post_advice))
        .routes(routes!(api::advice::get_advice))
        .routes(routes!(api::advice::get_advice_svg))
        .routes(routes!(api::hits::post_hit))
        .layer(DefaultBodyLimit::max(api::advice::MAX_BYTES))
}

/// The OpenAPI 3.1 document, with the published schemas of a layout, an advice and the score in it.
pub fn openapi() -> Value {
    let (_, document) = api_router().split_for_parts();
    let mut document = serde_json::to_value(document).unwrap_or_default();
    if let Some(components) =
        document.pointer_mut("/components/schemas").and_then(Value::as_object_mut)
    {
        for (name, text) in [("Layout", LAYOUT_SCHEMA), ("Advice", ADVICE_SCHEMA)] {
            let mut schema: Value = serde_json::from_str(text).unwrap_or_default();
            // Its inner definitions move beside it, where references from outside find them too.
            let inner = schema.as_object_mut().and_then(|schema| schema.remove("$defs"));
            components.insert(name.into(), schema);
            if let Some(Value::Object(inner)) = inner {
                components.extend(inner);
            }
        }
        for (name, schema) in schemas::types() {
            components.entry(name).or_insert(schema);
        }
        for schema in components.values_mut() {
            move_references(schema);
        }
    }
    access::describe(&mut document);
    document
}

/// Points references to `$defs` at the place where the definitions stand now.
fn move_references(value: &mut Value) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                match member {
                    Value::String(text) if name == "$ref" => {
                        *text = text.replace("#/$defs/", "#/components/schemas/");
                    }
                    other => move_references(other),
                }
            }
        }
        Value::Array(items) => items.iter_mut().for_each(move_references),
        _ => {}
    }
}

/// The whole service.
pub fn router(app: App) -> Router {
    let (api, _) = api_router().split_for_parts();
    let document = openapi().to_string();
    let serve_document = move || {
        let document = document.clone();
        async move { ([(header::CONTENT_TYPE, HeaderValue::from_static("application/json"))], document) }
    };
    api.route("/api/openapi.json", get(serve_document))
        .merge(page::routes())
        .fallback(no_such_address)
        .method_not_allowed_fallback(no_such_method)
        .layer(from_fn_with_state(app.clone(), access::guard))
        .layer(from_fn(page::for_people))
        .layer(map_response(with_policy))
        .with_state(app)
}

async fn no_such_address(uri: Uri) -> Problem {
    Problem::not_found(if uri.path().starts_with("/api/") {
        "There is nothing at this address. /api/openapi.json lists all there are."
    } else {
        "There is nothing at this address."
    })
}

async fn no_such_method(method: Method) -> Response {
    Problem::new(
        StatusCode::METHOD_NOT_ALLOWED,
        "method",
        format!("{method} is not possible here. /api/openapi.json lists what is."),
    )
    .into_response()
}

/// Headers that every answer bears.
async fn with_policy(mut response: Response) -> Response {
    let headers = response.headers_mut();
    headers.entry(header::CONTENT_SECURITY_POLICY).or_insert(PAGE_POLICY);
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(OTHER_SITES, HeaderValue::from_static("same-origin"));
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    response
}
