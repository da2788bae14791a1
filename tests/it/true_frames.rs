//! True frames through the true reader: what a newcomer's first `curl` does, and how a camera's
//! calibration is kept.

use crate::{
    client::post,
    staging::{Folder, Service, Wish},
};
use image::{ImageFormat, RgbImage, imageops::FilterType};
use std::{
    io::Cursor,
    path::{Path, PathBuf},
    sync::Arc,
};
use stillcloth::{
    camera::picture::decode,
    service::{FrameReader, ReaderFactory, TableReader},
    staged::session::{SessionOptions, StagedSession},
    vision::{CalibrateOptions, calibrate},
};

fn true_frame() -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/frames/club-071000.jpg");
    std::fs::read(path).expect("a frame of testdata/")
}

fn reader(data: &Path) -> TableReader {
    let camera = "club".parse().unwrap();
    TableReader::new(data, &camera, Default::default())
}

#[test]
fn a_true_frame_is_read_and_a_picture_without_a_table_is_refused() {
    let folder = Folder::new("true");
    let data = folder.0.clone();
    let readers: ReaderFactory = Arc::new(move |_| Box::new(reader(&data)));
    let service = Service::start(&folder.0, Wish::default(), readers);
    let send = |bytes: &[u8]| post(service.address, "/api/frames?camera=club", "image/jpeg", bytes);
    let first = send(&true_frame());
    assert_eq!(first.status, 201, "{}", first.text());
    assert_eq!(first.json()["layout"]["balls"].as_array().unwrap().len(), 12);

    let kept = folder.0.join("calibrations/club.json");
    let calibration = std::fs::read(&kept).expect("the calibration is kept");
    assert_eq!(send(&true_frame()).json()["layout"], first.json()["layout"]);
    assert_eq!(std::fs::read(&kept).unwrap(), calibration, "and used again");

    let dark = RgbImage::new(640, 480);
    let mut bytes = Cursor::new(Vec::new());
    dark.write_to(&mut bytes, ImageFormat::Jpeg).unwrap();
    let other = Folder::new("dark");
    let data = other.0.clone();
    let readers: ReaderFactory = Arc::new(move |_| Box::new(reader(&data)));
    let service = Service::start(&other.0, Wish::default(), readers);
    let answer = post(service.address, "/api/frames", "image/jpeg", bytes.get_ref());
    answer.is_problem(422, "no_table");
}

/// A session at a table whose rails are stained in the colour of its cloth.
const STAINED: u64 = 781;

#[test]
fn rails_of_the_cloths_own_colour_are_told_by_their_sights() {
    let mut session = StagedSession::new(STAINED, SessionOptions::quick()).unwrap();
    let frame = session.next_frame().unwrap().picture;
    let found = calibrate(std::slice::from_ref(&frame), &CalibrateOptions::default()).unwrap();
    let truth = &session.truth().cameras[0].nose_corners_px;
    for corner in found.nose_corners_px {
        let off_px = |[x, y]: &[f64; 2]| (corner.x_px - x).hypot(corner.y_px - y);
        let nearest = truth.iter().map(off_px).fold(f64::MAX, f64::min);
        assert!(nearest < 2.0, "{nearest} px");
    }
}

fn calibrations(data: &Path) -> Vec<PathBuf> {
    let folder = std::fs::read_dir(data.join("calibrations")).unwrap();
    let mut files: Vec<_> = folder.map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

#[test]
fn a_camera_counts_as_moved_only_after_several_frames_and_no_calibration_is_lost() {
    let folder = Folder::new("moved");
    let frame = decode(&true_frame()).unwrap();
    // Another resolution stands for another standpoint: neither fits the calibration.
    let moved = image::imageops::resize(&frame, 1600, 900, FilterType::Triangle);
    let mut reader = reader(&folder.0);
    let balls = |reader: &mut TableReader, frame: &RgbImage| {
        reader.read(frame).unwrap_or_else(|error| panic!("{error}")).layout.balls.len()
    };
    balls(&mut reader, &frame);
    let file = folder.0.join("calibrations/club.json");
    let before = std::fs::read(&file).unwrap();
    for _ in 0..2 {
        assert!(balls(&mut reader, &moved) > 0, "read by its own calibration");
        assert_eq!(std::fs::read(&file).unwrap(), before, "one odd frame changes nothing");
    }
    balls(&mut reader, &frame);
    for _ in 0..2 {
        balls(&mut reader, &moved);
    }
    assert_eq!(calibrations(&folder.0), std::slice::from_ref(&file), "two in a row are not three");
    balls(&mut reader, &moved);
    assert_ne!(std::fs::read(&file).unwrap(), before);
    let files = calibrations(&folder.0);
    assert_eq!(files.len(), 2, "{files:?}");
    let aside = files.iter().find(|path| **path != file).unwrap();
    assert_eq!(std::fs::read(aside).unwrap(), before, "the old one is set aside");
}

#[test]
fn a_calibration_file_that_is_none_is_an_error_and_is_not_overwritten() {
    let folder = Folder::new("spoilt");
    let file = folder.0.join("calibrations/club.json");
    std::fs::create_dir_all(file.parent().unwrap()).unwrap();
    std::fs::write(&file, "{ not a calibration").unwrap();
    let error = reader(&folder.0).read(&decode(&true_frame()).unwrap()).unwrap_err();
    assert!(error.to_string().contains("club.json"), "{error}");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), "{ not a calibration");
}
