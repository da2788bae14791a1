//! A camera is set up over the API and its pages: its picture, corners by hand, the foot end, kept
//! for the running camera and after a restart.

use crate::{
    client::{Answer, get, post},
    staging::{Folder, Script, Service, Wish, png, scripted_readers},
};
use serde_json::{Value, json};
use std::{net::SocketAddr, path::Path, sync::Arc};
use stillcloth::{
    service::{AccessSettings, CameraName, ReaderFactory, TableReader, calibration_file},
    table::TableSize,
    vision::CalibrateOptions,
};

/// A frame of testdata/, and its label beside it.
pub const FRAME: &str = "testdata/frames/club-071003";

/// The frame as a file.
pub fn true_frame() -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(FRAME).with_extension("jpg");
    std::fs::read(path).expect("a frame of testdata/")
}

/// The noses' true corners in pixels, in order around the table.
pub fn true_corners() -> Vec<[f64; 2]> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(FRAME).with_extension("json");
    let label: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    serde_json::from_value(label["nose_corners_px"].clone()).unwrap()
}

/// A service that reads what it is sent.
pub fn service(data: &Path, options: CalibrateOptions) -> Service {
    let folder = data.to_path_buf();
    let readers: ReaderFactory =
        Arc::new(move |camera| Box::new(TableReader::new(&folder, camera, options.clone())));
    Service::start(data, Wish::default(), readers)
}

/// Sends the true frame as the camera `club`; the layout that was read.
pub fn send(at: SocketAddr) -> Value {
    let sent = post(at, "/api/frames?camera=club", "image/jpeg", &true_frame());
    assert_eq!(sent.status, 201, "{}", sent.text());
    sent.json()["layout"].clone()
}

fn ask(at: SocketAddr, what: &str, body: &Value) -> Answer {
    let path = format!("/api/cameras/club/{what}");
    post(at, &path, "application/json", body.to_string().as_bytes())
}

