//! The record outlives being killed at any moment. A child of this test writes to a store over
//! every path there is and tells what was announced to it; it is killed, and whatever it was told
//! has to be there, once.
//!
//! `STILLCLOTH_KILLS=1000 cargo test --test it kills -- --nocapture` kills more often.

use crate::{
    killed::{
        CORRECTED_CAMERA, LONGEST_LIFE, ROLE, STORE, TARGET, TRUE_CAMERA, hash_of, picture,
        retention, runtime,
    },
    played::{self, Played, index_at, time_of},
    staging::Folder,
};
use sha2::{Digest, Sha256};
use std::{
    collections::{BTreeMap, BTreeSet},
    io::{BufRead, BufReader},
    path::Path,
    process::{Child, Command, Stdio},
    sync::{
        Arc,
        atomic::{AtomicUsize, Ordering},
    },
    thread::JoinHandle,
    time::{Duration, Instant},
};
use stillcloth::{
    record::{Event, ExportFormat, ExportOf, Record, RecordReader, Rest, RestQuery},
    score::{Correction, RestSeen, follow},
};

/// Kills where nothing else is said, and after how many a new store is begun.
const KILLS: usize = 20;
const KILLS_A_STORE: usize = 10;

/// Rests that the first version of the record has written to every other store.
const OLD_RESTS: usize = 400;

/// What was announced by all children of a store.
#[derive(Default)]
struct Ledger {
    /// Rest ids, with their camera and place in the game.
    rests: BTreeMap<i64, (String, usize)>,
    /// Event ids, with the hash of what they said where somebody followed.
    events: BTreeMap<i64, Option<String>>,
    corrections: BTreeSet<i64>,
    /// Deliveries that are settled, by listener.
    settled: BTreeSet<(i64, i64)>,
    lines: usize,
}

impl Ledger {
    fn note(&mut self, line: &str) {
        self.lines += 1;
        let words: Vec<&str> = line.split(' ').collect();
        let number = |at: usize| words[at].parse::<i64>().unwrap();
        match words[0] {
            "rest" => {
                let place = (words[2].to_string(), words[3].parse().unwrap());
                let before = self.rests.insert(number(1), place);
                assert_eq!(before, None, "announced twice: {line}");
                for event in words[4].split(',') {
                    self.events.entry(event.parse().unwrap()).or_default();
                }
            }
            "event" => {
                let said = words[2].to_string();
                let before = self.events.insert(number(1), Some(said.clone()));
                assert!(before.flatten().is_none_or(|before| before == said), "{line}");
            }
            "note" => {
                self.events.entry(number(1)).or_default();
            }
            "correction" => assert!(self.corrections.insert(number(1)), "twice: {line}"),
            "delivery" if words[3].starts_with("TryAgain") => {}
            "delivery" => {
                assert!(self.settled.insert((number(1), number(2))), "settled twice: {line}");
            }
            _ => self.lines -= 1,
        }
    }
}

/// Lines of the test harness, and the child's first.
const HEAD_LINES: usize = 3;

/// A child of this test.
struct Writer {
    child: Child,
    /// Lines it has told so far.
    told: Arc<AtomicUsize>,
    lines: JoinHandle<Vec<String>>,
}

impl Writer {
    fn start(role: &str, store: &Path, target: &Path) -> Self {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "--nocapture", "--test-threads=1"])
            .arg("killed::the_child_that_is_killed")
            .env(ROLE, role)
            .env(STORE, store)
            .env(TARGET, target)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let told = Arc::new(AtomicUsize::new(0));
        let count = told.clone();
        let lines = std::thread::spawn(move || {
            let mut lines = Vec::new();
            let mut line = String::new();
            while out.read_line(&mut line).unwrap() > 0 {
                // The last line may have been cut off.
                lines.extend(line.strip_suffix('\n').map(String::from));
                line.clear();
                count.fetch_add(1, Ordering::Relaxed);
            }
            lines
        });
        Self { child, told, lines }
    }

    /// Waits until it is at work and has told so many lines, and a moment more.
    fn let_it(&self, lines: u64, moment: Duration) {
        let end = Instant::now() + LONGEST_LIFE / 2;
        let wanted = HEAD_LINES + usize::try_from(lines).unwrap();
        while self.told.load(Ordering::Relaxed) < wanted && Instant::now() < end {
            std::thread::sleep(Duration::from_micros(200));
        }
        std::thread::sleep(moment);
    }

    /// Kills it, unless it has ended by itself, which only a backup may do, and in peace.
    fn kill(mut self, may_have_ended: bool) -> Vec<String> {
        let ended = self.child.try_wait().unwrap();
        let in_peace = ended.is_some_and(|status| may_have_ended && status.success());
        self.child.kill().unwrap();
        let output = self.child.wait_with_output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(ended.is_none() || in_peace, "the child ended by itself: {ended:?}\n{said}");
        assert!(!said.contains("panicked"), "{said}");
        self.lines.join().unwrap()
    }
}

