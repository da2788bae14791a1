//! Naming held to labelled frames, to stored patches and to what onnxruntime says of them.

use super::*;
use crate::camera::{Lens, Pose};
use crate::table::{BALL_DIAMETER_MM, SpacePoint};
use serde::Deserialize;
use std::path::{Path, PathBuf};

fn testdata(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata").join(name)
}

fn json<T: serde::de::DeserializeOwned>(name: &str) -> T {
    let path = testdata(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap()
}

fn picture(name: &str) -> RgbImage {
    let path = testdata(name);
    image::open(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display())).to_rgb8()
}

/// Stored patches and what onnxruntime says of them.
#[derive(Deserialize)]
struct Stored {
    numbers: Vec<u8>,
    logits: Vec<Vec<f32>>,
    look: Vec<Vec<f32>>,
}

fn stored(name: &str) -> (Stored, Vec<Vec<f32>>) {
    let stored: Stored = json(&format!("naming/{name}.json"));
    let strip = picture(&format!("naming/{name}.png"));
    let side = SIDE_PX as u32;
    let patch = |ball: u32| {
        let values = (0..3_usize).flat_map(|plane| {
            let strip = &strip;
            (0..side * side).map(move |i| {
                f32::from(strip.get_pixel(ball * side + i % side, i / side).0[plane]) / 255.0
            })
        });
        values.collect()
    };
    (stored, (0..strip.width() / side).map(patch).collect())
}

#[test]
fn the_network_says_what_onnxruntime_says() {
    let naming = Naming::new().unwrap();
    for name in ["hall-072001", "oblique-073001"] {
        let (stored, patches) = stored(name);
        let seen = naming.look_at(patches.iter()).unwrap();
        assert_eq!(seen.len(), stored.numbers.len(), "{name}");
        for ((seen, logits), look) in seen.iter().zip(&stored.logits).zip(&stored.look) {
            let near = |a: &[f32], b: &[f32]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-3);
            assert!(near(&seen.logits, logits) && near(&seen.signature, look), "{name}");
        }
    }
}

#[test]
fn harder_light_and_oblique_views_are_named() {
    let naming = Naming::new().unwrap();
    for name in ["hall-072001", "oblique-073001"] {
        let (stored, patches) = stored(name);
        let seen = naming.look_at(patches.iter()).unwrap();
        let odds: Vec<_> = seen.iter().map(Seen::odds).collect();
        let named: Vec<_> = decide(&odds).iter().filter_map(|name| name.number).collect();
        assert_eq!(named, stored.numbers, "{name}");
    }
}

#[derive(Deserialize)]
struct Label {
    table: LabelTable,
    camera: LabelCamera,
    balls: Vec<LabelBall>,
}

#[derive(Deserialize)]
struct LabelTable {
    length_mm: f64,
    width_mm: f64,
}

#[derive(Deserialize)]
struct LabelCamera {
    width: u32,
    height: u32,
    f_px: f64,
    k1: f64,
    position_mm: [f64; 3],
    forward: [f64; 3],
    up: [f64; 3],
}

#[derive(Deserialize)]
struct LabelBall {
    number: u8,
    x_mm: f64,
    y_mm: f64,
}

/// A labelled frame: picture, camera, table, numbers and centres.
struct Labelled {
    frame: RgbImage,
    camera: Camera,
    table: TableSize,
    numbers: Vec<u8>,
    centres: Vec<TablePoint>,
}

fn labelled(name: &str) -> Labelled {
    let label: Label = json(&format!("frames/{name}.json"));
    let c = &label.camera;
    let [x_mm, y_mm, z_mm] = c.position_mm;
    let pose = Pose::looking(SpacePoint { x_mm, y_mm, z_mm }, c.forward, c.up);
    let lens = Lens { k1: c.k1, ..Lens::pinhole(c.width, c.height, c.f_px) };
    Labelled {
        frame: picture(&format!("frames/{name}.jpg")),
        camera: Camera { lens, pose },
        table: TableSize::new(label.table.length_mm, label.table.width_mm, BALL_DIAMETER_MM)
            .unwrap(),
        numbers: label.balls.iter().map(|ball| ball.number).collect(),
        centres: label.balls.iter().map(|b| TablePoint::new(b.x_mm, b.y_mm)).collect(),
    }
}

