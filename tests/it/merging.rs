//! Two records made one: nothing doubled, nothing lost, and nothing by halves.

use crate::{
    contest_out::with_a_contest,
    killed::runtime,
    pages::add,
    played::{self, Played},
    staging::Folder,
};
use serde_json::{Value, json};
use std::{
    collections::BTreeMap,
    fs,
    path::Path,
    process::{Command, Stdio},
    time::Duration,
};
use stillcloth::{
    record::{
        ExportFormat, ExportOf, HandKept, ListenerSetting, MergeReport, NewNote, NoteAbout, Record,
        RecordReader, Retention, merge, take_hand_kept,
    },
    score::{Correction, Step, Story},
};

fn rests(attempts: std::ops::RangeInclusive<u32>) -> Vec<Played> {
    let after = *attempts.end();
    let all = played::rests().take_while(|played| played.attempt <= after);
    all.filter(|played| attempts.contains(&played.attempt)).collect()
}

/// Where in the player's time an attempt begins.
fn begins(attempt: u32) -> usize {
    played::rests().position(|played| played.attempt == attempt).unwrap()
}

/// Adds some of the player's attempts.
fn play(data: &Path, attempts: std::ops::RangeInclusive<u32>) {
    add(data, begins(*attempts.start()), &rests(attempts));
}

fn copy(from: &Path, to: &Path) {
    RecordReader::open(from).unwrap().backup(to).unwrap();
}

fn exported(data: &Path, of: ExportOf) -> Vec<Value> {
    let mut text = Vec::new();
    RecordReader::open(data).unwrap().export(of, ExportFormat::JsonLines, &mut text).unwrap();
    String::from_utf8(text).unwrap().lines().map(|l| serde_json::from_str(l).unwrap()).collect()
}

fn stories(data: &Path) -> BTreeMap<String, Story> {
    let known = RecordReader::open(data).unwrap().stories().unwrap();
    known.into_iter().map(|one| (one.camera, one.story)).collect()
}

fn runs(data: &Path, camera: &str) -> Vec<u32> {
    stories(data)[camera].attempts.iter().map(|attempt| attempt.run).collect()
}

fn is_sound(data: &Path) {
    let report = RecordReader::open(data).unwrap().check().unwrap();
    assert_eq!(report.problems, [], "{}", data.display());
    let ids: Vec<i64> =
        exported(data, ExportOf::Events).iter().map(|e| e["id"].as_i64().unwrap()).collect();
    assert!(ids.iter().copied().eq(1..=ids.len() as i64), "events are numbered without a hole");
}

fn correct(data: &Path, rest: i64, says: Step, at_s: i64) {
    let record = Record::open(data, Retention::default()).unwrap();
    let at = jiff::Timestamp::from_second(at_s).unwrap();
    runtime().block_on(record.correct(Correction { rest, says: Some(says) }, None, at)).unwrap();
}

fn note(data: &Path, rest: i64, text: &str, at_s: i64) {
    let record = Record::open(data, Retention::default()).unwrap();
    let at = jiff::Timestamp::from_second(at_s).unwrap();
    let note = NewNote { rest, about: NoteAbout::Rest, text: text.into(), instead_of: None };
    runtime().block_on(record.write_note(note, at)).unwrap();
}

/// Two data folders that begin alike, with the player's first attempt.
fn forked(name: &str) -> (Folder, std::path::PathBuf, std::path::PathBuf) {
    let folder = Folder::new(name);
    let (one, other) = (folder.0.join("one"), folder.0.join("other"));
    play(&one, 1..=1);
    copy(&one, &other);
    (folder, one, other)
}

