//! A session's attempts as chapters of its film.
//!
//! Formats: WebVTT (W3C), for a `track` of kind chapters in a browser, and the metadata text that ffmpeg
//! reads (`ffmpeg -i film -i chapters.txt -map_metadata 1 -codec copy out`). Times are those of the
//! film, from its first picture on.

use crate::score::{Cause, Story};
use std::fmt::Write;

/// A part of the film.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chapter {
    /// Milliseconds from the film's first picture.
    pub from_ms: i64,
    pub to_ms: i64,
    pub title: String,
}

/// The attempts that a film shows any of, in order. The film runs from one moment to another, both in
/// milliseconds since 1970, UTC; a chapter begins and ends inside it, and ends where the next begins.
pub fn chapters(story: &Story, film_unix_ms: (i64, i64)) -> Vec<Chapter> {
    let (from, to) = film_unix_ms;
    let mut chapters: Vec<Chapter> = Vec::new();
    for attempt in &story.attempts {
        let ends = attempt.over.map_or(to, |over| over.at_unix_ms).min(to);
        let begins = attempt.began_unix_ms.max(from);
        // A clock that was set back leaves an attempt without any time.
        if begins >= ends {
            continue;
        }
        let ended = match attempt.over.map(|over| over.cause) {
            Some(Cause::Miss) => "miss",
            Some(Cause::Scratch) => "scratch",
            Some(Cause::Foul) => "ball off the table",
            Some(Cause::Stopped) => "stopped",
            Some(Cause::Unseen) => "end not seen",
            None => "going on",
        };
        let title = format!("Attempt {}: run {}, {ended}", attempt.id, attempt.run);
        let from_ms = begins - from;
        if let Some(before) = chapters.last_mut() {
            before.to_ms = before.to_ms.min(from_ms).max(before.from_ms);
        }
        chapters.push(Chapter { from_ms, to_ms: ends - from, title });
    }
    chapters.retain(|chapter| chapter.to_ms > chapter.from_ms);
    chapters
}

/// As WebVTT.
pub fn web_vtt(chapters: &[Chapter]) -> String {
    let mut text = String::from("WEBVTT\n");
    for (number, Chapter { from_ms, to_ms, title }) in (1..).zip(chapters) {
        let (from, to) = (clock(*from_ms), clock(*to_ms));
        // Writing to a string cannot fail.
        let _ = write!(text, "\n{number}\n{from} --> {to}\n{title}\n");
    }
    text
}

/// As metadata for ffmpeg. Titles hold nothing that would need escaping.
pub fn ffmpeg_metadata(chapters: &[Chapter]) -> String {
    let mut text = String::from(";FFMETADATA1\n");
    for Chapter { from_ms, to_ms, title } in chapters {
        let _ = write!(
            text,
            "\n[CHAPTER]\nTIMEBASE=1/1000\nSTART={from_ms}\nEND={to_ms}\ntitle={title}\n"
        );
    }
    text
}

/// Hours, minutes and seconds of a film.
fn clock(ms: i64) -> String {
    let (seconds, ms) = (ms / 1000, ms % 1000);
    format!("{:02}:{:02}:{:02}.{ms:03}", seconds / 3600, seconds / 60 % 60, seconds % 60)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::{Attempt, Over};

    fn attempt(id: u32, began_unix_ms: i64, over: Option<(Cause, i64)>) -> Attempt {
        Attempt {
            id,
            began_rest: 1,
            began_unix_ms,
            start_seen: true,
            run: 7 * id,
            shots: Vec::new(),
            racks: Vec::new(),
            over: over.map(|(cause, at_unix_ms)| Over { cause, rest: 2, at_unix_ms }),
            sure: true,
        }
    }

    fn story() -> Story {
        let attempts = vec![
            attempt(1, 1_000, Some((Cause::Miss, 60_000))),
            attempt(2, 100_000, Some((Cause::Scratch, 4_000_500))),
            attempt(3, 4_100_000, None),
            attempt(4, 9_900_000, Some((Cause::Miss, 9_950_000))),
        ];
        Story { attempts, questions: Vec::new() }
    }

    #[test]
    fn attempts_are_cut_to_the_film() {
        let told = chapters(&story(), (20_000, 5_000_000));
        let times: Vec<_> = told.iter().map(|c| (c.from_ms, c.to_ms)).collect();
        assert_eq!(times, [(0, 40_000), (80_000, 3_980_500), (4_080_000, 4_980_000)]);
        assert_eq!(told[2].title, "Attempt 3: run 21, going on");
        assert!(chapters(&story(), (6_000_000, 5_000_000)).is_empty());
    }

    #[test]
    fn both_formats_say_the_same() {
        let told = chapters(&story(), (0, 5_000_000));
        let vtt = web_vtt(&told);
        assert!(
            vtt.starts_with("WEBVTT\n\n1\n00:00:01.000 --> 00:01:00.000\nAttempt 1: run 7, miss\n")
        );
        assert!(
            vtt.contains("00:01:40.000 --> 01:06:40.500\nAttempt 2: run 14, scratch\n"),
            "{vtt}"
        );
        let metadata = ffmpeg_metadata(&told);
        assert_eq!(metadata.matches("[CHAPTER]").count(), 3);
        assert!(metadata.contains("START=100000\nEND=4000500\ntitle=Attempt 2: run 14, scratch\n"));
    }
}
