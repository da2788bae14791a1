//! The published JSON Schemas of events, `events.schema.json`, generated from the types: one
//! definition for each kind of event, and one for each type that stands in them.
//!
//! The file is what other programs rely on, so it stands in the repository; a test fails when file
//! and types differ. Draft 2020-12.

use serde_json::{Map, Value, json};
use std::collections::BTreeSet;

/// The schemas as published, all in one.
pub const EVENT_SCHEMAS: &str = include_str!("events.schema.json");

/// All definitions of the file.
fn definitions() -> Map<String, Value> {
    let whole: Value = serde_json::from_str(EVENT_SCHEMAS).unwrap_or_default();
    let definitions = whole.get("$defs").and_then(Value::as_object);
    definitions.cloned().unwrap_or_default()
}

/// Kinds are written small, types that stand in them are not.
fn is_kind(name: &str) -> bool {
    name.starts_with(|letter: char| letter.is_ascii_lowercase())
}

/// The kinds of event.
pub(super) fn kinds() -> Vec<String> {
    definitions().into_iter().map(|(name, _)| name).filter(|name| is_kind(name)).collect()
}

/// The types that stand in events, each by its name.
pub(super) fn types() -> impl Iterator<Item = (String, Value)> {
    definitions().into_iter().filter(|(name, _)| !is_kind(name))
}

/// The schema of one kind of event, with all that it needs; none where there is no such kind.
pub(super) fn of_kind(kind: &str) -> Option<Value> {
    if !kinds().iter().any(|known| known == kind) {
        return None;
    }
    let all = definitions();
    let mut needed = BTreeSet::new();
    need(kind, &all, &mut needed);
    let needed: Map<String, Value> =
        all.into_iter().filter(|(name, _)| needed.contains(name)).collect();
    Some(json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": format!("Stillcloth event {kind}"),
        "$ref": format!("#/$defs/{kind}"),
        "$defs": needed,
    }))
}

/// Notes a definition and all that it points at.
fn need(name: &str, all: &Map<String, Value>, needed: &mut BTreeSet<String>) {
    if let Some(definition) = all.get(name)
        && needed.insert(name.into())
    {
        let mut found = Vec::new();
        references(definition, &mut found);
        for name in found {
            need(&name, all, needed);
        }
    }
}

fn references(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                match member {
                    Value::String(text) if name == "$ref" => {
                        found.extend(text.strip_prefix("#/$defs/").map(String::from));
                    }
                    other => references(other, found),
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| references(item, found)),
        _ => {}
    }
}

#[cfg(test)]
mod tests;
