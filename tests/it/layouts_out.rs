//! Layouts passed on: lists, live events, listeners, and the document that describes it all.

use crate::{
    client::{Follower, get, post},
    staging::{Folder, Script, Service, Wish, png, scripted_readers, until},
};
use serde_json::Value;
use std::{
    io::{BufRead, BufReader, Read, Write},
    net::{SocketAddr, TcpListener, TcpStream},
    sync::{Arc, Mutex},
    time::{Duration, Instant},
};

/// Sends a frame of so many balls; returns the id its layout got.
pub fn send(at: SocketAddr, camera: &str, balls: u8) -> i64 {
    let path = format!("/api/frames?camera={camera}");
    let answer = post(at, &path, "image/png", &png(Script::Read, balls, 1));
    answer.json()["id"].as_i64().unwrap_or_else(|| panic!("{}", answer.text()))
}

fn ids(list: &Value) -> Vec<i64> {
    list["layouts"].as_array().unwrap().iter().map(|rest| rest["id"].as_i64().unwrap()).collect()
}

#[test]
fn lists_go_by_time_camera_and_id() {
    let folder = Folder::new("lists");
    let service = Service::plain(&folder.0);
    let at = service.address;
    for number in 0..7 {
        send(at, if number % 2 == 0 { "even" } else { "odd" }, number);
        std::thread::sleep(Duration::from_millis(3));
    }
    let list = |query: &str| get(at, &format!("/api/layouts?{query}")).json();
    assert_eq!(ids(&list("")), [1, 2, 3, 4, 5, 6, 7]);
    assert_eq!(ids(&list("camera=odd")), [2, 4, 6]);
    assert_eq!(ids(&list("camera=nobody")), [0_i64; 0]);

    let first = list("limit=3");
    assert_eq!((ids(&first), &first["next"]), (vec![1, 2, 3], &Value::from(3)));
    let last = list("limit=5&after=3");
    assert_eq!((ids(&last), &last["next"]), (vec![4, 5, 6, 7], &Value::Null));

    let time = |id: i64| get(at, &format!("/api/layouts/{id}")).json()["at"].clone();
    let (from, to) = (time(3), time(6));
    let query = format!("from={}&to={}", from.as_str().unwrap(), to.as_str().unwrap());
    assert_eq!(ids(&list(&query)), [3, 4, 5], "from the first on, up to but not with the last");
    assert_eq!(ids(&list("to=2001-01-01T00:00:00Z")), [0_i64; 0]);
}

#[test]
fn followers_get_each_layout_once_and_in_order() {
    let folder = Folder::new("followers");
    let service = Service::plain(&folder.0);
    let at = service.address;
    send(at, "table", 1);
    let mut live = Follower::new(at, "/api/events", "");
    let mut all = Follower::new(at, "/api/events?after=0", "");
    send(at, "table", 2);
    send(at, "table", 3);
    let event = live.next("layout").unwrap();
    assert_eq!(event.id, Some(2), "who only just came gets what is new");
    let rest: Value = serde_json::from_str(&event.data).unwrap();
    assert_eq!(rest, get(at, "/api/layouts/2").json());
    assert_eq!(live.next("layout").unwrap().id, Some(3));
    let seen: Vec<_> = (0..3).map(|_| all.next("layout").unwrap().id.unwrap()).collect();
    assert_eq!(seen, [1, 2, 3]);

    drop(live);
    for balls in 4..130 {
        send(at, "table", balls % 16);
    }
    let mut back = Follower::new(at, "/api/events", "Last-Event-ID: 3\r\n");
    let seen: Vec<_> = (4..130).map(|_| back.next("layout").unwrap().id.unwrap()).collect();
    assert_eq!(seen, (4..130).collect::<Vec<_>>(), "who comes back gets what was missed");
    send(at, "table", 1);
    assert_eq!(back.next("layout").unwrap().id, Some(130));

    get(at, "/api/events?after=x").is_problem(400, "query");
    let strange = Follower::new(at, "/api/events", "Last-Event-ID: 999999\r\n");
    send(at, "table", 2);
    let mut strange = strange;
    assert_eq!(strange.next("layout").unwrap().id, Some(131), "an id from another record");
}

#[test]
fn followers_hear_of_a_camera_that_sees_no_table() {
    let folder = Folder::new("health");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let mut follower = Follower::new(at, "/api/events", "");
    send(at, "table", 1);
    post(at, "/api/frames?camera=table", "image/png", &png(Script::FindNoTable, 0, 0));
    let mut states = Vec::new();
    while states.last().is_none_or(|state| state != "unreadable") {
        let event = follower.next("camera").unwrap();
        assert_eq!(event.id, None, "only layouts move a follower's place");
        let status: Value = serde_json::from_str(&event.data).unwrap();
        states.push(status["state"].as_str().unwrap().to_string());
        assert!(states.len() < 10, "{states:?}");
    }
    let words = get(at, "/api/cameras").json()[0]["words"].clone();
    assert!(words.as_str().unwrap().contains("no cloth in view"), "{words}");
}

#[test]
fn a_follower_that_never_reads_holds_up_nobody() {
    let folder = Folder::new("deaf");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let deaf: Vec<_> = (0..20).map(|_| Follower::new(at, "/api/events?after=0", "")).collect();
    let begun = Instant::now();
    for balls in 0..60 {
        send(at, "table", balls % 16);
    }
    assert!(begun.elapsed() < Duration::from_secs(20), "{:?}", begun.elapsed());
    drop(deaf);
}

