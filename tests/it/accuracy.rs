//! How well the bundled frames are read, held to what the project promises for such frames; and
//! that `measure` leaves nothing out.

use crate::staging::Folder;
use image::{Rgb, RgbImage};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;
use stillcloth::{
    camera::{Calibration, picture},
    service::{FrameReader, TableReader},
    staged::session::{SessionOptions, StagedSession},
    vision::{CalibrateOptions, calibrate, read},
};

fn frames() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/frames")
}

fn measure(folder: &Path, more: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_stillcloth"))
        .arg("measure")
        .arg(folder)
        .args(more)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn bundled_frames_are_read_as_promised() {
    let measured: Value = serde_json::from_str(&measure(&frames(), &["--json"])).unwrap();
    let measured = measured.as_array().unwrap();
    assert_eq!(measured.len(), 1, "no two bundled frames share a camera");
    let club = &measured[0]["rows"][0];
    let count = |key: &str| club[key].as_u64().unwrap_or_else(|| panic!("{key} in {club}"));
    let value = |key: &str| club[key].as_f64().unwrap_or_else(|| panic!("{key} in {club}"));
    assert_eq!(club["row"], "club");
    let labels = std::fs::read_dir(frames()).unwrap().flatten();
    let labels = labels.filter(|entry| entry.path().extension().is_some_and(|e| e == "json"));
    assert_eq!(count("frames"), labels.count() as u64);
    assert_eq!(count("refused"), 0);
    assert_eq!(count("found"), count("balls"));
    assert_eq!(count("false"), 0);
    for right in ["cue_right", "obstructed_right", "size_right"] {
        assert_eq!(count(right), count("frames"), "{right} in {club}");
    }
    assert!(100 * count("numbers_right") >= 97 * count("object_balls_found"), "{club}");
    assert!(value("centre_rms_mm") <= 0.70, "{club}");
    assert!(value("worst_mm") <= 2.5, "{club}");
    assert!(value("nose_corners_rms_px") <= 1.0, "{club}");
    assert!(100 * count("within_2_sigma") >= 80 * count("found"), "sigma: {club}");
    // The baseline is alive, and worth beating.
    let circles = 100 * count("circles_found") / count("balls");
    assert!((55..100).contains(&circles), "{circles} % by HoughCircles");
    assert!(value("circles_rms_px") < 2.0, "{club}");
    assert!(value("times_circles") > 0.0, "{club}");
}

#[test]
fn a_refused_frame_counts_and_frames_of_one_camera_are_calibrated_together() {
    let folder = Folder::new("measured");
    let inner = folder.0.join("again");
    std::fs::create_dir(&inner).unwrap();
    for (to, name) in [(&folder.0, "a"), (&folder.0, "b"), (&inner, "c")] {
        std::fs::copy(frames().join("club-071000.json"), to.join(format!("{name}.json"))).unwrap();
        std::fs::copy(frames().join("club-071000.jpg"), to.join(format!("{name}.jpg"))).unwrap();
    }
    // A frame of another camera that shows no table.
    RgbImage::from_pixel(1920, 1080, Rgb([90; 3])).save(inner.join("c.jpg")).unwrap();
    let label = std::fs::read_to_string(inner.join("c.json")).unwrap();
    let mut label: Value = serde_json::from_str(&label).unwrap();
    label["camera"]["f_px"] = 1500.0.into();
    std::fs::write(inner.join("c.json"), label.to_string()).unwrap();

    let told = measure(&folder.0, &["--worst", "1"]);
    let rows: Vec<&str> = told.lines().filter(|line| line.starts_with("| ")).collect();
    let cells =
        |row: &str| -> Vec<String> { row.split('|').map(|cell| cell.trim().to_string()).collect() };
    // Head, rule, two groups and all of them, in two tables, calibrated in two ways.
    assert_eq!(rows.len(), 20, "{told}");
    assert_eq!(cells(rows[2])[1..7], ["again: club", "1", "1", "12", "0.0 %", "0"]);
    assert_eq!(cells(rows[2])[7], "0 of 1", "a refused frame has no right cue ball");
    assert_eq!(cells(rows[3])[1..7], ["club", "2", "0", "24", "all", "0"]);
    assert_eq!(cells(rows[4])[1..6], ["all", "3", "1", "36", "66.6 %"]);
    assert!(told.contains("one calibration for each camera"), "{told}");
    assert!(told.contains("refused again/c.jpg: no table found"), "{told}");
    let worst = told.lines().filter(|line| line.starts_with("off ")).count();
    assert_eq!(worst, 2, "one for each way\n{told}");
}

#[test]
fn a_folder_without_labelled_frames_is_an_error() {
    let folder = Folder::new("unlabelled");
    std::fs::copy(frames().join("club-071000.jpg"), folder.0.join("a.jpg")).unwrap();
    let measure = |folder: &Path| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
        let output = command.arg("measure").arg(folder).output().unwrap();
        assert_eq!(output.status.code(), Some(1));
        String::from_utf8(output.stderr).unwrap()
    };
    assert!(measure(&folder.0).contains("no labelled frame"));
    std::fs::write(folder.0.join("a.json"), "{}").unwrap();
    assert!(measure(&folder.0).contains("a.json is no label"));
}