/// How far the corners of a calibration are from the true ones at most, whichever comes first.
pub fn off_px(calibration: &Value) -> f64 {
    let found: Vec<[f64; 2]> = serde_json::from_value(calibration["corners_px"].clone()).unwrap();
    let distance = |a: &[f64; 2], b: &[f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let nearest = |corner: &[f64; 2]| {
        found.iter().map(|other| distance(corner, other)).fold(f64::MAX, f64::min)
    };
    true_corners().iter().map(nearest).fold(0.0, f64::max)
}

#[test]
fn corners_set_by_hand_are_refined_and_what_is_kept_counts_at_once_and_after_a_restart() {
    let folder = Folder::new("setup");
    let running = service(&folder.0, CalibrateOptions::default());
    let at = running.address;
    ask(at, "trials", &json!({})).is_problem(404, "no_camera");
    get(at, "/api/cameras/club/picture").is_problem(404, "no_camera");
    let before = send(at);

    let picture = get(at, "/api/cameras/club/picture");
    assert_eq!(picture.header("content-type"), Some("image/jpeg"));
    assert_eq!(picture.header("cache-control"), Some("no-store"));
    let shown = image::load_from_memory(&picture.body).unwrap();
    let size = picture.header("frame-size").unwrap();
    assert_eq!((shown.width(), size), (1600, "1920x1080"), "made smaller to look at");

    let found = get(at, "/api/cameras/club/calibration").json();
    assert!(off_px(&found) < 2.0, "{}", off_px(&found));
    assert_eq!(found["lines"]["noses"].as_array().unwrap().len(), 6);
    assert_eq!(found["lines"]["pockets"].as_array().unwrap().len(), 6);
    assert_eq!(found["lines"]["sights"].as_array().unwrap().len(), 18);
    assert_eq!(found["grade"], "good", "{found}");

    let pulled: Vec<[f64; 2]> = true_corners()
        .iter()
        .zip([[14.0, -9.0], [-12.0, 10.0], [8.0, 13.0], [-10.0, -14.0]])
        .map(|([x, y], [dx, dy])| [x + dx, y + dy])
        .collect();
    let tried = ask(at, "trials", &json!({"corners_px": pulled, "table": "9ft", "foot": "left"}));
    assert_eq!(tried.status, 201, "{}", tried.text());
    let tried = tried.json();
    let calibration = &tried["calibration"];
    assert!(off_px(calibration) < 2.0, "15 px off by hand: {}", off_px(calibration));
    assert_eq!(calibration["foot_side"], "left");
    assert_eq!(
        (&calibration["foot"], &calibration["table_given"]),
        (&"given".into(), &true.into())
    );
    let unchanged = get(at, "/api/cameras/club/calibration").json();
    assert_eq!(unchanged, found, "a trial keeps nothing");

    let other = ask(at, "trials", &json!({"table": "9ft", "foot": "right"})).json();
    ask(at, "calibration", &json!({"trial": tried["trial"]})).is_problem(404, "no_trial");
    let kept = ask(at, "calibration", &json!({"trial": other["trial"]}));
    assert_eq!(kept.status, 201, "{}", kept.text());
    assert_eq!(kept.json()["foot_side"], "right");
    let right = send(at);
    assert_eq!(right["foot"], "given", "the running camera goes by it: {right}");
    assert_eq!(right["balls"].as_array().unwrap().len(), before["balls"].as_array().unwrap().len());
    let again = ask(at, "trials", &json!({"table": "9ft", "foot": "left"})).json();
    assert_eq!(ask(at, "calibration", &json!({"trial": again["trial"]})).status, 201);
    let left = send(at);
    let cue = |layout: &Value| layout["balls"][0]["x"].as_f64().unwrap();
    assert!((cue(&left) + cue(&right) - 8.0).abs() < 0.05, "turned by half: {left} {right}");
    running.stop();

    let running = service(&folder.0, CalibrateOptions::default());
    assert_eq!(send(running.address), left, "and after a restart");
}

#[test]
fn a_wish_that_cannot_be_is_refused_in_plain_words() {
    let folder = Folder::new("wishes");
    let nine = CalibrateOptions { table: Some(TableSize::NINE_FOOT), ..Default::default() };
    let running = service(&folder.0, nine);
    let at = running.address;
    send(at);
    let same = json!([[700, 500], [700, 500], [700, 500], [700, 500]]);
    ask(at, "trials", &json!({ "corners_px": same })).is_problem(422, "no_table");
    let line = json!([[100, 100], [200, 200], [300, 300], [400, 400]]);
    ask(at, "trials", &json!({ "corners_px": line })).is_problem(422, "no_table");
    let far = json!([[1e9, 0], [1, 0], [1, 1], [0, 1]]);
    ask(at, "trials", &json!({ "corners_px": far })).is_problem(422, "no_wish");
    ask(at, "trials", &json!({ "corners_px": [[0, 0]] })).is_problem(422, "no_wish");
    ask(at, "trials", &json!({ "corner_px": same })).is_problem(422, "no_wish");
    ask(at, "trials", &json!({ "foot": "north" })).is_problem(422, "no_wish");
    ask(at, "trials", &json!({ "table": "10ft" })).is_problem(422, "no_wish");
    ask(at, "trials", &json!({ "table": "8ft" })).is_problem(409, "size_is_given");
    ask(at, "calibration", &json!({ "trial": 7 })).is_problem(404, "no_trial");
    ask(at, "calibration", &json!({ "trial": -7 })).is_problem(422, "no_trial");
}

#[test]
fn a_calibration_that_the_settings_name_is_not_put_aside_in_silence() {
    let folder = Folder::new("given");
    let first = service(&folder.0, CalibrateOptions::default());
    send(first.address);
    first.stop();
    let camera: CameraName = "club".parse().unwrap();
    let given = folder.0.join("given.json");
    std::fs::rename(calibration_file(&folder.0, &camera), &given).unwrap();
    let (data, file) = (folder.0.clone(), given.clone());
    let readers: ReaderFactory = Arc::new(move |camera| {
        let reader = TableReader::new(&data, camera, CalibrateOptions::default());
        Box::new(reader.beginning_with(file.clone()))
    });
    let running = Service::start(&folder.0, Wish::default(), readers);
    let at = running.address;
    send(at);
    let tried = ask(at, "trials", &json!({"table": "9ft"})).json();
    let refused = ask(at, "calibration", &json!({"trial": tried["trial"]}));
    refused.is_problem(409, "calibration_is_given");
    assert!(refused.text().contains("given.json"), "{}", refused.text());
}

#[test]
fn the_codes_that_pair_a_phone_are_shown_to_paired_devices_alone() {
    let folder = Folder::new("codes");
    let access = AccessSettings { lan: true, ..AccessSettings::default() };
    let wish = Wish { access, ..Wish::default() };
    let running = Service::start(&folder.0, wish, scripted_readers());
    let at = running.address;
    let key = std::fs::read_to_string(folder.0.join("access/key")).unwrap();
    let key = key.lines().last().unwrap();
    for page in ["/setup", "/phone"] {
        let text = get(at, page).text();
        assert!(text.contains("pair-key") && text.contains("/pair.js"), "{page}: {text}");
        assert!(!text.contains(key) && !text.contains("phone-code"), "{page}");
    }
    get(at, "/api/cameras/club/picture").is_problem(401, "not_paired");
    get(at, "/api/cameras/club/calibration").is_problem(401, "not_paired");
    let paired = |page: &str| {
        let head = format!("GET {page} HTTP/1.1\r\nAuthorization: Bearer {key}\r\n");
        crate::client::request(at, &head, b"")
    };
    let setup = paired("/setup");
    assert_eq!(setup.header("cache-control"), Some("no-store"), "a key is in it");
    let text = setup.text();
    for id in ["phone-code", "certificate-code", "pictures-code"] {
        assert!(text.contains(&format!("id=\"{id}\"")), "{id}");
    }
    assert!(text.contains(&format!("/phone#{key}")), "{text}");
    assert!(paired("/phone").text().contains("id=\"preview\""));
}

#[test]
fn a_photo_of_twenty_megabytes_is_taken_in() {
    let folder = Folder::new("large");
    let running = Service::plain(&folder.0);
    let (width, height) = (2700, 2600);
    let mut noise = 1_u32;
    let mut picture = image::RgbImage::from_fn(width, height, |_, _| {
        noise ^= noise << 13;
        noise ^= noise >> 17;
        noise ^= noise << 5;
        image::Rgb([noise as u8, (noise >> 8) as u8, (noise >> 16) as u8])
    });
    let script = image::load_from_memory(&png(Script::Read, 5, 0)).unwrap().to_rgb8();
    picture.put_pixel(0, 0, *script.get_pixel(0, 0));
    let mut bytes = Vec::new();
    let encoder = image::codecs::png::PngEncoder::new_with_quality(
        &mut bytes,
        image::codecs::png::CompressionType::Fast,
        image::codecs::png::FilterType::NoFilter,
    );
    picture.write_with_encoder(encoder).unwrap();
    assert!(bytes.len() > 20_000_000, "{}", bytes.len());
    let sent = post(running.address, "/api/frames?camera=phone-photo", "image/png", &bytes);
    assert_eq!(sent.status, 201, "{}", sent.text());
    assert_eq!(sent.json()["layout"]["balls"].as_array().unwrap().len(), 5);
}