/// Not chance, only spread: the same at every run.
struct Spread(u64);

impl Spread {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % bound
    }
}

/// A store as the first version of the record wrote it.
fn write_old_store(store: &Path) {
    let database = rusqlite::Connection::open(store.join("record.sqlite3")).unwrap();
    let schema = include_str!("../../src/record/sql/0001_rests.sql");
    database
        .execute_batch(&format!(
            "PRAGMA journal_mode = WAL; CREATE TABLE record_version (version BIGINT NOT NULL); \
             {schema} INSERT INTO record_version (version) VALUES (1); BEGIN;"
        ))
        .unwrap();
    let hex = |bytes: &[u8]| -> String {
        Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
    };
    for (index, played) in played::rests().take(OLD_RESTS).enumerate() {
        let bytes = picture(TRUE_CAMERA, index);
        let name = hex(&bytes);
        let shelf = store.join("pictures").join(&name[..2]);
        std::fs::create_dir_all(&shelf).unwrap();
        std::fs::write(shelf.join(format!("{name}.jpg")), bytes).unwrap();
        let layout = serde_json::to_string(&played.layout).unwrap();
        let id = i64::try_from(index).unwrap() + 1;
        let at_unix_ms = time_of(index).as_millisecond();
        let mut content = [id.to_be_bytes(), at_unix_ms.to_be_bytes()].concat();
        for text in [TRUE_CAMERA, &layout, &name, "image/jpeg"] {
            content.extend((text.len() as u64).to_be_bytes());
            content.extend(text.as_bytes());
        }
        database
            .prepare_cached("INSERT INTO rests VALUES (?, ?, ?, ?, ?, 'image/jpeg', ?)")
            .unwrap()
            .execute(rusqlite::params![id, at_unix_ms, TRUE_CAMERA, layout, name, hex(&content)])
            .unwrap();
    }
    database.execute_batch("COMMIT").unwrap();
}

/// Opens the store as a service does after the kill, and holds it to the ledger.
fn hold_to(ledger: &Ledger, store: &Path, old: i64) {
    let checked = RecordReader::open(store).unwrap().check().unwrap();
    assert_eq!(checked.problems, [], "after {} announcements", ledger.lines);
    let corrections = all_corrections(store);
    let last_correction = ledger.corrections.last().map_or(0, |id| usize::try_from(*id).unwrap());
    assert!(last_correction <= corrections.len(), "correction {last_correction} is lost");
    let record = Record::open(store, retention()).unwrap();
    runtime().block_on(async {
        let rests = all_rests(&record).await;
        let mut places = BTreeSet::new();
        let place = |rest: &Rest| (rest.camera.clone(), index_at(rest.at));
        for rest in &rests {
            assert!(places.insert(place(rest)), "rest {} is there twice", rest.id);
        }
        let known: BTreeMap<i64, (String, usize)> =
            rests.iter().map(|rest| (rest.id, place(rest))).collect();
        for (id, place) in &ledger.rests {
            assert_eq!(known.get(id), Some(place), "rest {id} was announced");
        }
        let events = all_events(&record).await;
        for (event, id) in events.iter().zip(1..) {
            assert_eq!(event.id, id, "events have no hole");
        }
        for (id, said) in &ledger.events {
            let event = usize::try_from(id - 1).ok().and_then(|at| events.get(at));
            let event = event.unwrap_or_else(|| panic!("event {id} was announced and is lost"));
            assert!(said.as_ref().is_none_or(|said| *said == hash_of(event)), "event {id} changed");
        }
        hold_deliveries_to(ledger, &record, i64::try_from(events.len()).unwrap() - old).await;
        hold_score(&record, &rests, &corrections).await;
    });
}

async fn all_rests(record: &Record) -> Vec<Rest> {
    let mut all: Vec<Rest> = Vec::new();
    loop {
        let after = all.last().map_or(0, |last| last.id);
        let query = RestQuery { after, limit: 1000, ..RestQuery::default() };
        let some = record.list(query).await.unwrap();
        if some.is_empty() {
            return all;
        }
        all.extend(some);
    }
}

async fn all_events(record: &Record) -> Vec<Event> {
    let mut all: Vec<Event> = Vec::new();
    loop {
        let some = record.events_after(all.last().map_or(0, |last| last.id), 1000).await.unwrap();
        if some.is_empty() {
            return all;
        }
        all.extend(some);
    }
}

