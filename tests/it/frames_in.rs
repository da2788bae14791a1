//! Frames sent to the service: read and kept, or refused in plain words, and the service goes on.

use crate::{
    client::{self, connect, get, post, request},
    staging::{Folder, LONG, Script, Service, Wish, layout, png, scripted_readers, until},
};
use std::{
    collections::BTreeSet,
    io::Write,
    net::Shutdown,
    time::{Duration, Instant},
};
use stillcloth::{layout::Layout, service::Limits};

#[test]
fn a_frame_becomes_a_layout_that_is_kept() {
    let folder = Folder::new("kept");
    let service = Service::plain(&folder.0);
    let frame = png(Script::Read, 5, 1);
    let answer = post(service.address, "/api/frames?camera=hall-2", "image/png", &frame);
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert_eq!(answer.header("location"), Some("/api/layouts/1"));
    let rest = answer.json();
    assert_eq!(rest["id"], 1);
    assert_eq!(rest["camera"], "hall-2");
    let back: Layout = serde_json::from_value(rest["layout"].clone()).expect("a layout");
    assert_eq!(back, layout(5));

    for path in ["/api/layouts/1", "/api/layouts/latest", "/api/layouts/latest?camera=hall-2"] {
        assert_eq!(get(service.address, path).json(), rest, "{path}");
    }
    let kept = get(service.address, "/api/layouts/1/frame");
    assert_eq!(kept.header("content-type"), Some("image/png"));
    assert_eq!(kept.body, frame);
    let svg = get(service.address, "/api/layouts/1/diagram.svg");
    assert!(svg.header("content-type").is_some_and(|media| media.starts_with("image/svg+xml")));
    assert!(svg.text().contains("<svg"));
    let drawn = get(service.address, "/api/layouts/1/diagram.png?width=640");
    let drawn = stillcloth::camera::picture::decode(&drawn.body).expect("a PNG");
    assert_eq!(drawn.width(), 640);
    assert_eq!(get(service.address, "/healthz").json()["latest_layout"], 1);
}

#[test]
fn a_frame_without_a_name_comes_from_the_camera_called_camera() {
    let folder = Folder::new("unnamed");
    let service = Service::plain(&folder.0);
    let answer = post(service.address, "/api/frames", "image/png", &png(Script::Read, 2, 1));
    assert_eq!(answer.json()["camera"], "camera");
    let cameras = get(service.address, "/api/cameras").json();
    assert_eq!(cameras[0]["name"], "camera");
    assert_eq!(cameras[0]["state"], "reading");
}

#[test]
fn a_frame_with_a_player_in_it_is_kept_and_said_to_be_obstructed() {
    let folder = Folder::new("player");
    let service = Service::plain(&folder.0);
    let frame = png(Script::SeeAPlayer, 4, 1);
    let rest = post(service.address, "/api/frames", "image/png", &frame).json();
    assert_eq!(rest["layout"]["obstructed"], true);
    assert_eq!(get(service.address, "/api/cameras").json()[0]["state"], "obstructed");
    assert!(get(service.address, "/layouts/1").text().contains("Part of the cloth is hidden"));
}

