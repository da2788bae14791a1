//! The schema against the types it was made from, and documents against the schema.

use super::LAYOUT_SCHEMA;
use crate::layout::{Ball, BallKind, Layout};
use crate::table::{FootEnd, TableSize};
use serde_json::{Value, json};

fn generated() -> String {
    let mut schema = serde_json::to_value(schemars::schema_for!(Layout)).unwrap();
    schema["title"] = json!("Stillcloth layout");
    serde_json::to_string_pretty(&schema).unwrap() + "\n"
}

/// Holds that a published schema's file, by its path in the repo, is what the types say; writes it
/// anew instead where that is asked for. `tests` runs the test that calls this.
pub(crate) fn is_published(file: &str, published: &str, generated: &str, tests: &str) {
    if std::env::var_os("STILLCLOTH_REGENERATE").is_some() {
        std::fs::write(format!("{}/{file}", env!("CARGO_MANIFEST_DIR")), generated).unwrap();
        return;
    }
    assert!(
        published == generated,
        "{file} differs from the types. If the change is meant, run\n    \
         STILLCLOTH_REGENERATE=1 cargo test --lib {tests}\nand tell its readers what changed."
    );
}

#[test]
fn the_file_says_what_the_types_say() {
    let file = "src/layout/layout.schema.json";
    is_published(file, LAYOUT_SCHEMA, &generated(), "layout::schema");
}

/// Checks a value against a schema, for the keywords that the published ones use; any other keyword
/// is a fault of this check.
pub(crate) fn faults(root: &Value, schema: &Value, value: &Value, at: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (keyword, wanted) in schema.as_object().unwrap() {
        let fault = |yes: bool| (!yes).then(|| format!("{at}: {value} fails {keyword} {wanted}"));
        let number = |v: &Value| v.as_f64().unwrap_or(f64::NAN);
        match keyword.as_str() {
            "$schema" | "title" | "description" | "default" | "format" | "$defs" => {}
            "$ref" => {
                let name = wanted.as_str().unwrap().strip_prefix('#').unwrap();
                found.extend(faults(root, root.pointer(name).unwrap(), value, at));
            }
            "type" => {
                let named = |name: &Value| match name.as_str().unwrap() {
                    "object" => value.is_object(),
                    "array" => value.is_array(),
                    "number" => value.is_number(),
                    "integer" => value.is_u64() || value.is_i64(),
                    "boolean" => value.is_boolean(),
                    "string" => value.is_string(),
                    "null" => value.is_null(),
                    other => panic!("this check does not know the type {other}"),
                };
                let fits = wanted.as_array().map_or_else(|| named(wanted), |a| a.iter().any(named));
                found.extend(fault(fits));
            }
            "properties" => {
                for (name, inner) in wanted.as_object().unwrap() {
                    if let Some(inside) = value.get(name) {
                        found.extend(faults(root, inner, inside, &format!("{at}/{name}")));
                    }
                }
            }
            "required" => {
                let names = wanted.as_array().unwrap();
                found.extend(fault(names.iter().all(|n| value.get(n.as_str().unwrap()).is_some())));
            }
            "items" => {
                for (i, inside) in value.as_array().into_iter().flatten().enumerate() {
                    found.extend(faults(root, wanted, inside, &format!("{at}/{i}")));
                }
            }
            "minItems" | "maxItems" => {
                let count = value.as_array().map(|items| items.len() as u64);
                let bound = wanted.as_u64().unwrap();
                let fits = count
                    .is_none_or(|n| if keyword == "minItems" { n >= bound } else { n <= bound });
                found.extend(fault(fits));
            }
            "additionalProperties" => {
                assert_eq!(wanted, &json!(false), "this check knows no other");
                let known = schema.get("properties").and_then(Value::as_object);
                let known = |name: &String| known.is_some_and(|known| known.contains_key(name));
                found.extend(fault(
                    value.as_object().is_none_or(|members| members.keys().all(known)),
                ));
            }
            "oneOf" => {
                let fits = |one: &&Value| faults(root, one, value, at).is_empty();
                found.extend(fault(wanted.as_array().unwrap().iter().filter(fits).count() == 1));
            }
            "anyOf" => {
                let fits = |one: &Value| faults(root, one, value, at).is_empty();
                found.extend(fault(wanted.as_array().unwrap().iter().any(fits)));
            }
            "const" => found.extend(fault(value == wanted)),
            "enum" => found.extend(fault(wanted.as_array().unwrap().contains(value))),
            // They hold for numbers only: null passes.
            "minimum" => found.extend(fault(!value.is_number() || number(value) >= number(wanted))),
            "maximum" => found.extend(fault(!value.is_number() || number(value) <= number(wanted))),
            // These for texts only.
            "minLength" | "maxLength" => {
                let (letters, bound) = (
                    value.as_str().map(|text| text.chars().count() as u64),
                    wanted.as_u64().unwrap(),
                );
                let fits = letters
                    .is_none_or(|n| if keyword == "minLength" { n >= bound } else { n <= bound });
                found.extend(fault(fits));
            }
            "pattern" => {
                let fits =
                    value.as_str().is_none_or(|text| matches(wanted.as_str().unwrap(), text));
                found.extend(fault(fits));
            }
            other => panic!("this check does not know the keyword {other}"),
        }
    }
    found
}

