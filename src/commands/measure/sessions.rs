//! `stillcloth measure --sessions N`: made-up sessions filmed, coded as a camera's stream would be,
//! and followed; what was told is held against what is true.

use super::rests::{RestFigures, hold_rests};
use super::scores::{Scored, Verdict, hold_attempts};
use serde::Serialize;
use std::{
    error::Error,
    sync::{
        Mutex,
        atomic::{AtomicU64, Ordering},
    },
    time::{Duration, Instant},
};
use stillcloth::{
    camera::picture,
    score::{ScoreEvent, Story},
    service::{Following, TableReader, Told},
    staged::session::{SessionOptions, SessionTruth, StagedSession},
    vision::CalibrateOptions,
};

type Failed = Box<dyn Error + Send + Sync>;

/// What came of one session.
#[derive(Serialize)]
pub struct Session {
    seed: u64,
    filmed_s: f64,
    /// Time spent following it, without the drawing.
    followed_s: f64,
    /// Frames in which no table was found.
    frames_unseen: u32,
    rests: RestFigures,
    attempts: Vec<Scored>,
}

/// Follows the sessions of so many seeds and prints what was right.
pub fn run(first_seed: u64, count: u64, json: bool) -> Result<(), Box<dyn Error>> {
    let seeds = first_seed..first_seed.saturating_add(count);
    let next = AtomicU64::new(first_seed);
    let done: Mutex<Vec<Result<Session, Failed>>> = Mutex::new(Vec::new());
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if !seeds.contains(&seed) {
                        break;
                    }
                    let session = follow(seed);
                    if let Ok(mut done) = done.lock() {
                        done.push(session);
                        eprintln!("{} of {count}: {}", done.len(), progress(done.last()));
                    }
                }
            });
        }
    });
    let done = done.into_inner().map_err(|_| "a session could not be followed to its end")?;
    let mut sessions = Vec::new();
    for session in done {
        sessions.push(session.map_err(|error| -> Box<dyn Error> { error })?);
    }
    sessions.sort_by_key(|session| session.seed);
    let text = if json { serde_json::to_string_pretty(&sessions)? + "\n" } else { told(&sessions) };
    Ok(super::super::output::write(&text)?)
}

fn progress(done: Option<&Result<Session, Failed>>) -> String {
    match done {
        Some(Ok(session)) => {
            let right = session.attempts.iter().filter(|attempt| attempt.is_right()).count();
            format!(
                "seed {}, {:.0} s of film: {right} of {} attempts right, {} of {} rests caught",
                session.seed,
                session.filmed_s,
                session.attempts.len(),
                session.rests.caught(),
                session.rests.visible,
            )
        }
        Some(Err(error)) => error.to_string(),
        None => String::new(),
    }
}

fn follow(seed: u64) -> Result<Session, Failed> {
    let mut session = StagedSession::new(seed, SessionOptions::quick())?;
    let reader = TableReader::keeping_nothing(CalibrateOptions::default());
    let mut following = Following::new(Box::new(reader));
    let mut told: Vec<Told> = Vec::new();
    let (mut frames_unseen, mut followed) = (0, Duration::ZERO);
    while let Some(frame) = session.next_frame() {
        let file = frame.as_jpeg()?;
        let began = Instant::now();
        match following.watch(&picture::decode(&file)?, frame.at) {
            Ok(new) => told.extend(new.told),
            Err(_) => frames_unseen += 1,
        }
        followed += began.elapsed();
    }
    Ok(hold(session.truth(), &told, following.story(), (frames_unseen, followed)))
}

fn hold(
    truth: &SessionTruth,
    told: &[Told],
    story: &Story,
    (frames_unseen, followed): (u32, Duration),
) -> Session {
    Session {
        seed: truth.seed,
        filmed_s: truth.ends_s,
        followed_s: followed.as_secs_f64(),
        frames_unseen,
        rests: hold_rests(truth, told),
        attempts: hold_attempts(truth, story, &asked_s(told, story)),
    }
}

/// The times of the rests that questions are open about.
fn asked_s(told: &[Told], story: &Story) -> Vec<f64> {
    let asked = |event: &ScoreEvent| match event {
        ScoreEvent::Rest { rest, .. } => story.questions.iter().any(|asks| asks.rest == *rest),
        _ => false,
    };
    told.iter().filter(|told| asked(&told.event)).map(|told| told.at_s).collect()
}

const NOTES: &str = "\
An attempt is right when its run, its racks and what ended it are; a rack set up anew before any \
shot at it is none of its own; one that was not told is asked about where a question is open about a \
rest in its time. Every rest seen: after each of \
its shots there were frames of the still, uncovered table for 0.6 s or more. A rest counts as \
visible likewise; it was caught when a layout of that rest was told. Told late: from the first \
moment at which the balls lie still and uncovered. Invented: rests told while balls rolled, or told \
again. What was not watched for long is asked about rather than guessed.";

fn told(sessions: &[Session]) -> String {
    let attempts = || sessions.iter().flat_map(|session| &session.attempts);
    let mut text = String::from(
        "| attempts         | in all | run right | end right | all right | asked, right | asked, wrong | silently wrong |\n\
         | ---------------- | ------ | --------- | --------- | --------- | ------------ | ------------ | -------------- |\n",
    );
    for (name, all_seen) in
        [("every rest seen", Some(true)), ("a rest not seen", Some(false)), ("all", None)]
    {
        let some: Vec<&Scored> =
            attempts().filter(|attempt| all_seen.is_none_or(|is| attempt.all_seen == is)).collect();
        let count = |of: fn(&Scored) -> bool| some.iter().filter(|attempt| of(attempt)).count();
        let verdict = |verdict| some.iter().filter(|a| a.verdict() == verdict).count();
        text += &format!(
            "| {name:<16} | {:>6} | {:>9} | {:>9} | {:>9} | {:>12} | {:>12} | {:>14} |\n",
            some.len(),
            count(|attempt| attempt.told_run == Some(attempt.run)),
            count(Scored::end_is_right),
            count(Scored::is_right),
            verdict(Verdict::AskedRight),
            verdict(Verdict::AskedWrong),
            verdict(Verdict::SilentlyWrong),
        );
    }
    text += &RestFigures::row(sessions.iter().map(|session| &session.rests));
    let (filmed, followed) =
        sessions.iter().fold((0.0, 0.0), |sums, s| (sums.0 + s.filmed_s, sums.1 + s.followed_s));
    text += &format!(
        "\n{:.0} minutes of film, followed at {:.1} times its speed on one thread.\n",
        filmed / 60.0,
        filmed / f64::max(followed, 1e-9)
    );
    for session in sessions {
        for attempt in session.attempts.iter().filter(|attempt| !attempt.is_right()) {
            text += &format!("seed {}, {}\n", session.seed, attempt.in_words());
        }
        for odd in &session.rests.odd {
            text += &format!("seed {}, {odd}\n", session.seed);
        }
    }
    text + &format!("\n{NOTES}\n")
}
