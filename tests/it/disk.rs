//! A disk that fills up: what was announced stays, nothing else is told, and the game goes on with
//! the right count once there is room. The limit is one of the process, so a child runs into it.

use crate::{
    played::{self, time_of},
    staging::Folder,
};
use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
use std::{
    path::Path,
    process::{Command, Stdio},
};
use stillcloth::{
    camera::picture::PictureFormat,
    record::{NewRest, Picture, Record, RecordError, RecordReader, Retention},
};
use tokio::signal::unix::{SignalKind, signal};

/// Tells a process of this test that it is the child, and which store it writes to.
const STORE: &str = "STILLCLOTH_FULL_DISK_STORE";

/// The size no file of the child's may grow beyond at first. The database's log reaches it within
/// some hundred rests.
const MOST_BYTES: u64 = 1 << 20;

/// `SIGXFSZ`: without a handler it ends the process instead of failing the write.
const FILE_TOO_LARGE: i32 = 25;

/// Rests tried while the disk is full.
const TRIES: usize = 25;

fn append(record: &Record, index: usize, picture: Vec<u8>) -> Result<i64, RecordError> {
    let played = played::rests().nth(index).unwrap();
    let kept = record.append(NewRest {
        at: time_of(index),
        unseen_ms: 0,
        camera: "hall".into(),
        layout: played.layout,
        picture,
        format: PictureFormat::Png,
    })?;
    Ok(kept.rest.id)
}

fn limit(bytes: Option<u64>) {
    let maximum = getrlimit(Resource::Fsize).maximum;
    setrlimit(Resource::Fsize, Rlimit { current: bytes.or(maximum), maximum }).unwrap();
}

/// Not a test of its own: what the child does.
#[test]
fn the_child_that_runs_out_of_room() {
    let Ok(store) = std::env::var(STORE) else { return };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let _ignored =
        runtime.block_on(async { signal(SignalKind::from_raw(FILE_TOO_LARGE)) }).unwrap();
    let retention = Retention { min_free_gb: 0.0, ..Retention::default() };
    let record = Record::open(Path::new(&store), retention).unwrap();
    append(&record, 0, b"a picture".to_vec()).unwrap();
    limit(Some(MOST_BYTES));

    // A picture that does not fit does not cost the rest.
    let id = append(&record, 1, vec![7; 2 * MOST_BYTES as usize]).unwrap();
    let rest = runtime.block_on(record.by_id(id)).unwrap().unwrap();
    assert_eq!(runtime.block_on(record.picture(rest)).unwrap(), Picture::NeverKept);

    let mut next = 2;
    let error = loop {
        match append(&record, next, vec![1]) {
            Ok(_) => next += 1,
            Err(error) => break error,
        }
        assert!(next < 2000, "the disk was to be full by now");
    };
    assert!(matches!(error, RecordError::Disk { .. } | RecordError::DiskFull { .. }), "{error}");
    assert!(error.to_string().contains(&store), "{error}");
    let announced = *record.announcements().borrow();
    for _ in 0..TRIES {
        append(&record, next, vec![1]).unwrap_err();
    }
    assert_eq!(*record.announcements().borrow(), announced, "nothing is told that is not kept");
    let story = runtime.block_on(record.story("hall".into(), Clone::clone)).unwrap();
    let before = played::rests().nth(next - 1).unwrap();
    assert_eq!(story.attempts.last().unwrap().run, before.run);

    limit(None);
    for index in next..next + 100 {
        append(&record, index, vec![1]).unwrap();
    }
    let story = runtime.block_on(record.story("hall".into(), Clone::clone)).unwrap();
    let last = played::rests().nth(next + 99).unwrap();
    assert_eq!(
        (story.attempts.len() as u32, story.attempts.last().unwrap().run),
        (last.attempt, last.run)
    );
    println!("kept {}", next + 100);
}

#[test]
fn a_full_disk_costs_no_announced_rest_and_the_game_goes_on_when_there_is_room() {
    let folder = Folder::new("full");
    let module = module_path!().split_once("::").unwrap().1;
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "--nocapture", "--test-threads=1"])
        .arg(format!("{module}::the_child_that_runs_out_of_room"))
        .env(STORE, &folder.0)
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{said}\n{}", String::from_utf8_lossy(&output.stderr));
    let kept = said.lines().find_map(|line| line.split_once("kept ")).expect("the child did all");
    let report = RecordReader::open(&folder.0).unwrap().check().unwrap();
    assert_eq!(report.problems, []);
    assert_eq!(report.rests, kept.1.parse::<usize>().unwrap());
}

#[test]
fn with_little_room_left_pictures_stop_and_scores_go_on() {
    let folder = Folder::new("little-room");
    // No disk has an exabyte left.
    let retention = Retention { min_free_gb: 1e9, ..Retention::default() };
    let record = Record::open(&folder.0, retention).unwrap();
    for index in 0..4 {
        append(&record, index, vec![1; 100]).unwrap();
    }
    let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
    let rest = runtime.block_on(record.by_id(4)).unwrap().unwrap();
    assert_eq!(runtime.block_on(record.picture(rest)).unwrap(), Picture::NeverKept);
    let run = runtime.block_on(record.story("hall".into(), |story| story.attempts[0].run)).unwrap();
    assert_eq!(run, 3);
    drop(record);
    let report = RecordReader::open(&folder.0).unwrap().check().unwrap();
    assert_eq!((report.rests, report.problems), (4, vec![]));
}
