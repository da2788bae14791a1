//! Entries of a contest against every way to tamper with them. Entries are also hashed and signed
//! here by code of the test's own, after the published description, so that what is edited can be
//! sealed anew as a cheat would.
//!
//! `STILLCLOTH_EDITS=10000 cargo test --test it contest:: -- --nocapture` makes so many edits.

use crate::score::{player::Habits, sessions::session};
use ed25519_dalek::{Signer as _, SigningKey};
use sha2::{Digest, Sha256};
use std::{collections::BTreeMap, ops::Range};
use stillcloth::{
    camera::picture::PictureFormat,
    contest::{
        Entrant, EntryRecord, Finding, FindingKind as Kind, Place, PublicKey, Report, Signer,
        Verdict, verify, write_entry,
    },
    score::{Cause, Step, follow},
    staged::Random,
};

/// Edits where nothing else is said.
const EDITS: usize = 400;

const SECRET: [u8; 32] = [7; 32];
const OTHER_SECRET: [u8; 32] = [8; 32];

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// The picture of a rest, as far as these entries have any.
fn picture(at_unix_ms: i64) -> Vec<u8> {
    format!("picture of {at_unix_ms}").into_bytes()
}

/// Nothing happens but shots, racks and ends of attempts.
fn plain(seed: u64) -> Habits {
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
struct Played {
    records: Vec<EntryRecord>,
    run: u32,
    /// Layouts do not determine all of it.
    in_doubt: bool,
}

/// The attempts of a made-up session that are over and whose start was seen.
fn played(seed: u64, habits: Habits) -> Vec<Played> {
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
            let in_doubt = truth.is_none_or(|truth| truth.in_doubt || truth.after_doubt);
            Some(Played { records: records.collect(), run: attempt.run, in_doubt })
        })
        .collect()
}

fn entrant() -> Entrant {
    let film = Some("https://films.example/watch?v=7".to_string());
    Entrant { player: "Rowan Hale".into(), age_years: Some(57), film }
}

fn written(records: &[EntryRecord]) -> String {
    let mut file = Vec::new();
    write_entry(&entrant(), records, &Signer::from_secret(&SECRET), &mut file).unwrap();
    String::from_utf8(file).unwrap()
}