/// Each event that came after the listeners has a delivery for both, and what is settled stays so.
async fn hold_deliveries_to(ledger: &Ledger, record: &Record, events: i64) {
    let counts = record.delivery_counts().await.unwrap();
    let all = counts.due + counts.delivered + counts.given_up;
    assert_eq!(all, 2 * u64::try_from(events).unwrap(), "{counts:?}");
    for listener in record.listeners().await.unwrap() {
        let far = jiff::Timestamp::now() + Duration::from_secs(3600);
        let due = record.due_deliveries(listener.id, far, 1000).await.unwrap();
        for delivery in due.deliveries {
            let settled = ledger.settled.contains(&(delivery.event, listener.id));
            assert!(!settled, "event {} would be delivered again", delivery.event);
        }
    }
}

/// The score goes on with the right count.
async fn hold_score(record: &Record, rests: &[Rest], corrections: &[Correction]) {
    let truth: Vec<Played> = {
        let of_camera = rests.iter().filter(|rest| rest.camera == TRUE_CAMERA);
        let last = of_camera.map(|rest| index_at(rest.at)).max();
        played::rests().take(last.map_or(0, |last| last + 1)).collect()
    };
    let story = record.story(TRUE_CAMERA.into(), Clone::clone).await.unwrap();
    let mut runs: Vec<(u32, bool)> = Vec::new();
    for played in &truth {
        runs.resize(usize::try_from(played.attempt).unwrap(), (0, false));
        *runs.last_mut().unwrap() = (played.run, played.over);
    }
    let told: Vec<(u32, bool)> =
        story.attempts.iter().map(|attempt| (attempt.run, attempt.over.is_some())).collect();
    assert_eq!(told, runs);
    let seen: Vec<RestSeen> = rests
        .iter()
        .filter(|rest| rest.camera == CORRECTED_CAMERA)
        .map(|rest| RestSeen {
            id: rest.id,
            at_unix_ms: rest.at.as_millisecond(),
            // Each start of the child leaves a time in which nobody watched.
            unseen_ms: rest.unseen_ms,
            layout: rest.layout.clone(),
        })
        .collect();
    let corrected = record.story(CORRECTED_CAMERA.into(), Clone::clone).await.unwrap();
    assert_eq!(corrected, follow(&seen, corrections));
}

fn all_corrections(store: &Path) -> Vec<Correction> {
    let mut text = Vec::new();
    let reader = RecordReader::open(store).unwrap();
    reader.export(ExportOf::Corrections, ExportFormat::JsonLines, &mut text).unwrap();
    String::from_utf8(text)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

#[test]
fn whatever_was_announced_survives_being_killed_at_any_moment() {
    let kills = std::env::var("STILLCLOTH_KILLS").map_or(KILLS, |text| text.parse().unwrap());
    let mut spread = Spread(7);
    let (mut announced, mut migrations_cut, mut backups_cut) = (0, 0, 0);
    let mut done = 0;
    while done < kills {
        let folder = Folder::new("killed");
        let (store, target) = (folder.0.join("store"), folder.0.join("backup"));
        std::fs::create_dir_all(&store).unwrap();
        let old = done / KILLS_A_STORE % 2 == 1;
        if old {
            write_old_store(&store);
        }
        let mut ledger = Ledger::default();
        for round in 0..KILLS_A_STORE.min(kills - done) {
            let writer = Writer::start("write", &store, &target);
            // The first moments of an old store are its migration.
            let lines = if old && round < 3 { 0 } else { spread.below(80) };
            writer.let_it(lines, Duration::from_micros(spread.below(20_000)));
            let backup = (round % 3 == 2).then(|| Writer::start("backup", &store, &target));
            if backup.is_some() {
                let moment = Duration::from_micros(spread.below(40_000));
                writer.let_it(lines + spread.below(80), moment);
            }
            if let Some(backup) = backup {
                let cut = !backup.kill(true).contains(&"backup".to_string());
                backups_cut += usize::from(cut);
            }
            let lines = writer.kill(false);
            migrations_cut += usize::from(old && !lines.contains(&"open".to_string()));
            lines.iter().for_each(|line| ledger.note(line));
            let old = if old { i64::try_from(OLD_RESTS).unwrap() } else { 0 };
            hold_to(&ledger, &store, old);
            if target.join("record.sqlite3").exists() {
                let checked = RecordReader::open(&target).unwrap().check().unwrap();
                assert_eq!(checked.problems, [], "of the backup");
            }
            done += 1;
        }
        announced += ledger.lines;
        eprintln!("{done} of {kills} kills, {announced} announcements, all kept");
        let report = RecordReader::open(&store).unwrap().backup(&target).unwrap();
        assert_eq!(report.pictures_missing, 0);
        assert_eq!(RecordReader::open(&target).unwrap().check().unwrap().problems, []);
    }
    eprintln!("{migrations_cut} kills while an old store was opened, {backups_cut} of backups");
    assert!(announced > 10 * kills, "only {announced} announcements");
}
