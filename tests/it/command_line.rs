//! What a user types and what comes of it: `calibrate` and `read` through the built program.

use crate::staging::Folder;
use image::{ImageFormat, Rgb, RgbImage, imageops};
use serde_json::Value;
use std::{
    path::{Path, PathBuf},
    process::{Command, Output, Stdio},
};
use stillcloth::{camera::Calibration, camera::picture::decode, layout::Layout};

fn frame(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/frames").join(name)
}

/// The program, in a folder of its own.
fn stillcloth(folder: &Folder) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    command.current_dir(&folder.0);
    command
}

fn words(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Holds that it went well and complained of nothing; what it printed.
fn printed(output: &Output) -> String {
    assert!(output.status.success(), "{}", words(&output.stderr));
    assert_eq!(words(&output.stderr), "");
    words(&output.stdout)
}

/// Holds that it was refused in words and nothing was made up; the words.
fn refusal(output: &Output) -> String {
    assert_eq!(output.status.code(), Some(1), "{}", words(&output.stdout));
    assert_eq!(words(&output.stdout), "");
    let said = words(&output.stderr);
    assert!(said.starts_with("stillcloth: ") && !said.contains("panicked"), "{said}");
    said
}

fn saved(folder: &Folder, name: &str, picture: &RgbImage) -> PathBuf {
    let path = folder.0.join(name);
    picture.save_with_format(&path, ImageFormat::Png).unwrap();
    path
}

fn true_picture() -> RgbImage {
    decode(&std::fs::read(frame("club-071000.jpg")).unwrap()).unwrap()
}

#[test]
fn each_frame_becomes_a_line_of_json() {
    let folder = Folder::new("lines");
    let frames = [frame("club-071000.jpg"), frame("club-071005.jpg")];
    let text = printed(&stillcloth(&folder).arg("read").args(&frames).output().unwrap());
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 2, "{text}");
    for ((line, path), balls) in lines.iter().zip(&frames).zip([12, 16]) {
        let line: Value = serde_json::from_str(line).unwrap();
        assert_eq!(line["frame"], path.to_str().unwrap());
        assert_eq!(line["table"]["length_mm"], 2540.0);
        assert_eq!(line["table"]["width_mm"], 1270.0);
        assert_eq!(line["table"]["ball_diameter_mm"], 57.15);
        assert_eq!(line["obstructed"], false);
        let all = line["balls"].as_array().unwrap();
        assert_eq!(all.len(), balls);
        for ball in all {
            let cue = ball["number"] == 0;
            assert_eq!(ball["kind"], if cue { "cue" } else { "object" });
            for (key, most) in [("x", 8.0), ("y", 4.0), ("sigma_mm", 9.0), ("confidence", 1.0)] {
                let value = ball[key].as_f64().unwrap_or_else(|| panic!("{key} in {ball}"));
                assert!((0.0..=most).contains(&value), "{key} in {ball}");
            }
        }
        let layout: Layout = serde_json::from_value(line).expect("a layout and nothing less");
        assert!(layout.cue_ball().is_some());
    }
}

#[test]
fn a_frame_that_cannot_be_read_is_named_and_the_others_go_on() {
    let folder = Folder::new("mixed");
    let whole = std::fs::read(frame("club-071000.jpg")).unwrap();
    std::fs::write(folder.0.join("cut.jpg"), &whole[..whole.len() / 2]).unwrap();
    std::fs::write(folder.0.join("words.jpg"), "no picture").unwrap();
    let output = stillcloth(&folder)
        .args(["read", "cut.jpg", "gone.jpg", "words.jpg"])
        .arg(frame("club-071000.jpg"))
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(words(&output.stdout).lines().count(), 1);
    let said = words(&output.stderr);
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines.len(), 4, "{said}");
    assert!(lines[0].contains("cut.jpg: ") && lines[0].contains("cut off"), "{said}");
    assert!(lines[1].contains("gone.jpg: ") && lines[1].contains("cannot be opened"), "{said}");
    assert!(lines[2].contains("words.jpg: ") && lines[2].contains("neither JPEG"), "{said}");
    assert!(lines[3].contains("3 of 4"), "{said}");
}

