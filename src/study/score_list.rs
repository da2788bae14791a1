//! A hand-kept list of runs, read from text.
//!
//! Input: lines of fields separated by commas, semicolons or tabs, as spreadsheets write them (quotes
//! after RFC 4180). A column holds the runs; others may hold the days and how the runs ended. Columns
//! are found by the words at their head, or without a head by what they hold. Output: the runs, in
//! the order of days where all have one, else in that of the lines.
//!
//! A run is a whole number, `23`, also written `23,0` or `23.0`. A day is `2026-03-05` or `5.3.2026`:
//! with strokes nobody can tell day from month. Nothing is left out in silence: a line that cannot be
//! read is an error that names it.

use super::{
    goal::MOST_BALLS,
    run::{Ending, Run},
};
use jiff::civil::Date;
use std::fmt;
use thiserror::Error;

/// Bad lines that an error names.
const MOST_NAMED: usize = 10;
/// A line of a list has no more bytes than this.
const LONGEST_TOLD: usize = 60;

/// Words at the head of a column, in small letters.
const RUN_WORDS: [&str; 6] = ["run", "runs", "balls", "score", "points", "count"];
const DAY_WORDS: [&str; 4] = ["day", "date", "when", "played"];
const END_WORDS: [&str; 5] = ["end", "ended", "ending", "ended by", "cause"];

/// Words for how a run ended, in small letters; an empty field is a miss.
const MISSED: [&str; 6] = ["", "miss", "missed", "scratch", "foul", "m"];
const STOPPED: [&str; 6] = ["stopped", "stop", "unseen", "open", "broken off", "s"];

/// Why a list cannot be read.
#[derive(Debug, Error)]
pub enum ScoreListError {
    #[error(
        "the list is empty. Write a line for each attempt: its day and its run, such as 2026-03-05;23"
    )]
    Empty,
    #[error(
        "no column of the list holds runs. Head one with \"run\", or write whole numbers: its first \
         line is {first:?}"
    )]
    NoRuns { first: String },
    #[error("{}", named(.lines, *.more))]
    Lines { lines: Vec<BadLine>, more: usize },
}

/// A line that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadLine {
    /// From 1.
    pub number: u64,
    pub value: String,
    pub why: &'static str,
}

impl fmt::Display for BadLine {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "line {}: {:?} {}", self.number, self.value, self.why)
    }
}

fn named(lines: &[BadLine], more: usize) -> String {
    let mut text = String::from("the list has lines that cannot be read; correct them:");
    for line in lines {
        text += &format!("\n  {line}");
    }
    if more > 0 {
        text += &format!("\n  and {more} more");
    }
    text
}

/// Which field of a line is what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Columns {
    run: usize,
    day: Option<usize>,
    end: Option<usize>,
}

/// Reads a list.
///
/// # Errors
/// Where there is nothing in it, no column of runs, or a line that cannot be read.
pub fn read_scores(text: &str) -> Result<Vec<Run>, ScoreListError> {
    let text = text.trim_start_matches('\u{feff}');
    let rows = rows(text);
    let Some((_, first)) = rows.first() else { return Err(ScoreListError::Empty) };
    let (columns, has_head) = columns(&rows)
        .ok_or_else(|| ScoreListError::NoRuns { first: shortened(&first.join(" ")) })?;
    let (mut runs, mut bad) = (Vec::new(), Vec::new());
    for (number, fields) in rows.iter().skip(usize::from(has_head)) {
        match run(fields, columns) {
            Ok(run) => runs.push(run),
            Err((value, why)) => {
                bad.push(BadLine { number: *number, value: shortened(value), why });
            }
        }
    }
    if !bad.is_empty() {
        let more = bad.len().saturating_sub(MOST_NAMED);
        bad.truncate(MOST_NAMED);
        return Err(ScoreListError::Lines { lines: bad, more });
    }
    if runs.is_empty() {
        return Err(ScoreListError::Empty);
    }
    if runs.iter().all(|run: &Run| run.day.is_some()) {
        // Attempts of a day stay in the order of the lines.
        runs.sort_by_key(|run| run.day);
    }
    Ok(runs)
}

