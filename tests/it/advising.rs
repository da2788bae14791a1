//! Advice through the built program and over HTTP: told, as JSON that fits its schema, and drawn.

use crate::{
    client::{get, post},
    layouts_out::send,
    staging::{Folder, Service, Wish, scripted_readers, until},
};
use serde_json::{Value, json};
use std::{
    fs,
    process::{Command, Output},
    time::Duration,
};
use stillcloth::advice::Level;

pub fn ball(number: u8, x: f64, y: f64) -> Value {
    let kind = if number == 0 { "cue" } else { "object" };
    json!({"kind": kind, "number": number, "x": x, "y": y, "sigma_mm": 0.4, "confidence": 1.0})
}

pub fn layout(balls: &[Value]) -> Value {
    json!({
        "table": {"length_mm": 2540.0, "width_mm": 1270.0},
        "foot": "given",
        "obstructed": false,
        "balls": balls
    })
}

/// Three open balls.
fn three() -> Value {
    layout(&[ball(0, 4.0, 1.6), ball(4, 6.3, 2.7), ball(9, 1.6, 1.0), ball(12, 5.0, 3.5)])
}

/// Two open balls: however short the time, a pattern comes to its end.
fn two() -> Value {
    layout(&[ball(0, 4.0, 1.6), ball(4, 6.3, 2.7), ball(9, 1.6, 1.0)])
}

fn advise(folder: &Folder, layout: &Value, more: &[&str]) -> Output {
    fs::write(folder.0.join("layout.json"), layout.to_string()).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    command.current_dir(&folder.0).args(["advise", "layout.json", "--for", "0.3s"]).args(more);
    command.output().unwrap()
}

