//! Errors as clients see them: `application/problem+json` (RFC 9457).
//!
//! What is the client's doing is explained in plain words. What is ours goes to the log with an
//! id, and the client gets the id alone.

use super::{CameraNameError, FrameError, ReaderError, setting_up::SettingUpError};
use crate::{camera::picture::PictureError, layout::diagram::DiagramError, record::RecordError};
use axum::{
    Json,
    extract::rejection::{PathRejection, QueryRejection},
    http::{HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::Serialize;
use std::sync::atomic::{AtomicU32, Ordering};
use utoipa::ToSchema;

/// Seconds after which a client that was put off should come back.
const RETRY_AFTER_S: u64 = 2;

/// An error's body.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Problem {
    /// The HTTP status once more.
    #[schema(value_type = u16)]
    #[serde(serialize_with = "status_number")]
    pub status: StatusCode,
    /// The kind of problem, for programs.
    pub kind: &'static str,
    /// The status in a word.
    pub title: &'static str,
    /// What happened and what to do about it.
    pub detail: String,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn status_number<S: serde::Serializer>(status: &StatusCode, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_u16(status.as_u16())
}

impl Problem {
    /// A problem of the client's.
    pub(super) fn new(status: StatusCode, kind: &'static str, detail: impl Into<String>) -> Self {
        let title = status.canonical_reason().unwrap_or("Error");
        Self { status, kind, title, detail: detail.into() }
    }

    /// A problem of our own: its text goes to the log.
    pub(super) fn ours(error: &dyn std::error::Error) -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(1);
        let started_s = jiff::Timestamp::now().as_second();
        let id = format!("{started_s:x}-{}", COUNT.fetch_add(1, Ordering::Relaxed));
        tracing::error!(id, "{error}");
        Self::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "internal",
            format!("Something failed inside the program. Its log has the cause under {id}."),
        )
    }

    pub(super) fn not_found(what: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, "not_found", what)
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let (status, put_off) = (self.status, self.status == StatusCode::SERVICE_UNAVAILABLE);
        let mut response = (status, Json(&self)).into_response();
        // For who makes a page of it.
        response.extensions_mut().insert(self);
        let headers = response.headers_mut();
        let media_type = HeaderValue::from_static("application/problem+json");
        headers.insert(header::CONTENT_TYPE, media_type);
        if put_off {
            headers.insert(header::RETRY_AFTER, RETRY_AFTER_S.into());
        }
        response
    }
}

impl From<FrameError> for Problem {
    fn from(error: FrameError) -> Self {
        let (status, kind) = match &error {
            FrameError::Picture(picture) => return Self::from_picture(picture),
            FrameError::Reader(reader) => match reader {
                ReaderError::NoTable(_) => (StatusCode::UNPROCESSABLE_ENTITY, "no_table"),
                ReaderError::Unreadable(_) => (StatusCode::UNPROCESSABLE_ENTITY, "unreadable"),
                ReaderError::Calibration(_) => return Self::ours(&error),
                ReaderError::Given { .. } => (StatusCode::CONFLICT, "calibration_is_given"),
                ReaderError::OtherTable { .. } => (StatusCode::CONFLICT, "size_is_given"),
            },
            FrameError::Record(_) | FrameError::Panicked => return Self::ours(&error),
            FrameError::Busy { .. } => (StatusCode::SERVICE_UNAVAILABLE, "busy"),
            FrameError::TooManyCameras { .. } => {
                (StatusCode::SERVICE_UNAVAILABLE, "too_many_cameras")
            }
            FrameError::NotYours { .. } => (StatusCode::CONFLICT, "camera_is_taken"),
            FrameError::Fed { .. } => (StatusCode::CONFLICT, "camera_is_fed"),
            FrameError::Stopping => (StatusCode::SERVICE_UNAVAILABLE, "stopping"),
        };
        Self::new(status, kind, error.to_string())
    }
}

impl Problem {
    fn from_picture(error: &PictureError) -> Self {
        let (status, kind) = match error {
            PictureError::UnknownFormat { .. } => {
                (StatusCode::UNSUPPORTED_MEDIA_TYPE, "unknown_format")
            }
            PictureError::Empty => (StatusCode::UNPROCESSABLE_ENTITY, "empty"),
            PictureError::Truncated { .. } => (StatusCode::UNPROCESSABLE_ENTITY, "truncated"),
            PictureError::TooLarge { .. } => (StatusCode::UNPROCESSABLE_ENTITY, "too_large"),
            PictureError::Corrupt { .. } => (StatusCode::UNPROCESSABLE_ENTITY, "damaged"),
            PictureError::Unsupported { .. } => (StatusCode::UNPROCESSABLE_ENTITY, "unsupported"),
        };
        Self::new(status, kind, error.to_string())
    }
}

impl From<SettingUpError> for Problem {
    fn from(error: SettingUpError) -> Self {
        let kind = match error {
            SettingUpError::Frame(error) => return error.into(),
            SettingUpError::NoCamera { .. } => "no_camera",
            SettingUpError::NoPicture { .. } => "no_picture",
            SettingUpError::NoTrial { .. } => "no_trial",
        };
        Self::new(StatusCode::NOT_FOUND, kind, error.to_string())
    }
}

impl From<RecordError> for Problem {
    fn from(error: RecordError) -> Self {
        match error {
            RecordError::NoSuchRest { .. }
            | RecordError::NoSuchContest { .. }
            | RecordError::NoSuchEntry { .. } => Self::not_found(format!("{error}.")),
            RecordError::SaidMeanwhile { .. } => {
                Self::new(StatusCode::CONFLICT, "said_meanwhile", format!("{error}."))
            }
            RecordError::NotedMeanwhile => {
                Self::new(StatusCode::CONFLICT, "noted_meanwhile", format!("{error}."))
            }
            _ => Self::ours(&error),
        }
    }
}

impl From<DiagramError> for Problem {
    fn from(error: DiagramError) -> Self {
        Self::ours(&error)
    }
}

impl From<CameraNameError> for Problem {
    fn from(error: CameraNameError) -> Self {
        Self::new(StatusCode::BAD_REQUEST, "camera_name", error.to_string())
    }
}

impl From<QueryRejection> for Problem {
    fn from(rejection: QueryRejection) -> Self {
        Self::new(StatusCode::BAD_REQUEST, "query", rejection.body_text())
    }
}

impl From<PathRejection> for Problem {
    fn from(_: PathRejection) -> Self {
        Self::not_found("There is no such layout: ids are whole numbers.")
    }
}
