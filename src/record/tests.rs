//! What only the record's own thread can be made to run into: a database that refuses, pictures
//! that grow old, listeners that come and go.

use super::{
    outbox::{self, DeliveryOutcome, ListenerSetting},
    store::Store,
    *,
};
use jiff::Timestamp;
use std::{
    path::PathBuf,
    sync::atomic::{AtomicU32, Ordering},
};

/// A data folder that is gone afterwards.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let name = format!("stillcloth-record-{}-{count}", std::process::id());
        Self(std::env::temp_dir().join(name))
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn at(day: i64) -> Timestamp {
    Timestamp::from_second(1_700_000_000 + 86_400 * day).unwrap()
}

fn keeps(retention: Retention) -> Retention {
    Retention { min_free_gb: 0.0, ..retention }
}

#[test]
fn whoever_is_told_that_a_rest_is_kept_finds_it_announced() {
    let folder = Folder::new();
    let record = Record::open(&folder.0, keeps(Retention::default())).unwrap();
    let announced = record.announcements();
    for day in 0..200 {
        let kept = record.append(NewRest::of_nothing(b"a picture", at(day))).unwrap();
        let last = kept.events.last().expect("a rest is announced").id;
        assert_eq!(*announced.borrow(), last, "after rest {day}");
    }
}

#[test]
fn the_time_between_two_runs_of_the_program_counts_as_unseen() {
    let folder = Folder::new();
    let unseen_ms = |store: &mut Store, second: i64| {
        let at = Timestamp::from_second(1_700_000_000 + second).unwrap();
        store.append(NewRest::of_nothing(b"1", at)).unwrap().rest.unseen_ms
    };
    let mut store = Store::open(&folder.0, keeps(Retention::default())).unwrap();
    assert_eq!([unseen_ms(&mut store, 0), unseen_ms(&mut store, 20)], [0, 0]);
    drop(store);
    let mut store = Store::open(&folder.0, keeps(Retention::default())).unwrap();
    assert_eq!([unseen_ms(&mut store, 80), unseen_ms(&mut store, 95)], [60_000, 0]);
}

#[test]
fn a_database_that_is_full_answers_with_an_error_and_goes_on_when_it_is_not() {
    let folder = Folder::new();
    let mut store = Store::open(&folder.0, keeps(Retention::default())).unwrap();
    store.append(NewRest::of_nothing(b"1", at(0))).unwrap();
    let pages: i64 = store.connection.query_row("PRAGMA page_count", [], |row| row.get(0)).unwrap();
    store.connection.pragma_update(None, "max_page_count", pages).unwrap();
    let mut kept = 1;
    let error = loop {
        let before = store.numbers;
        match store.append(NewRest::of_nothing(b"2", at(0))) {
            Ok(_) => kept += 1,
            Err(error) => {
                assert_eq!(store.numbers, before, "what is in memory is what is on disk");
                break error;
            }
        }
    };
    assert!(matches!(error, RecordError::DiskFull { .. }), "{error}");
    let (place, for_all) = (folder.0.display().to_string(), error.without_place());
    assert!(error.to_string().contains(&place), "{error}");
    assert!(for_all.starts_with("the disk of the record is full") && !for_all.contains(&place));
    store.connection.pragma_update(None, "max_page_count", 1 << 30).unwrap();
    assert_eq!(store.append(NewRest::of_nothing(b"3", at(0))).unwrap().rest.id, kept + 1);
    drop(store);
    let report = RecordReader::open(&folder.0).unwrap().check().unwrap();
    assert_eq!(report.problems, []);
}

#[test]
fn a_database_that_turns_read_only_answers_with_an_error_and_can_still_be_read() {
    let folder = Folder::new();
    let mut store = Store::open(&folder.0, keeps(Retention::default())).unwrap();
    store.append(NewRest::of_nothing(b"1", at(0))).unwrap();
    let before = store.numbers;
    store.connection.pragma_update(None, "query_only", true).unwrap();
    let error = store.append(NewRest::of_nothing(b"2", at(1))).unwrap_err();
    assert!(matches!(error, RecordError::Disk { .. }), "{error}");
    assert_eq!(store.numbers, before);
    assert_eq!(store.newest(None, 10).unwrap().len(), 1);
    store.connection.pragma_update(None, "query_only", false).unwrap();
    assert_eq!(store.append(NewRest::of_nothing(b"2", at(1))).unwrap().rest.id, 2);
}