fn words(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn advice_is_told_in_sentences_and_drawn() {
    let folder = Folder::new("advise-told");
    let output = advise(&folder, &two(), &["--player", "expert", "--diagram", "plan.svg"]);
    assert!(output.status.success(), "{}", words(&output.stderr));
    let text = words(&output.stdout);
    for part in ["Play ball ", "is left for the break shot", "shots that are on:", "pattern 1:"] {
        assert!(text.contains(part), "'{part}' is missing in:\n{text}");
    }
    let drawn = fs::read_to_string(folder.0.join("plan.svg")).unwrap();
    for class in ["way cue", "way object", "meeting", "landing"] {
        assert!(drawn.contains(&format!("class=\"{class}\"")), "{class} is not drawn");
    }
}

#[test]
fn a_closing_layout_gets_its_break_shot() {
    let folder = Folder::new("advise-break");
    let closing = layout(&[ball(0, 4.9, 2.5), ball(7, 6.25, 2.65)]);
    let output = advise(&folder, &closing, &["--json", "--diagram", "plan.svg"]);
    assert!(output.status.success(), "{}", words(&output.stderr));
    let advice: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(advice["break_shot"]["break_ball"], 7);
    assert!(advice["said"][0].as_str().unwrap().starts_with("Break with ball 7 into the "));
    assert_eq!(advice["patterns"], json!([]));
    let drawn = fs::read_to_string(folder.0.join("plan.svg")).unwrap();
    // The fourteen stand in the drawing, and the cue ball is followed as far as the rack.
    for part in ["14 balls are racked.", "Cue ball is drawn as far as"] {
        assert!(drawn.contains(part), "'{part}' is missing in:\n{drawn}");
    }
}

#[test]
fn a_player_may_be_given_by_errors_and_what_cannot_be_is_refused() {
    let folder = Folder::new("advise-player");
    let errors = r#"{"aim_rad": 0.001, "speed": 0.05, "tip": 0.05, "elevation_rad": 0.01}"#;
    fs::write(folder.0.join("me.json"), errors).unwrap();
    let output = advise(&folder, &three(), &["--player", "me.json", "--json"]);
    assert!(output.status.success(), "{}", words(&output.stderr));
    let advice: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(advice["player"]["aim_rad"], 0.001);
    fs::write(folder.0.join("slow.json"), r#"{"rolling_resistance": 3}"#).unwrap();
    for (layout, more, said) in [
        (three(), vec!["--player", "master"], "beginner, club or expert"),
        (three(), vec!["--physics", "slow.json"], "rolling_resistance of 3"),
        (three(), vec!["--diagram", "plan.gif"], "plan.gif is neither"),
        (
            layout(&[ball(0, 4.0, 2.0), ball(3, 4.1, 2.0)]),
            vec![],
            "the cue ball and ball 3 overlap",
        ),
        (layout(&[ball(3, 4.1, 2.0)]), vec![], "no cue ball"),
    ] {
        let output = advise(&folder, &layout, &more);
        assert!(!output.status.success());
        let text = words(&output.stderr);
        assert!(text.contains(said), "'{said}' is missing in: {text}");
    }
}

#[test]
fn a_layout_that_is_sent_gets_its_advice() {
    let folder = Folder::new("advice-sent");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let ask = |query: &str, layout: &Value| {
        let path = format!("/api/advice?{query}");
        post(at, &path, "application/json", layout.to_string().as_bytes())
    };
    let answer = ask("player=expert&for_s=0.1", &three());
    assert_eq!(answer.status, 200, "{}", answer.text());
    let advice = answer.json();
    assert_eq!(advice["player"]["aim_rad"].as_f64(), Some(Level::Expert.prior().aim_rad));
    assert!(advice["said"][0].as_str().is_some_and(|said| said.starts_with("Play ball ")));

    ask("player=master", &three()).is_problem(400, "query");
    ask("for_s=60", &three()).is_problem(400, "query");
    let overlapping = layout(&[ball(0, 4.0, 2.0), ball(3, 4.1, 2.0)]);
    let refused = ask("", &overlapping);
    refused.is_problem(422, "no_advice");
    assert!(refused.text().contains("the cue ball and ball 3 overlap"));
    ask("", &json!({"table": 1})).is_problem(422, "no_layout");
    let mut flat = three();
    flat["table"]["length_mm"] = json!(0);
    ask("", &flat).is_problem(422, "no_layout");
    let long = format!("[{}]", "1,".repeat(70_000) + "1");
    post(at, "/api/advice", "application/json", long.as_bytes()).is_problem(413, "too_many_bytes");

    assert!(get(at, "/api/schemas").text().contains("\"advice\""));
    assert_eq!(get(at, "/api/schemas/advice").json()["title"], "Stillcloth advice");
    let document = get(at, "/api/openapi.json").json();
    assert!(document["components"]["schemas"]["Advice"]["properties"]["said"].is_object());
}

#[test]
fn no_more_layouts_are_thought_about_than_there_are_turns() {
    let folder = Folder::new("advice-turns");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let body = three().to_string();
    std::thread::scope(|scope| {
        let asked: Vec<_> = (0..6)
            .map(|_| {
                let ask = || post(at, "/api/advice?for_s=1", "application/json", body.as_bytes());
                scope.spawn(ask)
            })
            .collect();
        let answers: Vec<_> = asked.into_iter().map(|asked| asked.join().unwrap()).collect();
        let answered = answers.iter().filter(|answer| answer.status == 200).count();
        assert!((1..6).contains(&answered), "{answered}");
        for answer in answers.iter().filter(|answer| answer.status != 200) {
            answer.is_problem(503, "busy");
            assert!(answer.header("retry-after").is_some());
        }
    });
}

#[test]
fn a_kept_rest_is_thought_about_when_asked() {
    let folder = Folder::new("advice-kept");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let id = send(at, "table", 4);
    let page = |query: &str| get(at, &format!("/layouts/{id}{query}")).text();
    assert!(page("").contains("Think about it") && !page("").contains("advice.svg"));
    let advice = get(at, &format!("/api/layouts/{id}/advice")).json();
    let said = advice["said"][0].as_str().unwrap();
    // Now it is held: the page has it at once, with its choices as links.
    let shown = page("?advice=1");
    assert!(shown.contains(said), "'{said}' is missing in:\n{shown}");
    assert!(shown.contains(&format!("/api/layouts/{id}/advice.svg?choice=1")));
    assert!(shown.contains(&format!("href=\"/layouts/{id}?advice=0#play\"")));
    let drawing = get(at, &format!("/api/layouts/{id}/advice.svg?choice=1"));
    assert_eq!(drawing.header("content-type"), Some("image/svg+xml; charset=utf-8"));
    assert!(drawing.text().contains("class=\"way cue\""));
    get(at, &format!("/api/layouts/{id}/advice.svg?choice=99")).is_problem(404, "not_found");
    get(at, "/api/layouts/77/advice").is_problem(404, "not_found");
    // Without a cue ball there is nothing to play.
    let bare = send(at, "table", 0);
    get(at, &format!("/api/layouts/{bare}/advice")).is_problem(422, "no_advice");
    assert!(!get(at, &format!("/layouts/{bare}")).text().contains("How to play it"));
}

#[test]
fn each_fresh_rest_is_thought_about_and_a_stale_one_given_up() {
    let folder = Folder::new("advice-fresh");
    let wish = Wish { advice: Some(Level::Club.prior()), ..Wish::default() };
    let service = Service::start(&folder.0, wish, scripted_readers());
    let at = service.address;
    let held = |id: i64| get(at, &format!("/layouts/{id}")).text().contains("advice.svg");
    let stale = send(at, "table", 6);
    std::thread::sleep(Duration::from_millis(100));
    let fresh = send(at, "table", 5);
    until("the fresh rest has its advice", Duration::from_secs(20), || held(fresh));
    assert!(!held(stale), "the search of the stale rest went on");
}

#[test]
fn the_opening_break_shot_gets_places_or_says_that_it_had_no_time() {
    let folder = Folder::new("opening");
    let ask = |more: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
        command.current_dir(&folder.0).arg("opening").args(more).output().unwrap()
    };
    let none = ask(&["--for", "0"]);
    assert!(!none.status.success());
    assert!(words(&none.stderr).contains("give more with --for"), "{}", words(&none.stderr));
    let output = ask(&["--for", "0.1", "--json", "--diagram", "places.svg"]);
    assert!(output.status.success(), "{}", words(&output.stderr));
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    let openings = found["openings"].as_array().unwrap();
    let worth = |opening: &Value| {
        opening["advice"]["choices"][0]["figures"]["worth_balls"]["mean"].as_f64().unwrap()
    };
    assert!(openings.iter().all(|opening| worth(opening) > 0.5), "{openings:?}");
    assert!(openings.is_sorted_by(|a, b| worth(a) >= worth(b)));
    for opening in openings {
        for ball in ["break_ball", "cue_ball"] {
            let [x, y] = ["x", "y"].map(|axis| opening[ball][axis].as_f64().unwrap());
            assert!((0.2..7.8).contains(&x) && (0.2..3.8).contains(&y), "{ball} at {x}, {y}");
        }
    }
    assert_eq!(found["map"]["whole"], false);
    let drawn = fs::read_to_string(folder.0.join("places.svg")).unwrap();
    assert!(drawn.contains("Break ball at "), "{drawn}");
}
