//! Frames pushed over a WebSocket: watched as a stream, each answered, the newest first.

use crate::{
    client::{get, post},
    staging::{Folder, LONG, Script, Service, Wish, impatient, png, scripted_readers, until},
};
use serde_json::Value;
use std::{
    collections::BTreeMap,
    net::{SocketAddr, TcpStream},
    path::Path,
    sync::Arc,
    time::Duration,
};
use stillcloth::{camera::source::FrameSource, staged::session::Demo};
use tungstenite::{
    Message, WebSocket, client::IntoClientRequest, http::HeaderValue, stream::MaybeTlsStream,
};

type Socket = WebSocket<MaybeTlsStream<TcpStream>>;

fn service(data: &Path) -> Service {
    let wish = Wish { watching: impatient(), ..Wish::default() };
    Service::start(data, wish, scripted_readers())
}

fn dial(at: SocketAddr, camera: &str) -> Socket {
    let (socket, _) =
        tungstenite::connect(format!("ws://{at}/api/cameras/{camera}/frames")).unwrap();
    if let MaybeTlsStream::Plain(stream) = socket.get_ref() {
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    }
    socket
}

fn send(socket: &mut Socket, frame: Vec<u8>) {
    socket.send(Message::binary(frame)).unwrap();
}

/// The next answer, or none once the other side has closed.
fn answer(socket: &mut Socket) -> Option<Value> {
    loop {
        match socket.read() {
            Ok(Message::Text(text)) => return Some(serde_json::from_str(&text).unwrap()),
            Ok(Message::Close(_)) | Err(_) => return None,
            Ok(_) => {}
        }
    }
}

fn camera(at: SocketAddr, name: &str) -> Value {
    let cameras = get(at, "/api/cameras").json();
    cameras.as_array().unwrap().iter().find(|camera| camera["name"] == name).unwrap().clone()
}

#[test]
fn pushed_frames_are_watched_and_a_rest_among_them_is_kept_once() {
    let folder = Folder::new("pushed");
    let service = service(&folder.0);
    let mut socket = dial(service.address, "phone");
    let mut rests = Vec::new();
    for salt in 0..40 {
        send(&mut socket, png(Script::Read, 7, salt));
        let answer = answer(&mut socket).unwrap();
        assert_eq!(answer["frame"], u64::from(salt) + 1);
        rests.extend(answer["rest"].as_i64());
        std::thread::sleep(Duration::from_millis(40));
    }
    assert_eq!(rests, [1]);
    let list = get(service.address, "/api/layouts?camera=phone").json();
    assert_eq!(list["layouts"].as_array().unwrap().len(), 1);
    let now = camera(service.address, "phone");
    assert_eq!((&now["source"], &now["frames"]), (&"pushed".into(), &40.into()), "{now}");
    post(service.address, "/api/frames?camera=phone", "image/png", &png(Script::Read, 7, 1))
        .is_problem(409, "camera_is_taken");

    socket.close(None).unwrap();
    while answer(&mut socket).is_some() {}
    until("its sender is known to be gone", Duration::from_secs(10), || {
        let now = camera(service.address, "phone");
        now["health"] == "lost" && now["words"].as_str().unwrap().contains("closed the connection")
    });
    let mut socket = dial(service.address, "phone");
    send(&mut socket, png(Script::Read, 7, 1));
    until("it is live again", Duration::from_secs(10), || {
        camera(service.address, "phone")["health"] == "live"
    });
    assert_eq!(camera(service.address, "phone")["reconnects"], 1);
}

#[test]
fn of_frames_that_come_too_fast_the_newest_wins_and_each_is_answered_once() {
    let folder = Folder::new("burst");
    let service = service(&folder.0);
    let mut socket = dial(service.address, "phone");
    let frames = 12_u8;
    for salt in 0..frames {
        send(&mut socket, png(Script::TakeLong, 2, salt));
        // Sooner than they are looked at, later than they would be thinned.
        std::thread::sleep(LONG / 4);
    }
    let mut fates = BTreeMap::new();
    while fates.len() < usize::from(frames) {
        let answer = answer(&mut socket).unwrap();
        let number = answer["frame"].as_u64().unwrap();
        let twice = fates.insert(number, answer["fate"].as_str().unwrap().to_string());
        assert_eq!(twice, None, "frame {number} was answered twice");
    }
    let seen = fates.values().filter(|fate| *fate == "seen").count();
    let passed_over = fates.values().filter(|fate| *fate == "passed_over").count();
    assert!(seen >= 2 && passed_over >= 2 && seen + passed_over == fates.len(), "{fates:?}");
    assert_eq!(fates[&u64::from(frames)], "seen", "the last one is always looked at: {fates:?}");
    assert!(camera(service.address, "phone")["dropped"].as_u64().unwrap() >= 1);
}

#[test]
fn what_is_no_frame_is_answered_or_refused_and_the_service_goes_on() {
    let folder = Folder::new("noframe");
    let service = service(&folder.0);
    let at = service.address;
    let mut socket = dial(at, "phone");
    send(&mut socket, b"no picture at all".to_vec());
    let said = answer(&mut socket).unwrap();
    assert_eq!(said["fate"], "unreadable");
    assert!(said["why"].as_str().unwrap().contains("neither JPEG"), "{said}");
    std::thread::sleep(Duration::from_millis(120));
    send(&mut socket, png(Script::FindNoTable, 0, 0));
    let said = answer(&mut socket).unwrap();
    assert!(said["why"].as_str().unwrap().contains("no cloth in view"), "{said}");
    until("the damaged one is counted", Duration::from_secs(5), || {
        camera(at, "phone")["undecodable"] == 1
    });
    socket.send(Message::text("hello")).unwrap();
    assert_eq!(answer(&mut socket), None, "text is no frame");
    get(at, "/healthz");
}