/// A listener of the test's own: notes the ids it gets and answers as it is told.
struct Listening {
    address: SocketAddr,
    got: Arc<Mutex<Vec<i64>>>,
}

impl Listening {
    fn new(mut answer: impl FnMut(usize) -> Option<&'static str> + Send + 'static) -> Self {
        let socket = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = socket.local_addr().unwrap();
        let got = Arc::new(Mutex::new(Vec::new()));
        let noted = Arc::clone(&got);
        std::thread::spawn(move || {
            for (count, stream) in socket.incoming().enumerate() {
                let Ok(mut stream) = stream else { return };
                match answer(count) {
                    Some(status) => {
                        if let Some(id) = take_post(&mut stream)
                            && status.starts_with('2')
                        {
                            noted.lock().unwrap().push(id);
                        }
                        let _ = write!(stream, "HTTP/1.1 {status}\r\nContent-Length: 0\r\n\r\n");
                    }
                    // Says nothing, and keeps the line open.
                    None => std::mem::forget(stream),
                }
            }
        });
        Self { address, got }
    }

    fn wish(&self) -> stillcloth::service::Listener {
        format!("http://{}/layouts?key=7", self.address).parse().unwrap()
    }

    fn got(&self) -> Vec<i64> {
        self.got.lock().unwrap().clone()
    }
}

/// Takes a POST in and returns the id of the layout in it.
fn take_post(stream: &mut TcpStream) -> Option<i64> {
    let mut lines = BufReader::new(stream);
    let mut head = String::new();
    while !head.ends_with("\r\n\r\n") {
        if lines.read_line(&mut head).ok()? == 0 {
            return None;
        }
    }
    assert!(head.starts_with("POST /layouts?key=7 HTTP/1.1"), "{head}");
    let head = head.to_ascii_lowercase();
    assert!(head.contains("content-type: application/json"), "{head}");
    let length = head.split("content-length: ").nth(1)?.lines().next()?.parse().ok()?;
    let mut body = vec![0; length];
    lines.read_exact(&mut body).ok()?;
    let rest: Value = serde_json::from_slice(&body).ok()?;
    assert!(rest["layout"]["balls"].is_array());
    rest["id"].as_i64()
}

#[test]
fn listeners_get_each_layout_and_a_dead_or_mute_one_holds_up_nobody() {
    let folder = Folder::new("listeners");
    let up = Listening::new(|_| Some("204 No Content"));
    // Fails twice, then recovers: tried again, in order.
    let shaky = Listening::new(|count| {
        Some(if count < 2 { "500 Internal Server Error" } else { "200 OK" })
    });
    let mute = Listening::new(|_| None);
    let dead: SocketAddr = {
        let socket = TcpListener::bind("127.0.0.1:0").unwrap();
        socket.local_addr().unwrap()
    };
    let dead = format!("http://{dead}/").parse().unwrap();
    let listeners = vec![dead, mute.wish(), shaky.wish(), up.wish()];
    let wish = Wish { listeners, ..Wish::default() };
    let service = Service::start(&folder.0, wish, scripted_readers());
    let begun = Instant::now();
    for balls in 0..5 {
        send(service.address, "table", balls);
    }
    until("the good listener has all", Duration::from_secs(5), || up.got() == [1, 2, 3, 4, 5]);
    assert!(begun.elapsed() < Duration::from_secs(5));
    until("the shaky one too", Duration::from_secs(15), || shaky.got() == [1, 2, 3, 4, 5]);
    let begun = Instant::now();
    service.stop();
    assert!(begun.elapsed() < Duration::from_secs(5), "a mute listener does not delay the end");
}

#[test]
fn the_service_stops_in_peace_while_it_is_followed() {
    let folder = Folder::new("stop");
    let service = Service::plain(&folder.0);
    let mut follower = Follower::new(service.address, "/api/events", "");
    send(service.address, "table", 1);
    assert_eq!(follower.next("layout").unwrap().id, Some(1));
    let begun = Instant::now();
    service.stop();
    assert!(begun.elapsed() < Duration::from_secs(4), "{:?}", begun.elapsed());
    assert_eq!(follower.next("layout"), None);
}

#[test]
fn the_document_describes_every_address_and_points_nowhere_in_vain() {
    let folder = Folder::new("document");
    let service = Service::plain(&folder.0);
    send(service.address, "table", 3);
    let document = get(service.address, "/api/openapi.json").json();
    assert_eq!(document["openapi"], "3.1.0");
    assert_eq!(document, stillcloth::service::openapi());
    for (path, methods) in document["paths"].as_object().unwrap() {
        for method in methods.as_object().unwrap().keys() {
            if path == "/api/events" || method != "get" {
                continue;
            }
            let answer = get(service.address, &path.replace("{id}", "1"));
            assert_eq!(answer.status, 200, "{method} {path}: {}", answer.text());
            let described = &methods[method]["responses"]["200"]["content"];
            let media_type = answer.header("content-type").unwrap().split(';').next().unwrap();
            let frame = path.ends_with("/frame");
            assert!(frame || !described[media_type].is_null(), "{path}: {media_type}");
        }
    }
    let mut references = Vec::new();
    collect_references(&document, &mut references);
    assert!(references.iter().any(|reference| reference.ends_with("/Layout")));
    for reference in references {
        let pointer = reference.strip_prefix('#').expect("a reference within the document");
        assert!(document.pointer(pointer).is_some(), "{reference} leads nowhere");
    }
}

fn collect_references(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                match member {
                    Value::String(text) if name == "$ref" => found.push(text.clone()),
                    other => collect_references(other, found),
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| collect_references(item, found)),
        _ => {}
    }
}
