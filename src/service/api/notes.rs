//! The user's notes on rests and attempts.

use super::score::{ScoreParams, seen_camera};
use crate::{
    record::{NewNote, NoteAbout, UserNote},
    service::{App, Problem, Sent, status::now},
};
use axum::{
    Json,
    extract::{Query, State, rejection::QueryRejection},
    http::StatusCode,
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The longest note, in characters: some two pages.
pub(in crate::service) const MAX_CHARACTERS: usize = 4000;

/// What is to be noted.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NoteBody {
    #[schema(minimum = 1)]
    rest: i64,
    /// `rest`, or `attempt` for the attempt that the rest belongs to.
    #[schema(value_type = String, pattern = "^(rest|attempt)$")]
    about: NoteAbout,
    /// Plain text; what was noted before is taken back by an empty one.
    #[schema(max_length = 4000, pattern = r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]*$")]
    text: String,
    /// The note that the sender saw there, empty where there was none. Where another stands there
    /// by now, nothing is kept; where this is left out, whatever stands there is taken back.
    #[schema(max_length = 4000)]
    instead_of: Option<String>,
}

/// A note that was kept.
#[derive(Debug, Serialize, ToSchema)]
pub struct NoteView {
    /// Grows by one with each note, over all cameras.
    id: i64,
    /// When it was written, UTC.
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    rest: i64,
    /// `rest`, or `attempt` for the attempt that the rest belongs to.
    #[schema(value_type = String)]
    about: NoteAbout,
    text: String,
}

impl From<UserNote> for NoteView {
    fn from(note: UserNote) -> Self {
        let UserNote { id, at, rest, about, text, .. } = note;
        Self { id, at, rest, about, text }
    }
}

/// The notes that stand.
#[derive(Debug, Serialize, ToSchema)]
pub struct NoteList {
    camera: String,
    /// In the order in which they were written; of each thing the last.
    notes: Vec<NoteView>,
}

/// Note something about a rest or an attempt.
#[utoipa::path(
    post, path = "/api/notes", tag = "score", request_body = NoteBody,
    responses(
        (status = 201, description = "Kept", body = NoteView),
        (status = 400, description = "The body is no JSON", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is no such rest", body = Problem,
            content_type = "application/problem+json"),
        (status = 409, description = "Another note was written meanwhile", body = Problem,
            content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and no note", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_note(
    State(app): State<App>,
    sent: Sent,
) -> Result<(StatusCode, Json<NoteView>), Problem> {
    let no_note =
        |detail: String| Problem::new(StatusCode::UNPROCESSABLE_ENTITY, "no_note", detail);
    let NoteBody { rest, about, text, instead_of } = sent.into_a("note", "no_note")?;
    let text = text.trim_end().to_string();
    let longest = [Some(&text), instead_of.as_ref()].into_iter().flatten();
    let characters = longest.map(|text| text.chars().count()).max().unwrap_or(0);
    if characters > MAX_CHARACTERS {
        return Err(no_note(format!(
            "The note has {characters} characters; at most {MAX_CHARACTERS} are kept. Shorten it."
        )));
    }
    if text.contains(|c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t')) {
        return Err(no_note(
            "The note has control characters in it. Write it as plain text.".into(),
        ));
    }
    let kept = app.record.write_note(NewNote { rest, about, text, instead_of }, now()).await?;
    Ok((StatusCode::CREATED, Json(kept.into())))
}

/// The notes on a table's rests and attempts.
#[utoipa::path(
    get, path = "/api/notes", tag = "score", params(ScoreParams),
    responses(
        (status = 200, description = "The notes that stand", body = NoteList),
        (status = 400, description = "No camera's name", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "No rest of this camera's was seen yet", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_notes(
    State(app): State<App>,
    params: Result<Query<ScoreParams>, QueryRejection>,
) -> Result<Json<NoteList>, Problem> {
    let camera = seen_camera(&app, params?.0.camera).await?;
    let notes = app.record.notes(camera.clone()).await?;
    Ok(Json(NoteList { camera, notes: notes.into_iter().map(NoteView::from).collect() }))
}
