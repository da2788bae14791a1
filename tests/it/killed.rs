//! The child that `kills` kills: it plays, corrects, delivers and lets pictures go, all at once, and
//! tells each thing when it was announced to it.

use crate::played::{self, Played, index_at, time_of};
use sha2::{Digest, Sha256};
use std::{io::Write, path::Path, time::Duration};
use stillcloth::{
    camera::picture::PictureFormat,
    record::{
        DeliveryOutcome, Event, ListenerSetting, NewRest, Note, Record, RecordError, RecordReader,
        Retention,
    },
    score::{Correction, Step},
};
use tokio::runtime::Runtime;

/// One way of writing, done over and over.
type Work = Box<dyn Fn(&Record) + Send>;

/// Tells a process of this test that it is the child, and what to do.
pub const ROLE: &str = "STILLCLOTH_KILL_ROLE";
/// The store to write to, and where a backup goes.
pub const STORE: &str = "STILLCLOTH_KILL_STORE";
pub const TARGET: &str = "STILLCLOTH_KILL_TARGET";

/// A child that nobody killed ends by itself after this.
pub const LONGEST_LIFE: Duration = Duration::from_secs(20);

/// This camera's score is never corrected, the other one's is.
pub const TRUE_CAMERA: &str = "left";
pub const CORRECTED_CAMERA: &str = "right";

/// Little room for pictures, so that they are let go all the time.
pub fn retention() -> Retention {
    Retention { max_gb: Some(60e-6), min_free_gb: 0.0, keep_days: None }
}

pub fn runtime() -> Runtime {
    tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap()
}

/// A picture of its own for each rest; every seventh is like the one before.
pub fn picture(camera: &str, index: usize) -> Vec<u8> {
    format!("{camera} {}", index - index % 7 / 6).repeat(80).into_bytes()
}

fn new_rest(camera: &str, index: usize, played: Played) -> NewRest {
    NewRest {
        at: time_of(index),
        unseen_ms: 0,
        camera: camera.into(),
        layout: played.layout,
        picture: picture(camera, index),
        format: PictureFormat::Jpeg,
    }
}

/// The child's way of telling: a line that is whole or not there.
fn tell(line: &str) {
    let mut out = std::io::stdout().lock();
    out.write_all(format!("{line}\n").as_bytes()).and_then(|()| out.flush()).unwrap();
}

/// Not a test of its own: what the child does.
#[test]
fn the_child_that_is_killed() {
    let Ok(role) = std::env::var(ROLE) else { return };
    let store = std::path::PathBuf::from(std::env::var(STORE).unwrap());
    match role.as_str() {
        "write" => write(&store),
        "backup" => {
            let target = std::env::var(TARGET).unwrap();
            match RecordReader::open(&store) {
                // The service was killed before it had begun a record.
                Err(RecordError::NoRecord { .. }) => {}
                reader => {
                    reader.unwrap().backup(Path::new(&target)).unwrap();
                }
            }
            tell("backup");
        }
        other => panic!("no such role: {other}"),
    }
}

fn write(store: &Path) {
    tell("opening");
    let record = Record::open(store, retention()).unwrap();
    tell("open");
    let [willing, unwilling]: [i64; 2] = runtime().block_on(async {
        let setting =
            |url: &str| ListenerSetting { url: url.into(), secret: format!("secret of {url}") };
        let settings = vec![setting("http://one/"), setting("http://two/")];
        let known = record.set_listeners(settings).await.unwrap();
        [known[0].id, known[1].id]
    });
    let work: Vec<Work> = vec![
        Box::new(|record| append(record, TRUE_CAMERA)),
        Box::new(|record| append(record, CORRECTED_CAMERA)),
        Box::new(follow_events),
        Box::new(correct),
        Box::new(note),
        Box::new(move |record| deliver(record, willing, true)),
        Box::new(move |record| deliver(record, unwilling, false)),
    ];
    for work in work {
        let record = record.clone();
        std::thread::spawn(move || work(&record));
    }
    std::thread::sleep(LONGEST_LIFE);
    std::process::exit(1);
}

/// Plays on from where the store is.
fn append(record: &Record, camera: &str) {
    let newest = runtime().block_on(record.newest(Some(camera.into()), 1)).unwrap();
    let next = newest.first().map_or(0, |rest| index_at(rest.at) + 1);
    for (index, played) in played::rests().enumerate().skip(next) {
        let kept = record.append(new_rest(camera, index, played)).unwrap();
        let events: Vec<String> = kept.events.iter().map(|event| event.id.to_string()).collect();
        tell(&format!("rest {} {camera} {index} {}", kept.rest.id, events.join(",")));
        std::thread::sleep(Duration::from_millis(1));
    }
}

pub fn hash_of(event: &Event) -> String {
    let text = format!("{} {} {} {}", event.at, event.camera, event.kind, event.body);
    let hash = Sha256::digest(text.as_bytes());
    hash.iter().take(8).map(|byte| format!("{byte:02x}")).collect()
}

/// As one who follows live events does.
fn follow_events(record: &Record) {
    runtime().block_on(async {
        let mut announcements = record.announcements();
        let mut last = *announcements.borrow_and_update();
        loop {
            announcements.changed().await.unwrap();
            let newest = *announcements.borrow_and_update();
            while last < newest {
                for event in record.events_after(last, 100).await.unwrap() {
                    last = event.id;
                    tell(&format!("event {} {}", event.id, hash_of(&event)));
                }
            }
        }
    });
}

fn correct(record: &Record) {
    runtime().block_on(async {
        loop {
            let newest = record.newest(Some(CORRECTED_CAMERA.into()), 5).await.unwrap();
            if let Some(rest) = newest.last() {
                let says = [None, Some(Step::ByHand), Some(Step::Shot { potted: 2 }), None];
                let says = says[usize::try_from(rest.id).unwrap() % 4].clone();
                let correction = Correction { rest: rest.id, says };
                let corrected = record.correct(correction, None, time_of(1)).await.unwrap();
                tell(&format!("correction {}", corrected.id));
            }
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
    });
}

fn note(record: &Record) {
    for count in 0.. {
        let body = serde_json::json!({ "state": "stale", "count": count });
        let note = Note { at: time_of(count), camera: TRUE_CAMERA.into(), kind: "camera", body };
        let event = record.note(note).unwrap();
        tell(&format!("note {}", event.id));
        std::thread::sleep(Duration::from_millis(7));
    }
}

fn deliver(record: &Record, listener: i64, willing: bool) {
    runtime().block_on(async {
        loop {
            let now = jiff::Timestamp::now();
            let due = record.due_deliveries(listener, now, 10).await.unwrap();
            for delivery in due.deliveries {
                let outcome = match (willing, delivery.tries) {
                    (true, _) => DeliveryOutcome::Delivered,
                    (false, 0..3) => DeliveryOutcome::TryAgain(now),
                    (false, _) => DeliveryOutcome::GivenUp,
                };
                let told = format!("delivery {} {listener} {outcome:?}", delivery.event);
                record.note_delivery(delivery, outcome, now).await.unwrap();
                tell(&told);
            }
            tokio::time::sleep(Duration::from_millis(2)).await;
        }
    });
}
