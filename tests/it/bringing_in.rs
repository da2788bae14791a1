//! What the player kept by hand, and series of photographs, brought into the record.

use crate::{
    client::get,
    command::{stillcloth, went_well, went_wrong, words},
    pages::filled,
    played::{self, Played},
    staging::{Folder, Script, Service, png},
};
use image::{ExtendedColorType, ImageEncoder, RgbImage, codecs::jpeg::JpegEncoder};
use serde_json::{Value, json};
use std::{
    fs,
    path::{Path, PathBuf},
    time::Duration,
};
use stillcloth::{
    record::{ListenerSetting, Record, RecordReader, Retention, Studied},
    service::{CameraName, FrameReader, PhotoFate, PhotoSeries, PhotoTimes, ReaderError},
    vision::{Look, Reading},
};

const LIST: &str = "Tag;Lauf;Ende\n1.3.2026;12,0;miss\n1.3.2026;3,0;\n4.3.2026;31,0;stopped\n\
                    7.3.2026;3,0;scratch\n;9,0;\n";

fn told(folder: &Path) -> Value {
    let output = stillcloth(folder, &["record", "--json"]);
    serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", words(&output)))
}

fn counts(folder: &Path) -> (u64, u64) {
    let told = told(folder);
    (told["attempts"].as_u64().unwrap(), told["hand_kept"].as_u64().unwrap())
}

#[test]
fn a_hand_kept_list_counts_in_the_figures_and_is_never_doubled() {
    let folder = Folder::new("scores");
    let file = folder.0.join("runs.csv");
    fs::write(&file, LIST).unwrap();
    let told_first = went_well(&folder.0, &["import", "scores", "runs.csv"]);
    assert!(told_first.contains("5 attempts were added as hand-kept, under the list runs.csv"));
    assert_eq!(counts(&folder.0), (5, 5));
    assert_eq!(told(&folder.0)["high_run"]["hand_kept"], true);
    // Once more; grown by two lines, one of them like one that stands there; under another name.
    let again = went_well(&folder.0, &["import", "scores", "runs.csv"]);
    assert!(again.contains("0 attempts were added") && again.contains("5 of the list were there"));
    fs::write(&file, format!("{LIST}9.3.2026;17,0;miss\n1.3.2026;3,0;miss\n")).unwrap();
    let grown = went_well(&folder.0, &["import", "scores", "runs.csv"]);
    assert!(grown.contains("2 attempts were added"), "{grown}");
    fs::write(folder.0.join("copy.csv"), fs::read_to_string(&file).unwrap().replace(";", "\t"))
        .unwrap();
    let copy = went_well(&folder.0, &["import", "scores", "copy.csv"]);
    assert!(copy.contains("as the list runs.csv: nothing was added"), "{copy}");
    assert_eq!(counts(&folder.0), (7, 7));

    // Beside attempts that a camera saw they stand apart.
    filled(&folder.0.join("data"), |played| played.attempt == 3 && played.run == 1);
    let seen = |at| get(at, "/api/attempts").json()["attempts"].as_array().unwrap().len();
    let service = Service::plain(&folder.0.join("data"));
    assert_eq!(seen(service.address), 3);
    let page = get(service.address, "/progress").text();
    assert!(page.contains("10 attempts (7 of them hand-kept), high run 31 (hand-kept)"), "{page}");
    let page = get(service.address, "/attempts").text();
    assert!(page.contains("7 attempts from lists that you kept by hand"), "{page}");
    service.stop();
    assert_eq!(counts(&folder.0), (10, 7));
    let text = went_well(&folder.0, &["record"]);
    assert!(text.contains("10 attempts") && text.contains("7 of them hand-kept"), "{text}");
    assert!(text.contains("High run 31") && text.contains(", hand-kept;"), "{text}");
    assert!(went_well(&folder.0, &["check"]).contains("0 problems"));
    let database = rusqlite::Connection::open(folder.0.join("data/record.sqlite3")).unwrap();
    database.execute("UPDATE hand_kept SET balls = 300 WHERE id = 2", []).unwrap();
    assert!(went_wrong(&folder.0, &["check"]).contains("hand-kept attempt 2 was changed"));
}

