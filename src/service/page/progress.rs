//! What the player's record says: the goal in plain words, how far runs go, runs over time, and what
//! ends them and what to practise.

use super::{
    messages::say,
    misses, plan, progress_charts as charts,
    shell::{Place, Shell, not_there},
    skills,
};
use crate::{
    record::{HandKept, Rest},
    score::Story,
    service::{App, CameraName, Problem, skills::SkillsState},
    study::{
        Estimate, Goal, GoalError, Progress, Prospect, Record, ShotLog, in_words, one_in, percent,
        rounded, utc_day,
    },
};
use axum::{
    extract::{Query, State, rejection::QueryRejection},
    response::{IntoResponse, Response},
};
use jiff::{Timestamp, civil::Date};
use maud::{Markup, html};
use serde::Deserialize;

/// Whose record, and what the goal is.
#[derive(Debug, Deserialize)]
pub(super) struct Which {
    /// The camera over the table; the one that saw the latest rest where none is given.
    camera: Option<String>,
    goal: Option<u32>,
    by: Option<Date>,
    born: Option<Date>,
    /// The day the player began to practise what is told to.
    since: Option<Date>,
}

impl Which {
    fn goal(&self, today: Date) -> Result<Option<Goal>, GoalError> {
        match (self.goal, self.born) {
            (Some(balls), _) => Goal::balls(balls, self.by, today).map(Some),
            (None, Some(born)) => Goal::age(born, today).map(Some),
            (None, None) => Ok(None),
        }
    }
}

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    which: Result<Query<Which>, QueryRejection>,
) -> Result<Response, Problem> {
    let Query(which) = which?;
    let today = utc_day(Timestamp::now());
    // A goal whose day is over is told in words: the way to another one is on the page.
    let (goal, refused) = match which.goal(today) {
        Ok(goal) => (goal, None),
        Err(error) => (None, Some(error)),
    };
    let camera = which.camera.as_ref().map(|name| name.parse::<CameraName>()).transpose()?;
    let newest = app.record.newest(camera.as_ref().map(CameraName::to_string), 1).await?.pop();
    let seen = newest.map(|rest| rest.camera);
    let name = seen.clone().unwrap_or_else(|| camera.unwrap_or_default().to_string());
    let hand_kept = app.record.hand_kept(name.clone()).await?;
    let record = match seen {
        Some(camera) => {
            let since = which.since;
            let study = move |story: &Story, log: &ShotLog| Record::of_study(story, log, since);
            app.record.study(camera, study).await?
        }
        None if hand_kept.is_empty() => {
            let why = say!("progress-none-why");
            return Ok(not_there(&say!("progress-none"), &why, ("/", &say!("to-the-table"))));
        }
        None => Record::default(),
    };
    let record = record.with_hand_kept(hand_kept.iter().map(HandKept::run));
    let again = plan::look_up(&app, record.plan.as_ref()).await?;
    let camera = name;
    let asked = Asked { which, refused };
    let progress = Progress::of(&record, goal, today);
    let shell = Shell {
        title: &say!("progress"),
        place: Place::Progress,
        sheet: Some("/study.css"),
        script: Some("/progress.js"),
    };
    Ok(shell
        .around(&body(&camera, &record, &progress, (&asked, &again, &app.skills.state())))
        .into_response())
}

/// What the address asked for, and why there is no such goal.
struct Asked {
    which: Which,
    refused: Option<GoalError>,
}

fn body(
    camera: &str,
    record: &Record,
    progress: &Progress,
    (asked, again, state): (&Asked, &[Rest], &SkillsState),
) -> Markup {
    html! {
        main #main.study data-camera=(camera) {
            div.heading {
                h1 { (say!("progress")) }
                p {
                    (summary(camera, progress)) " "
                    a href={ "/breaks?camera=" (camera) } { (say!("break-shots")) }
                }
            }
            (goal(progress, asked))
            @if let Some(found) = &progress.plan {
                (plan::section(found, again))
                (skills::section(camera, state))
            }
            @if progress.survival.seen_to > 0 {
                div.charts {
                    (charts::how_far(progress))
                    (charts::over_time(record, progress))
                    (charts::by_place(progress))
                    (charts::by_rack(progress))
                }
            }
            @if let Some(misses) = &progress.misses { (misses::section(misses)) }
        }
    }
}