/// Whether a text is of the form of a pattern, of those that stand in the published schemas.
fn matches(pattern: &str, text: &str) -> bool {
    let inner = pattern.strip_prefix('^').and_then(|p| p.strip_suffix('$')).unwrap();
    if let Some(count) = inner.strip_prefix("[0-9a-f]{").and_then(|p| p.strip_suffix('}')) {
        let digit = |c: char| c.is_ascii_digit() || ('a'..='f').contains(&c);
        return text.len() == count.parse::<usize>().unwrap() && text.chars().all(digit);
    }
    let (before, choice) = inner.split_once('(').unwrap_or_else(|| panic!("a new form: {pattern}"));
    let choices = choice.strip_suffix(')').unwrap();
    text.strip_prefix(before).is_some_and(|rest| choices.split('|').any(|choice| choice == rest))
}

fn check(value: &Value) -> Vec<String> {
    let schema: Value = serde_json::from_str(LAYOUT_SCHEMA).unwrap();
    faults(&schema, &schema, value, "")
}

fn sample() -> Value {
    let ball = |kind, number| Ball {
        kind,
        number,
        x: 5.25,
        y: 0.09,
        sigma_mm: 0.4,
        confidence: 0.99,
        number_confidence: 0.8,
    };
    let layout = Layout {
        table: TableSize::SEVEN_FOOT,
        foot: FootEnd::Open,
        obstructed: true,
        rolled: None,
        lost_rolling_ms: None,
        balls: vec![
            ball(BallKind::Cue, Some(0)),
            ball(BallKind::Object, Some(15)),
            ball(BallKind::Object, None),
        ],
    };
    serde_json::to_value(layout).unwrap()
}

#[test]
fn what_is_written_fits_the_schema() {
    assert_eq!(check(&sample()), Vec::<String>::new());
    let back: Layout = serde_json::from_value(sample()).unwrap();
    assert_eq!(serde_json::to_value(back).unwrap(), sample());
}

#[test]
fn what_may_be_left_out_fits_too() {
    let mut least = sample();
    least["table"].as_object_mut().unwrap().remove("ball_diameter_mm");
    for ball in least["balls"].as_array_mut().unwrap() {
        ball.as_object_mut().unwrap().remove("number_confidence");
    }
    assert_eq!(check(&least), Vec::<String>::new());
    let read: Layout = serde_json::from_value(least).unwrap();
    assert_eq!(read.table, TableSize::SEVEN_FOOT);
}

#[test]
fn what_is_no_layout_fails_the_schema() {
    let broken: [(&str, Value); 8] = [
        ("/balls", json!({})),
        ("/balls/0/kind", json!("white")),
        ("/balls/1/number", json!(16)),
        ("/balls/1/x", json!("5")),
        ("/balls/1/confidence", json!(1.5)),
        ("/balls/1/sigma_mm", json!(-1.0)),
        ("/table/length_mm", json!(12.0)),
        ("/foot", json!("left")),
    ];
    for (place, value) in broken {
        let mut document = sample();
        *document.pointer_mut(place).unwrap() = value;
        assert!(!check(&document).is_empty(), "{place} broken, and the schema lets it pass");
    }
    for missing in ["table", "balls", "foot", "obstructed"] {
        let mut document = sample();
        document.as_object_mut().unwrap().remove(missing);
        assert!(!check(&document).is_empty(), "no {missing}, and the schema lets it pass");
    }
}