/// How far off the corner is that is farthest off, up to the table's half turn.
fn corners_off_px(found: &Calibration, truth: &[[f64; 2]]) -> f64 {
    let off_px = |turned: usize| {
        let pairs = truth.iter().enumerate().map(|(i, [x, y])| {
            let seen = found.nose_corners_px[(i + 2 * turned) % 4];
            (seen.x_px - x).hypot(seen.y_px - y)
        });
        pairs.fold(0.0, f64::max)
    };
    off_px(0).min(off_px(1))
}

#[test]
fn the_lines_beside_a_cushion_in_deep_shadow_are_no_noses() {
    // Rails of the cloth's colour, dim light from one side: a cushion's back edge shows better there
    // than its nose.
    let mut session = StagedSession::new(835, SessionOptions::quick()).unwrap();
    let corners = session.truth().cameras[0].nose_corners_px.clone();
    let mut found = 0;
    for frame in session.by_ref().take(12) {
        let frame = picture::decode(&frame.as_jpeg().unwrap()).unwrap();
        let Ok(calibration) = calibrate(&[frame], &CalibrateOptions::default()) else { continue };
        let off_px = corners_off_px(&calibration, &corners);
        assert!(off_px < 2.5, "a corner is {off_px:.1} px off");
        found += 1;
    }
    assert!(found >= 5, "the table was found in {found} of 12 frames");
}

#[test]
fn a_table_is_found_whatever_parts_its_cloth_or_hides_its_rails() {
    let tables = [
        (1018, "grain in dim light parts the cloth, and a cushion's shadow lies black"),
        (1041, "a line across the head parts the cloth"),
        (3229, "pockets bite the corners away"),
        (3204, "the rails have the cloth's colour"),
        (3276, "the rails have the cloth's colour, and a cushion hardly ends"),
        (
            3477,
            "the rails have the cloth's colour and leave the picture, and a line parts the cloth",
        ),
    ];
    for (seed, what) in tables {
        let mut session = StagedSession::new(seed, SessionOptions::quick()).unwrap();
        let corners = session.truth().cameras[0].nose_corners_px.clone();
        let frame = session.next_frame().unwrap();
        let frame = picture::decode(&frame.as_jpeg().unwrap()).unwrap();
        let found = calibrate(&[frame], &CalibrateOptions::default())
            .unwrap_or_else(|error| panic!("{seed}, {what}: {error}"));
        let off_px = corners_off_px(&found, &corners);
        assert!(off_px < 2.5, "{seed}, {what}: a corner is {off_px:.1} px off");
    }
}

