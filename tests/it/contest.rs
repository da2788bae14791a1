//! Entries of a contest: what is verified of a valid one, and what is told of a bad one.

use crate::{
    contest_edits::{entries, lines, sealed_anew},
    score::{player::Habits, sessions::session},
};
use sha2::{Digest, Sha256};
use stillcloth::{
    camera::picture::PictureFormat,
    contest::{
        Entrant, EntryRecord, Finding, FindingKind as Kind, Place, PublicKey, Report, Signer,
        Verdict, verify, write_entry,
    },
    score::{Cause, Step, follow},
};

pub const SECRET: [u8; 32] = [7; 32];
pub const OTHER_SECRET: [u8; 32] = [8; 32];

pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

pub fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// The picture of a rest, as far as these entries have any.
pub fn picture(at_unix_ms: i64) -> Vec<u8> {
    format!("picture of {at_unix_ms}").into_bytes()
}

/// Nothing happens but shots, racks and ends of attempts.
pub fn plain(seed: u64) -> Habits {
    Habits {
        hands: 0.0,
        gaps: 0.0,
        missed: 0.0,
        missed_racks: 0.0,
        mishaps: 0.0,
        misread: 0.0,
        ..Habits::ordinary(seed)
    }
}

/// An attempt to enter.
pub struct Played {
    pub records: Vec<EntryRecord>,
    pub run: u32,
    /// Layouts do not determine all of it.
    pub in_doubt: bool,
}

/// The attempts of a made-up session that are over and whose start was seen.
pub fn played(seed: u64, habits: Habits) -> Vec<Played> {
    let session = session(seed, habits, 5);
    let story = follow(&session.rests, &[]);
    let attempts = story.attempts.iter().filter(|attempt| attempt.start_seen);
    attempts
        .filter_map(|attempt| {
            let over = attempt.over?;
            let within = |id: i64| (attempt.began_rest..=over.rest).contains(&id);
            let rests = session.rests.iter().filter(|rest| within(rest.id));
            let records = rests.map(|rest| EntryRecord {
                at_unix_ms: rest.at_unix_ms,
                unseen_ms: rest.unseen_ms,
                layout: rest.layout.clone(),
                said: None,
                picture_sha256: sha256(&picture(rest.at_unix_ms)),
                picture_format: PictureFormat::Jpeg,
            });
            let truth = session.truth.iter().find(|t| t.first_rest == Some(attempt.began_rest));
            let misled = session.misled.iter().any(|rest| within(*rest));
            let in_doubt = misled || truth.is_none_or(|truth| truth.in_doubt || truth.after_doubt);
            Some(Played { records: records.collect(), run: attempt.run, in_doubt })
        })
        .collect()
}

fn entrant() -> Entrant {
    let film = Some("https://films.example/watch?v=7".to_string());
    Entrant { player: "Rowan Hale".into(), age_years: Some(57), film }
}

pub fn written(records: &[EntryRecord]) -> String {
    let mut file = Vec::new();
    write_entry(&entrant(), records, &Signer::from_secret(&SECRET), &mut file).unwrap();
    String::from_utf8(file).unwrap()
}

pub fn written_by(player: &str, records: &[EntryRecord], secret: &[u8; 32]) -> String {
    let mut file = Vec::new();
    let entrant = Entrant { player: player.into(), ..entrant() };
    write_entry(&entrant, records, &Signer::from_secret(secret), &mut file).unwrap();
    String::from_utf8(file).unwrap()
}

/// A verified entry of a made-up session, by the one key or the other.
pub fn entry_of(player: &str, seed: u64, other_key: bool) -> String {
    let attempts = played(seed, plain(seed)).into_iter().filter(|attempt| !attempt.in_doubt);
    let longest = attempts.max_by_key(|attempt| attempt.run).unwrap();
    written_by(player, &longest.records, if other_key { &OTHER_SECRET } else { &SECRET })
}

/// An entry of somebody else's, with a place to look at: the last record is on the player's word.
pub fn other_player(player: &str) -> String {
    let attempts = played(9, plain(9)).into_iter().filter(|attempt| !attempt.in_doubt);
    let mut records = attempts.min_by_key(|attempt| attempt.run).unwrap().records;
    records.last_mut().unwrap().said = Some(Step::Scratch);
    written_by(player, &records, &[9; 32])
}

/// Checks an entry whose player is known, with its pictures beside it: `swapped` is not what it was.
pub fn checked_with(entry: &[u8], swapped: Option<&str>) -> Report {
    let known = Signer::from_secret(&SECRET).public();
    let see = |sha256: &str, _| (Some(sha256) == swapped).then(|| "another picture".to_string());
    verify(entry, Some(&known), see).unwrap()
}

