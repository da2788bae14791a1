//! `stillcloth record`: a hand-kept list or a data folder in, what it says out.

use crate::{
    client::get,
    played::{self, time_of},
    staging::{Folder, Service},
};
use serde_json::Value;
use std::{
    path::Path,
    process::{Command, Output},
};
use stillcloth::{
    camera::picture::PictureFormat,
    record::{NewRest, Record, Retention},
};

fn record(folder: &Folder, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    command.current_dir(&folder.0).arg("record").args(arguments).output().unwrap()
}

fn printed(output: &Output) -> String {
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && complaint.is_empty(), "{complaint}");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn refusal(output: &Output) -> String {
    assert_eq!(output.status.code(), Some(1));
    assert!(output.stdout.is_empty());
    String::from_utf8_lossy(&output.stderr).into_owned()
}

const LIST: &str = "Tag;Lauf;Ende\n1.3.2026;12,0;miss\n1.3.2026;3,0;\n4.3.2026;31,0;stopped\n\
                    7.3.2026;8,0;scratch\n9.3.2026;0,0;miss\n9.3.2026;17,0;miss\n";

#[test]
fn a_hand_kept_list_needs_no_store() {
    let folder = Folder::new("told-list");
    std::fs::write(folder.0.join("runs.csv"), LIST).unwrap();
    let text = printed(&record(&folder, &["--scores", "runs.csv", "--goal", "50"]));
    for part in [
        "6 attempts, 71 balls, 2026-03-01 to 2026-03-09; 1 stopped",
        "High run 31 in attempt 3, 2026-03-04; mean 11.8",
        "Goal: 50 balls; not reached yet.",
        "That is hardly known yet: 6 attempts say little about a run of 50.",
        "break shots",
    ] {
        assert!(text.contains(part), "{part} is not in\n{text}");
    }
    let json = printed(&record(&folder, &["--scores", "runs.csv", "--goal", "50", "--json"]));
    let told: Value = serde_json::from_str(&json).unwrap();
    assert_eq!((&told["attempts"], &told["high_run"]["balls"]), (&6.into(), &31.into()));
    assert!(told["prospect"]["chance"]["of_an_attempt"]["value"].as_f64().unwrap() < 0.2);
}

#[test]
fn what_cannot_be_read_is_told_with_its_line() {
    let folder = Folder::new("told-bad");
    std::fs::write(folder.0.join("runs.csv"), "day,run\n2026-03-05,7\n2026-03-06,many\n").unwrap();
    let said = refusal(&record(&folder, &["--scores", "runs.csv"]));
    assert!(said.contains("line 3: \"many\" is not a run"), "{said}");
    let said = refusal(&record(&folder, &["--scores", "none.csv"]));
    assert!(said.contains("none.csv"), "{said}");
    let said = refusal(&record(&folder, &["--scores", "runs.csv", "--born", "2126-01-01"]));
    assert!(said.contains("2126-01-01"), "{said}");
    let said = refusal(&record(&folder, &["--data", "nowhere"]));
    assert!(said.contains("no record in nowhere"), "{said}");
}

/// A record of some attempts of the made-up player; their runs.
fn filled(data: &Path) -> Vec<u32> {
    let store = Record::open(data, Retention::default()).unwrap();
    let mut runs = Vec::new();
    for (index, played) in played::rests().enumerate().take(400) {
        runs.resize(played.attempt as usize, 0);
        runs[played.attempt as usize - 1] = played.run;
        let rest = NewRest {
            at: time_of(index),
            unseen_ms: 0,
            camera: "table".into(),
            layout: played.layout.clone(),
            picture: format!("picture {index}").into_bytes(),
            format: PictureFormat::Jpeg,
        };
        store.append(rest).unwrap();
    }
    runs
}

#[test]
fn a_data_folder_tells_its_one_players_attempts() {
    let folder = Folder::new("told-data");
    let runs = filled(&folder.0.join("data"));
    let told: Value = serde_json::from_str(&printed(&record(&folder, &["--json"]))).unwrap();
    assert_eq!(told["attempts"], runs.len());
    assert_eq!(told["high_run"]["balls"], *runs.iter().max().unwrap());
    assert_eq!(told["balls"], runs.iter().sum::<u32>());
    let said = refusal(&record(&folder, &["--camera", "another"]));
    assert!(said.contains("no camera another"), "{said}");
}

#[test]
fn a_films_attempts_become_its_chapters() {
    let folder = Folder::new("told-chapters");
    filled(&folder.0.join("data"));
    let film = [time_of(0), time_of(30)].map(|at| at.to_string());
    let chapters = |arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
        let command = command.current_dir(&folder.0).arg("chapters");
        command.args(arguments).output().unwrap()
    };
    let text = printed(&chapters(&[&film[0], &film[1]]));
    assert!(text.starts_with("WEBVTT\n\n1\n00:00:00.000 --> "), "{text}");
    assert!(
        text.contains("Attempt 1: run 3, miss") && text.contains("Attempt 2: run 17"),
        "{text}"
    );
    let text = printed(&chapters(&[&film[0], &film[1], "--format", "ffmpeg"]));
    assert!(text.starts_with(";FFMETADATA1\n"), "{text}");
    assert!(refusal(&chapters(&[&film[1], &film[0]])).contains("has no time"));
}

#[test]
fn the_progress_page_tells_the_goal_in_words_and_its_charts_to_all() {
    let folder = Folder::new("told-page");
    filled(&folder.0);
    let service = Service::plain(&folder.0);
    let page = get(service.address, "/progress?goal=50").text();
    for part in ["Goal: 50 balls; not reached yet.", "high run 30", "<title id=\"far-title\""] {
        assert!(page.contains(part), "{part} is not in {page}");
    }
    assert_eq!(page.matches("role=\"img\"").count(), page.matches("<desc ").count());
    // A goal that cannot be is told where another one can be set.
    let page = get(service.address, "/progress?goal=0");
    assert_eq!(page.status, 200);
    assert!(page.text().contains("a goal is 1 to 10000 balls, 0 is not"));
    get(service.address, "/progress?born=yesterday").is_problem(400, "query");
    assert_eq!(get(service.address, "/progress?camera=another").status, 404);
}
