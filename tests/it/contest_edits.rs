//! Entries of a contest against every way to tamper with them. Entries are also hashed and signed
//! here by code of the test's own, after the published description, so that what is edited can be
//! sealed anew as a cheat would.
//!
//! `STILLCLOTH_EDITS=10000 cargo test --test it contest_edits:: -- --nocapture` makes so many edits.

use crate::contest::{
    OTHER_SECRET, SECRET, checked, checked_with, hex, picture, places, plain, played, sha256,
    written,
};
use ed25519_dalek::{Signer as _, SigningKey};
use std::{collections::BTreeMap, ops::Range};
use stillcloth::{
    contest::{FindingKind as Kind, Place, Verdict},
    staged::Random,
};

/// Edits where nothing else is said.
const EDITS: usize = 400;

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

pub fn lines(entry: &str) -> Vec<String> {
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
pub fn entries(sessions: u64) -> Vec<(String, u32)> {
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
pub fn sealed_anew(mut all: Vec<String>, secret: &[u8; 32]) -> String {
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