#[test]
fn the_oldest_pictures_go_first_and_no_row_with_them() {
    let folder = Folder::new();
    let retention = keeps(Retention { max_gb: Some(250e-9), ..Retention::default() });
    let mut store = Store::open(&folder.0, retention).unwrap();
    for day in 0..5_u8 {
        store.append(NewRest::of_nothing(&[day; 100], at(i64::from(day)))).unwrap();
        while store.keeper.is_due() {
            store.let_some_pictures_go();
        }
    }
    let state = |store: &Store, id: i64| {
        let rest = event::rest_by_id(&store.connection, id).unwrap().unwrap();
        store.picture(&rest).unwrap()
    };
    for id in 1..=3 {
        assert_eq!(state(&store, id), Picture::LetGo, "of rest {id}");
    }
    for id in 4..=5 {
        assert!(matches!(state(&store, id), Picture::Kept(path) if path.is_file()), "of rest {id}");
    }
    // The same picture seen again is kept again.
    store.append(NewRest::of_nothing(&[0; 100], at(9))).unwrap();
    assert!(matches!(state(&store, 1), Picture::Kept(path) if path.is_file()));
    drop(store);
    let report = RecordReader::open(&folder.0).unwrap().check().unwrap();
    assert_eq!((report.rests, report.problems), (6, vec![]));
}

#[test]
fn pictures_grow_old_and_a_clock_that_jumps_ahead_does_not_make_them_so() {
    let folder = Folder::new();
    let retention = keeps(Retention { keep_days: Some(30), ..Retention::default() });
    let mut store = Store::open(&folder.0, retention).unwrap();
    let now = Timestamp::now();
    let days_ago =
        |days: i64| Timestamp::from_millisecond(now.as_millisecond() - days * 86_400_000).unwrap();
    store.append(NewRest::of_nothing(b"old", days_ago(31))).unwrap();
    store.append(NewRest::of_nothing(b"young", days_ago(29))).unwrap();
    // A frame whose time lies years ahead.
    store.append(NewRest::of_nothing(b"odd", days_ago(-4000))).unwrap();
    store.let_some_pictures_go();
    let state = |id: i64| {
        let rest = event::rest_by_id(&store.connection, id).unwrap().unwrap();
        store.picture(&rest).unwrap()
    };
    assert_eq!(state(1), Picture::LetGo);
    assert!(matches!(state(2), Picture::Kept(path) if path.is_file()));
    assert!(matches!(state(3), Picture::Kept(path) if path.is_file()));
}