#[test]
fn a_second_sender_takes_the_firsts_place() {
    let folder = Folder::new("second");
    let service = service(&folder.0);
    let mut first = dial(service.address, "phone");
    send(&mut first, png(Script::Read, 3, 0));
    answer(&mut first).unwrap();
    let mut second = dial(service.address, "phone");
    send(&mut second, png(Script::Read, 3, 1));
    answer(&mut second).unwrap();
    assert_eq!(answer(&mut first), None, "the first is let go");
    std::thread::sleep(Duration::from_millis(120));
    send(&mut second, png(Script::Read, 3, 2));
    assert_eq!(answer(&mut second).unwrap()["fate"], "seen");
}

#[test]
fn who_may_not_push_is_told_so_before_the_first_frame() {
    let folder = Folder::new("refused");
    let source = FrameSource::Stream(Arc::new(Demo));
    let camera = Some(("demo".parse().unwrap(), source));
    let service = Service::start(&folder.0, Wish { camera, ..Wish::default() }, scripted_readers());
    let at = service.address;
    get(at, "/api/cameras/phone/frames").is_problem(400, "no_websocket");
    let refused = |camera: &str, origin: Option<&str>| {
        let address = format!("ws://{at}/api/cameras/{camera}/frames");
        let mut request = address.into_client_request().unwrap();
        if let Some(origin) = origin {
            request.headers_mut().insert("origin", HeaderValue::from_str(origin).unwrap());
        }
        match tungstenite::connect(request) {
            Ok(_) => 101,
            Err(tungstenite::Error::Http(answer)) => answer.status().as_u16(),
            Err(error) => panic!("{error}"),
        }
    };
    assert_eq!(refused("demo", None), 409);
    assert_eq!(refused("a%20b", None), 400);
    assert_eq!(refused("phone", Some("http://elsewhere.example")), 403);
    assert_eq!(refused("phone", Some("null")), 403);
    assert_eq!(refused("phone", Some(&format!("http://{at}"))), 101);
}

#[test]
fn a_sender_does_not_hold_up_the_end() {
    let folder = Folder::new("end");
    let service = service(&folder.0);
    let mut socket = dial(service.address, "phone");
    send(&mut socket, png(Script::Read, 3, 0));
    answer(&mut socket).unwrap();
    let begun = std::time::Instant::now();
    service.stop();
    assert!(begun.elapsed() < Duration::from_secs(5), "{:?}", begun.elapsed());
    assert_eq!(answer(&mut socket), None);
}

/// Sends the next frame of a stream by a request of its own.
fn post_next(at: SocketAddr, sender: &str, frame: &[u8]) -> crate::client::Answer {
    post(at, &format!("/api/cameras/phone/frames?sender={sender}"), "image/png", frame)
}

#[test]
fn frames_that_come_by_single_requests_are_watched_as_a_stream() {
    let folder = Folder::new("posted");
    let before = service(&folder.0);
    let mut rests = Vec::new();
    for salt in 0..12 {
        let told = post_next(before.address, "a", &png(Script::Read, 7, salt));
        assert_eq!(told.status, 200, "{}", told.text());
        let told = told.json();
        assert_eq!(
            (&told["frame"], &told["fate"]),
            (&(u64::from(salt) + 1).into(), &"seen".into())
        );
        assert_eq!(told["words"], "Sees the whole table.", "{told}");
        rests.extend(told["rest"].as_i64());
        std::thread::sleep(Duration::from_millis(110));
    }
    assert_eq!(rests, [1], "a rest is kept, and not each frame");
    let now = camera(before.address, "phone");
    assert_eq!((&now["source"], &now["reconnects"]), (&"pushed".into(), &0.into()), "{now}");
    let garbage = post_next(before.address, "a", b"no picture at all");
    assert_eq!((garbage.status, &garbage.json()["fate"]), (200, &"unreadable".into()));
    before.stop();

    // The page goes on as if nothing had been.
    let after = service(&folder.0);
    let told = post_next(after.address, "a", &png(Script::Read, 3, 1));
    assert_eq!((told.status, told.json()["fate"].as_str()), (200, Some("seen")));
}

#[test]
fn of_two_who_send_for_one_camera_the_second_is_told_so() {
    let folder = Folder::new("two");
    let running = service(&folder.0);
    let at = running.address;
    assert_eq!(post_next(at, "a", &png(Script::Read, 3, 1)).status, 200);
    let refused = post_next(at, "b", &png(Script::Read, 4, 1));
    refused.is_problem(409, "camera_is_fed");
    assert!(refused.text().contains("another name"), "{}", refused.text());
    assert_eq!(post_next(at, "a", &png(Script::Read, 3, 2)).status, 200, "the first goes on");

    let mut socket = dial(at, "phone");
    send(&mut socket, png(Script::Read, 3, 3));
    answer(&mut socket).unwrap();
    post_next(at, "a", &png(Script::Read, 3, 4)).is_problem(409, "camera_is_fed");
    socket.close(None).unwrap();
    while answer(&mut socket).is_some() {}
    until("it may send again", Duration::from_secs(10), || {
        post_next(at, "a", &png(Script::Read, 3, 5)).status == 200
    });
    post(at, "/api/cameras/a%20b/frames", "image/png", b"").is_problem(400, "camera_name");
    post(at, "/api/cameras/phone/frames?sender=a", "text/plain", b"x")
        .is_problem(415, "media_type");
}
