//! The schemas against the types they were made from, and events against the schemas.

use super::{EVENT_SCHEMAS, kinds, of_kind};
use crate::{
    camera::picture::PictureFormat,
    layout::{Ball, BallKind, Layout, faults, is_published},
    record::{Event, PRACTICE_KIND, PracticeData, Rest},
    score::{
        Answer, Attempt, Cause, CueBallGoes, LastBallGoes, Placing, Question, ScoreEvent, Step,
        Whence,
    },
    service::{
        Health,
        announcement::{GAP_KIND, GapData, HEALTH_KIND, HealthData, RestData, document},
    },
    table::{FootEnd, TableSize},
};
use jiff::Timestamp;
use schemars::{JsonSchema, SchemaGenerator, generate::SchemaSettings};
use serde_json::{Map, Value, json};

/// The whole of an event's document, around the schema of its data.
fn whole(kind: &str, data: &Value) -> Value {
    json!({
        "type": "object",
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
    let practice = own::<PracticeData>(&mut generator);
    events.insert(PRACTICE_KIND.into(), whole(PRACTICE_KIND, &practice));
    events.insert(GAP_KIND.into(), own::<GapData>(&mut generator));
    // These stand in no event by name, and here for those who ask for them.
    generator.subschema_for::<Attempt>();
    generator.subschema_for::<Question>();
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
    is_published("src/service/events.schema.json", EVENT_SCHEMAS, &generated(), "service::schemas");
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

fn rest() -> Rest {
    let ball = |kind, number, x| Ball {
        kind,
        number,
        x,
        y: 2.5,
        sigma_mm: 0.4,
        confidence: 0.99,
        number_confidence: 0.8,
    };
    Rest {
        id: 7,
        at: Timestamp::UNIX_EPOCH,
        unseen_ms: 0,
        camera: "table".into(),
        layout: Layout::of(
            TableSize::NINE_FOOT,
            FootEnd::Given,
            vec![
                ball(BallKind::Cue, Some(0), 1.0),
                ball(BallKind::Object, Some(9), 3.0),
                ball(BallKind::Object, None, 5.0),
            ],
        ),
        picture_sha256: "00".repeat(32),
        format: PictureFormat::Jpeg,
    }
}

/// One of each event that the score tells, and some more than once, with and without what may be
/// left out.
fn score_events() -> Vec<ScoreEvent> {
    let several = Step::Several { shots: 2, potted: 3, re_racks: 1, ended: Some(Cause::Unseen) };
    let came_back = Step::CameBack { balls: 1, whence: Whence::Pocketed };
    let placing = Placing { last_ball: LastBallGoes::HeadSpot, cue_ball: CueBallGoes::InHand };
    let answers = [came_back, Step::AttemptOn { run: 9, ended: None }, several.clone()];
    let question = Question {
        rest: 7,
        attempt: None,
        text: "Was a ball put back?".into(),
        answers: answers.map(|step| Answer { text: "Yes".into(), step }).into(),
    };
    let rest = |attempt, run, step| ScoreEvent::Rest { rest: 7, at_unix_ms: 0, attempt, run, step };
    vec![
        rest(Some(1), Some(2), Step::Shot { potted: 2 }),
        rest(None, None, several),
        ScoreEvent::AttemptBegan { rest: 7, attempt: 1, start_seen: true },
        ScoreEvent::Shot { rest: 7, attempt: 1, potted: 2, run: 2, numbers: vec![3, 9] },
        ScoreEvent::ReRack { rest: 7, attempt: 1, rack: 2, closing_rest: None },
        ScoreEvent::Placing { rest: 7, attempt: 1, placing, words: placing.words() },
        ScoreEvent::AttemptOver { rest: 7, attempt: 1, run: 2, cause: Cause::Miss },
        ScoreEvent::Question { question },
        ScoreEvent::Settled { rest: 7 },
        ScoreEvent::Rescored { rest: 7, attempt: 1, run: 2, over: Some(Cause::Scratch) },
        ScoreEvent::Rescored { rest: 7, attempt: 1, run: 2, over: None },
        ScoreEvent::Withdrawn { attempt: 1 },
    ]
}

fn event(kind: &str, body: Value) -> Event {
    Event {
        id: 3,
        at: Timestamp::UNIX_EPOCH,
        camera: "table".into(),
        kind: kind.into(),
        rest: (kind == "rest").then(rest),
        body,
    }
}

/// What is wrong with a document by the published schema of its kind.
fn wrong(kind: &str, document: &Value) -> Vec<String> {
    let schema = of_kind(kind).unwrap_or_else(|| panic!("{kind} has no schema"));
    faults(&schema, &schema, document, "")
}

#[test]
fn every_event_is_passed_on_in_the_form_of_its_schema() {
    let mut events: Vec<Event> = score_events()
        .iter()
        .map(|told| {
            let body = serde_json::to_value(told).unwrap();
            event(body["event"].as_str().unwrap(), body.clone())
        })
        .collect();
    // Rests from before the score was kept have no body.
    events.push(event("rest", json!({})));
    let words = "No frame for 6 s.".into();
    let health = HealthData { source: "webcam".into(), health: Health::Lost, words };
    events.push(event(HEALTH_KIND, serde_json::to_value(health).unwrap()));
    let practice = PracticeData { on: true, after: 12 };
    events.push(event(PRACTICE_KIND, serde_json::to_value(practice).unwrap()));
    for event in &events {
        let document: Value = serde_json::from_slice(&document(event).unwrap()).unwrap();
        assert_eq!(wrong(&event.kind, &document), Vec::<String>::new(), "{document}");
        for missing in ["id", "type", "timestamp", "camera", "data"] {
            let mut less = document.clone();
            less.as_object_mut().unwrap().remove(missing);
            assert!(!wrong(&event.kind, &less).is_empty(), "{} without {missing}", event.kind);
        }
        assert!(document["data"].get("event").is_none(), "the kind is told once");
    }
    let gap = GapData { after: 3, next: 7, why: "It is gone.".into() };
    assert_eq!(wrong(GAP_KIND, &serde_json::to_value(gap).unwrap()), Vec::<String>::new());
    for kind in kinds() {
        let tried = kind == GAP_KIND || events.iter().any(|event| event.kind == kind);
        assert!(tried, "no event of kind {kind} was tried");
    }
}

#[test]
fn a_damaged_event_is_not_passed_on() {
    assert!(document(&event("shot", Value::Null)).is_err());
    assert!(document(&event("rest", json!({"attempt": "x"}))).is_err());
    assert!(document(&Event { rest: None, ..event("rest", json!({})) }).is_err());
}