#[test]
fn drawings_of_several_frames_carry_their_names() {
    let folder = Folder::new("drawings");
    let one = frame("club-071000.jpg");
    let read = |more: &[&str]| {
        let mut command = stillcloth(&folder);
        command.arg("read").arg(&one).args(more);
        command.args(["--diagram", "layout.svg", "--overlay", "seen.PNG"]).output().unwrap()
    };
    printed(&read(&[]));
    let svg = std::fs::read_to_string(folder.0.join("layout.svg")).unwrap();
    roxmltree::Document::parse(&svg).expect("an SVG document");
    let seen = decode(&std::fs::read(folder.0.join("seen.PNG")).unwrap()).unwrap();
    assert_eq!(seen.dimensions(), (1920, 1080));
    let other = frame("club-071002.jpg");
    printed(&read(&[other.to_str().unwrap()]));
    for name in ["layout-club-071000.svg", "layout-club-071002.svg", "seen-club-071002.PNG"] {
        assert!(folder.0.join(name).is_file(), "{name}");
    }
    // Two of one name would overwrite each other.
    let twin = folder.0.join("club-071000.png");
    let said = refusal(&read(&[twin.to_str().unwrap()]));
    assert!(said.contains("club-071000"), "{said}");
    let output =
        stillcloth(&folder).arg("read").arg(&one).args(["--diagram", "a.gif"]).output().unwrap();
    assert!(refusal(&output).contains("a.gif"));
}

#[test]
fn a_calibration_is_told_in_words_kept_and_read_with() {
    let folder = Folder::new("kept");
    let one = frame("club-071000.jpg");
    let text = printed(&stillcloth(&folder).arg("calibrate").arg(&one).output().unwrap());
    let place = "data/calibrations/club-071000.json";
    for told in
        ["9 ft", "taken from the frames", "RMS", "above the cloth", "mm to the pixel", place]
    {
        assert!(text.contains(told), "{told} in\n{text}");
    }
    let mut named = stillcloth(&folder);
    named.args(["calibrate", "--camera", "hall-2", "--data", "elsewhere"]).arg(&one);
    printed(&named.output().unwrap());
    let where_serve_looks = stillcloth::service::calibration_file(
        &folder.0.join("elsewhere"),
        &"hall-2".parse().unwrap(),
    );
    let kept = Calibration::load(&folder.0.join(place)).unwrap();
    assert_eq!(Calibration::load(&where_serve_looks).unwrap(), kept);
    assert!(!kept.table_given && kept.report.reprojection_px < 1.0, "{:?}", kept.report);

    let read = |picture: &Path| {
        let mut command = stillcloth(&folder);
        command.arg("read").arg(picture).args(["--calibration", place]).output().unwrap()
    };
    let line: Value = serde_json::from_str(&printed(&read(&one))).unwrap();
    assert_eq!(line["balls"].as_array().unwrap().len(), 12);
    let small = imageops::resize(&true_picture(), 1280, 720, imageops::FilterType::Triangle);
    let said = refusal(&read(&saved(&folder, "small.png", &small)));
    assert!(said.contains("1280 × 720") && said.contains("1920 × 1080"), "{said}");
}

#[test]
fn size_foot_and_corners_can_be_given() {
    let folder = Folder::new("given");
    let one = frame("club-071000.jpg");
    let calibrate = |more: &[&str]| -> Value {
        let mut command = stillcloth(&folder);
        command.arg("calibrate").arg(&one).args(["--json", "--out", "new/place.json"]);
        let text = printed(&command.args(more).output().unwrap());
        assert!(folder.0.join("new/place.json").is_file());
        serde_json::from_str(&text).unwrap()
    };
    let free = calibrate(&[]);
    let given = calibrate(&["--table", "9ft", "--foot", "left", "--overlay", "over.png"]);
    assert_eq!(given["table_given"], true);
    assert_eq!(given["foot"], "given");
    assert_eq!(given["saved"], "new/place.json");
    assert!(folder.0.join("over.png").is_file());
    // The lens of one calibration serves another, as one from a printed board does.
    let lens = folder.0.join("lens.json");
    std::fs::write(&lens, free["camera"]["lens"].to_string()).unwrap();
    let through = calibrate(&["--lens", "lens.json"]);
    assert_eq!(through["camera"]["lens"]["width_px"], 1920);
    for part in ["focal_px", "k1", "k2"] {
        let [one, other] =
            [&free, &through].map(|from| from["camera"]["lens"][part].as_f64().unwrap());
        assert!((one - other).abs() <= 2e-4 * (1.0 + one.abs()), "{part}: {one} and {other}");
    }
    for corner in 0..4 {
        let at = |from: &Value, axis: &str| from["nose_corners_px"][corner][axis].as_f64().unwrap();
        let off = (at(&free, "x_px") - at(&through, "x_px"))
            .hypot(at(&free, "y_px") - at(&through, "y_px"));
        assert!(off < 0.5, "corner {corner} moved by {off} px");
    }
    // Another camera's lens is refused, as is a file that is none.
    let mut small = free["camera"]["lens"].clone();
    small["width_px"] = 1280.into();
    std::fs::write(&lens, small.to_string()).unwrap();
    let refused = |name: &str| {
        let mut command = stillcloth(&folder);
        refusal(&command.arg("calibrate").arg(&one).args(["--lens", name]).output().unwrap())
    };
    assert!(refused("lens.json").contains("1280 × 1080"));
    std::fs::write(&lens, "{}").unwrap();
    assert!(refused("lens.json").contains("is no lens"));
    // A few pixels off, and beginning at another corner: they are refined.
    let by_hand = calibrate(&["--corners", "1609,953", "1644,262", "256,158", "196,866"]);
    let corners = |calibration: &Value| -> Vec<[f64; 2]> {
        let corners = calibration["nose_corners_px"].as_array().unwrap();
        let place = |c: &Value| [c["x_px"].as_f64().unwrap(), c["y_px"].as_f64().unwrap()];
        corners.iter().map(place).collect()
    };
    for [x, y] in corners(&by_hand) {
        let near = |[a, b]: &[f64; 2]| (a - x).hypot(b - y) < 1.0;
        assert!(corners(&free).iter().any(near), "({x}, {y}) in {:?}", corners(&free));
    }
    // A size that the picture cannot have been typed for is the user's word, and is taken.
    assert_eq!(calibrate(&["--table", "2000x1000"])["table"]["length_mm"], 2000.0);
}

