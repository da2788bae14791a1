//! All that a record says, against its published schema and for records with little in them.

use super::*;
use crate::{
    layout::{faults, is_published},
    random::Random,
    study::in_words,
};
use jiff::{ToSpan, civil::date};
use serde_json::{Value, json};

const TODAY: Date = date(2026, 6, 30);

fn generated() -> String {
    let mut schema = serde_json::to_value(schemars::schema_for!(Progress)).unwrap();
    schema["title"] = json!("Stillcloth progress");
    serde_json::to_string_pretty(&schema).unwrap() + "\n"
}

#[test]
fn the_file_says_what_the_types_say() {
    is_published(
        "src/study/progress.schema.json",
        PROGRESS_SCHEMA,
        &generated(),
        "study::progress",
    );
}

/// Some attempts up to today, five of them on every other day.
fn played(attempts: u32) -> Record {
    let mut random = Random::new(8);
    let runs = (0..attempts).map(|attempt| {
        let ago = 2 * i64::from((attempts - 1 - attempt) / 5);
        let mut balls = 0;
        while random.chance(0.9) {
            balls += 1;
        }
        let ending = if random.chance(0.1) { Ending::Stopped } else { Ending::Missed };
        Run::of_balls(TODAY.checked_sub(ago.days()).ok(), balls, ending)
    });
    Record { left_out: attempts / 20, ..Record::of_runs(runs.collect()) }
}

fn all_stopped() -> Record {
    let run = Run::of_balls(Some(TODAY), 20, Ending::Stopped);
    Record::of_runs(vec![run; 3])
}

fn goal() -> Goal {
    Goal::balls(40, Some(date(2026, 9, 1)), TODAY).unwrap()
}

#[test]
fn whatever_the_record_holds_the_figures_fit_the_schema() {
    let schema: Value = serde_json::from_str(PROGRESS_SCHEMA).unwrap();
    let records = [
        Record::default(),
        played(1),
        played(10),
        played(400),
        all_stopped(),
        Record { left_out: 7, ..Record::default() },
    ];
    for record in records {
        for goal in [None, Some(goal())] {
            let progress = Progress::of(&record, goal, TODAY);
            let document = serde_json::to_value(&progress).unwrap();
            let found = faults(&schema, &schema, &document, "");
            assert!(found.is_empty(), "{found:#?}");
            let text = document.to_string();
            assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), document);
        }
    }
}

fn words(record: &Record) -> String {
    in_words(&Progress::of(record, Some(goal()), TODAY)).join("\n")
}

#[test]
fn ten_attempts_say_how_little_they_know() {
    let few = words(&played(10));
    assert!(few.contains("hardly known") && few.contains("10 attempts say little"), "{few}");
    let many = words(&played(400));
    assert!(!many.contains("hardly known"), "{many}");
}

#[test]
fn an_empty_record_has_a_goal_and_nothing_else() {
    let said = words(&Record::default());
    assert!(said.contains("40 balls, by 2026-09-01: 63 days left"), "{said}");
    assert!(said.contains("no ball on record"), "{said}");
    let progress = Progress::of(&Record::default(), None, TODAY);
    assert_eq!((progress.attempts, progress.high_run, progress.mean_run), (0, None, None));
    assert!(in_words(&progress).is_empty());
}

#[test]
fn attempts_that_were_all_stopped_promise_nothing() {
    let progress = Progress::of(&all_stopped(), Some(goal()), TODAY);
    assert_eq!((progress.stopped, progress.median_run), (3, None));
    let chance = progress.prospect.unwrap().chance.unwrap().of_an_attempt;
    assert!(chance.low < 0.2 && chance.high > 0.9, "{chance:?}");
}

#[test]
fn a_goal_that_was_reached_is_told_as_reached() {
    let mut record = played(60);
    record.runs.push(Run::of_balls(Some(TODAY), 41, Ending::Missed));
    let said = words(&record);
    assert!(said.contains("reached in 1 attempt"), "{said}");
}

#[test]
fn who_has_stopped_practising_is_told_so() {
    let mut record = played(60);
    for run in &mut record.runs {
        run.day = Some(date(2025, 1, 1));
    }
    assert!(words(&record).contains("No attempt in the last twelve weeks"));
}

#[test]
fn the_high_run_is_the_first_of_its_length() {
    let run = |balls| Run::of_balls(None, balls, Ending::Missed);
    let record = Record::of_runs([3, 9, 4, 9].map(run).to_vec());
    let high = Progress::of(&record, None, TODAY).high_run.unwrap();
    assert_eq!((high.balls, high.attempt), (9, 2));
}
