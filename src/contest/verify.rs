//! The check of an entry, read as a stream.
//!
//! Line by line: does it hold what an entry's line holds, does its hash come out, does it follow on
//! the one before; then the signature; and the records are followed by the rules as they come. Where
//! the file does not hold together, what the rules make of it is not told, since it says nothing. A
//! line whose hash does not come out is held against both hashes that the line before may have meant,
//! the stated and the reckoned one, so that one changed line is one finding.

use super::{
    chain::{Link, signed_text},
    entry::{
        AGES, Head, LONGEST_FILM, LONGEST_LINE, LONGEST_NAME, MOST_BYTES, Record, Seal, VERSION,
    },
    finding::{Finding, FindingKind as Kind, Place, Verdict},
    key::PublicKey,
    lines::{Line, Lines},
    replay::{Outcome, Replay},
};
use crate::{camera::picture::PictureFormat, digest::is_sha256, score::Attempt, table::TableSize};
use serde::{Deserialize, de::DeserializeOwned};
use std::io::{self, BufRead};

/// Findings that are told one by one.
const MOST_FINDINGS: usize = 50;
/// A ball of a layout of a record is nested four deep; later versions may go further.
const DEEPEST: usize = 16;
/// A value from a file, as far as it is told.
const LONGEST_TOLD: usize = 60;

/// What a check found out.
#[derive(Debug)]
pub struct Report {
    /// As claimed; none where the first line cannot be read.
    pub player: Option<String>,
    pub age_years: Option<u8>,
    pub film: Option<String>,
    /// The player's public key in hexadecimal.
    pub key: Option<String>,
    /// Records that were read.
    pub records: u32,
    /// The hash of the first record, and that of the last: the attempt's own, whoever signs it.
    pub first_sha256: Option<String>,
    pub chain_sha256: Option<String>,
    /// What follows from the records, where the file holds together.
    pub attempt: Option<Attempt>,
    pub table: Option<TableSize>,
    /// In the order in which they were met; the first fifty.
    pub findings: Vec<Finding>,
    /// How many more there are.
    pub more: u32,
}

impl Report {
    pub fn verdict(&self) -> Verdict {
        Verdict::of(&self.findings)
    }
}

/// Checks an entry. Where the player's key is known, it has to be signed with that one. `see` is told
/// the number, SHA-256 and kind of each record's picture, and says what is wrong with it.
///
/// # Errors
/// Where the stream cannot be read. Whatever is wrong with the entry is in the report.
pub fn verify(
    source: impl BufRead,
    known: Option<&PublicKey>,
    see: impl FnMut(&str, PictureFormat) -> Option<String>,
) -> io::Result<Report> {
    let mut lines = Lines::new(source, LONGEST_LINE, MOST_BYTES);
    let mut check = Check::new(see);
    loop {
        match lines.next()? {
            Line::Whole(line) => check.line(line),
            Line::Cut => {
                check.found(check.next_place(), Kind::CutOff, "the file breaks off in this line");
                break;
            }
            Line::End => break,
            Line::TooLong => {
                let text = format!("a line of an entry has at most {LONGEST_LINE} bytes");
                check.found(check.next_place(), Kind::TooLarge, text);
                break;
            }
            Line::TooMuch => {
                let text = format!("an entry has at most {} MiB in all", MOST_BYTES >> 20);
                check.found(check.next_place(), Kind::TooLarge, text);
                break;
            }
        }
        if check.over || check.more > 0 {
            break;
        }
    }
    Ok(check.end(known))
}

/// How far a check has come.
struct Check<F> {
    see: F,
    head: Option<(Head, String)>,
    head_read: bool,
    /// The number of the record that is to follow.
    next: u32,
    /// What its hash may be taken over: as the line before states it, and as it was reckoned. Empty
    /// where that is not known.
    before: Vec<String>,
    first_sha256: Option<String>,
    /// The last record's hash.
    last: String,
    seal: Option<Seal>,
    sealed: bool,
    replay: Replay,
    records: u32,
    findings: Vec<Finding>,
    more: u32,
    /// Nothing behind this tells any more.
    over: bool,
}

impl<F: FnMut(&str, PictureFormat) -> Option<String>> Check<F> {
    fn new(see: F) -> Self {
        Self {
            see,
            head: None,
            head_read: false,
            next: 1,
            before: vec![String::new()],
            first_sha256: None,
            last: String::new(),
            seal: None,
            sealed: false,
            replay: Replay::default(),
            records: 0,
            findings: Vec::new(),
            more: 0,
            over: false,
        }
    }