#[test]
fn what_makes_no_sense_is_refused_before_any_work() {
    let folder = Folder::new("typed");
    let one = frame("club-071000.jpg");
    let one = one.to_str().unwrap();
    let cases: [(&[&str], &str); 6] = [
        (&["calibrate"], "FRAME"),
        (&["read", one, "--table", "10ft"], "10ft"),
        (&["read", one, "--foot", "up"], "from-frame"),
        (&["read", one, "--calibration", "c.json", "--table", "9ft"], "--calibration"),
        (&["calibrate", one, "--corners", "1,2", "3,4", "5", "6,7"], "comma"),
        (&["calibrate", one, "--corners", "1,2", "3,4"], "4 values"),
    ];
    for (arguments, named) in cases {
        let output = stillcloth(&folder).args(arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(words(&output.stderr).contains(named), "{}", words(&output.stderr));
        assert_eq!(words(&output.stdout), "");
    }
    let output = stillcloth(&folder).args(["read", one, "--calibration", "c.json"]).output();
    assert!(refusal(&output.unwrap()).contains("c.json"));
}

/// Pictures with something of a table in them and no table.
fn no_tables() -> Vec<(&'static str, RgbImage)> {
    let mut state = 1_u32;
    let mut random = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    };
    let noise = RgbImage::from_fn(960, 540, |_, _| Rgb([random(), random(), random()]));
    let slope = RgbImage::from_fn(960, 540, |x, y| Rgb([(x / 4) as u8, 90, (y / 3) as u8]));
    // A green board with discs on it, on a grey floor: no cushions, no pockets.
    let board = RgbImage::from_fn(1280, 720, |x, y| {
        let on_board = (140..1140).contains(&x) && (110..610).contains(&y);
        let (dx, dy) = (i64::from(x % 160) - 80, i64::from(y % 120) - 60);
        match (on_board, dx * dx + dy * dy < 15 * 15) {
            (true, true) => Rgb([230, 220, 200]),
            (true, false) => Rgb([20, 120, 70]),
            _ => Rgb([110, 108, 105]),
        }
    });
    // A true table, a third of it out of the picture.
    let cut = imageops::crop_imm(&true_picture(), 0, 0, 1150, 1080).to_image();
    vec![("noise", noise), ("slope", slope), ("board", board), ("cut", cut)]
}

#[test]
fn a_picture_without_a_whole_table_is_refused_and_no_layout_made_up() {
    let folder = Folder::new("no-table");
    for (name, picture) in no_tables() {
        let path = saved(&folder, &format!("{name}.png"), &picture);
        for command in ["read", "calibrate"] {
            let output = stillcloth(&folder).arg(command).arg(&path).output().unwrap();
            let said = refusal(&output);
            assert!(said.contains(name) && said.contains("no table found"), "{command}: {said}");
        }
        assert!(!folder.0.join("data").exists(), "{name} left a calibration");
    }
}

#[test]
fn whoever_stops_listening_stops_the_reading() {
    let folder = Folder::new("unheard");
    let mut child = stillcloth(&folder)
        .arg("read")
        .args([frame("club-071000.jpg"), frame("club-071002.jpg")])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success());
    assert_eq!(words(&output.stderr), "");
}