fn written_by(player: &str, records: &[EntryRecord], secret: &[u8; 32]) -> String {
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
fn checked_with(entry: &[u8], swapped: Option<&str>) -> Report {
    let known = Signer::from_secret(&SECRET).public();
    let see = |sha256: &str, _| (Some(sha256) == swapped).then(|| "another picture".to_string());
    verify(entry, Some(&known), see).unwrap()
}

fn checked(entry: &str) -> Report {
    checked_with(entry.as_bytes(), None)
}

fn places(report: &Report) -> Vec<(Place, Kind)> {
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

/// Where a byte stands: the head, a record or the seal.
fn place_of(entry: &str, byte: usize) -> Place {
    let line = entry.as_bytes()[..byte].iter().filter(|byte| **byte == b'\n').count();
    let lines = entry.lines().count();
    match line {
        0 => Place::Head,
        n if n + 1 < lines => Place::Record(u32::try_from(n).unwrap()),
        _ => Place::Seal,
    }
}

/// An edit, and what the check has to name first.
#[derive(Debug)]
struct Edit {
    what: &'static str,
    entry: Vec<u8>,
    swapped: Option<String>,
    place: Place,
    /// None where several kinds say it rightly.
    kind: Option<Kind>,
}

fn lines(entry: &str) -> Vec<String> {
    entry.lines().map(String::from).collect()
}

fn joined(lines: &[String]) -> String {
    lines.iter().fold(String::new(), |text, line| text + line + "\n")
}

/// Where the numbers behind a name stand in a line.
fn numbers(line: &str, name: &str) -> Vec<Range<usize>> {
    let name = format!("\"{name}\":");
    let begins = line.match_indices(&name).map(|(at, _)| at + name.len());
    begins
        .map(|from| {
            let length = line[from..].find([',', '}']).unwrap_or(line.len() - from);
            from..from + length
        })
        .collect()
}

/// Moves one ball of a record by so many millimetres.
fn moved(line: &str, mm: f64, random: &mut Random) -> String {
    let diamond_mm: f64 = line[numbers(line, "length_mm")[0].clone()].parse::<f64>().unwrap() / 8.0;
    let angle = random.between(0.0, std::f64::consts::TAU);
    let ball = random.below(numbers(line, "x").len());
    let mut line = line.to_string();
    for (name, part) in [("x", angle.cos()), ("y", angle.sin())] {
        let at = numbers(&line, name)[ball].clone();
        let place: f64 = line[at.clone()].parse().unwrap();
        line.replace_range(at, &format!("{}", place + part * mm / diamond_mm));
    }
    line
}

fn changed_number(line: &str, name: &str, by: i64) -> String {
    let at = numbers(line, name)[0].clone();
    let number: i64 = line[at.clone()].parse().unwrap();
    let mut line = line.to_string();
    line.replace_range(at, &(number + by).to_string());
    line
}

fn other_picture(line: &str) -> String {
    let name = "\"picture_sha256\":\"";
    let at = line.find(name).unwrap() + name.len();
    let mut line = line.to_string();
    line.replace_range(at..at + 64, &sha256(b"another picture"));
    line
}

fn byte_edit(entry: &str, random: &mut Random) -> Edit {
    let mut bytes = entry.as_bytes().to_vec();
    let at = random.below(bytes.len());
    let place = place_of(entry, at);
    let other = |old: u8, random: &mut Random| loop {
        let new =
            if random.chance(0.5) { random.bits() as u8 } else { 32 + random.below(95) as u8 };
        if new != old {
            return new;
        }
    };
    let what = match random.below(3) {
        0 => {
            bytes[at] = other(bytes[at], random);
            "a byte replaced"
        }
        1 => {
            bytes.insert(at, random.bits() as u8);
            "a byte put in"
        }
        _ => {
            bytes.remove(at);
            "a byte taken out"
        }
    };
    Edit { what, entry: bytes, swapped: None, place, kind: None }
}

/// One random edit of an entry that nobody signs anew.
fn edit(entry: &str, random: &mut Random) -> Edit {
    let mut all = lines(entry);
    let records = all.len() - 2;
    let at = 1 + random.below(records);
    let place = Place::Record(u32::try_from(at).unwrap());
    let of = |what, all: &[String], kind| Edit {
        what,
        entry: joined(all).into_bytes(),
        swapped: None,
        place,
        kind: Some(kind),
    };
    match random.below(8) {
        0 => {
            all.remove(at);
            of("a record dropped", &all, Kind::Missing)
        }
        1 => {
            all.insert(at, all[at].clone());
            of("a record doubled", &all, Kind::Twice)
        }
        2 => {
            let other = 1 + (at + random.below(records - 1)) % records;
            all.swap(at, other);
            let place = Place::Record(u32::try_from(at.min(other)).unwrap());
            Edit { place, ..of("two records swapped", &all, Kind::Missing) }
        }
        3 => {
            all[at] = moved(&all[at], 5.0, random);
            of("a layout moved by 5 mm", &all, Kind::Changed)
        }
        4 => {
            let by = if random.chance(0.5) { 1 } else { -(1 + random.below(5000) as i64) };
            all[at] = changed_number(&all[at], "at_unix_ms", by);
            of("a time changed", &all, Kind::Changed)
        }
        5 => {
            all[at] = other_picture(&all[at]);
            of("a picture replaced", &all, Kind::Changed)
        }
        6 => {
            let time: i64 = all[at][numbers(&all[at], "at_unix_ms")[0].clone()].parse().unwrap();
            let swapped = Some(sha256(&picture(time)));
            Edit { swapped, ..of("a picture's file replaced", &all, Kind::Picture) }
        }
        _ => byte_edit(entry, random),
    }
}

/// Entries to tamper with: all of them verified as they are.
fn entries(sessions: u64) -> Vec<(String, u32)> {
    let all = (0..sessions).flat_map(|seed| played(seed, plain(seed)));
    let entries = all.filter(|attempt| !attempt.in_doubt && attempt.records.len() > 4);
    entries.map(|attempt| (written(&attempt.records), attempt.run)).collect()
}

fn asked_for() -> usize {
    std::env::var("STILLCLOTH_EDITS").map_or(EDITS, |text| text.parse().unwrap())
}

#[test]
fn every_edit_of_a_valid_entry_is_caught_and_named() {
    let entries = entries(20);
    assert!(entries.len() > 40);
    let mut random = Random::new(14);
    let mut tally: BTreeMap<&str, usize> = BTreeMap::new();
    let edits = asked_for();
    for number in 0..edits {
        let (entry, _) = &entries[random.below(entries.len())];
        let edit = edit(entry, &mut random);
        let report = checked_with(&edit.entry, edit.swapped.as_deref());
        let first = report.findings.first();
        let told = || format!("edit {number}, {} at {}: {first:?}", edit.what, edit.place);
        assert_eq!(report.verdict(), Verdict::Refused, "{}", told());
        assert_eq!(first.map(|finding| finding.place), Some(edit.place), "{}", told());
        if let Some(kind) = edit.kind {
            assert_eq!(first.map(|finding| finding.kind), Some(kind), "{}", told());
        }
        *tally.entry(edit.what).or_default() += 1;
    }
    eprintln!("{edits} edits of {} entries, all caught and named: {tally:?}", entries.len());
}

/// Seals lines anew, as whoever holds a key can: records numbered one after the other, each hash and
/// the signature taken over what stands there now.
fn sealed_anew(mut all: Vec<String>, secret: &[u8; 32]) -> String {
    let key = SigningKey::from_bytes(secret);
    all.pop();
    let records = all.len() - 1;
    let open = |line: &str| line.split(",\"sha256\":\"").next().unwrap().to_string();
    let hashed = |before: &str, open: String| {
        let hash = sha256((before.to_string() + &open).as_bytes());
        (format!("{open},\"sha256\":\"{hash}\"}}"), hash)
    };
    let mut head = open(&all[0]);
    let at = numbers(&head, "records")[0].clone();
    head.replace_range(at, &records.to_string());
    let name = "\"key\":\"";
    let at = head.find(name).unwrap() + name.len();
    head.replace_range(at..at + 64, &hex(key.verifying_key().as_bytes()));
    let (head, head_hash) = hashed("", head);
    let mut lines = vec![head];
    let mut chain = String::new();
    for (number, line) in all[1..].iter().enumerate() {
        let mut line = open(line);
        let at = numbers(&line, "record")[0].clone();
        line.replace_range(at, &(number + 1).to_string());
        let (line, hash) = hashed(&chain, line);
        chain = hash;
        lines.push(line);
    }
    let text = format!("stillcloth entry 1\n{head_hash}\n{chain}\n");
    let signature = hex(&key.sign(text.as_bytes()).to_bytes());
    lines.push(format!("{{\"chain_sha256\":\"{chain}\",\"signature\":\"{signature}\"}}"));
    joined(&lines)
}

#[test]
fn an_entry_sealed_by_other_code_after_the_description_is_the_same_to_the_byte() {
    for (entry, _) in entries(4) {
        assert_eq!(sealed_anew(lines(&entry), &SECRET), entry);
    }
}

#[test]
fn whatever_is_edited_and_signed_with_another_key_is_told_by_the_key() {
    let mut random = Random::new(15);
    let entries = entries(6);
    for _ in 0..asked_for() / 4 {
        let (entry, _) = &entries[random.below(entries.len())];
        let mut all = lines(entry);
        let at = 1 + random.below(all.len() - 2);
        match random.below(4) {
            0 => drop(all.remove(at)),
            1 => all[at] = moved(&all[at], 5.0, &mut random),
            2 => all[at] = changed_number(&all[at], "at_unix_ms", 1),
            _ => all[at] = other_picture(&all[at]),
        }
        let report = checked(&sealed_anew(all.clone(), &OTHER_SECRET));
        assert_eq!(report.verdict(), Verdict::Refused);
        assert!(places(&report).contains(&(Place::Head, Kind::OtherKey)), "{:?}", report.findings);
        // The signature of the one with the key of the other is nobody's.
        let mut mixed = lines(&sealed_anew(all.clone(), &OTHER_SECRET));
        let own = lines(&sealed_anew(all, &SECRET));
        *mixed.last_mut().unwrap() = own.last().unwrap().clone();
        let report = checked(&joined(&mixed));
        assert!(places(&report).contains(&(Place::Seal, Kind::Signature)), "{:?}", report.findings);
    }
}

/// Edits that the player seals anew with the right key, and what the rules make of each.
#[test]
fn what_the_player_edits_and_seals_anew_is_held_against_the_rules() {
    let mut random = Random::new(16);
    let entries: Vec<(String, u32)> =
        entries(20).into_iter().filter(|(_, run)| *run >= 3).collect();
    assert!(entries.len() > 20);
    let mut tally: BTreeMap<&str, usize> = BTreeMap::new();
    for _ in 0..asked_for() / 2 {
        let (entry, run) = &entries[random.below(entries.len())];
        let mut all = lines(entry);
        let last = all.len() - 2;
        let at = 1 + random.below(last);
        let number = |at: usize| Place::Record(u32::try_from(at).unwrap());
        let (what, place, kind) = match random.below(8) {
            0 => {
                all[0] = changed_number(&all[0], "run", 1 + random.below(20) as i64);
                ("a run too high", Place::Head, Kind::RunDiffers)
            }
            1 => {
                all.insert(at, all[at].clone());
                ("a record doubled", number(at + 1), Kind::NotLater)
            }
            2 => {
                let at = 2 + random.below(last - 1);
                all.swap(at, at - 1);
                ("two records swapped", number(at), Kind::NotLater)
            }
            3 => {
                all.remove(1);
                // A rest that was seen twice still shows the rack.
                if is_racked(&all[1]) {
                    continue;
                }
                ("the start dropped", number(1), Kind::NoStart)
            }
            4 => {
                all.remove(last);
                if is_over(&all) {
                    continue;
                }
                ("the end dropped", number(last - 1), Kind::NoEnd)
            }
            5 => {
                let at = 2 + random.below(last - 1);
                all[at] = changed_number(&all[at], "at_unix_ms", -3_600_000);
                ("a time set back", number(at), Kind::NotLater)
            }
            6 => {
                let said = "\"said\":{\"step\":\"shot\",\"potted\":5}";
                let at = 2 + random.below(last - 1);
                all[at] = all[at].replace("\"said\":null", said);
                ("balls by the player's word", number(at), Kind::Said)
            }
            _ => {
                let length = numbers(&all[at], "length_mm")[0].clone();
                let longer_mm = 1.05 * all[at][length.clone()].parse::<f64>().unwrap();
                all[at].replace_range(length, &longer_mm.to_string());
                let place = if at == 1 { number(2) } else { number(at) };
                ("another table", place, Kind::OtherTable)
            }
        };
        let report = checked(&sealed_anew(all, &SECRET));
        assert_ne!(report.verdict(), Verdict::Verified, "{what} of a run of {run}");
        let told = places(&report);
        assert!(told.contains(&(place, kind)), "{what} at {place}: {:?}", report.findings);
        *tally.entry(what).or_default() += 1;
    }
    eprintln!("sealed anew by the player, all caught and named: {tally:?}");
}

fn is_racked(line: &str) -> bool {
    line.matches("\"kind\":\"object\"").count() >= 15
}

/// Whether the records that are left end the attempt all the same.
fn is_over(all: &[String]) -> bool {
    let report = checked(&sealed_anew(all.to_vec(), &SECRET));
    report.attempt.is_some_and(|attempt| attempt.over.is_some())
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
