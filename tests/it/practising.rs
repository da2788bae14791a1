//! A shot is practised: from one word of the user's to the next nothing counts, and nothing is lost.

use crate::{
    client::{Answer, Follower, get, post},
    layouts_out,
    played::{self, Played},
    playing,
    staging::{Folder, Service, Wish},
};
use serde_json::{Value, json};
use std::net::SocketAddr;
use stillcloth::record::RecordReader;

fn practise(at: SocketAddr, on: bool, after: Option<i64>) -> Answer {
    let body = json!({"camera": "table", "on": on, "after": after}).to_string();
    post(at, "/api/practice", "application/json", body.as_bytes())
}

fn runs(at: SocketAddr, camera: &str) -> Vec<u64> {
    let list = get(at, &format!("/api/attempts?camera={camera}")).json();
    let attempts = list["attempts"].as_array().unwrap().iter();
    attempts.map(|attempt| attempt["run"].as_u64().unwrap()).collect()
}

/// How many rests the player has come to when an attempt is over.
fn rests_up_to(attempt: u32) -> usize {
    let over = |played: Played| played.attempt == attempt && played.over;
    1 + played::rests().position(over).unwrap()
}

#[test]
fn what_is_practised_is_no_attempt_and_a_late_word_puts_it_right() {
    let folder = Folder::new("practising");
    let service = Service::start(&folder.0, Wish::default(), playing::readers());
    let mut at = service.address;
    let [first, second, third] = [1, 2, 3].map(rests_up_to);
    for rest in 0..first {
        playing::send(at, "table", rest);
        playing::send(at, "other", rest);
    }
    let mut follower = Follower::new(at, "/api/events", "");
    let begun = practise(at, true, None);
    assert_eq!((begun.status, &begun.json()["score"]["practising"]), (201, &json!(true)));
    let told = follower.next("practice").unwrap().json();
    assert_eq!(told["data"]["on"], true, "{told}");
    // From an opening rack to a miss, as a break shot would be practised.
    let half = first + 4;
    for rest in first..half {
        playing::send(at, "table", rest);
        playing::send(at, "other", rest);
    }
    service.stop();
    let service = Service::start(&folder.0, Wish::default(), playing::readers());
    at = service.address;
    assert_eq!(
        get(at, "/api/score?camera=table").json()["practising"],
        true,
        "after a restart too"
    );
    let mut practised = 0;
    for rest in half..second {
        practised = playing::send(at, "table", rest);
        playing::send(at, "other", rest);
    }
    assert_eq!(runs(at, "table"), [3]);
    assert_eq!(runs(at, "other"), [3, 17], "where nobody practises the same rests count");
    let page = get(at, &format!("/layouts/{practised}")).text();
    assert!(page.contains("You said: a shot was practised."), "{page}");
    assert!(get(at, "/parts?camera=table").text().contains("End the practice"));
    assert!(!get(at, "/parts?camera=other").text().contains("End the practice"));

    let last = practised;
    assert_eq!(practise(at, false, None).json()["score"]["practising"], false);
    let mut began = 0;
    for rest in second..third {
        began = if began == 0 { playing::send(at, "table", rest) } else { began };
        if rest > second {
            playing::send(at, "table", rest);
        }
    }
    assert_eq!(runs(at, "table"), [3, 1], "it counts again");
    // The word came late, or not in time: rests since are counted anew, there and back.
    assert_eq!(practise(at, true, Some(began - 1)).status, 201);
    assert_eq!(runs(at, "table"), [3]);
    assert_eq!(practise(at, false, Some(last)).status, 201);
    assert_eq!(runs(at, "table"), [3, 1]);
    assert_eq!(practise(at, false, Some(0)).status, 201);
    assert_eq!(runs(at, "table"), [3, 17, 1]);
    service.stop();
    let report = RecordReader::open(&folder.0).unwrap().check().unwrap();
    assert!(report.problems.is_empty(), "{:?}", report.problems);
}

#[test]
fn what_the_user_said_of_a_rest_stands_in_a_practice_too() {
    let folder = Folder::new("stands");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let first = layouts_out::send(at, "table", 5);
    let step = json!({"rest": first, "step": {"step": "attempt_on", "run": 9}}).to_string();
    post(at, "/api/corrections", "application/json", step.as_bytes());
    practise(at, true, Some(0));
    assert_eq!(runs(at, "table"), [9]);
    assert_eq!(get(at, "/api/score").json()["going_on"]["run"], 9, "no rest was practised yet");
    layouts_out::send(at, "table", 6);
    assert_eq!(get(at, "/api/score").json()["going_on"], Value::Null);
    assert_eq!(get(at, "/api/score").json()["last_over"]["over"]["cause"], "stopped");
}

#[test]
fn what_is_no_word_on_a_practice_is_refused() {
    let folder = Folder::new("no-practice");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let send = |body: &str| post(at, "/api/practice", "application/json", body.as_bytes());
    send("{\"on\":true}").is_problem(404, "not_found");
    layouts_out::send(at, "table", 5);
    send("{").is_problem(400, "no_json");
    send("{}").is_problem(422, "no_practice");
    send("{\"on\":1}").is_problem(422, "no_practice");
    send("{\"on\":true,\"after\":-1}").is_problem(422, "no_practice");
    send("{\"on\":true,\"camera\":\"<b>\"}").is_problem(400, "camera_name");
    send("{\"on\":true,\"camera\":\"nobody\"}").is_problem(404, "not_found");
    assert_eq!(get(at, "/api/score").json()["practising"], false);
    assert_eq!(send("{\"on\":true,\"after\":0}").status, 201, "before the first rest");
}