    fn found(&mut self, place: Place, kind: Kind, text: impl Into<String>) {
        if self.findings.len() < MOST_FINDINGS {
            self.findings.push(Finding::new(place, kind, text));
        } else {
            self.more = self.more.saturating_add(1);
        }
    }

    fn next_place(&self) -> Place {
        if !self.head_read {
            Place::Head
        } else if self.sealed || self.all_records_read() {
            Place::Seal
        } else {
            Place::Record(self.next)
        }
    }

    fn all_records_read(&self) -> bool {
        self.head.as_ref().is_some_and(|(head, _)| self.next > head.records)
    }

    fn line(&mut self, line: &[u8]) {
        let link = Link::of(line);
        if !self.head_read {
            self.head_read = true;
            self.read_head(line, link);
        } else if self.sealed {
            self.found(Place::Seal, Kind::Behind, "something stands behind the seal");
            self.over = true;
        } else if is_seal(line, link.is_some(), self.all_records_read()) {
            self.sealed = true;
            self.read_seal(line);
        } else {
            self.read_record(link);
        }
    }

    fn read_head(&mut self, line: &[u8], link: Option<Link<'_>>) {
        let place = Place::Head;
        let Some(link) = link else {
            let (kind, text) = match version(line) {
                Some(version) if version != VERSION => other_version(version),
                _ => (Kind::Changed, not_hashed()),
            };
            self.over = !line.starts_with(b"{\"entry\"");
            self.found(place, kind, text);
            return;
        };
        let body = link.body();
        let head = match parsed::<Head>(&body) {
            Ok(head) if head.entry == VERSION => head,
            read => {
                let version = read.as_ref().ok().map(|head| head.entry).or(version(&body));
                let (kind, text) = match (version, read) {
                    (Some(version), _) if version != VERSION => other_version(version),
                    (_, Err(why)) if link.reckoned("") == link.stated => (Kind::Unreadable, why),
                    _ => (Kind::Changed, changed()),
                };
                self.over = kind == Kind::Version;
                return self.found(place, kind, text);
            }
        };
        if link.reckoned("") != link.stated {
            return self.found(place, Kind::Changed, changed());
        }
        if let Some(why) = unfit(&head) {
            self.found(place, Kind::Unreadable, why);
        }
        self.head = Some((head, link.stated.into()));
    }

    fn read_record(&mut self, link: Option<Link<'_>>) {
        let place = Place::Record(self.next);
        let Some(link) = link else {
            self.found(place, Kind::Changed, not_hashed());
            self.next = self.next.saturating_add(1);
            self.before.clear();
            return;
        };
        let fits = |before: &String| link.reckoned(before) == link.stated;
        // Behind a line whose hash is not known nothing can be held against this one's.
        let holds = self.before.is_empty() || self.before.iter().any(fits);
        let record = parsed::<Record>(&link.body());
        let number = record.as_ref().map_or(self.next, |record| record.record);
        if number != self.next {
            if self.was_renumbered(&link, number) {
                self.found(place, Kind::Changed, changed());
                return self.go_on(link.stated, None, self.next);
            }
            return self.out_of_order(number, &link);
        }
        if !holds {
            self.found(place, Kind::Changed, changed());
            let reckoned = self.before.first().map(|before| link.reckoned(before));
            return self.go_on(link.stated, reckoned, number);
        }
        if number == 1 {
            self.first_sha256 = Some(link.stated.into());
        }
        self.go_on(link.stated, None, number);
        match record.and_then(checked) {
            Err(why) => self.found(place, Kind::Unreadable, why),
            Ok((record, format)) => {
                if let Some(why) = (self.see)(&record.picture_sha256, format) {
                    self.found(place, Kind::Picture, why);
                }
                if self.holds_together() {
                    self.replay.take(record);
                }
            }
        }
    }

    /// Whether this is the record that is to follow, but for its number.
    fn was_renumbered(&self, link: &Link<'_>, number: u32) -> bool {
        let begins = |number: u32| format!("{{\"record\":{number},");
        self.before.iter().any(|before| {
            let right = link.reckoned_as(before, &begins(number), &begins(self.next));
            right.as_deref() == Some(link.stated)
        })
    }

