//! A ball set in colours of its own: read wrongly at first, taught from its balls laid out in a
//! row, read rightly after. By what a user types, on staged frames; and by the service.

use crate::command::{self, printed, refusal};
use crate::staging::Folder;
use image::ImageFormat;
use std::path::{Path, PathBuf};
use std::process::Output;
use stillcloth::camera::{Calibration, Lens, PixelPoint, picture::decode};
use stillcloth::layout::Layout;
use stillcloth::service::{FrameReader, TableReader, save_ball_set};
use stillcloth::staged::{Profile, Random, Scene, StagedBall, random_orientation};
use stillcloth::table::TablePoint;
use stillcloth::vision::{BallLook, CalibrateOptions, LaidOut, calibrate};

fn stillcloth(folder: &Folder, arguments: &[&str]) -> Output {
    command::stillcloth(&folder.0, arguments)
}

fn layout(line: &str) -> Layout {
    serde_json::from_str(line).unwrap()
}

fn saved(folder: &Folder, name: &str, scene: &Scene) {
    scene.render().save_with_format(folder.0.join(name), ImageFormat::Png).unwrap();
}

/// A table whose balls carry colours of their own.
fn odd_scene() -> Scene {
    let mut scene = Scene::random(83, Profile::Near);
    scene.looks.balls = scene.looks.balls.recoloured(&mut Random::new(88));
    scene.extras.clear();
    // Smaller than usual: rendering is most of the test's time.
    scene.camera.lens = smaller(scene.camera.lens);
    scene
}

/// The same lens on two thirds of the pixels each way.
fn smaller(lens: Lens) -> Lens {
    let part = 2.0 / 3.0;
    let PixelPoint { x_px, y_px } = lens.centre_px;
    Lens {
        width_px: lens.width_px * 2 / 3,
        height_px: lens.height_px * 2 / 3,
        focal_px: part * lens.focal_px,
        centre_px: PixelPoint::new(part * x_px, part * y_px),
        ..lens
    }
}

/// The same table with the whole set in a row along a long rail, each ball turned anyhow.
fn in_a_row(scene: &Scene, turning: u64) -> Scene {
    let mut random = Random::new(turning);
    let first_mm = 0.12 * scene.table.length_mm;
    let ball = |number: u8| StagedBall {
        number,
        place: TablePoint::new(
            first_mm + 68.0 * f64::from(number) + if number > 0 { 70.0 } else { 0.0 },
            40.0,
        ),
        orientation: random_orientation(&mut random),
    };
    Scene { balls: (0..16).map(ball).collect(), ..scene.clone() }
}

/// The same table in play: all balls anywhere apart.
fn in_play(scene: &Scene) -> Scene {
    let mut random = Random::new(9);
    let (length_mm, width_mm) = (scene.table.length_mm, scene.table.width_mm);
    let mut balls: Vec<StagedBall> = Vec::new();
    while balls.len() < 16 {
        let place = TablePoint::new(
            random.between(100.0, length_mm - 100.0),
            random.between(100.0, width_mm - 100.0),
        );
        if balls.iter().all(|other| other.place.distance_mm(place) > 75.0) {
            let number = balls.len() as u8;
            balls.push(StagedBall { number, place, orientation: random_orientation(&mut random) });
        }
    }
    Scene { balls, ..scene.clone() }
}

/// Balls of a layout that stand where a ball of that number was staged, the table either way up.
fn named_right(layout: &Layout, scene: &Scene) -> usize {
    let right = |turned: bool| {
        let staged = |number: u8| {
            let ball = scene.balls.iter().find(|ball| ball.number == number)?;
            Some(if turned { ball.place.turned(&scene.table) } else { ball.place })
        };
        let is_right = |ball: &&stillcloth::layout::Ball| {
            let place = stillcloth::table::DiamondPoint { x: ball.x, y: ball.y };
            let place = place.on_table(&layout.table);
            ball.number.and_then(staged).is_some_and(|true_one| true_one.distance_mm(place) < 15.0)
        };
        layout.balls.iter().filter(is_right).count()
    };
    right(false).max(right(true))
}

