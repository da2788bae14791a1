//! A session's attempts or racks as chapters of its film, and its shots as clips.
//!
//! Formats: WebVTT (W3C), for a `track` of kind chapters in a browser, and the metadata text that ffmpeg
//! reads (`ffmpeg -i film -i chapters.txt -map_metadata 1 -codec copy out`). Times are those of the
//! film, from its first picture on.

use crate::score::{Attempt, Cause, Story, potted};
use std::fmt::Write;

/// A part of the film.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chapter {
    /// Milliseconds from the film's first picture.
    pub from_ms: i64,
    pub to_ms: i64,
    pub title: String,
}

/// What a chapter is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChapterOf {
    Attempts,
    Racks,
}

/// The attempts or racks that a film shows any of, in order. The film runs from one moment to another,
/// both in milliseconds since 1970, UTC; a chapter begins and ends inside it, and ends where the next
/// begins. `time_of` tells when a rest was, in the same time.
pub fn chapters(
    story: &Story,
    film_unix_ms: (i64, i64),
    of: ChapterOf,
    time_of: impl Fn(i64) -> Option<i64>,
) -> Vec<Chapter> {
    let (from, to) = film_unix_ms;
    let mut chapters: Vec<Chapter> = Vec::new();
    for attempt in &story.attempts {
        let ends = attempt.over.map_or(to, |over| over.at_unix_ms).min(to);
        for (began, title) in parts(attempt, of, &time_of) {
            let begins = began.max(from);
            // A clock that was set back leaves an attempt without any time.
            if begins >= ends {
                continue;
            }
            let from_ms = begins - from;
            if let Some(before) = chapters.last_mut() {
                before.to_ms = before.to_ms.min(from_ms).max(before.from_ms);
            }
            chapters.push(Chapter { from_ms, to_ms: ends - from, title });
        }
    }
    chapters.retain(|chapter| chapter.to_ms > chapter.from_ms);
    chapters
}

/// When each part of an attempt began, and its title.
fn parts(
    attempt: &Attempt,
    of: ChapterOf,
    time_of: impl Fn(i64) -> Option<i64>,
) -> Vec<(i64, String)> {
    let ended = match attempt.over.map(|over| over.cause) {
        Some(Cause::Miss) => "miss",
        Some(Cause::Scratch) => "scratch",
        Some(Cause::Foul) => "ball off the table",
        Some(Cause::Stopped) => "stopped",
        Some(Cause::Unseen) => "end not seen",
        None => "going on",
    };
    let whole = format!("Attempt {}: run {}, {ended}", attempt.id, attempt.run);
    if of == ChapterOf::Attempts || attempt.racks.len() < 2 {
        return vec![(attempt.began_unix_ms, whole)];
    }
    let mut run = 0;
    let last = attempt.racks.len() - 1;
    let racks = attempt.racks.iter().enumerate().filter_map(|(at, rack)| {
        let shots = attempt.shots.iter().filter(|shot| shot.rack == rack.number);
        run += potted(shots.clone());
        // Where the racking was not seen, the rack begins with its first shot.
        let first = rack.racked_rest.or_else(|| shots.clone().next().map(|shot| shot.rest));
        let began = if at == 0 { Some(attempt.began_unix_ms) } else { first.and_then(&time_of) };
        let end = if at == last { format!(", {ended}") } else { String::new() };
        let title = format!("Attempt {}, rack {}: run {run}{end}", attempt.id, rack.number);
        Some((began?, title))
    });
    racks.collect()
}

/// A clip begins so long before the balls have come to rest, at the most, and ends so long after, in
/// milliseconds: a hard shot rolls for some eight seconds.
const CLIP_BEFORE_MS: i64 = 15_000;
const CLIP_AFTER_MS: i64 = 1_000;