/// Names of all places of a frame, nothing known of any beforehand.
fn names(of: &Labelled, look: Option<BallLook>) -> Vec<Name> {
    let mut naming = Naming::new().unwrap();
    if let Some(look) = look {
        naming.teach(look).unwrap();
    }
    let sure = vec![0.5; of.centres.len()];
    naming.name(&of.frame, (&of.camera, &of.table), (&of.centres, &sure)).unwrap()
}

#[test]
fn labelled_frames_are_named_with_every_cue_ball_sure() {
    for name in ["club-071000", "club-071002", "club-071003", "club-071004", "club-071005"] {
        let of = labelled(name);
        let named = names(&of, None);
        for (name_of, &number) in named.iter().zip(&of.numbers) {
            assert_eq!(name_of.number, Some(number), "{name}");
            let sure = if number == 0 { 0.9 } else { 0.2 };
            assert!(name_of.confidence > sure, "{name}: {number} with {}", name_of.confidence);
        }
    }
}

#[test]
fn what_is_no_ball_is_said_to_be_none() {
    let mut of = labelled("club-071000");
    let balls = of.centres.len();
    let (l, w) = (of.table.length_mm, of.table.width_mm);
    // Pockets, the rail, and bare cloth away from every ball.
    of.centres.extend(
        [(0.0, 0.0), (l, w), (l / 2.0, w), (600.0, -94.0)].map(|(x, y)| TablePoint::new(x, y)),
    );
    let bare = (0..40)
        .map(|i| TablePoint::new(60.0 + 60.0 * f64::from(i), 200.0 + 20.0 * f64::from(i)))
        .filter(|place| of.centres.iter().all(|other| other.distance_mm(*place) > 90.0));
    let bare: Vec<_> = bare.take(5).collect();
    assert_eq!(bare.len(), 5);
    of.centres.extend(bare);
    // And a place that the picture does not show at all.
    of.centres.push(TablePoint::new(-40_000.0, 0.0));
    let named = names(&of, None);
    assert_eq!(named.len(), of.centres.len());
    for (i, name) in named.iter().enumerate().skip(balls) {
        assert_eq!(name.number, None, "place {i}: {name:?}");
    }
    for (name, number) in named.iter().zip(&of.numbers) {
        assert_eq!(name.number, Some(*number));
    }
}

#[test]
fn a_taught_set_is_read_by_its_own_look() {
    let of = labelled("club-071005");
    // A set of its own: what looks like the four is called the nine, and so on.
    let swapped = |number: u8| match number {
        4 => 9,
        9 => 4,
        1..=3 => number + 12,
        13..=15 => number - 12,
        same => same,
    };
    let laid: Vec<_> =
        of.numbers.iter().map(|&n| swapped(n)).zip(of.centres.iter().copied()).collect();
    let frames = [LaidOut { frame: &of.frame, balls: &laid }];
    let look = BallLook::learn(&of.camera, &of.table, &frames).unwrap();
    let kept: BallLook = serde_json::from_str(&serde_json::to_string(&look).unwrap()).unwrap();
    // Seen again from the same camera with the centres a little off.
    let mut again = of;
    for centre in &mut again.centres {
        *centre = TablePoint::new(centre.x_mm + 0.8, centre.y_mm - 0.6);
    }
    let named = names(&again, Some(kept));
    for (name, &number) in named.iter().zip(&again.numbers) {
        assert_eq!(name.number, Some(swapped(number)));
    }
}

#[test]
fn teaching_refuses_what_it_cannot_learn_from() {
    let of = labelled("club-071000");
    let learn = |balls: &[(u8, TablePoint)]| {
        BallLook::learn(&of.camera, &of.table, &[LaidOut { frame: &of.frame, balls }])
    };
    let (here, gone) = (of.centres[0], TablePoint::new(-40_000.0, 0.0));
    assert!(matches!(learn(&[]), Err(LookError::TooFew { balls: 0 })));
    assert!(matches!(learn(&[(16, here)]), Err(LookError::NoSuchBall { number: 16 })));
    assert!(matches!(learn(&[(5, gone)]), Err(LookError::OutOfView { number: 5 })));
}

#[test]
fn no_place_gives_no_name() {
    let mut of = labelled("club-071000");
    of.centres.clear();
    assert!(names(&of, None).is_empty());
}

#[test]
fn naming_is_the_same_every_time() {
    let of = labelled("club-071002");
    assert_eq!(names(&of, None), names(&of, None));
}