#[test]
fn bad_frames_are_refused_in_plain_words_and_the_service_goes_on() {
    let folder = Folder::new("refused");
    let limits = Limits { frame_bytes: 100_000, ..Limits::default() };
    let service = Service::start(&folder.0, Wish { limits, ..Wish::default() }, scripted_readers());
    let at = service.address;
    let good = png(Script::Read, 3, 1);
    let send = |media_type, body: &[u8]| post(at, "/api/frames", media_type, body);

    send("image/png", &vec![0; 100_001]).is_problem(413, "too_many_bytes");
    let mut chunked = b"10000\r\n".to_vec();
    chunked.extend([7; 0x10000]);
    chunked.extend(b"\r\n10000\r\n");
    chunked.extend([7; 0x10000]);
    chunked.extend(b"\r\n0\r\n\r\n");
    let head =
        "POST /api/frames HTTP/1.1\r\nContent-Type: image/png\r\nTransfer-Encoding: chunked\r\n";
    request(at, head, &chunked).is_problem(413, "too_many_bytes");

    send("text/plain", &good).is_problem(415, "media_type");
    send("image/gif", &good).is_problem(415, "media_type");
    send("image/png", b"GIF89a and so on").is_problem(415, "unknown_format");
    request(at, "POST /api/frames HTTP/1.1\r\nContent-Length: 3\r\n", b"abc")
        .is_problem(415, "media_type");

    send("image/png", b"").is_problem(422, "empty");
    send("image/png", &good[..good.len() - 5]).is_problem(422, "truncated");
    let mut damaged = good.clone();
    let middle = damaged.len() / 2;
    damaged[middle] ^= 0xFF;
    send("image/png", &damaged).is_problem(422, "damaged");
    let no_table = send("image/png", &png(Script::FindNoTable, 0, 1));
    no_table.is_problem(422, "no_table");
    assert!(no_table.text().contains("no cloth in view"), "{}", no_table.text());

    for name in ["", "a%20b", "..%2Fx", "%3Cb%3E", &"x".repeat(41)] {
        post(at, &format!("/api/frames?camera={name}"), "image/png", &good)
            .is_problem(400, "camera_name");
    }

    assert_eq!(send("image/jpeg", &good).status, 201, "a PNG under JPEG's name is still a PNG");
    assert_eq!(get(at, "/healthz").json()["latest_layout"], 1, "only the good one was kept");
}

#[test]
fn a_failure_inside_is_told_by_an_id_alone_and_costs_one_frame() {
    let folder = Folder::new("inside");
    let service = Service::plain(&folder.0);
    let fall = png(Script::Panic, 0, 1);
    let answer = post(service.address, "/api/frames", "image/png", &fall);
    answer.is_problem(500, "internal");
    assert!(!answer.text().contains("scripted"), "{}", answer.text());
    let good = png(Script::Read, 3, 1);
    assert_eq!(post(service.address, "/api/frames", "image/png", &good).status, 201);
}

#[test]
fn a_camera_with_too_many_frames_waiting_puts_further_ones_off() {
    let folder = Folder::new("busy");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let answers: Vec<_> = (0..9)
        .map(|salt| {
            std::thread::spawn(move || {
                post(at, "/api/frames", "image/png", &png(Script::TakeLong, 2, salt))
            })
        })
        .collect();
    let answers: Vec<_> = answers.into_iter().map(|thread| thread.join().unwrap()).collect();
    let (taken, put_off): (Vec<_>, Vec<_>) = answers.iter().partition(|it| it.status == 201);
    assert!((4..=6).contains(&taken.len()), "{} were taken", taken.len());
    for answer in put_off {
        answer.is_problem(503, "busy");
        assert_eq!(answer.header("retry-after"), Some("2"));
    }
    assert_eq!(get(at, "/healthz").json()["latest_layout"], taken.len());
}

#[test]
fn many_cameras_at_once_lose_nothing() {
    let folder = Folder::new("crowd");
    let limits = Limits { frames_at_a_time: 64, ..Limits::default() };
    let service = Service::start(&folder.0, Wish { limits, ..Wish::default() }, scripted_readers());
    let at = service.address;
    let senders: Vec<_> = (0..8_u8)
        .map(|camera| {
            std::thread::spawn(move || {
                let path = format!("/api/frames?camera=c{camera}");
                let send = |salt| post(at, &path, "image/png", &png(Script::Read, camera, salt));
                (0..10).map(|salt| send(salt).json()["id"].as_i64().unwrap()).collect::<Vec<_>>()
            })
        })
        .collect();
    let ids: BTreeSet<i64> =
        senders.into_iter().flat_map(|sender| sender.join().unwrap()).collect();
    assert_eq!(ids, (1..=80).collect());
    for camera in 0..8 {
        let list = get(at, &format!("/api/layouts?camera=c{camera}")).json();
        let balls: Vec<usize> = list["layouts"]
            .as_array()
            .unwrap()
            .iter()
            .map(|rest| rest["layout"]["balls"].as_array().unwrap().len())
            .collect();
        assert_eq!(balls, vec![camera; 10], "camera c{camera}");
    }
}