    fn out_of_order(&mut self, number: u32, link: &Link<'_>) {
        if number > self.next {
            let text = match number - self.next {
                1 => format!("it is missing: record {number} stands in its place"),
                n => format!("it and {} behind it are missing: record {number} follows", n - 1),
            };
            self.found(Place::Record(self.next), Kind::Missing, text);
            self.go_on(link.stated, None, number);
            return;
        }
        let (kind, text) = if number + 1 == self.next && link.stated == self.last {
            (Kind::Twice, "it stands there twice".to_string())
        } else {
            (Kind::OutOfOrder, format!("it stands behind record {}", self.next - 1))
        };
        self.found(Place::Record(number), kind, text);
    }

    fn go_on(&mut self, stated: &str, reckoned: Option<String>, number: u32) {
        self.next = number.saturating_add(1);
        self.records = self.records.saturating_add(1);
        self.last = stated.into();
        self.before = std::iter::once(stated.to_string()).chain(reckoned).collect();
    }

    /// Whether nothing was found that makes the records worth nothing.
    fn holds_together(&self) -> bool {
        self.findings.iter().all(|finding| finding.kind == Kind::Picture)
    }

    fn read_seal(&mut self, line: &[u8]) {
        let seal = serde_json::from_slice::<Seal>(line).ok();
        // One form only, so that nothing of it can be changed and mean the same.
        let seal = seal.filter(|seal| {
            serde_json::to_vec(seal).is_ok_and(|written| written == line)
                && is_sha256(&seal.chain_sha256)
        });
        let Some(seal) = seal else { return self.found(Place::Seal, Kind::Changed, changed()) };
        let records = self.head.as_ref().map(|(head, _)| head.records);
        if let Some(records) = records.filter(|records| self.next <= *records) {
            let text = match records - self.next {
                0 => "it is missing: the seal stands in its place".to_string(),
                n => format!("it and {n} behind it are missing: the seal follows"),
            };
            self.found(Place::Record(self.next), Kind::Missing, text);
        } else if let Some(records) = records.filter(|records| self.next > records + 1) {
            let text = format!("the head tells of {records} records, and more stand here");
            self.found(Place::Record(records.saturating_add(1)), Kind::OutOfOrder, text);
        } else if !self.before.is_empty() && !self.before.contains(&seal.chain_sha256) {
            self.found(Place::Seal, Kind::Changed, "it seals other records than those before it");
        }
        self.seal = Some(seal);
    }

    /// The signature, and what follows from the records.
    fn end(mut self, known: Option<&PublicKey>) -> Report {
        if !self.head_read {
            self.found(Place::Head, Kind::CutOff, "the file is empty");
        } else if !self.sealed && !self.findings.iter().any(|finding| ends(finding.kind)) {
            let place = self.next_place();
            self.found(place, Kind::CutOff, "the file ends here, without its seal");
        }
        let key = self.head.as_ref().and_then(|(head, _)| head.key.parse::<PublicKey>().ok());
        if self.holds_together()
            && let (Some((_, head_sha256)), Some(seal)) = (&self.head, &self.seal)
        {
            let text = signed_text(head_sha256, &seal.chain_sha256);
            if !key.is_some_and(|key| key.signed(&text, &seal.signature)) {
                let text = "the signature is not that of the key in the head over these records: \
                            something was changed after it was signed";
                self.found(Place::Seal, Kind::Signature, text);
            }
        }
        if let (Some(key), Some(known)) = (key, known)
            && key != *known
        {
            let text = format!("it is signed with the key {key}, and the player's is {known}");
            self.found(Place::Head, Kind::OtherKey, text);
        }
        let holds = self.findings.iter().all(|f| matches!(f.kind, Kind::Picture | Kind::OtherKey));
        let outcome = match &self.head {
            Some((head, _)) if holds => std::mem::take(&mut self.replay).end(head),
            _ => Outcome { attempt: None, table: None, findings: Vec::new() },
        };
        for Finding { place, kind, text } in outcome.findings {
            self.found(place, kind, text);
        }
        let head = self.head.map(|(head, _)| head);
        Report {
            player: head.as_ref().map(|head| head.player.clone()),
            age_years: head.as_ref().and_then(|head| head.age_years),
            film: head.as_ref().and_then(|head| head.film.clone()),
            key: head.map(|head| head.key),
            records: self.records,
            first_sha256: self.first_sha256,
            chain_sha256: (self.records > 0).then_some(self.last),
            attempt: outcome.attempt,
            table: outcome.table,
            findings: self.findings,
            more: self.more,
        }
    }
}

/// Whether it says already that the file does not go on.
fn ends(kind: Kind) -> bool {
    matches!(kind, Kind::TooLarge | Kind::CutOff | Kind::Version)
}

/// A seal begins as no other line does; what is neither a seal nor hashed is one where one is due.
fn is_seal(line: &[u8], hashed: bool, due: bool) -> bool {
    line.starts_with(b"{\"chain_sha256\"") || (due && !hashed)
}

