//! What is sent as JSON: read in one way for every part of the API.

use super::Problem;
use axum::{
    Json,
    extract::{FromRequest, Request, rejection::JsonRejection},
    http::StatusCode,
};
use serde::de::DeserializeOwned;
use serde_json::Value;

/// A body that is JSON.
#[derive(Debug)]
pub struct Sent(Value);

/// From here on not every whole number is one of `f64`.
const WHOLE_BELOW: f64 = 9_007_199_254_740_992.0;

impl<S: Send + Sync> FromRequest<S> for Sent {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        let Json(mut value) = Json::from_request(request, state).await.map_err(no_json)?;
        make_whole(&mut value);
        Ok(Self(value))
    }
}

impl Sent {
    /// The body as what it should be.
    ///
    /// # Errors
    /// A 422 of this kind, which says in words why the body is no such thing.
    pub(super) fn into_a<T: DeserializeOwned>(
        self,
        what: &str,
        kind: &'static str,
    ) -> Result<T, Problem> {
        let unfit = |why: String| {
            let detail = format!("This is no {what}: {why}. /api/openapi.json says what is.");
            Problem::new(StatusCode::UNPROCESSABLE_ENTITY, kind, detail)
        };
        // Serde would take a list of the members' values as well.
        if !self.0.is_object() {
            return Err(unfit("it is no object".into()));
        }
        serde_json::from_value(self.0).map_err(|error| unfit(error.to_string()))
    }

    pub(super) fn into_json(self) -> Value {
        self.0
    }
}

/// JSON has one kind of number, so 1.0 is as good as 1.
fn make_whole(value: &mut Value) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let is_whole = |number: &f64| number.fract() == 0.0 && number.abs() < WHOLE_BELOW;
            if let Some(whole) = number.as_f64().filter(is_whole) {
                *value = Value::from(whole as i64);
            }
        }
        Value::Object(members) => members.values_mut().for_each(make_whole),
        Value::Array(items) => items.iter_mut().for_each(make_whole),
        _ => {}
    }
}

fn no_json(rejection: JsonRejection) -> Problem {
    let kind = match rejection.status() {
        StatusCode::UNSUPPORTED_MEDIA_TYPE => "media_type",
        StatusCode::PAYLOAD_TOO_LARGE => "too_many_bytes",
        _ => "no_json",
    };
    let why = rejection.body_text();
    Problem::new(rejection.status(), kind, format!("{}.", why.trim_end_matches('.')))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn whole_numbers_are_whole_however_they_are_written() {
        let mut sent = json!({ "a": 1.0, "b": [2.5, -3.0, 4], "c": { "d": 1e300 }, "e": "1.0" });
        make_whole(&mut sent);
        assert_eq!(sent, json!({ "a": 1, "b": [2.5, -3, 4], "c": { "d": 1e300 }, "e": "1.0" }));
    }
}