/// The fields of all lines that have any, each line with its number.
fn rows(text: &str) -> Vec<(u64, Vec<String>)> {
    let separator = separator(text);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    // Text is UTF-8 already and lines may be of any length, so no record is refused.
    for record in reader.records().map_while(Result::ok) {
        let fields: Vec<String> = record.iter().map(String::from).collect();
        if fields.iter().any(|field| !field.is_empty()) {
            rows.push((record.position().map_or(0, |position| line(text, position)), fields));
        }
    }
    rows
}

/// The line that a record stands on: empty lines before it are passed over.
fn line(text: &str, position: &csv::Position) -> u64 {
    let rest = text.as_bytes().get(position.byte() as usize..).unwrap_or_default();
    let empty = rest.iter().take_while(|byte| b"\r\n".contains(byte));
    position.line() + empty.filter(|byte| **byte == b'\n').count() as u64
}

/// What stands between fields: a tab or a semicolon where there is one, since commas may be decimal.
fn separator(text: &str) -> u8 {
    let head = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("");
    [b'\t', b';'].into_iter().find(|separator| head.as_bytes().contains(separator)).unwrap_or(b',')
}

/// Which column is what, and whether the first line is a head.
fn columns(rows: &[(u64, Vec<String>)]) -> Option<(Columns, bool)> {
    let (_, first) = rows.first()?;
    let headed = |words: &[&str]| {
        first.iter().position(|field| words.contains(&field.to_lowercase().as_str()))
    };
    if let Some(run) = headed(&RUN_WORDS) {
        return Some((Columns { run, day: headed(&DAY_WORDS), end: headed(&END_WORDS) }, true));
    }
    // A head in other words: what it stands over tells.
    let has_head = first.iter().all(|field| balls(field).is_none() && day(field).is_none());
    let body = &rows[usize::from(has_head)..];
    let width = body.iter().map(|(_, fields)| fields.len()).max()?;
    let mostly = |column: usize, holds: &dyn Fn(&str) -> bool| {
        let filled = body.iter().filter_map(|(_, fields)| fields.get(column));
        let (mut all, mut fit) = (0, 0);
        for field in filled.filter(|field| !field.is_empty()) {
            all += 1;
            fit += usize::from(holds(field));
        }
        all > 0 && 2 * fit > all
    };
    let find = |holds: &dyn Fn(&str) -> bool| (0..width).find(|column| mostly(*column, holds));
    let numbers: Vec<usize> =
        (0..width).filter(|column| mostly(*column, &|field| balls(field).is_some())).collect();
    // A column that counts the lines is no column of runs.
    let counts = |column: usize| {
        let numbers = body.iter().map(|(_, fields)| fields.get(column).and_then(|f| balls(f)));
        body.len() > 1 && numbers.zip(1..).all(|(number, line)| number == Some(line))
    };
    let run =
        numbers.iter().copied().find(|column| !counts(*column)).or(numbers.first().copied())?;
    let end = find(&|field| ending(field).is_some()).filter(|end| *end != run);
    Some((Columns { run, day: find(&|field| day(field).is_some()), end }, has_head))
}

/// A line's run, or the value at fault and why.
fn run(fields: &[String], columns: Columns) -> Result<Run, (&str, &'static str)> {
    let field = |column: Option<usize>| {
        column.and_then(|column| fields.get(column)).map_or("", String::as_str)
    };
    let value = field(Some(columns.run));
    let balls = balls(value).ok_or((value, "is not a run: write a whole number of balls"))?;
    let value = field(columns.day);
    let on = match value {
        "" => None,
        value => Some(day(value).ok_or((value, "is not a day: write 2026-03-05 or 5.3.2026"))?),
    };
    let value = field(columns.end);
    let ending = ending(value).ok_or((value, "is not an end: write miss or stopped"))?;
    Ok(Run::of_balls(on, balls, ending))
}

/// A run as people and spreadsheets write it.
fn balls(text: &str) -> Option<u32> {
    let (whole, part) = text.split_once([',', '.']).unwrap_or((text, "0"));
    let no_part = !part.is_empty() && part.bytes().all(|digit| digit == b'0');
    let whole = whole.parse().ok().filter(|balls| *balls <= MOST_BALLS);
    whole.filter(|_| no_part && !text.starts_with('+'))
}

/// A day, with or without a time behind it.
fn day(text: &str) -> Option<Date> {
    let text = text.split([' ', 'T']).next().unwrap_or(text);
    let iso = |text: &str| text.parse::<Date>().ok();
    if let Some(date) = iso(text).filter(|_| text.contains('-')) {
        return Some(date);
    }
    let mut parts = text.split('.');
    let (day, month, year) = (parts.next()?, parts.next()?, parts.next()?);
    let whole = year.len() == 4 && parts.next().is_none();
    let date = Date::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?).ok();
    date.filter(|_| whole)
}

