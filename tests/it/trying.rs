//! `stillcloth try` through the built program: a hit from a layout, told, as JSON and drawn.

use crate::staging::Folder;
use serde_json::{Value, json};
use std::fs;
use std::process::{Command, Output};
use stillcloth::layout::Layout;

/// The cue ball, a ball in line with the lower foot corner, and one out of the way.
fn layout() -> Value {
    let ball = |kind: &str, number: u8, x: f64, y: f64| json!({"kind": kind, "number": number, "x": x, "y": y, "sigma_mm": 0.4, "confidence": 1.0});
    json!({
        "table": {"length_mm": 2540.0, "width_mm": 1270.0},
        "foot": "given",
        "obstructed": false,
        "balls": [ball("cue", 0, 5.0, 3.0), ball("object", 6, 7.0, 1.0), ball("object", 3, 2.0, 2.0)]
    })
}

fn try_hit(folder: &Folder, layout: &Value, more: &[&str]) -> Output {
    fs::write(folder.0.join("layout.json"), layout.to_string()).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    command.current_dir(&folder.0).args(["try", "layout.json"]).args(more);
    command.output().unwrap()
}

fn words(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn printed(output: &Output) -> String {
    assert!(output.status.success(), "{}", words(&output.stderr));
    assert_eq!(words(&output.stderr), "");
    words(&output.stdout)
}

#[test]
fn a_pot_is_told_in_lines() {
    let folder = Folder::new("try-lines");
    let text = printed(&try_hit(
        &folder,
        &layout(),
        &["--aim", "-45", "--speed", "2", "--height", "-0.5"],
    ));
    for part in ["tip", "balls meet", "drops: foot corner y = 0", "ball 6"] {
        assert!(text.contains(part), "'{part}' is missing in:\n{text}");
    }
    assert!(text.contains("ball 3          lies at 2.000, 2.000"), "{text}");
    assert!(text.contains("ball 6          dropped into foot corner y = 0"), "{text}");
}

#[test]
fn as_json_it_has_events_and_the_layout_at_rest() {
    let folder = Folder::new("try-json");
    let more =
        ["--aim", "-45", "--speed", "2", "--height", "-0.5", "--json", "--diagram", "shot.svg"];
    let played: Value =
        serde_json::from_str(&printed(&try_hit(&folder, &layout(), &more))).unwrap();
    let events = played["events"].as_array().unwrap();
    assert_eq!(events[0]["kind"], "tip");
    assert_eq!(events[0]["t_s"], 0.0);
    let meeting = events.iter().find(|event| event["kind"] == "balls").unwrap();
    let changed: Vec<_> = meeting["balls"].as_array().unwrap().iter().collect();
    assert_eq!(changed.len(), 2);
    for key in ["velocity_before_m_s", "velocity_after_m_s", "spin_before_rad_s", "place"] {
        assert!(!changed[0][key].is_null(), "{key} in {meeting}");
    }
    let rest: Layout = serde_json::from_value(played["layout"].clone()).unwrap();
    assert_eq!(rest.balls.len(), 2);
    let drawn = fs::read_to_string(folder.0.join("shot.svg")).unwrap();
    assert!(drawn.contains("class=\"way cue\"") && drawn.contains("Ball 6 (solid) drops"));
}

#[test]
fn every_parameter_can_be_set_from_a_file() {
    let folder = Folder::new("try-physics");
    fs::write(folder.0.join("slow.json"), r#"{"rolling_resistance": 0.05}"#).unwrap();
    let rest_s = |more: &[&str]| {
        let hit = ["--aim", "90", "--speed", "1", "--json"];
        let output = try_hit(&folder, &layout(), &[&hit[..], more].concat());
        let played: Value = serde_json::from_str(&printed(&output)).unwrap();
        played["duration_s"].as_f64().unwrap()
    };
    assert!(rest_s(&["--physics", "slow.json"]) < 0.5 * rest_s(&[]));
}

#[test]
fn what_cannot_be_played_is_refused_in_words() {
    let folder = Folder::new("try-refused");
    let changed = |place: &str, value: Value| {
        let mut layout = layout();
        *layout.pointer_mut(place).unwrap() = value;
        layout
    };
    fs::write(folder.0.join("wrong.json"), r#"{"cushion_restitution": 7}"#).unwrap();
    fs::write(folder.0.join("odd.json"), r#"{"gravitation": 7}"#).unwrap();
    let plain = ["--aim", "0", "--speed", "1"];
    let cases: Vec<(Value, Vec<&str>, &str)> = vec![
        (changed("/balls/0/kind", json!("object")), plain.to_vec(), "no cue ball"),
        (changed("/balls/1/number", json!(3)), plain.to_vec(), "ball 3 lies on the table twice"),
        (changed("/balls/1/x", json!(11.0)), plain.to_vec(), "ball 6"),
        (changed("/table/length_mm", json!(0.0)), plain.to_vec(), "table of 0"),
        (layout(), ["--aim", "0", "--speed", "99"].to_vec(), "speed"),
        (layout(), [&plain[..], &["--side", "0.9", "--height", "0.9"]].concat(), "miscue"),
        (layout(), [&plain[..], &["--physics", "wrong.json"]].concat(), "cushion_restitution of 7"),
        (layout(), [&plain[..], &["--physics", "odd.json"]].concat(), "gravitation"),
        (layout(), [&plain[..], &["--physics", "gone.json"]].concat(), "gone.json"),
        (layout(), [&plain[..], &["--diagram", "shot.gif"]].concat(), "shot.gif"),
    ];
    for (layout, more, part) in cases {
        let output = try_hit(&folder, &layout, &more);
        assert_eq!(output.status.code(), Some(1), "{part}: {}", words(&output.stdout));
        let said = words(&output.stderr);
        assert!(said.contains(part) && !said.contains("panicked"), "'{part}': {said}");
    }
}
