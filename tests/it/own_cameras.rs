//! Cameras that the program feeds itself: the demo, a folder of pictures, a film.

use crate::{
    client::{get, post},
    staging::{Folder, Script, Service, Wish, png, scripted_readers, until},
};
use serde_json::Value;
use std::{net::SocketAddr, path::Path, sync::Arc, time::Duration};
use stillcloth::{
    camera::source::{Film, FrameSource, SourceError, SourceFrame, Stream},
    service::{CameraName, ReaderFactory, TableReader},
    staged::session::Demo,
};

fn watch(data: &Path, name: &str, source: FrameSource) -> Service {
    let camera: CameraName = name.parse().unwrap();
    let wish = Wish { camera: Some((camera, source)), ..Wish::default() };
    Service::start(data, wish, scripted_readers())
}

fn state(at: SocketAddr) -> Value {
    get(at, "/api/cameras").json()[0].clone()
}

fn ball_counts(at: SocketAddr) -> Vec<usize> {
    let list = get(at, "/api/layouts").json();
    let balls = |rest: &Value| rest["layout"]["balls"].as_array().unwrap().len();
    list["layouts"].as_array().unwrap().iter().map(balls).collect()
}

#[test]
fn a_folder_is_walked_in_the_order_of_names_and_a_bad_picture_stops_nothing() {
    let folder = Folder::new("folder");
    let pictures = folder.0.join("pictures-of-mine");
    std::fs::create_dir(&pictures).unwrap();
    let put = |name: &str, bytes: &[u8]| std::fs::write(pictures.join(name), bytes).unwrap();
    put("03.png", &png(Script::Read, 3, 0));
    put("01.png", &png(Script::Read, 7, 0));
    put("02.PNG", &png(Script::Read, 5, 0)[..40]);
    put("04.png", &png(Script::FindNoTable, 0, 0));
    put("05.jpeg", &png(Script::Read, 2, 0));
    put("notes.txt", b"not a picture");
    let source = FrameSource::open(pictures.to_str().unwrap()).unwrap();
    let service = watch(&folder.0.join("data"), "folder", source);
    until("the folder has come to its end", Duration::from_secs(20), || {
        state(service.address)["state"] == "ended"
    });
    assert_eq!(ball_counts(service.address), [7, 3, 2]);
    assert_eq!(state(service.address)["source"], "folder");
}

#[test]
fn of_a_film_each_new_rest_is_kept_once() {
    let folder = Folder::new("film");
    let film = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/films/rests.mkv");
    let source = FrameSource::open(film.to_str().unwrap()).unwrap();
    let service = watch(&folder.0, "film", source);
    until("the film has come to its end", Duration::from_secs(30), || {
        state(service.address)["state"] == "ended"
    });
    assert_eq!(ball_counts(service.address), [5, 4, 3]);
    let frame = get(service.address, "/api/layouts/1/frame");
    assert_eq!(frame.header("content-type"), Some("image/jpeg"));
    assert!(stillcloth::camera::picture::decode(&frame.body).is_ok());
}

#[test]
fn frames_cannot_be_sent_under_the_name_of_an_own_camera() {
    let folder = Folder::new("taken");
    let service = watch(&folder.0, "demo", FrameSource::Stream(Arc::new(Demo)));
    post(service.address, "/api/frames?camera=demo", "image/png", &png(Script::Read, 2, 0))
        .is_problem(409, "camera_is_taken");
    let answer =
        post(service.address, "/api/frames?camera=mine", "image/png", &png(Script::Read, 2, 0));
    assert_eq!(answer.status, 201);
}

/// What `make run` shows: a made-up session played live, the true reader, layouts within seconds.
#[test]
fn the_demo_shows_layouts_within_seconds() {
    let folder = Folder::new("demo");
    let data = folder.0.clone();
    let readers: ReaderFactory =
        Arc::new(move |camera| Box::new(TableReader::new(&data, camera, Default::default())));
    let camera = Some(("demo".parse().unwrap(), FrameSource::Stream(Arc::new(Demo))));
    let service = Service::start(&folder.0, Wish { camera, ..Wish::default() }, readers);
    until("two layouts are there", Duration::from_secs(240), || {
        ball_counts(service.address).len() >= 2
    });
    // On a slow machine the first rests are over before the camera is calibrated.
    let counts = ball_counts(service.address);
    assert!(counts.iter().all(|balls| (8..=16).contains(balls)), "{counts:?}");
}

#[test]
fn a_source_that_is_none_says_so_before_anything_starts() {
    let folder = Folder::new("none");
    assert!(matches!(FrameSource::open("/no/such/place"), Err(SourceError::Unknown { .. })));
    let empty = folder.0.to_str().unwrap();
    assert!(matches!(FrameSource::open(empty), Err(SourceError::EmptyFolder { .. })));
    let text = folder.0.join("film.mp4");
    std::fs::write(&text, "no film at all").unwrap();
    let opened = FrameSource::open(text.to_str().unwrap());
    assert!(matches!(opened, Err(SourceError::NoVideo { .. })));
}

#[test]
fn a_films_frames_are_in_the_right_order_of_colours_and_times() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/films/rests.mkv");
    let mut film = Film::at(&path).unwrap().begin().unwrap();
    let first = film.grab().unwrap().unwrap();
    let SourceFrame::Decoded(frame) = film.retrieve().unwrap() else { panic!("no picture") };
    assert_eq!(frame.dimensions(), (64, 48));
    assert_eq!(frame.get_pixel(0, 0).0, [0, 5, 0]);
    assert_eq!(frame.get_pixel(1, 0).0, [90, 90, 90]);
    let mut times = vec![first.at.unwrap().as_millis()];
    while let Some(grabbed) = film.grab().unwrap() {
        times.push(grabbed.at.unwrap().as_millis());
    }
    assert_eq!(times, (0..82).map(|frame| 100 * frame).collect::<Vec<_>>());
}

#[test]
fn a_camera_that_may_come_later_is_no_mistake_and_a_mistyped_one_is() {
    for (text, kind) in [
        ("63", "webcam"),
        ("/dev/no-such-camera", "webcam"),
        ("http://127.0.0.1:1/video", "mjpeg"),
        ("rtsp://127.0.0.1:1/stream", "network"),
        ("pushed", "pushed"),
    ] {
        assert_eq!(FrameSource::open(text).unwrap().kind(), kind, "{text}");
    }
    for text in ["", "demos", "webcam", "64", "ftp://cam/", "http:/cam", "films/run.mp4"] {
        let opened = FrameSource::open(text);
        assert!(matches!(opened, Err(SourceError::Unknown { .. })), "{text}: {opened:?}");
    }
    assert!(matches!(FrameSource::open("rtsp:///stream"), Err(SourceError::Address { .. })));
}
