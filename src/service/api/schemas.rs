//! The published JSON Schemas: of a layout, of an advice, of a line of a contest's entry, and of each
//! kind of event.

use crate::{
    advice::ADVICE_SCHEMA,
    contest::ENTRY_SCHEMA,
    layout::LAYOUT_SCHEMA,
    service::{Problem, schemas},
};
use axum::{
    Json,
    extract::{Path, rejection::PathRejection},
    http::{HeaderValue, header},
    response::{IntoResponse, Response},
};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;

/// The media type of JSON Schema.
const MEDIA_TYPE: HeaderValue = HeaderValue::from_static("application/schema+json");

/// The names of the schemas that are no events'.
const LAYOUT: &str = "layout";
const ADVICE: &str = "advice";
const ENTRY: &str = "entry";

/// The schemas that there are.
#[derive(Debug, Serialize, ToSchema)]
pub struct SchemaList {
    /// Each is found at `/api/schemas/` and its name.
    schemas: Vec<String>,
}

/// The names of all schemas.
#[utoipa::path(
    get, path = "/api/schemas", tag = "schemas",
    responses((status = 200, description = "Their names", body = SchemaList))
)]
pub async fn get_schemas() -> Json<SchemaList> {
    let mut names = [LAYOUT, ADVICE, ENTRY].map(String::from).to_vec();
    names.extend(schemas::kinds());
    Json(SchemaList { schemas: names })
}

/// One schema (JSON Schema, draft 2020-12).
#[utoipa::path(
    get, path = "/api/schemas/{name}", tag = "schemas",
    params(("name" = String, Path, description = "`layout`, `advice`, `entry`, or a kind of event")),
    responses(
        (status = 200, description = "The schema", body = Object,
            content_type = "application/schema+json"),
        (status = 404, description = "There is none of this name", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_schema(name: Result<Path<String>, PathRejection>) -> Result<Response, Problem> {
    let no_such =
        || Problem::not_found("There is no such schema. /api/schemas lists all there are.");
    let name = name.map_err(|_| no_such())?.0;
    let schema = match name.as_str() {
        LAYOUT => serde_json::from_str::<Value>(LAYOUT_SCHEMA).ok(),
        ADVICE => serde_json::from_str::<Value>(ADVICE_SCHEMA).ok(),
        ENTRY => serde_json::from_str::<Value>(ENTRY_SCHEMA).ok(),
        kind => schemas::of_kind(kind),
    };
    let schema = schema.ok_or_else(no_such)?;
    Ok(([(header::CONTENT_TYPE, MEDIA_TYPE)], schema.to_string()).into_response())
}
