//! What those see who watch over the service: its health and its counts.

use crate::{
    client::{get, post},
    layouts_out::send,
    staging::{Folder, Script, Service, Wish, png, scripted_readers, until},
};
use image::RgbImage;
use std::{sync::Arc, time::Duration};
use stillcloth::{
    service::{FrameReader, ReaderError, ReaderFactory},
    vision::{Look, Reading},
};

#[test]
fn what_happened_can_be_counted() {
    let folder = Folder::new("metrics");
    // Nobody is there, so that deliveries wait.
    let listeners = vec!["http://127.0.0.1:1/".parse().unwrap()];
    let service =
        Service::start(&folder.0, Wish { listeners, ..Wish::default() }, scripted_readers());
    let at = service.address;
    for balls in [4, 5, 6] {
        send(at, "hall", balls);
    }
    post(at, "/api/frames?camera=hall", "image/png", &png(Script::FindNoTable, 0, 0));
    let text = || get(at, "/metrics").text();
    until("a delivery has failed", Duration::from_secs(5), || {
        !text().contains("stillcloth_deliveries_total{outcome=\"failed\"} 0\n")
    });
    let answer = get(at, "/metrics");
    assert_eq!(answer.header("content-type"), Some("text/plain; version=0.0.4; charset=utf-8"));
    let text = answer.text();
    for line in [
        "stillcloth_rests_total{camera=\"hall\"} 3",
        "stillcloth_rest_latency_seconds_count{camera=\"hall\"} 3",
        "stillcloth_rest_latency_seconds_bucket{camera=\"hall\",le=\"+Inf\"} 3",
        "stillcloth_camera_health{camera=\"hall\",health=\"live\"} 1",
        "stillcloth_frames_total{camera=\"hall\"} 4",
        "stillcloth_frames_dropped_total{camera=\"hall\"} 0",
        "stillcloth_reconnects_total{camera=\"hall\"} 0",
        "stillcloth_camera_state{camera=\"hall\",state=\"unreadable\"} 1",
        "stillcloth_deliveries_total{outcome=\"delivered\"} 0",
        "stillcloth_followers 0",
    ] {
        assert!(text.lines().any(|found| found == line), "no {line} in\n{text}");
    }
    for name in [
        "stillcloth_last_frame_age_seconds{camera=\"hall\"} ",
        "stillcloth_disk_free_bytes ",
        "stillcloth_deliveries_waiting ",
    ] {
        let line = text.lines().find_map(|line| line.strip_prefix(name));
        let value: f64 = line.unwrap_or_else(|| panic!("no {name} in\n{text}")).parse().unwrap();
        assert!((0.0..1e18).contains(&value), "{name}{value}");
    }
    in_form(&text);
}

/// Holds that a text is in the form that Prometheus reads: each family is described before its
/// first sample and stands in one piece, and no sample comes twice.
fn in_form(text: &str) {
    assert!(text.ends_with('\n'));
    let (mut family, mut done, mut seen) = (String::new(), Vec::new(), Vec::new());
    for line in text.lines() {
        if let Some(described) = line.strip_prefix("# HELP ") {
            done.push(std::mem::replace(&mut family, described.split(' ').next().unwrap().into()));
            assert!(!done.contains(&family), "{family} stands in two pieces");
        } else if let Some(typed) = line.strip_prefix("# TYPE ") {
            let (name, kind) = typed.split_once(' ').unwrap();
            assert!(name == family && ["counter", "gauge", "histogram"].contains(&kind), "{line}");
            assert_eq!(kind == "counter", name.ends_with("_total"), "{line}");
        } else {
            let (sample, value) = line.rsplit_once(' ').unwrap();
            value.parse::<f64>().unwrap_or_else(|_| panic!("{line}"));
            let name = sample.split('{').next().unwrap();
            let bare = ["_bucket", "_sum", "_count"]
                .iter()
                .find_map(|ending| name.strip_suffix(ending).filter(|name| *name == family));
            assert_eq!(bare.unwrap_or(name), family, "{line}");
            assert!(!seen.contains(&sample), "{sample} comes twice");
            seen.push(sample);
        }
    }
}

/// A reader that falls over where nothing guards against it: when its thread lets go of it.
struct Falling(Box<dyn FrameReader>);

impl FrameReader for Falling {
    fn read(&mut self, frame: &RgbImage) -> Result<Reading, ReaderError> {
        self.0.read(frame)
    }

    fn watch(&mut self, frame: &RgbImage, at: Duration) -> Result<Look, ReaderError> {
        self.0.watch(frame, at)
    }
}

impl Drop for Falling {
    fn drop(&mut self) {
        panic!("the falling reader was let go");
    }
}

#[test]
fn a_camera_whose_thread_has_fallen_over_is_named() {
    let folder = Folder::new("fallen");
    let readers: ReaderFactory = Arc::new(|camera| {
        let reader = scripted_readers()(camera);
        if camera.as_str() == "first" { Box::new(Falling(reader)) } else { reader }
    });
    let service = Service::start(&folder.0, Wish::default(), readers);
    let at = service.address;
    send(at, "first", 3);
    let well = get(at, "/healthz");
    assert_eq!((well.status, well.json()["status"].as_str()), (200, Some("ok")));
    // So many cameras that the first has to go.
    for number in 0..16 {
        send(at, &format!("camera-{number}"), 3);
    }
    until("it is noticed", Duration::from_secs(5), || get(at, "/healthz").status == 503);
    let unwell = get(at, "/healthz");
    unwell.is_problem(503, "unwell");
    assert!(unwell.text().contains("camera first"), "{}", unwell.text());
}

#[test]
fn a_record_that_does_not_answer_is_named_and_its_reasons_stay_in_the_log() {
    let folder = Folder::new("unwell");
    let service = Service::plain(&folder.0);
    let at = service.address;
    send(at, "table", 3);
    let database = rusqlite::Connection::open(folder.0.join("record.sqlite3")).unwrap();
    database.execute_batch("ALTER TABLE rests RENAME TO lost").unwrap();
    let unwell = get(at, "/healthz");
    unwell.is_problem(503, "unwell");
    assert!(unwell.text().contains("the record"), "{}", unwell.text());
    let layouts = get(at, "/api/layouts");
    layouts.is_problem(500, "internal");
    for answer in [unwell, layouts] {
        assert!(!answer.text().contains("no such table"), "{}", answer.text());
    }
    assert_eq!(get(at, "/metrics").status, 200, "counts are to be had all the same");
}