fn parsed<T: DeserializeOwned>(body: &[u8]) -> Result<T, String> {
    if is_deep(body) {
        return Err(format!("it is no line of an entry: it is nested more than {DEEPEST} deep"));
    }
    serde_json::from_slice(body).map_err(|error| format!("it is no line of an entry: {error}"))
}

/// Whether objects and lists stand in one another deeper than in any line of an entry.
fn is_deep(json: &[u8]) -> bool {
    let (mut depth, mut in_text, mut escaped) = (0_usize, false, false);
    json.iter().any(|byte| {
        match byte {
            _ if escaped => escaped = false,
            b'\\' if in_text => escaped = true,
            b'"' => in_text = !in_text,
            b'{' | b'[' if !in_text => depth += 1,
            b'}' | b']' if !in_text => depth = depth.saturating_sub(1),
            _ => {}
        }
        depth > DEEPEST
    })
}

fn changed() -> String {
    "it was changed after it was written: its hash does not come out".into()
}

fn not_hashed() -> String {
    "it was changed or cut off: no hash stands at its end".into()
}

/// The version that a first line tells, whatever else is in it.
fn version(line: &[u8]) -> Option<u32> {
    #[derive(Deserialize)]
    struct Told {
        entry: u32,
    }
    serde_json::from_slice::<Told>(line).ok().map(|told| told.entry)
}

fn other_version(version: u32) -> (Kind, String) {
    let text = format!(
        "this entry is of version {version}, and version {VERSION} is known: use a newer program"
    );
    (Kind::Version, text)
}

/// A record whose values are such as can be.
fn checked(record: Record) -> Result<(Record, PictureFormat), String> {
    if !is_sha256(&record.picture_sha256) {
        return Err(format!("{:?} names no picture by its SHA-256", told(&record.picture_sha256)));
    }
    let formats = [PictureFormat::Jpeg, PictureFormat::Png, PictureFormat::WebP];
    let format = formats.into_iter().find(|format| format.media_type() == record.picture_type);
    let format =
        format.ok_or_else(|| format!("{:?} is no kind of picture", told(&record.picture_type)))?;
    if jiff::Timestamp::from_millisecond(record.at_unix_ms).is_err() {
        return Err(format!("{} ms is no time", record.at_unix_ms));
    }
    Ok((record, format))
}

/// Why a head's values cannot be.
fn unfit(head: &Head) -> Option<String> {
    let Head { player, age_years, film, key, records, .. } = head;
    if let Some(why) = unfit_name(player) {
        return Some(why);
    }
    if let Some(why) = age_years.and_then(unfit_age) {
        return Some(why);
    }
    if let Some(why) = film.as_deref().and_then(unfit_film) {
        return Some(why);
    }
    match key.parse::<PublicKey>() {
        Err(error) => Some(error.to_string()),
        Ok(_) if *records == 0 => Some("it tells of no records".into()),
        Ok(_) => None,
    }
}

/// Why a text is no player's name. It is shown on pages and lists: no line ends, and nothing that
/// turns the direction of writing.
pub(super) fn unfit_name(name: &str) -> Option<String> {
    let odd = |c: char| {
        c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
    };
    let fits = !name.trim().is_empty()
        && name.trim() == name
        && name.chars().count() <= LONGEST_NAME
        && !name.contains(odd);
    (!fits).then(|| {
        format!("{:?} is no player's name: it has 1 to {LONGEST_NAME} plain characters", told(name))
    })
}

/// Why a number is no age.
pub(super) fn unfit_age(years: u8) -> Option<String> {
    let (least, most) = (AGES.start(), AGES.end());
    (!AGES.contains(&years))
        .then(|| format!("an age is {least} to {most} whole years: {years} is none"))
}

/// Why a text is no film's address.
pub(super) fn unfit_film(film: &str) -> Option<String> {
    let host = film.strip_prefix("https://").or(film.strip_prefix("http://"));
    let fits = host.is_some_and(|host| host.starts_with(|c: char| c.is_alphanumeric() || c == '['))
        && film.chars().count() <= LONGEST_FILM
        && !film
            .contains(|c: char| c.is_whitespace() || c.is_control() || "\"<>\\^`{|}".contains(c));
    (!fits).then(|| {
        format!("{:?} is no film's address: it begins with https:// or http://", told(film))
    })
}

fn told(value: &str) -> String {
    value.chars().take(LONGEST_TOLD).collect()
}