#[test]
fn a_copy_that_went_on_is_taken_back_in_as_if_it_had_gone_on_here() {
    let (folder, one, other) = forked("merge-copy");
    play(&other, 2..=4);
    let last = exported(&other, ExportOf::Rests).len() as i64;
    correct(&other, last, Step::Scratch, 2_000_000_000);
    note(&other, last, "The table was wet", 2_000_000_001);
    note(&other, 2, "Open break", 2_000_000_002);
    // The record's thread closes it a moment after it is let go.
    while other.join("record.sqlite3-wal").exists() {
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    let theirs = fs::read(other.join("record.sqlite3")).unwrap();
    let report = merge(&one, &other).unwrap();
    let begun = rests(1..=1).len();
    assert_eq!(
        (report.known, report.rests, report.pictures),
        (begun, last as usize - begun, last as usize - begun)
    );
    assert_eq!((report.corrections, report.notes, report.renamed.len()), (1, 2, 0));
    for of in [ExportOf::Rests, ExportOf::Attempts, ExportOf::Corrections, ExportOf::Notes] {
        assert_eq!(exported(&one, of), exported(&other, of), "{of:?}");
    }
    is_sound(&one);
    assert_eq!(fs::read(other.join("record.sqlite3")).unwrap(), theirs, "the other is only read");
    // Once more it adds nothing.
    let before = exported(&one, ExportOf::Events);
    let again = merge(&one, &other).unwrap();
    assert_eq!(again, MergeReport { known: last as usize, ..MergeReport::default() });
    assert_eq!(exported(&one, ExportOf::Events), before);
    drop(folder);
}

#[test]
fn histories_of_one_name_that_overlap_in_time_stand_beside_each_other() {
    let folder = Folder::new("merge-beside");
    let (one, other) = (folder.0.join("one"), folder.0.join("other"));
    play(&one, 3..=4);
    play(&other, 1..=2);
    let report = merge(&one, &other).unwrap();
    assert_eq!(report.renamed, [("table".to_string(), "table-2".to_string())]);
    assert_eq!(runs(&one, "table"), [1, 30]);
    assert_eq!(runs(&one, "table-2"), [3, 17]);
    is_sound(&one);
    // The other goes on: what is new of it joins what came from it before.
    play(&other, 5..=5);
    let report = merge(&one, &other).unwrap();
    assert_eq!((report.rests, report.renamed.len()), (rests(5..=5).len(), 1));
    assert_eq!(runs(&one, "table-2"), [3, 17, 8]);
    assert_eq!(runs(&one, "table"), [1, 30], "what was here is as it was");
    is_sound(&one);
}

#[test]
fn what_is_all_later_goes_on_under_the_same_camera() {
    let folder = Folder::new("merge-later");
    let (one, other) = (folder.0.join("one"), folder.0.join("other"));
    play(&one, 1..=2);
    play(&other, 3..=3);
    assert_eq!(merge(&one, &other).unwrap().renamed, []);
    assert_eq!(runs(&one, "table"), [3, 17, 1]);
    is_sound(&one);
}

#[test]
fn of_two_words_on_one_rest_the_later_holds_whichever_way_they_are_merged() {
    let (folder, one, other) = forked("merge-words");
    let last = rests(1..=1).len() as i64;
    correct(&one, last, Step::Scratch, 2_000_000_200);
    correct(&other, last, Step::BallOffTable, 2_000_000_100);
    correct(&other, 3, Step::Shot { potted: 2 }, 2_000_000_300);
    note(&one, 2, "first", 2_000_000_100);
    note(&other, 2, "last", 2_000_000_200);
    let backwards = folder.0.join("backwards");
    copy(&other, &backwards);
    assert_eq!(merge(&one, &other).unwrap().corrections, 2);
    assert_eq!(merge(&backwards, &one).unwrap().rests, 0);
    assert_eq!(stories(&one), stories(&backwards));
    let attempt = &stories(&one)["table"].attempts[0];
    assert_eq!(json!(attempt.over.unwrap().cause), json!("scratch"));
    assert_eq!(attempt.run, 4, "a ball more by the word on rest 3");
    for data in [&one, &backwards] {
        is_sound(data);
        let notes = exported(data, ExportOf::Notes);
        assert_eq!(notes.last().unwrap()["text"], "last", "{notes:?}");
        // What changed is told once more, behind everything else.
        let events = exported(data, ExportOf::Events);
        assert_eq!(events.last().unwrap()["kind"], "rescored", "{events:?}");
    }
    assert_eq!(merge(&one, &backwards).unwrap().corrections, 0);
}

#[test]
fn nobody_is_told_of_history_and_whoever_follows_goes_on() {
    let (_folder, one, other) = forked("merge-told");
    play(&other, 2..=2);
    let record = Record::open(&one, Retention::default()).unwrap();
    let url = "http://listener.example/".to_string();
    let setting = ListenerSetting { url, secret: "whsec_x".into() };
    runtime().block_on(record.set_listeners(vec![setting])).unwrap();
    drop(record);
    let before = exported(&one, ExportOf::Events);
    merge(&one, &other).unwrap();
    let after = exported(&one, ExportOf::Events);
    assert_eq!(after[..before.len()], before[..], "what was announced stays as it was");
    assert!(after.len() > before.len());
    let database = rusqlite::Connection::open(one.join("record.sqlite3")).unwrap();
    let deliveries = "SELECT COUNT(*) FROM deliveries";
    assert_eq!(database.query_row(deliveries, [], |row| row.get::<_, i64>(0)).unwrap(), 0);
    drop(database);
    // The next rest is told as ever.
    play(&one, 3..=3);
    is_sound(&one);
    let database = rusqlite::Connection::open(one.join("record.sqlite3")).unwrap();
    assert!(database.query_row(deliveries, [], |row| row.get::<_, i64>(0)).unwrap() > 0);
}

#[test]
fn contests_and_hand_kept_attempts_come_along() {
    let folder = Folder::new("merge-contests");
    let (one, other) = (folder.0.join("one"), folder.0.join("other"));
    play(&one, 1..=1);
    with_a_contest(&other);
    let attempt = |balls| HandKept { day: None, balls, stopped: false };
    let list = [attempt(3), attempt(3), attempt(40)];
    take_hand_kept(&other, ("book", ""), &list, jiff::Timestamp::now()).unwrap();
    take_hand_kept(&one, ("book", ""), &list[..2], jiff::Timestamp::now()).unwrap();
    let report = merge(&one, &other).unwrap();
    assert_eq!((report.contests, report.entries, report.hand_kept), (1, 4, 1));
    is_sound(&one);
    let record = Record::open(&one, Retention::default()).unwrap();
    let theirs = Record::open(&other, Retention::default()).unwrap();
    let of = |record: &Record| runtime().block_on(record.contest(1)).unwrap();
    assert_eq!(of(&record), of(&theirs));
    let file = |record: &Record| runtime().block_on(record.entry_file(1, 1)).unwrap();
    assert!(file(&record).is_some_and(|text| Some(text) == file(&theirs)));
    drop((record, theirs));
    let again = merge(&one, &other).unwrap();
    assert_eq!(again, MergeReport::default());
}

/// All that a data folder's record says, and the names of its pictures.
fn all_of(data: &Path) -> (Vec<Vec<Value>>, Vec<String>) {
    let kinds = [ExportOf::Rests, ExportOf::Corrections, ExportOf::Notes, ExportOf::Events];
    let mut pictures = Vec::new();
    for shelf in fs::read_dir(data.join("pictures")).unwrap() {
        for file in fs::read_dir(shelf.unwrap().path()).unwrap() {
            pictures.push(file.unwrap().file_name().to_string_lossy().into_owned());
        }
    }
    pictures.sort();
    (kinds.map(|of| exported(data, of)).to_vec(), pictures)
}

#[test]
fn what_cannot_be_taken_in_whole_is_not_taken_in() {
    let (folder, one, other) = forked("merge-refused");
    play(&other, 2..=2);
    let before = all_of(&one);
    let refused = |data: &Path, words: &str| {
        let told = merge(&one, data).unwrap_err().to_string();
        assert!(told.contains(words), "{told}");
        assert_eq!(all_of(&one), before, "{told}");
    };
    refused(&one, "is the record itself");
    refused(&folder.0.join("nowhere"), "there is no record in");
    let spoil = |sql: &str| {
        let database = rusqlite::Connection::open(other.join("record.sqlite3")).unwrap();
        database.execute_batch(sql).unwrap();
    };
    // The very last row, when all the others and their pictures are in already.
    spoil("UPDATE rests SET unseen_ms = unseen_ms + 1 WHERE id = (SELECT MAX(id) FROM rests)");
    refused(&other, "was changed after it was written");
    spoil("UPDATE rests SET unseen_ms = unseen_ms - 1 WHERE id = (SELECT MAX(id) FROM rests)");
    spoil("INSERT INTO record_version (version) VALUES (999)");
    refused(&other, "is of version 999");
    spoil("DELETE FROM record_version WHERE version = 999");
    let open = Record::open(&one, Retention::default()).unwrap();
    let told = merge(&one, &other).unwrap_err().to_string();
    assert!(told.contains("in use by another process"), "{told}");
    drop(open);
    // A picture that is lost is told, and all else comes in.
    let (_, pictures) = all_of(&other);
    let lost = pictures.iter().find(|name| !before.1.contains(name)).unwrap();
    fs::remove_file(other.join("pictures").join(&lost[..2]).join(lost)).unwrap();
    let report = merge(&one, &other).unwrap();
    assert_eq!((report.pictures_missing, report.rests), (1, rests(2..=2).len()));
    is_sound(&one);
}

#[test]
fn a_merge_that_is_killed_leaves_the_record_as_it_was() {
    let (folder, one, other) = forked("merge-killed");
    play(&other, 2..=9);
    let before = all_of(&one).0;
    let merged = folder.0.join("merged");
    copy(&one, &merged);
    merge(&merged, &other).unwrap();
    let after = all_of(&merged).0;
    let mut killed = 0;
    for round in 0..6_u64 {
        let data = folder.0.join(format!("killed-{round}"));
        copy(&one, &data);
        let mut child = Command::new(env!("CARGO_BIN_EXE_stillcloth"))
            .arg("merge")
            .arg(&other)
            .arg("--data")
            .arg(&data)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        // It copies pictures, each of them to the disk, for most of its time.
        let begun = || fs::read_dir(data.join("pictures")).unwrap().count();
        let shelves = begun();
        while begun() < shelves + 3 * round as usize && child.try_wait().unwrap().is_none() {
            std::thread::sleep(Duration::from_millis(1));
        }
        child.kill().unwrap();
        child.wait().unwrap();
        let now = all_of(&data).0;
        assert!(now == before || now[..3] == after[..3], "round {round}: half of it is there");
        killed += usize::from(now == before);
        is_sound(&data);
        merge(&data, &other).unwrap();
        assert_eq!(all_of(&data).0[..3], after[..3], "round {round}");
        is_sound(&data);
    }
    assert!(killed > 0, "every merge was done before it was killed");
}
