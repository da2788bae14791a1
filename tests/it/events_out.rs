//! Events passed on live: numbered without a hole over restarts, with every gap told, and at a
//! bounded cost however many follow and never read.

use crate::{
    client::{Event, Follower, connect, get},
    layouts_out::send,
    record::Program,
    staging::{Folder, Service, Wish, layout, scripted_readers, until},
};
use jiff::Timestamp;
use std::{
    io::Write,
    net::SocketAddr,
    path::Path,
    time::{Duration, Instant},
};
use stillcloth::{
    camera::picture::PictureFormat,
    record::{NewRest, Record, Retention},
    service::Limits,
};

/// A full rack and a cue ball, so that there is something to score.
const RACKED: u8 = 16;

/// Waits until the camera's health has been announced, which comes on its own time.
fn health_told(at: SocketAddr) {
    Follower::new(at, "/api/events?after=0", "").next("camera_health").expect("it is told");
}

fn newest(at: SocketAddr) -> i64 {
    get(at, "/healthz").json()["latest_event"].as_i64().unwrap()
}

/// Events up to an id, in order of arrival.
fn up_to(follower: &mut Follower, last: i64) -> Vec<Event> {
    let mut events: Vec<Event> = Vec::new();
    while events.last().is_none_or(|event| event.id < Some(last)) {
        events.push(follower.next_with_id().expect("the stream goes on"));
    }
    events
}

fn ids(events: &[Event]) -> Vec<i64> {
    events.iter().map(|event| event.id.unwrap()).collect()
}

#[test]
fn a_follower_misses_nothing_over_a_restart() {
    let folder = Folder::new("replay");
    let service = Service::plain(&folder.0);
    for balls in [RACKED, 15, 14] {
        send(service.address, "table", balls);
    }
    let mut follower = Follower::new(service.address, "/api/events?after=0", "");
    let mut got = up_to(&mut follower, 2);
    let place = got.last().unwrap().id.unwrap();
    service.stop();

    let service = Service::plain(&folder.0);
    let head = format!("Last-Event-ID: {place}\r\n");
    let mut follower = Follower::new(service.address, "/api/events", &head);
    for balls in [13, 12] {
        send(service.address, "table", balls);
    }
    health_told(service.address);
    let last = newest(service.address);
    got.extend(up_to(&mut follower, last));
    assert_eq!(ids(&got), (1..=last).collect::<Vec<_>>());
    assert!(got.iter().all(|event| event.name != "gap"), "{got:?}");
    let rests = got.iter().filter(|event| event.name == "rest");
    assert_eq!(rests.count(), 5);
    for event in &got {
        let json = event.json();
        assert_eq!((json["id"].as_i64(), json["type"].as_str()), (event.id, Some(&*event.name)));
    }
    let kinds = get(service.address, "/api/schemas").json();
    for event in &got {
        let known = kinds["schemas"].as_array().unwrap().iter().any(|kind| *kind == *event.name);
        assert!(known, "{} has no schema", event.name);
        let schema = get(service.address, &format!("/api/schemas/{}", event.name));
        assert_eq!(schema.header("content-type"), Some("application/schema+json"));
        assert_eq!(schema.json()["$ref"], format!("#/$defs/{}", event.name));
    }
    get(service.address, "/api/schemas/nothing").is_problem(404, "not_found");
}

#[test]
fn an_id_of_another_record_is_told_as_a_gap() {
    let folder = Folder::new("gap");
    let service = Service::plain(&folder.0);
    let at = service.address;
    send(at, "table", RACKED);
    health_told(at);
    let before = newest(at);
    let mut strange = Follower::new(at, "/api/events", "Last-Event-ID: 999999\r\n");
    let gap = strange.next("gap").unwrap();
    assert_eq!(gap.id, Some(before), "from here on the follower's place is right");
    let told = gap.json();
    assert_eq!((told["after"].as_i64(), told["next"].as_i64()), (Some(999_999), Some(before + 1)));
    send(at, "table", 15);
    assert_eq!(strange.next_with_id().unwrap().id, Some(before + 1), "and on it goes");
    let negative = Follower::new(at, "/api/events?after=-7", "").next_with_id().unwrap();
    assert_ne!(negative.name, "gap", "before the first is no gap");
    assert_eq!(negative.id, Some(1));
    get(at, "/api/events?after=x").is_problem(400, "query");
}

#[test]
fn events_that_are_lost_or_damaged_are_told_as_gaps() {
    let folder = Folder::new("holes");
    let service = Service::plain(&folder.0);
    for balls in [RACKED, 15, 14, 13, 12, 11, 10, 9] {
        send(service.address, "table", balls);
    }
    health_told(service.address);
    let last = newest(service.address);
    assert!(last > 7, "{last} events");
    service.stop();
    spoil(
        &folder.0,
        "DELETE FROM events WHERE id IN (2, 3, 4); \
         UPDATE events SET body_json = 'x' WHERE id = 6;",
    );
    let service = Service::plain(&folder.0);
    let mut follower = Follower::new(service.address, "/api/events?after=0", "");
    let got = up_to(&mut follower, last);
    let gaps: Vec<_> = got
        .iter()
        .filter(|event| event.name == "gap")
        .map(|event| {
            (event.json()["after"].as_i64().unwrap(), event.json()["next"].as_i64().unwrap())
        })
        .collect();
    assert_eq!(gaps, [(1, 5), (5, 7)]);
    let told = got.iter().filter(|event| event.name != "gap");
    let told: Vec<_> = told.map(|event| event.id.unwrap()).collect();
    assert_eq!(told, [&[1, 5][..], &(7..=last).collect::<Vec<_>>()].concat());
    // Who comes back to the middle of a gap is told of the rest of it.
    let mut back = Follower::new(service.address, "/api/events", "Last-Event-ID: 3\r\n");
    let gap = back.next_with_id().unwrap();
    assert_eq!((gap.name.as_str(), gap.json()["after"].as_i64()), ("gap", Some(3)));
}