#[test]
fn before_the_camera_has_seen_anything_the_page_tells_of_the_list_alone() {
    let folder = Folder::new("scores-alone");
    fs::write(folder.0.join("runs.csv"), LIST).unwrap();
    let service = Service::plain(&folder.0);
    assert_eq!(get(service.address, "/progress").status, 404);
    let taken = went_wrong(&folder.0, &["import", "scores", "runs.csv", "--data", "."]);
    assert!(taken.contains("in use by another process"), "{taken}");
    service.stop();
    went_well(&folder.0, &["import", "scores", "runs.csv", "--data", ".", "--camera", "hall"]);
    let service = Service::plain(&folder.0);
    let page = get(service.address, "/progress?camera=hall").text();
    assert!(page.contains("5 attempts (5 of them hand-kept)"), "{page}");
    assert_eq!(get(service.address, "/progress?camera=other").status, 404);
}

#[test]
fn a_list_with_a_bad_line_adds_nothing() {
    let folder = Folder::new("scores-bad");
    fs::write(folder.0.join("runs.csv"), format!("{LIST}10.3.2026;many;\n")).unwrap();
    let told = went_wrong(&folder.0, &["import", "scores", "runs.csv"]);
    assert!(told.contains("line 7: \"many\" is not a run"), "{told}");
    assert!(!folder.0.join("data").exists());
    assert!(went_wrong(&folder.0, &["import", "scores", "none.csv"]).contains("none.csv"));
}

/// Reads off a picture's second byte which rest of the made-up player's it shows.
struct Plays;

impl FrameReader for Plays {
    fn read(&mut self, frame: &RgbImage) -> Result<Reading, ReaderError> {
        let [_, index, _] = frame.get_pixel(0, 0).0;
        let played: Played = played::rests().nth(usize::from(index)).unwrap();
        Ok(Reading { layout: played.layout, rejected: Vec::new() })
    }

    fn watch(&mut self, _: &RgbImage, _: Duration) -> Result<Look, ReaderError> {
        panic!("photographs come singly")
    }
}

fn photos(folder: &Path, indices: std::ops::Range<u8>) {
    fs::create_dir_all(folder).unwrap();
    for index in indices {
        let name = format!("photo-{index:03}.png");
        fs::write(folder.join(name), png(Script::Read, index, 0)).unwrap();
    }
}

/// Brings a folder in; how many were kept, known and left out.
fn bring(data: &Path, folder: &Path) -> Result<[usize; 3], String> {
    let record =
        Record::open(data, Retention { min_free_gb: 0.0, ..Retention::default() }).unwrap();
    let series = PhotoSeries::of(folder).map_err(|error| error.to_string())?;
    let mut counts = [0; 3];
    let camera: CameraName = "phone".parse().unwrap();
    let tell = |_: &Path, fate| match fate {
        PhotoFate::Kept { .. } => counts[0] += 1,
        PhotoFate::Known => counts[1] += 1,
        PhotoFate::NoPicture(_) | PhotoFate::NoTable(_) => counts[2] += 1,
    };
    series.bring(&record, &mut Plays, &camera, tell).map_err(|error| error.to_string())?;
    Ok(counts)
}

#[test]
fn a_series_of_photographs_is_an_attempt_and_brought_again_adds_nothing() {
    let folder = Folder::new("photos");
    let (data, series) = (folder.0.join("data"), folder.0.join("evening"));
    // Of a record that has a listener: it is told of nothing that lies in the past.
    let runtime = crate::killed::runtime();
    let record = Record::open(&data, Retention::default()).unwrap();
    let url = "http://listener.example/".to_string();
    let setting = ListenerSetting { url, secret: "whsec_x".into() };
    runtime.block_on(record.set_listeners(vec![setting])).unwrap();
    drop(record);
    let rests = played::rests().take_while(|played| played.attempt < 2).count();
    photos(&series, 0..u8::try_from(rests).unwrap());
    fs::write(series.join("photo-000-broken.jpg"), "no picture").unwrap();
    assert_eq!(bring(&data, &series), Ok([rests, 0, 1]));
    assert_eq!(bring(&data, &series), Ok([0, rests, 1]));
    let reader = RecordReader::open(&data).unwrap();
    let Studied { camera, story, .. } = reader.stories().unwrap().remove(0);
    assert_eq!((camera.as_str(), story.attempts.len()), ("phone", 1));
    assert_eq!((story.attempts[0].run, story.attempts[0].sure), (3, true));
    assert!(story.questions.is_empty());
    assert_eq!(reader.check().unwrap().problems, []);
    let database = rusqlite::Connection::open(data.join("record.sqlite3")).unwrap();
    let count = |sql: &str| database.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap();
    assert_eq!(count("SELECT COUNT(*) FROM deliveries"), 0);
    assert!(count("SELECT COUNT(*) FROM events") > i64::try_from(rests).unwrap());
    // A photograph that lies before what is there belongs elsewhere.
    let earlier = folder.0.join("earlier");
    photos(&earlier, 90..91);
    let before = std::time::SystemTime::now() - Duration::from_secs(86_400);
    let file = fs::File::options().write(true).open(earlier.join("photo-090.png")).unwrap();
    file.set_modified(before).unwrap();
    let told = bring(&data, &earlier).unwrap_err();
    assert!(told.contains("photo-090.png is of") && told.contains("--camera"), "{told}");
}