pub fn checked(entry: &str) -> Report {
    checked_with(entry.as_bytes(), None)
}

pub fn places(report: &Report) -> Vec<(Place, Kind)> {
    report.findings.iter().map(|finding| (finding.place, finding.kind)).collect()
}

#[test]
fn no_valid_entry_is_refused_and_what_layouts_determine_is_verified() {
    let (mut verified, mut to_look_at) = (0, 0);
    for seed in 0..60 {
        for attempt in played(seed, plain(seed)) {
            let report = checked(&written(&attempt.records));
            let told = || format!("seed {seed}: {:?}", report.findings);
            assert_eq!(report.attempt.as_ref().map(|a| a.run), Some(attempt.run), "{}", told());
            if !attempt.in_doubt {
                assert_eq!(report.verdict(), Verdict::Verified, "{}", told());
                verified += 1;
            }
        }
        // With hands, gaps and misreadings: never refused, and what is in doubt is named.
        for attempt in played(1000 + seed, Habits::ordinary(seed)) {
            let report = checked(&written(&attempt.records));
            assert_ne!(report.verdict(), Verdict::Refused, "seed {seed}: {:?}", report.findings);
            to_look_at += usize::from(report.verdict() == Verdict::ToLookAt);
        }
    }
    assert!(verified > 150 && to_look_at > 30, "{verified} {to_look_at}");
}

fn sealed(records: &[EntryRecord]) -> Report {
    checked(&written(records))
}

/// A plain attempt that goes over a re-rack, by the rule.
fn over_a_re_rack() -> (Vec<EntryRecord>, usize) {
    let all = (0..400).flat_map(|seed| played(seed, plain(seed)));
    let goes_over = |records: &[EntryRecord]| {
        let closing = records.iter().position(|r| r.layout.object_balls().count() == 1)?;
        let racked = &records.get(closing + 1)?.layout;
        let cue = records[closing].layout.cue_ball()?;
        let stays =
            racked.cue_ball().is_some_and(|now| (now.x - cue.x).hypot(now.y - cue.y) < 0.05);
        (racked.object_balls().count() == 15 && stays).then_some(closing + 1)
    };
    all.filter(|attempt| !attempt.in_doubt && attempt.run > 15)
        .find_map(|attempt| goes_over(&attempt.records).map(|at| (attempt.records, at)))
        .expect("an attempt goes over a re-rack")
}

#[test]
fn balls_that_lie_elsewhere_than_the_rule_has_them_at_a_re_rack_are_named() {
    let (records, racked) = over_a_re_rack();
    assert_eq!(sealed(&records).verdict(), Verdict::Verified);
    let mut cheat = records.clone();
    // The cue ball is put where the break shot is easier, and lies there from the re-rack on.
    for record in cheat.iter_mut().skip(racked).take(1) {
        let cue = record.layout.balls.iter_mut().find(|ball| ball.number == Some(0)).unwrap();
        (cue.x, cue.y) = if cue.x < 4.0 { (4.6, 3.4) } else { (1.1, 0.7) };
    }
    let report = sealed(&cheat);
    assert_ne!(report.verdict(), Verdict::Verified);
    let at = Place::Record(u32::try_from(racked + 1).unwrap());
    assert!(report.findings.iter().any(|f| f.place == at), "{:?}", report.findings);
}

#[test]
fn a_ball_moved_by_hand_in_the_middle_of_a_rack_is_named() {
    let (records, _) = over_a_re_rack();
    let at = records.iter().position(|r| r.layout.object_balls().count() == 9).unwrap();
    let mut cheat = records;
    // Another rest between two shots, with one ball a hand's breadth away.
    let mut hand = cheat[at].clone();
    hand.at_unix_ms += 1500;
    let free =
        |x: f64, y: f64| hand.layout.balls.iter().all(|ball| (ball.x - x).hypot(ball.y - y) > 0.5);
    let places =
        (1..15).flat_map(|x| (1..7).map(move |y| (0.5 * f64::from(x), 0.5 * f64::from(y))));
    let (x, y) = places.into_iter().find(|(x, y)| free(*x, *y)).unwrap();
    let ball = hand.layout.balls.iter_mut().find(|ball| ball.number != Some(0)).unwrap();
    (ball.x, ball.y) = (x, y);
    cheat.insert(at + 1, hand);
    let report = sealed(&cheat);
    assert_ne!(report.verdict(), Verdict::Verified);
    let place = Place::Record(u32::try_from(at + 2).unwrap());
    assert!(report.findings.iter().any(|f| f.place == place), "{:?}", report.findings);
}

