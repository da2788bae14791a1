//! The schemas against the types they were made from, and events against the schemas.

use super::{EVENT_SCHEMAS, kinds, of_kind};
use crate::{
    score::{Attempt, ScoreEvent},
    service::announcement::{GAP_KIND, GapData, HEALTH_KIND, HealthData, RestData},
};
use schemars::{JsonSchema, SchemaGenerator, generate::SchemaSettings};
use serde_json::{Map, Value, json};

const REGENERATE: &str = "STILLCLOTH_REGENERATE=1 cargo test --lib service::schemas";

/// The whole of an event's document, around the schema of its data.
fn whole(kind: &str, data: &Value) -> Value {
    json!({
        "type": "object",
        "description": data.get("description"),
        "properties": {
            "id": {
                "description": "Grows by one with each event, over all cameras.",
                "type": "integer", "format": "int64", "minimum": 1,
            },
            "type": {"const": kind},
            "timestamp": {
                "description": "When it happened, UTC.", "type": "string", "format": "date-time",
            },
            "camera": {"description": "The camera's name.", "type": "string"},
            "data": data,
        },
        "required": ["id", "type", "timestamp", "camera", "data"],
    })
}

/// The schema of a type's own, not a reference to it.
fn own<T: JsonSchema>(generator: &mut SchemaGenerator) -> Value {
    serde_json::to_value(T::json_schema(generator)).unwrap()
}

/// One event's data in the score's own form, without the kind, which stands outside.
fn kind_and_data(mut variant: Value) -> (String, Value) {
    let members = variant.as_object_mut().unwrap();
    let kind = members["properties"].as_object_mut().unwrap().remove("event").unwrap();
    let required = members["required"].as_array_mut().unwrap();
    required.retain(|name| name != "event");
    (kind["const"].as_str().unwrap().to_string(), variant)
}

fn generated() -> String {
    let mut generator = SchemaSettings::draft2020_12().into_generator();
    let mut events = Map::new();
    let score = own::<ScoreEvent>(&mut generator);
    for variant in score["oneOf"].as_array().unwrap() {
        let (kind, data) = kind_and_data(variant.clone());
        events.insert(kind.clone(), whole(&kind, &data));
    }
    // A rest is passed on with its layout.
    events.insert("rest".into(), whole("rest", &own::<RestData>(&mut generator)));
    let health = own::<HealthData>(&mut generator);
    events.insert(HEALTH_KIND.into(), whole(HEALTH_KIND, &health));
    events.insert(GAP_KIND.into(), own::<GapData>(&mut generator));
    // Attempts are no event, and stand here for those who ask for them.
    generator.subschema_for::<Attempt>();
    let mut definitions = generator.take_definitions(true);
    let kinds: Vec<Value> =
        events.keys().map(|kind| json!({"$ref": format!("#/$defs/{kind}")})).collect();
    definitions.extend(events);
    let file = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Stillcloth events",
        "oneOf": kinds,
        "$defs": definitions,
    });
    serde_json::to_string_pretty(&file).unwrap() + "\n"
}

#[test]
fn the_file_says_what_the_types_say() {
    if std::env::var_os("STILLCLOTH_REGENERATE").is_some() {
        let file = concat!(env!("CARGO_MANIFEST_DIR"), "/src/service/events.schema.json");
        std::fs::write(file, generated()).unwrap();
        return;
    }
    assert!(
        EVENT_SCHEMAS == generated(),
        "src/service/events.schema.json differs from the types. If the change is meant, run\n    {REGENERATE}\nand tell the readers of events what changed."
    );
}

#[test]
fn each_kind_has_a_schema_that_stands_alone() {
    let kinds = kinds();
    for kind in ["rest", "attempt_over", "question", HEALTH_KIND, GAP_KIND] {
        assert!(kinds.iter().any(|known| known == kind), "{kind} is not among {kinds:?}");
    }
    for kind in kinds {
        let schema = of_kind(&kind).unwrap();
        let mut found = Vec::new();
        super::references(&schema, &mut found);
        for name in found {
            assert!(schema["$defs"].get(&name).is_some(), "{kind} needs {name}");
        }
    }
    assert_eq!(of_kind("Layout"), None, "a type, no event");
    assert_eq!(of_kind("no_such"), None);
}