#[test]
fn a_table_that_hardly_shows_is_refused_or_right() {
    // Grain in dim light parts the cloth, and its rails have its colour: what is found then may be
    // lines beside it. Each is the frame at which one was.
    for (seed, frame) in [(3395, 0), (835, 9)] {
        let mut session = StagedSession::new(seed, SessionOptions::quick()).unwrap();
        let corners = session.truth().cameras[0].nose_corners_px.clone();
        let frame = session.nth(frame).unwrap();
        let frame = picture::decode(&frame.as_jpeg().unwrap()).unwrap();
        if let Ok(found) = calibrate(&[frame], &CalibrateOptions::default()) {
            let off_px = corners_off_px(&found, &corners);
            assert!(off_px < 2.5, "{seed}: a corner is {off_px:.1} px off");
        }
    }
}

#[test]
fn balls_tell_a_focal_length_that_the_cushions_get_wrong() {
    for seed in [1052, 3037] {
        let mut session = StagedSession::new(seed, SessionOptions::quick()).unwrap();
        let lens = session.scene().camera.lens;
        let frame = session.next_frame().unwrap();
        let frame = picture::decode(&frame.as_jpeg().unwrap()).unwrap();
        let found = calibrate(&[frame], &CalibrateOptions::default()).unwrap().camera.lens;
        let times =
            found.focal_px / f64::from(found.width_px) * f64::from(lens.width_px) / lens.focal_px;
        assert!((0.8..1.25).contains(&times), "{seed}: {times:.2} times the true focal length");
    }
}

/// The made-up session up to its first frame from a time on.
fn session_at(mut session: StagedSession, at_s: f64) -> StagedSession {
    while session.next_time().is_some_and(|next| next.as_secs_f64() < at_s) {
        session.skip_frame();
    }
    session
}

#[test]
fn of_two_balls_that_touch_both_are_read() {
    // A red ball against a white one that is read too near it.
    let session = StagedSession::new(1120, SessionOptions::quick()).unwrap();
    let frame = session_at(session, 14.1).next_frame().unwrap();
    let frame = picture::decode(&frame.as_jpeg().unwrap()).unwrap();
    let calibration =
        calibrate(std::slice::from_ref(&frame), &CalibrateOptions::default()).unwrap();
    let reading = read(&frame, &calibration).unwrap();
    assert_eq!(reading.layout.balls.len(), 15, "{:?}", reading.rejected);
}

/// How many balls lie at each rest that is told in parts of a made-up session.
fn told(seed: u64, spans: &[(f64, f64)]) -> Vec<usize> {
    let mut session = StagedSession::new(seed, SessionOptions::quick()).unwrap();
    let mut reader = TableReader::keeping_nothing(CalibrateOptions::default());
    let mut told = Vec::new();
    for (from_s, to_s) in spans {
        session = session_at(session, *from_s);
        while session.next_time().is_some_and(|next| next.as_secs_f64() < *to_s) {
            let frame = session.next_frame().unwrap();
            let picture = picture::decode(&frame.as_jpeg().unwrap()).unwrap();
            let rest = reader.watch(&picture, frame.at).unwrap().rest;
            told.extend(rest.map(|reading| reading.layout.balls.len()));
        }
    }
    told
}

#[test]
fn a_spot_in_the_balls_shadow_is_no_ball_of_the_cloths_colour_and_such_a_ball_is_one() {
    // A rest before, one with the bare spot, and what a break left about it.
    let beside_the_spot = told(1128, &[(0.0, 1.0), (402.5, 405.0), (490.5, 493.0)]);
    assert_eq!(beside_the_spot.last(), Some(&12), "{beside_the_spot:?}");
    // A green ball on green cloth, in a rack.
    let green = told(1136, &[(0.0, 1.0), (590.0, 592.0), (618.0, 625.0), (914.0, 920.5)]);
    assert_eq!(green.last(), Some(&16), "{green:?}");
}