fn ending(text: &str) -> Option<Ending> {
    let small = text.to_lowercase();
    let is = |words: &[&str]| words.contains(&small.as_str());
    match () {
        () if is(&MISSED) => Some(Ending::Missed),
        () if is(&STOPPED) => Some(Ending::Stopped),
        () => None,
    }
}

/// Cut where it is too long to be told.
fn shortened(value: &str) -> String {
    if value.len() <= LONGEST_TOLD {
        return value.into();
    }
    value.chars().take(LONGEST_TOLD).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Vec<(String, u32, Ending)> {
        let told = |run: Run| {
            (run.day.map_or_else(String::new, |day| day.to_string()), run.balls, run.ending)
        };
        read_scores(text).unwrap().into_iter().map(told).collect()
    }

    fn refused(text: &str) -> String {
        read_scores(text).unwrap_err().to_string()
    }

    #[test]
    fn the_same_list_reads_alike_however_a_spreadsheet_writes_it() {
        let expected = [
            ("2026-03-04".to_string(), 7, Ending::Missed),
            ("2026-03-05".to_string(), 23, Ending::Stopped),
        ];
        for text in [
            "date,run,ended\n2026-03-04,7,miss\n2026-03-05,23,stopped\n",
            "Run;Date;Ended by\n7,0;4.3.2026;Miss\n23,0;05.03.2026;Stopped\n",
            "\u{feff}2026-03-05\t23\tstopped\r\n2026-03-04\t7\tmiss\r\n",
            "no;Tag;Lauf;Ende\n1;4.3.2026;7;\n2;5.3.2026;23;s\n",
            "\"run\",\"day\",\"end\"\n\"7\",\"2026-03-04 19:30\",\"\"\n\n23.0,2026-03-05,Stop",
        ] {
            assert_eq!(read(text), expected, "{text}");
        }
    }

    #[test]
    fn a_bare_column_of_numbers_is_a_list_of_runs_in_its_own_order() {
        let runs: Vec<u32> = read("12\n3\n0\n").into_iter().map(|(_, balls, _)| balls).collect();
        assert_eq!(runs, [12, 3, 0]);
    }

    #[test]
    fn a_bad_line_is_named_by_number_and_value() {
        let error =
            refused("day;run\n2026-03-04;7\n2026-03-05;seven\n\n3/6/2026;9\n2026-03-07;-1\n");
        for part in [
            "line 3: \"seven\" is not a run",
            "line 5: \"3/6/2026\" is not a day: write 2026-03-05 or 5.3.2026",
            "line 6: \"-1\" is not a run",
        ] {
            assert!(error.contains(part), "{error}");
        }
        assert!(refused("run\n7.5\n").contains("line 2: \"7.5\""));
        assert!(refused("run\n99999999999999999999\n").contains("line 2"));
        assert!(refused("day;run\n30.2.2026;5\n").contains("30.2.2026"));
    }

    #[test]
    fn many_bad_lines_are_counted_and_long_values_cut() {
        let text =
            format!("run\n{}", "x".repeat(500).as_str().to_owned() + "\n" + &"y\n".repeat(30));
        let error = refused(&text);
        assert!(error.contains("and 21 more") && error.len() < 1000, "{error}");
    }

    #[test]
    fn a_list_with_nothing_in_it_says_what_to_write() {
        assert!(refused("").contains("such as 2026-03-05;23"));
        assert!(refused("\n \n").contains("empty"));
        assert!(refused("run\n").contains("empty"));
        assert!(refused("day\n2026-03-05\n").contains("no column"));
    }

    #[test]
    fn no_text_makes_the_reader_fall_over() {
        const PARTS: [&str; 12] =
            ["run", "day", ";", ",", "\t", "\n", "\"", "7", "2026-03-05", "5.3.2026", "é", "-1"];
        let mut random = crate::random::Random::new(5);
        for _ in 0..3000 {
            let text: String = (0..random.below(30)).map(|_| random.pick(PARTS)).collect();
            let told = read_scores(&text).map(|runs| runs.len());
            assert!(told.is_err() || told.is_ok_and(|runs| runs > 0), "{text:?}");
        }
    }
}