/// The shots of an attempt as parts of a film that begins at a moment, each with a title that names no
/// folder and needs no escaping. A shot begins no earlier than the table lay still before it.
pub fn clips(
    attempt: &Attempt,
    film_from_unix_ms: i64,
    time_of: impl Fn(i64) -> Option<i64>,
) -> Vec<Chapter> {
    let mut still = Some(attempt.began_unix_ms);
    let clips = (1..).zip(&attempt.shots).filter_map(|(number, shot)| {
        let at = time_of(shot.rest);
        let from = at? - CLIP_BEFORE_MS;
        let from = still.map_or(from, |still| from.max(still));
        still = at;
        let (from_ms, to_ms) = (from - film_from_unix_ms, at? + CLIP_AFTER_MS - film_from_unix_ms);
        let what = if shot.potted == 0 { "miss".into() } else { format!("{} made", shot.potted) };
        let title = format!("attempt {} shot {number:03} {what}", attempt.id).replace(' ', "-");
        (to_ms > from_ms.max(0)).then(|| Chapter { from_ms: from_ms.max(0), to_ms, title })
    });
    clips.collect()
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
    use crate::score::{Over, RackPlayed, ShotTaken};

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

    fn attempts(film: (i64, i64)) -> Vec<Chapter> {
        chapters(&story(), film, ChapterOf::Attempts, |_| None)
    }

    /// An attempt of two racks, a rest every ten seconds; the rack's second shot was not seen to end.
    fn two_racks() -> Attempt {
        let shot = |rest, rack, potted| ShotTaken { rest, rack, potted, shots: 1 };
        let rack = |number, racked_rest| RackPlayed { number, racked_rest, closing_rest: None };
        Attempt {
            shots: vec![shot(2, 1, 14), shot(4, 2, 1), shot(5, 2, 0)],
            racks: vec![rack(1, Some(1)), rack(2, Some(3))],
            run: 15,
            ..attempt(3, 10_000, Some((Cause::Miss, 50_000)))
        }
    }

    fn ten_seconds(rest: i64) -> Option<i64> {
        Some(10_000 * rest)
    }

    #[test]
    fn racks_are_chapters_of_their_own() {
        let story = Story { attempts: vec![two_racks()], questions: Vec::new() };
        let told = chapters(&story, (5_000, 90_000), ChapterOf::Racks, ten_seconds);
        let told: Vec<_> = told.iter().map(|c| (c.from_ms, c.to_ms, c.title.as_str())).collect();
        assert_eq!(
            told,
            [
                (5_000, 25_000, "Attempt 3, rack 1: run 14"),
                (25_000, 45_000, "Attempt 3, rack 2: run 15, miss"),
            ]
        );
        // A rack whose time nobody knows stays with the one before.
        let told = chapters(&story, (0, 90_000), ChapterOf::Racks, |_| None);
        assert_eq!(told.len(), 1);
    }

    #[test]
    fn clips_are_cut_at_the_shots() {
        let told = clips(&two_racks(), 5_000, ten_seconds);
        let told: Vec<_> = told.iter().map(|c| (c.from_ms, c.to_ms, c.title.as_str())).collect();
        assert_eq!(
            told,
            [
                (5_000, 16_000, "attempt-3-shot-001-14-made"),
                (20_000, 36_000, "attempt-3-shot-002-1-made"),
                (35_000, 46_000, "attempt-3-shot-003-miss"),
            ]
        );
        // Shots before the film, and shots whose time is not known, have no clip.
        assert_eq!(clips(&two_racks(), 45_000, ten_seconds).len(), 1);
        assert!(clips(&two_racks(), 0, |_| None).is_empty());
    }

    #[test]
    fn attempts_are_cut_to_the_film() {
        let told = attempts((20_000, 5_000_000));
        let times: Vec<_> = told.iter().map(|c| (c.from_ms, c.to_ms)).collect();
        assert_eq!(times, [(0, 40_000), (80_000, 3_980_500), (4_080_000, 4_980_000)]);
        assert_eq!(told[2].title, "Attempt 3: run 21, going on");
        assert!(attempts((6_000_000, 5_000_000)).is_empty());
    }

    #[test]
    fn both_formats_say_the_same() {
        let told = attempts((0, 5_000_000));
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