#[test]
fn what_the_player_corrected_stands_in_the_entry_as_the_players_word() {
    let attempt = played(3, plain(3)).into_iter().find(|a| !a.in_doubt && a.run >= 3).unwrap();
    let mut records = attempt.records;
    let last = records.len() - 1;
    records[last].said = Some(Step::Scratch);
    let report = sealed(&records);
    assert_eq!(report.verdict(), Verdict::ToLookAt, "{:?}", report.findings);
    assert_eq!(report.attempt.unwrap().over.unwrap().cause, Cause::Scratch);
    let Finding { place, kind, text } = &report.findings[0];
    assert_eq!((*place, *kind), (Place::Record(u32::try_from(last + 1).unwrap()), Kind::Said));
    assert!(text.contains("A scratch"), "{text}");
}

#[test]
fn an_entry_that_is_too_large_too_deep_or_full_of_paths_is_refused_in_clear_words() {
    let (entry, _) = entries(2).remove(0);
    let refused = |entry: &str, words: &str| {
        let report = checked(entry);
        assert_eq!(report.verdict(), Verdict::Refused);
        let told = report.findings[0].to_string();
        assert!(told.contains(words) && told.len() < 300, "{told}");
    };
    refused("", "the file is empty");
    refused("\n", "no hash");
    refused("PK\u{3}\u{4} a zip file\n", "no hash");
    refused(&"x".repeat(100_000), "at most 65536 bytes");
    let all = lines(&entry);
    refused(&format!("{}\n", all[0]), "without its seal");
    refused(&entry.replacen("\"entry\":1", "\"entry\":9", 1), "of version 9");
    // Deep nesting, hashed and signed as it should be.
    let with = |line: usize, from: &str, to: &str| {
        let mut all = lines(&entry);
        assert!(all[line].contains(from), "{}", all[line]);
        all[line] = all[line].replacen(from, to, 1);
        sealed_anew(all, &SECRET)
    };
    let deep = format!("\"said\":{}{}", "[".repeat(20_000), "]".repeat(20_000));
    refused(&with(1, "\"said\":null", &deep), "Record 1: it is no line of an entry");
    let deep = format!("\"layout\":{{\"x\":{}1{},", "{\"a\":".repeat(5000), "}".repeat(5000));
    refused(&with(1, "\"layout\":{", &deep), "Record 1: it is no line of an entry");
    refused(&with(1, "image/jpeg", "../../../etc/passwd"), "\"../../../etc/passwd\" is no kind");
    let sha = &all[2][all[2].find("picture_sha256\":\"").unwrap() + 17..][..64];
    refused(&with(2, sha, "../../../root/.ssh/id_ed25519"), "names no picture");
    refused(&with(2, "\"unseen_ms\":", "\"unseen_ms\":-"), "Record 2: it is no line");
    refused(&with(1, "\"x\":", "\"x\":1e999,\"x\":"), "Record 1: it is no line");
    refused(&with(0, "Rowan Hale", "Rowan\\nHale"), "no player's name");
    refused(&with(0, "https://", "javascript:"), "no film's address");
    refused(&(entry.clone() + &entry), "something stands behind the seal");
    // An entry as large as may be, of sound lines, is refused at the bound and not read further.
    let mut endless = lines(&entry);
    let record = endless[1].clone();
    endless.truncate(1);
    let mut bytes = 0;
    while bytes < 17 << 20 {
        bytes += record.len() + 1;
        endless.push(record.clone());
    }
    endless.push(String::new());
    let report = checked(&sealed_anew(endless, &SECRET));
    assert_eq!(report.findings[0].kind, Kind::TooLarge, "{:?}", report.findings);
    assert!(report.findings[0].text.contains("16 MiB in all"), "{:?}", report.findings);
}

/// A gigabyte that nobody holds in memory: it is made as it is read.
struct Endless {
    line: Vec<u8>,
    at: usize,
    read: u64,
}

impl std::io::Read for Endless {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        for byte in to.iter_mut() {
            *byte = self.line[self.at];
            self.at = (self.at + 1) % self.line.len();
        }
        self.read += to.len() as u64;
        Ok(if self.read > 1 << 30 { 0 } else { to.len() })
    }
}

#[test]
fn of_a_gigabyte_no_more_is_read_than_an_entry_can_have() {
    for line in [b"x".to_vec(), b"{}\n".to_vec(), vec![b'\n']] {
        let mut source = Endless { line, at: 0, read: 0 };
        let report =
            verify(std::io::BufReader::new(&mut source), None::<&PublicKey>, |_, _| None).unwrap();
        assert_eq!(report.verdict(), Verdict::Refused);
        assert!(source.read <= 17 << 20, "{} bytes were read", source.read);
    }
}