#[test]
fn each_listener_is_owed_each_event_until_it_is_settled_or_gone() {
    let folder = Folder::new();
    let mut store = Store::open(&folder.0, keeps(Retention::default())).unwrap();
    store.append(NewRest::of_nothing(b"before", at(0))).unwrap();
    let setting = |url: &str| ListenerSetting { url: url.into(), secret: "s".into() };
    let set = |store: &mut Store, urls: &[&str]| {
        let settings: Vec<_> = urls.iter().map(|url| setting(url)).collect();
        store.listeners = store
            .write(|transaction, _| outbox::set_listeners(transaction, &settings, at(0)))
            .unwrap();
        store.listeners.iter().map(|listener| listener.id).collect::<Vec<_>>()
    };
    let owed = |store: &Store, listener| {
        let due = outbox::due_deliveries(&store.connection, listener, at(90_000), 100).unwrap();
        due.deliveries
    };
    let ids = set(&mut store, &["http://a/", "http://b/"]);
    let event = store.append(NewRest::of_nothing(b"1", at(1))).unwrap().events[0].id;
    let [first] = &owed(&store, ids[0])[..] else { panic!("{:?}", owed(&store, ids[0])) };
    assert_eq!((first.event, first.tries), (event, 0), "nothing from before it listened");
    assert_ne!(first.message_id, owed(&store, ids[1])[0].message_id);

    // Put off: the same message, not before its time, however far a clock had put it.
    let now = Timestamp::now();
    let later = Timestamp::from_second(now.as_second() + 60).unwrap();
    let again = DeliveryOutcome::TryAgain(later);
    outbox::note_delivery(&store.connection, first, again, now).unwrap();
    let due = outbox::due_deliveries(&store.connection, ids[0], now, 100).unwrap();
    assert_eq!((due.deliveries, due.next), (vec![], Some(later)));
    let due = outbox::due_deliveries(&store.connection, ids[0], later, 100).unwrap();
    assert_eq!((&due.deliveries[0].message_id, due.deliveries[0].tries), (&first.message_id, 1));
    let years_ahead = DeliveryOutcome::TryAgain(Timestamp::from_second(4_000_000_000).unwrap());
    outbox::note_delivery(&store.connection, first, years_ahead, now).unwrap();
    assert_eq!(owed(&store, ids[0]).len(), 1);

    // A listener that stays keeps what it is owed; one that is gone for good gets nothing more.
    assert_eq!(set(&mut store, &["http://b/", "http://a/"]), ids);
    assert_eq!(owed(&store, ids[0]).len(), 1);
    outbox::note_delivery(&store.connection, first, DeliveryOutcome::ListenerGone, now).unwrap();
    store.listeners = outbox::listeners(&store.connection).unwrap();
    assert!(store.listeners[0].disabled_at.is_some());
    store.append(NewRest::of_nothing(b"2", at(2))).unwrap();
    assert_eq!((owed(&store, ids[0]).len(), owed(&store, ids[1]).len()), (0, 2));
    // Left out of the settings once, it is taken on anew.
    set(&mut store, &["http://b/"]);
    let anew = set(&mut store, &["http://a/", "http://b/"]);
    assert_eq!(anew, [ids[1], ids[1] + 1]);
}

#[test]
fn only_one_service_has_a_record_and_readers_read_beside_it() {
    let folder = Folder::new();
    let mut store = Store::open(&folder.0, keeps(Retention::default())).unwrap();
    let second = Store::open(&folder.0, Retention::default());
    assert!(matches!(second, Err(RecordError::InUse { .. })));
    store.append(NewRest::of_nothing(b"1", at(0))).unwrap();
    let reader = RecordReader::open(&folder.0).unwrap();
    assert_eq!(reader.check().unwrap().rests, 1);
    store.append(NewRest::of_nothing(b"2", at(0))).unwrap();
    assert_eq!(reader.check().unwrap().rests, 2);

    let target = Folder::new();
    let report = reader.backup(&target.0).unwrap();
    assert_eq!((report.rests, report.pictures_copied, report.pictures_missing), (2, 2, 0));
    store.append(NewRest::of_nothing(b"3", at(0))).unwrap();
    assert_eq!(reader.backup(&target.0).unwrap().pictures_copied, 1);
    drop(store);
    let mut restored = Store::open(&target.0, keeps(Retention::default())).unwrap();
    assert_eq!(restored.append(NewRest::of_nothing(b"4", at(0))).unwrap().rest.id, 4);
    // Now it has gone its own way, and is not overwritten.
    let busy = reader.backup(&target.0);
    assert!(matches!(busy, Err(BackupError::Record(RecordError::InUse { .. }))), "{busy:?}");
    drop(restored);
    assert!(matches!(reader.backup(&target.0), Err(BackupError::OtherRecord { .. })));
    let inside = reader.backup(&folder.0.join("backup"));
    assert!(matches!(inside, Err(BackupError::Inside { .. })));
}

#[test]
fn a_reader_says_what_is_wrong_with_a_folder() {
    let folder = Folder::new();
    let none = RecordReader::open(&folder.0);
    assert!(matches!(none, Err(RecordError::NoRecord { .. })));
    let store = Store::open(&folder.0, Retention::default()).unwrap();
    store.connection.execute("INSERT INTO record_version (version) VALUES (999)", []).unwrap();
    drop(store);
    let newer = RecordReader::open(&folder.0);
    assert!(matches!(newer, Err(RecordError::TooNew { found: 999, .. })));
    assert!(matches!(
        Store::open(&folder.0, Retention::default()),
        Err(RecordError::TooNew { found: 999, .. })
    ));
}
