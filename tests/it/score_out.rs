//! The score over HTTP: what stands, what is asked, and the user's word with one tap.

use crate::{
    client::{Answer, Follower, get, post},
    layouts_out::send,
    staging::{Folder, Service},
};
use serde_json::{Value, json};
use std::net::SocketAddr;

fn say(at: SocketAddr, body: &Value) -> Answer {
    post(at, "/api/corrections", "application/json", body.to_string().as_bytes())
}

/// A step that an attempt of so many points begins with.
fn attempt_on(rest: i64, run: u32) -> Value {
    json!({"rest": rest, "step": {"step": "attempt_on", "run": run}})
}

#[test]
fn the_score_follows_the_users_word() {
    let folder = Folder::new("score");
    let service = Service::plain(&folder.0);
    let at = service.address;
    get(at, "/api/score").is_problem(404, "not_found");
    get(at, "/api/attempts").is_problem(404, "not_found");
    let rest = send(at, "table", 9);
    let mut follower = Follower::new(at, "/api/events", "");

    let kept = say(at, &attempt_on(rest, 41));
    assert_eq!(kept.status, 201, "{}", kept.text());
    assert_eq!(kept.json()["id"], 1);
    let score = get(at, "/api/score").json();
    assert_eq!(kept.json()["score"], score);
    assert_eq!((&score["camera"], &score["high_run"]), (&json!("table"), &json!(41)));
    assert_eq!((&score["going_on"]["run"], &score["attempts"]), (&json!(41), &json!(1)));
    let told = follower.next("rescored").unwrap().json();
    assert_eq!((&told["data"]["run"], &told["data"]["rest"]), (&json!(41), &json!(rest)));

    let list = get(at, "/api/attempts?camera=table&limit=5").json();
    assert_eq!((list["attempts"].as_array().unwrap().len(), &list["next"]), (1, &Value::Null));
    let one = get(at, "/api/attempts/1").json();
    assert_eq!(one["attempt"], list["attempts"][0]);
    get(at, "/api/attempts/2").is_problem(404, "not_found");
    get(at, "/api/attempts/x").is_problem(404, "not_found");
    get(at, "/api/score?camera=other").is_problem(404, "not_found");
    get(at, "/api/score?camera=a/b").is_problem(400, "camera_name");

    let taken_back = say(at, &json!({"rest": rest, "step": null}));
    assert_eq!(taken_back.status, 201);
    assert_eq!(taken_back.json()["score"]["attempts"], 0);
    assert_eq!(follower.next("withdrawn").unwrap().json()["data"]["attempt"], 1);
}

#[test]
fn whoever_has_not_heard_what_another_said_is_told_and_takes_nothing_back() {
    let folder = Folder::new("meanwhile");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let rest = send(at, "table", 9);
    let on = |run: u32| json!({"step": "attempt_on", "run": run});
    let say = |step: &Value, seen: &Value| {
        say(at, &json!({"rest": rest, "step": step, "instead_of": seen}))
    };
    let run = || get(at, "/api/score").json()["going_on"]["run"].clone();
    assert_eq!(say(&on(3), &Value::Null).status, 201);
    let late = say(&on(5), &Value::Null);
    late.is_problem(409, "said_meanwhile");
    assert!(late.text().contains("somebody else said something else"), "{}", late.text());
    say(&Value::Null, &on(7)).is_problem(409, "said_meanwhile");
    assert_eq!(run(), 3, "nothing has changed");
    assert_eq!(say(&on(3), &Value::Null).status, 201, "the same word is no quarrel");
    assert_eq!(say(&on(5), &on(3)).status, 201, "having seen the other's");
    assert_eq!(run(), 5);
    assert_eq!(say(&Value::Null, &on(5)).status, 201);
    assert_eq!(run(), Value::Null);
}

#[test]
fn attempts_come_part_by_part() {
    let folder = Folder::new("attempts");
    let service = Service::plain(&folder.0);
    let at = service.address;
    for number in 0..5 {
        let rest = send(at, "table", 5 + number);
        let step = json!({"step": "attempt_on", "run": number, "ended": "miss"});
        assert_eq!(say(at, &json!({"rest": rest, "step": step})).status, 201);
    }
    let first = get(at, "/api/attempts?limit=3").json();
    let ids = |list: &Value| -> Vec<i64> {
        let attempts = list["attempts"].as_array().unwrap().iter();
        attempts.map(|attempt| attempt["id"].as_i64().unwrap()).collect()
    };
    assert_eq!((ids(&first), &first["next"]), (vec![1, 2, 3], &json!(3)));
    let last = get(at, "/api/attempts?limit=3&after=3").json();
    assert_eq!((ids(&last), &last["next"]), (vec![4, 5], &Value::Null));
    let score = get(at, "/api/score").json();
    assert_eq!((&score["last_over"]["id"], &score["going_on"]), (&json!(5), &Value::Null));
}

#[test]
fn what_is_no_correction_is_refused_and_changes_nothing() {
    let folder = Folder::new("refused");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let rest = send(at, "table", 9);
    Follower::new(at, "/api/events?after=0", "").next("camera_health").expect("it is told");
    let before = get(at, "/healthz").json();
    let send_text = |text: &str| post(at, "/api/corrections", "application/json", text.as_bytes());
    send_text("{").is_problem(400, "no_json");
    post(at, "/api/corrections", "text/plain", b"{}").is_problem(415, "media_type");
    send_text(&format!("[{}]", " ".repeat(5000))).is_problem(413, "too_many_bytes");
    for body in [
        json!({}),
        json!([rest, null]),
        json!({"rest": rest, "step": null, "instead_of": {"step": "shot", "potted": 16}}),
        json!({"rest": rest}),
        json!({"rest": rest, "step": {"step": "perhaps"}}),
        json!({"rest": "1", "step": {"step": "miss"}}),
        json!({"rest": rest, "step": {"step": "miss"}, "more": 1}),
        json!({"rest": rest, "step": {"step": "shot", "potted": 16}}),
        json!({"rest": rest, "step": {"step": "shot", "potted": 0}}),
        json!({"rest": rest, "step": {"step": "shot", "potted": -1}}),
        attempt_on(rest, 4_000_000_000),
        json!({"rest": rest, "step": {"step": "several", "shots": 2, "potted": 4_000_000_000_u32}}),
    ] {
        say(at, &body).is_problem(422, "no_correction");
    }
    say(at, &json!({"rest": 999, "step": {"step": "miss"}})).is_problem(404, "not_found");
    assert_eq!(get(at, "/healthz").json(), before);
    get(at, "/api/corrections").is_problem(405, "method");
}