fn summary(camera: &str, progress: &Progress) -> String {
    let Some(high) = progress.high_run else {
        return say!("progress-no-attempt", camera = camera);
    };
    let (attempts, hand_kept) = (progress.attempts, progress.hand_kept);
    let mut facts = vec![if hand_kept > 0 {
        say!("progress-attempts-hand-kept", attempts = attempts, hand_kept = hand_kept)
    } else {
        say!("count-attempts", attempts = attempts)
    }];
    facts.push(if high.hand_kept {
        say!("progress-high-hand-kept", run = high.balls)
    } else {
        say!("progress-high", run = high.balls)
    });
    if let Some(mean) = progress.mean_run {
        facts.push(say!("progress-mean", mean = format!("{mean:.1}")));
    }
    if let Some(median) = progress.median_run {
        facts.push(say!("progress-median", median = median.value));
    }
    let facts = facts.join(", ");
    if progress.stopped > 0 {
        say!("progress-summary-stopped", camera = camera, facts = facts, stopped = progress.stopped)
    } else {
        say!("progress-summary", camera = camera, facts = facts)
    }
}

/// The goal: its chance in large, all of it in words, and what to change.
fn goal(progress: &Progress, Asked { which, refused }: &Asked) -> Markup {
    let prospect = progress.prospect.as_ref();
    let figures = prospect.map(large).unwrap_or_default();
    let born = which.born.map(|born| born.to_string());
    let by = which.by.map(|by| by.to_string());
    html! {
        section.goal aria-labelledby="goal" {
            h2 #goal {
                @if prospect.is_some() {
                    (say!("progress-the-goal"))
                } @else {
                    (say!("progress-no-goal"))
                }
            }
            @if !figures.is_empty() {
                dl.figures {
                    @for (name, value, interval) in figures {
                        div { dt { (name) } dd { span.figure { (value) } span.quiet { (interval) } } }
                    }
                }
            }
            @if let Some(refused) = refused { p.asked { (refused) "." } }
            div.said { @for sentence in in_words(progress) { p { (sentence) } } }
            details.change open[prospect.is_none()] {
                summary {
                    @if prospect.is_some() {
                        (say!("progress-change-goal"))
                    } @else {
                        (say!("progress-set-goal"))
                    }
                }
                div.fields {
                    label {
                        (say!("balls"))
                        input #balls type="number" min="1" max="10000" value=[which.goal];
                    }
                    label { (say!("progress-by")) input #by type="date" value=[by]; }
                    button #set-balls type="button" { (say!("progress-so-many")) }
                }
                div.fields {
                    label { (say!("progress-born")) input #born type="date" value=[born]; }
                    button #set-age type="button" { (say!("progress-my-age")) }
                }
                p.quiet { (say!("progress-kept-here")) }
            }
        }
    }
}

/// What is told in large figures: its name, the value and the interval.
fn large(prospect: &Prospect) -> Vec<(String, String, String)> {
    let told = |name, estimate: Estimate, say: fn(f64) -> String| {
        let interval = say!("range", from = say(estimate.low), to = say(estimate.high));
        (name, say(estimate.value), interval)
    };
    let mut figures = Vec::new();
    if let Some(chance) = &prospect.chance {
        figures.push(told(say!("progress-chance"), chance.of_an_attempt, one_in));
        figures.push(told(say!("progress-even-chance"), chance.attempts_for_even, rounded));
    }
    if let Some(chance) = prospect.chance_by_the_day {
        figures.push(told(say!("progress-chance-by-day"), chance, percent));
    }
    figures
}