/// A JPEG that tells when it was taken.
fn jpeg_of(time: &str, offset: Option<&str>) -> Vec<u8> {
    let mut plain = Vec::new();
    JpegEncoder::new(&mut plain)
        .write_image(&[9; 8 * 6 * 3], 8, 6, ExtendedColorType::Rgb8)
        .unwrap();
    let field = |tag, text: &str| exif::Field {
        tag,
        ifd_num: exif::In::PRIMARY,
        value: exif::Value::Ascii(vec![text.as_bytes().to_vec()]),
    };
    let mut fields = vec![field(exif::Tag::DateTimeOriginal, time)];
    fields.extend(offset.map(|offset| field(exif::Tag::OffsetTimeOriginal, offset)));
    let mut writer = exif::experimental::Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut block = std::io::Cursor::new(Vec::new());
    writer.write(&mut block, false).unwrap();
    let block = block.into_inner();
    let length = u16::try_from(block.len() + 8).unwrap().to_be_bytes();
    [&plain[..2], &[0xff, 0xe1], &length, b"Exif\0\0", &block, &plain[2..]].concat()
}

#[test]
fn photographs_go_by_the_time_they_tell_and_else_by_their_names() {
    let folder = Folder::new("photo-order");
    let order = || {
        let PhotoSeries { photos, times } = PhotoSeries::of(&folder.0).unwrap();
        assert!(photos.windows(2).all(|two| two[0].at < two[1].at), "{photos:?}");
        let name = |path: &PathBuf| path.file_name().unwrap().to_string_lossy().into_owned();
        (photos.iter().map(|photo| name(&photo.path)).collect::<Vec<_>>().join(" "), times)
    };
    let write = |name: &str, bytes: &[u8]| fs::write(folder.0.join(name), bytes).unwrap();
    write("b.jpg", &jpeg_of("2026:03:05 19:30:00", Some("+01:00")));
    write("c.jpg", &jpeg_of("2026:03:05 18:00:00", Some("+00:00")));
    write("a.jpg", &jpeg_of("2026:03:05 19:30:00", Some("+01:00")));
    assert_eq!(order(), ("c.jpg a.jpg b.jpg".into(), PhotoTimes::Told));
    write("d.jpg", &jpeg_of("2026:03:05 18:10:00", None));
    assert_eq!(order(), ("c.jpg d.jpg a.jpg b.jpg".into(), PhotoTimes::ToldWithoutOffset));
    write("e.png", &png(Script::Read, 3, 0));
    assert_eq!(order(), ("a.jpg b.jpg c.jpg d.jpg e.png".into(), PhotoTimes::MadeUp));
}

#[test]
fn a_folder_of_true_photographs_is_imported_by_command() {
    let folder = Folder::new("import-photos");
    let series = folder.0.join("evening");
    fs::create_dir_all(&series).unwrap();
    let frame = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/frames/club-071003.jpg");
    fs::copy(frame, series.join("one.jpg")).unwrap();
    fs::write(series.join("two.jpg"), "no picture").unwrap();
    let told = went_well(&folder.0, &["import", "photos", "evening"]);
    assert!(told.contains("one.jpg: rest 1,") && told.contains("two.jpg: left out"), "{told}");
    assert!(told.contains("1 rests were added under camera evening"), "{told}");
    assert!(folder.0.join("data/calibrations/evening.json").exists());
    let told = went_well(&folder.0, &["import", "photos", "evening"]);
    assert!(told.contains("0 rests were added under camera evening, 1 were there"), "{told}");
    fs::create_dir(folder.0.join("empty")).unwrap();
    let told = went_wrong(&folder.0, &["import", "photos", "empty"]);
    assert!(told.contains("empty"), "{told}");
    assert_eq!(
        json!(1),
        json!(RecordReader::open(&folder.0.join("data")).unwrap().check().unwrap().rests)
    );
}