/// Changes the database as no program of ours does.
fn spoil(data: &Path, sql: &str) {
    let connection = rusqlite::Connection::open(data.join("record.sqlite3")).unwrap();
    connection.execute_batch(sql).unwrap();
}

#[test]
fn a_quiet_follower_gets_a_sign_of_life() {
    let folder = Folder::new("life");
    let limits = Limits { keep_alive: Duration::from_millis(40), ..Limits::default() };
    let service = Service::start(&folder.0, Wish { limits, ..Wish::default() }, scripted_readers());
    let mut stream = connect(service.address);
    let head = format!("GET /api/events HTTP/1.1\r\nHost: {}\r\n\r\n", service.address);
    stream.write_all(head.as_bytes()).unwrap();
    let mut got = String::new();
    until("three comments have come", Duration::from_secs(5), || {
        let mut piece = [0; 1024];
        let length = std::io::Read::read(&mut stream, &mut piece).unwrap();
        got.push_str(&String::from_utf8_lossy(&piece[..length]));
        got.matches("\n:\n\n").count() >= 3
    });
}

#[test]
fn followers_that_never_read_hold_up_nobody() {
    let folder = Folder::new("deaf");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let deaf: Vec<_> = (0..20).map(|_| Follower::new(at, "/api/events?after=0", "")).collect();
    let begun = Instant::now();
    for balls in 0..60 {
        send(at, "table", balls % 17);
    }
    assert!(begun.elapsed() < Duration::from_secs(20), "{:?}", begun.elapsed());
    drop(deaf);
}

#[test]
fn many_followers_that_never_read_cost_little() {
    let folder = Folder::new("many");
    let record = Record::open(&folder.0, Retention::default()).unwrap();
    for balls in 0..60 {
        let kept = record.append(NewRest {
            at: Timestamp::now(),
            unseen_ms: 0,
            camera: "table".into(),
            layout: layout(balls % 17),
            picture: vec![balls],
            format: PictureFormat::Png,
        });
        kept.unwrap();
    }
    drop(record);
    let program = Program::serve(&folder.0, &[]);
    let (at, process) = (program.address, program.child.id());
    let (most, more) = (Limits::default().followers, 20);
    let before = memory_kib(process);
    let head = format!("GET /api/events?after=0 HTTP/1.1\r\nHost: {at}\r\n\r\n");
    // Within the 1024 open files that a system usually allows.
    assert!(most + more < 900);
    let deaf: Vec<_> = (0..most + more)
        .map(|_| {
            let mut stream = connect(at);
            stream.write_all(head.as_bytes()).unwrap();
            stream
        })
        .collect();
    let count = |name: &str| -> usize {
        let text = get(at, "/metrics").text();
        let line = text.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' '));
        line.unwrap_or_else(|| panic!("no {name} in\n{text}")).parse().unwrap()
    };
    until("all have come", Duration::from_secs(20), || {
        count("stillcloth_followers") == most
            && count("stillcloth_followers_refused_total") == more
    });
    let grown_kib = memory_kib(process).saturating_sub(before);
    assert!(grown_kib < 200 * most, "{grown_kib} KiB for {most} followers");
    get(at, "/api/events").is_problem(503, "too_many_followers");
    assert_eq!(get(at, "/healthz").status, 200);
    drop(deaf);
    until("they are let go", Duration::from_secs(10), || count("stillcloth_followers") == 0);
    program.terminate();
}

/// The memory a process holds.
fn memory_kib(process: u32) -> usize {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap();
    line.trim().split(' ').next().unwrap().parse().unwrap()
}

#[test]
fn a_follower_that_takes_nothing_in_is_let_go() {
    let folder = Folder::new("untaken");
    let limits = Limits { write_time: Duration::from_millis(300), ..Limits::default() };
    let service = Service::start(&folder.0, Wish { limits, ..Wish::default() }, scripted_readers());
    let at = service.address;
    send(at, "table", 16);
    // One event after the other, until the system's buffers are full.
    let mut stream = connect(at);
    let head = format!("GET /api/events?after=0 HTTP/1.1\r\nHost: {at}\r\n\r\n");
    let small = socket2::SockRef::from(&stream);
    small.set_recv_buffer_size(4096).unwrap();
    stream.write_all(head.as_bytes()).unwrap();
    let followers = || get(at, "/metrics").text().contains("\nstillcloth_followers 1\n");
    until("it follows", Duration::from_secs(5), followers);
    for balls in 0..200 {
        send(at, "table", balls % 17);
    }
    until("it is let go", Duration::from_secs(10), || !followers());
}