#[test]
fn more_cameras_than_there_is_room_for_take_turns() {
    let folder = Folder::new("many");
    let service = Service::plain(&folder.0);
    for camera in 0..40 {
        let path = format!("/api/frames?camera=c{camera}");
        let answer = post(service.address, &path, "image/png", &png(Script::Read, 1, camera));
        assert_eq!(answer.status, 201, "{}", answer.text());
    }
    let cameras = get(service.address, "/api/cameras").json();
    assert_eq!(cameras.as_array().unwrap().len(), 16);
}

#[test]
fn a_sender_that_breaks_off_or_dribbles_harms_nobody() {
    let folder = Folder::new("dribble");
    let limits = Limits { frame_time: Duration::from_millis(300), ..Limits::default() };
    let service = Service::start(&folder.0, Wish { limits, ..Wish::default() }, scripted_readers());
    let at = service.address;
    let frame = png(Script::Read, 3, 1);
    let head = format!(
        "POST /api/frames HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Type: image/png\r\nContent-Length: {}\r\n\r\n",
        frame.len()
    );

    let mut gone = connect(at);
    gone.write_all(head.as_bytes()).unwrap();
    gone.write_all(&frame[..frame.len() / 2]).unwrap();
    gone.shutdown(Shutdown::Both).unwrap();

    let mut slow = connect(at);
    slow.write_all(head.as_bytes()).unwrap();
    slow.write_all(&frame[..10]).unwrap();
    let begun = Instant::now();
    client::answer(slow).is_problem(408, "too_slow");
    assert!(begun.elapsed() < Duration::from_secs(10));

    assert_eq!(get(at, "/healthz").json()["latest_layout"], 0, "neither was kept");
    assert_eq!(post(at, "/api/frames", "image/png", &frame).status, 201);
}

#[test]
fn a_sender_that_leaves_while_its_frame_is_read_loses_no_frame_of_others() {
    let folder = Folder::new("left");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let frame = png(Script::TakeLong, 3, 1);
    let mut left = connect(at);
    let head = format!(
        "POST /api/frames HTTP/1.1\r\nHost: localhost\r\nContent-Type: image/png\r\nContent-Length: {}\r\n\r\n",
        frame.len()
    );
    left.write_all(head.as_bytes()).unwrap();
    left.write_all(&frame).unwrap();
    until("the camera is known", Duration::from_secs(5), || {
        get(at, "/api/cameras").json().as_array().is_some_and(|cameras| !cameras.is_empty())
    });
    drop(left);
    std::thread::sleep(LONG);
    assert_eq!(post(at, "/api/frames", "image/png", &png(Script::Read, 2, 2)).status, 201);
}

#[test]
fn wrong_addresses_and_methods_are_told_so() {
    let folder = Folder::new("wrong");
    let service = Service::plain(&folder.0);
    let at = service.address;
    get(at, "/api/layouts/latest").is_problem(404, "not_found");
    for path in ["/api/layouts/7", "/api/layouts/x", "/api/layouts/7/frame", "/nowhere"] {
        get(at, path).is_problem(404, "not_found");
    }
    get(at, "/api/frames").is_problem(405, "method");
    for query in ["from=yesterday", "limit=many", "limit=0", "limit=1001", "after=-"] {
        get(at, &format!("/api/layouts?{query}")).is_problem(400, "query");
    }
    assert_eq!(get(at, "/layouts/7").status, 404);
}