#[test]
fn a_set_in_odd_colours_is_read_once_it_was_taught() {
    let folder = Folder::new("taught");
    let (scene, play) = (odd_scene(), in_play(&odd_scene()));
    saved(&folder, "row-1.png", &in_a_row(&scene, 1));
    saved(&folder, "row-2.png", &in_a_row(&scene, 2));
    saved(&folder, "play.png", &play);
    let size = format!("{}x{}", scene.table.length_mm, scene.table.width_mm);
    let calibrate = ["calibrate", "play.png", "--table", &size, "--out", "camera.json"];
    printed(&stillcloth(&folder, &calibrate));

    let read = ["read", "play.png", "--calibration", "camera.json"];
    let before = layout(&printed(&stillcloth(&folder, &read)));
    let teach = ["teach", "row-1.png", "row-2.png", "--calibration", "camera.json"];
    let said = printed(&stillcloth(&folder, &teach));
    assert!(
        said.contains("16 balls from 2 frames") && said.contains("camera.balls.json"),
        "{said}"
    );
    let taught = [&read[..], &["--ball-set", "camera.balls.json"]].concat();
    let after = layout(&printed(&stillcloth(&folder, &taught)));

    let (before, after) = (named_right(&before, &play), named_right(&after, &play));
    assert!(before <= 8, "{before} of 16 were right before: the set is not odd enough to prove it");
    assert!(after >= 14, "{before} of 16 right before, {after} after");
}

#[test]
fn what_cannot_teach_is_refused_in_words() {
    let folder = Folder::new("untaught");
    let frame = true_frame("club-071000");
    let no_row = refusal(&stillcloth(&folder, &["teach", &frame]));
    assert!(no_row.contains("club-071000.jpg: ") && no_row.contains("sixteen"), "{no_row}");
    let no_camera = refusal(&stillcloth(&folder, &["teach", &frame, "--camera", "hall"]));
    assert!(no_camera.contains("cannot read the calibration data/calibrations/hall.json"));
    std::fs::write(folder.0.join("set.json"), "{}").unwrap();
    let no_set = refusal(&stillcloth(&folder, &["read", &frame, "--ball-set", "set.json"]));
    assert!(no_set.contains("set.json is no taught ball set"), "{no_set}");
    let missing = refusal(&stillcloth(&folder, &["read", &frame, "--ball-set", "none.json"]));
    assert!(missing.contains("cannot read the ball set none.json"), "{missing}");
    assert!(!folder.0.join("data").exists(), "nothing is left behind");
}

fn true_frame(name: &str) -> String {
    let path: PathBuf = [env!("CARGO_MANIFEST_DIR"), "testdata", "frames", name].iter().collect();
    path.with_extension("jpg").display().to_string()
}

#[test]
fn the_service_reads_by_the_set_that_lies_beside_the_calibration() {
    let folder = Folder::new("taught-service");
    let frame = decode(&std::fs::read(true_frame("club-071005")).unwrap()).unwrap();
    let calibration =
        calibrate(std::slice::from_ref(&frame), &CalibrateOptions::default()).unwrap();
    let file = folder.0.join("calibrations/club.json");
    let reader = |data: &Path| TableReader::new(data, &"club".parse().unwrap(), Default::default());
    let plain = reader(&folder.0).read(&frame).unwrap().layout;
    // Each object ball is taught by the number before it, the 1 as the 15.
    let other = |number: u8| if number == 0 { 0 } else { (number + 13) % 15 + 1 };
    let laid: Vec<(u8, TablePoint)> = plain
        .balls
        .iter()
        .map(|ball| {
            let place = stillcloth::table::DiamondPoint { x: ball.x, y: ball.y };
            (other(ball.number.unwrap()), place.on_table(&plain.table))
        })
        .collect();
    let frames = [LaidOut { frame: &frame, balls: &laid }];
    let look = BallLook::learn(&calibration.camera, &calibration.table, &frames).unwrap();
    save_ball_set(&look, &folder.0.join("calibrations/club.balls.json")).unwrap();
    assert!(Calibration::load(&file).is_ok());
    let taught = reader(&folder.0).read(&frame).unwrap().layout;
    assert_eq!(taught.balls.len(), 16);
    for (before, after) in plain.balls.iter().zip(&taught.balls) {
        assert_eq!(after.number, before.number.map(other));
    }
    // A set that cannot be used does not keep frames from being read.
    std::fs::write(folder.0.join("calibrations/club.balls.json"), "{}").unwrap();
    assert_eq!(reader(&folder.0).read(&frame).unwrap().layout, plain);
}
