//! The published schema against the types it was made from, and an entry against the schema.

use super::{
    entry::{ENTRY_SCHEMA, Head, Record, Seal},
    *,
};
use crate::{
    camera::picture::PictureFormat,
    layout::{Ball, BallKind, Layout, faults, is_published},
    table::{DiamondPoint, FootEnd, Rack, TablePoint, TableSize},
};
use schemars::{JsonSchema, SchemaGenerator, generate::SchemaSettings};
use serde_json::{Value, json};

/// A line's own schema, with the hash that stands last in it.
fn hashed<T: JsonSchema>(generator: &mut SchemaGenerator) -> Value {
    let mut schema = serde_json::to_value(T::json_schema(generator)).unwrap();
    schema["properties"]["sha256"] = json!({
        "description": "SHA-256, hexadecimal, of: the sha256 of the record before (its 64 digits; \
                        nothing in the head and in record 1), then all bytes of this line before the \
                        comma that stands before this member. It is the line's last member, written \
                        without spaces.",
        "type": "string",
        "pattern": "^[0-9a-f]{64}$",
    });
    schema["required"].as_array_mut().unwrap().push(json!("sha256"));
    schema
}

fn generated() -> String {
    let mut generator = SchemaSettings::draft2020_12().into_generator();
    let head = hashed::<Head>(&mut generator);
    let record = hashed::<Record>(&mut generator);
    let seal = serde_json::to_value(Seal::json_schema(&mut generator)).unwrap();
    let mut definitions = generator.take_definitions(true);
    definitions.extend([
        ("Head".to_string(), head),
        ("Record".to_string(), record),
        ("Seal".to_string(), seal),
    ]);
    let kinds = ["Head", "Record", "Seal"].map(|name| json!({"$ref": format!("#/$defs/{name}")}));
    let file = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Stillcloth entry",
        "description": "One line of an entry (JSON Lines, UTF-8, each line ended by LF): first the \
                        head, then the records, last the seal.",
        "oneOf": kinds,
        "$defs": definitions,
    });
    serde_json::to_string_pretty(&file).unwrap() + "\n"
}

#[test]
fn the_file_says_what_the_types_say() {
    is_published("src/contest/entry.schema.json", ENTRY_SCHEMA, &generated(), "contest::tests");
}

fn layout(objects: &[TablePoint], cue: TablePoint) -> Layout {
    let table = TableSize::NINE_FOOT;
    let ball = |kind, at: TablePoint| {
        let place = DiamondPoint::from_table(at, &table);
        Ball {
            kind,
            number: (kind == BallKind::Cue).then_some(0),
            x: place.x,
            y: place.y,
            sigma_mm: 0.4,
            confidence: 0.99,
            number_confidence: 0.0,
        }
    };
    let mut balls = vec![ball(BallKind::Cue, cue)];
    balls.extend(objects.iter().map(|at| ball(BallKind::Object, *at)));
    Layout::of(table, FootEnd::Given, balls)
}

/// An attempt of no ball: the rack, and the miss at it.
fn attempt() -> Vec<EntryRecord> {
    let racked = *Rack::on(&TableSize::NINE_FOOT).places();
    let mut broken = racked;
    for (at, ball) in broken.iter_mut().enumerate() {
        *ball = TablePoint::new(250.0 + 150.0 * at as f64, 200.0 + 60.0 * (at % 7) as f64);
    }
    let rests = [
        layout(&racked, TablePoint::new(500.0, 500.0)),
        layout(&broken, TablePoint::new(300.0, 1000.0)),
    ];
    let record = |(layout, at): (Layout, i64)| EntryRecord {
        at_unix_ms: 1_772_668_800_000 + 9000 * at,
        unseen_ms: 0,
        layout,
        said: None,
        picture_sha256: crate::digest::sha256(&at.to_be_bytes()),
        picture_format: PictureFormat::Jpeg,
    };
    rests.into_iter().zip(0..).map(record).collect()
}

fn entrant() -> Entrant {
    let film = Some("https://films.example/7?t=20s".to_string());
    Entrant { player: "Rowan Hale".into(), age_years: Some(57), film }
}

#[test]
fn each_line_of_an_entry_fits_the_schema() {
    let schema: Value = serde_json::from_str(ENTRY_SCHEMA).unwrap();
    let mut file = Vec::new();
    write_entry(&entrant(), &attempt(), &Signer::from_secret(&[7; 32]), &mut file).unwrap();
    let text = String::from_utf8(file).unwrap();
    let lines: Vec<Value> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(lines.len(), 4);
    for (line, kind) in lines.iter().zip(["Head", "Record", "Record", "Seal"]) {
        let its = &schema["$defs"][kind];
        assert_eq!(faults(&schema, its, line, kind), Vec::<String>::new());
    }
    let report = verify(text.as_bytes(), None, |_, _| None).unwrap();
    assert_eq!(report.verdict(), Verdict::Verified, "{:?}", report.findings);
}

#[test]
fn who_enters_has_a_plain_name_an_age_in_years_and_a_film_that_can_be_followed() {
    let signer = Signer::from_secret(&[7; 32]);
    let refused = |entrant: Entrant| {
        let refused = write_entry(&entrant, &attempt(), &signer, Vec::new());
        refused.map(|()| "written".to_string()).unwrap_or_else(|error| error.to_string())
    };
    for name in ["", " Rowan", "Rowan\nHale", "\u{202e}elaH", &"x".repeat(81)] {
        let told = refused(Entrant { player: name.into(), ..entrant() });
        assert!(told.contains("no player's name"), "{name:?}: {told}");
    }
    for film in ["javascript:alert(1)", "file:///etc/passwd", "https://", "https://a b", "../film"]
    {
        let told = refused(Entrant { film: Some(film.into()), ..entrant() });
        assert!(told.contains("no film's address"), "{film:?}: {told}");
    }
    assert!(refused(Entrant { age_years: Some(0), ..entrant() }).contains("whole years"));
    assert_eq!(refused(Entrant { player: "Ωmega d'Arc-Løve".into(), ..entrant() }), "written");
}

#[test]
fn what_cannot_be_entered_is_told() {
    let signer = Signer::from_secret(&[7; 32]);
    let told = |records: &[EntryRecord]| {
        write_entry(&entrant(), records, &signer, Vec::new()).unwrap_err().to_string()
    };
    let records = attempt();
    assert!(told(&records[..1]).contains("still going on"));
    assert!(told(&records[1..]).contains("without its opening rack"));
    assert!(told(&[]).contains("without its opening rack"));
}
