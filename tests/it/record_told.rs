//! `stillcloth record`: a hand-kept list or a data folder in, what it says out.

use crate::{
    client::{get, post},
    played::{self, time_of},
    staging::{Folder, Service, until},
};
use serde_json::Value;
use std::{
    path::Path,
    process::{Command, Output},
    time::Duration,
};
use stillcloth::{
    camera::picture::PictureFormat,
    layout::Layout,
    record::{NewRest, Record, RecordReader, Retention},
    score::{Correction, Step, Story},
    study::ShotLog,
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

/// Keeps the player's rest of a number, counted from 0.
fn keep(store: &Record, index: usize, layout: Layout) {
    let rest = NewRest {
        at: time_of(index),
        unseen_ms: 0,
        camera: "table".into(),
        layout,
        picture: format!("picture {index}").into_bytes(),
        format: PictureFormat::Jpeg,
    };
    store.append(rest).unwrap();
}

/// A record of some attempts of the made-up player; their runs.
fn filled(data: &Path) -> Vec<u32> {
    let store = Record::open(data, Retention::default()).unwrap();
    let mut runs = Vec::new();
    for (index, played) in played::rests().enumerate().take(400) {
        runs.resize(played.attempt as usize, 0);
        runs[played.attempt as usize - 1] = played.run;
        keep(&store, index, played.layout);
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
    // Small tables are told by a label, charts by a description.
    let drawings = page.matches("role=\"img\"").count() - page.matches("class=\"sketch\"").count();
    assert_eq!(drawings, page.matches("<desc ").count());
    // A goal that cannot be is told where another one can be set.
    let page = get(service.address, "/progress?goal=0");
    assert_eq!(page.status, 200);
    assert!(page.text().contains("a goal is 1 to 10000 balls, 0 is not"));
    get(service.address, "/progress?born=yesterday").is_problem(400, "query");
    assert_eq!(get(service.address, "/progress?camera=another").status, 404);
}

/// The layouts of the first rests of a record.
fn first_rests(at: std::net::SocketAddr) -> Vec<Value> {
    get(at, "/api/layouts?limit=40").json()["layouts"].as_array().unwrap().clone()
}

#[test]
fn misses_and_what_to_practise_are_told_by_command_and_page() {
    let folder = Folder::new("told-misses");
    filled(&folder.0.join("data"));
    let told: Value = serde_json::from_str(&printed(&record(&folder, &["--json"]))).unwrap();
    let misses = &told["misses"];
    let (shots, aimed) = (misses["shots"].as_u64().unwrap(), misses["aimed"].as_u64().unwrap());
    assert!(shots > 300 && aimed > 0 && aimed <= shots, "{misses}");
    // Each shot is in one kind of what is known of all.
    for by in ["cue_ball", "session"] {
        let tables = misses["tables"].as_array().unwrap();
        let table = tables.iter().find(|table| table["by"] == by).unwrap();
        let kinds = table["kinds"].as_array().unwrap();
        let faced: u64 = kinds.iter().map(|kind| kind["faced"].as_u64().unwrap()).sum();
        assert_eq!(faced, shots, "{by}");
    }
    assert_eq!(told["plan"]["shots"], shots);
    let text = printed(&record(&folder, &["--since", "2030-01-01"]));
    for part in ["Cue ball to ball", "side spin", "Worth practising now"] {
        assert!(text.contains(part), "{part} is not in\n{text}");
    }
    let service = Service::plain(&folder.0.join("data"));
    let page = get(service.address, "/progress?since=2030-01-01").text();
    for part in ["What to practise now", "What is missed", "id=\"cut-title\"", "If one skill"] {
        assert!(page.contains(part), "{part} is not in {page}");
    }
}

#[test]
fn the_nearest_positions_are_told_with_what_came_of_them() {
    let folder = Folder::new("told-near");
    filled(&folder.0);
    let service = Service::plain(&folder.0);
    let at = service.address;
    let few = |rest: &&Value| rest["layout"]["balls"].as_array().unwrap().len() == 3;
    let rests = first_rests(at);
    let rest = rests.iter().find(few).unwrap()["id"].as_i64().unwrap();
    let near: Value = get(at, &format!("/api/layouts/{rest}/nearest?limit=5")).json();
    let positions = near["positions"].as_array().unwrap();
    assert_eq!((&near["rest"], positions.len()), (&rest.into(), 5));
    // The made-up player plays the same attempts over and over.
    assert!(positions[0]["off_diamonds"].as_f64().unwrap() < 1e-3, "{near}");
    assert!(positions.iter().all(|one| one["rest"] != rest && one["made"] == true), "{near}");
    let page = get(at, &format!("/layouts/{rest}")).text();
    assert!(page.contains("Positions like this one") && page.contains("mirror images"), "{page}");
    // A table full of balls is like no other.
    let full = get(at, "/api/layouts/1/nearest").json();
    assert_eq!(full["positions"].as_array().unwrap().len(), 0);
    get(at, "/api/layouts/1/nearest?limit=0").is_problem(400, "query");
    get(at, "/api/layouts/999999/nearest").is_problem(404, "not_found");
}

#[test]
fn a_closing_layouts_nearest_are_of_the_whole_record() {
    let folder = Folder::new("told-breaks");
    filled(&folder.0);
    let service = Service::plain(&folder.0);
    let page = get(service.address, "/breaks").text();
    let near = page.split("&amp;near=").nth(1).unwrap().split('"').next().unwrap().to_string();
    let page = get(service.address, &format!("/breaks?near={near}")).text();
    assert!(
        page.contains("nearest positions with as many balls") && page.contains("off by"),
        "{page}"
    );
}

#[test]
fn an_empty_record_one_attempt_and_stopped_ones_alone_have_a_page() {
    for (name, rests) in [("none", 0), ("rest", 1), ("one", 5)] {
        let folder = Folder::new(&format!("told-little-{name}"));
        let store = Record::open(&folder.0, Retention::default()).unwrap();
        for (index, played) in played::rests().enumerate().take(rests) {
            keep(&store, index, played.layout);
        }
        drop(store);
        let service = Service::plain(&folder.0);
        for page in ["/progress?born=2000-02-29", "/progress?goal=7&since=2030-02-28", "/breaks"] {
            let answer = get(service.address, page);
            assert_eq!(answer.status, if rests == 0 { 404 } else { 200 }, "{name} {page}");
            assert!(!answer.text().contains("NaN"), "{name} {page}");
        }
    }
}

#[test]
fn a_correction_late_in_a_long_record_says_what_following_all_again_says() {
    let folder = Folder::new("told-corrected");
    let store = Record::open(&folder.0, Retention::default()).unwrap();
    // So many that states are noted on the way.
    for (index, played) in played::rests().enumerate().take(1300) {
        keep(&store, index, played.layout);
    }
    let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
    let correct = |rest, says| {
        let correction = Correction { rest, says: Some(says) };
        runtime.block_on(store.correct(correction, None, time_of(2000))).unwrap();
    };
    let standing = || {
        let look = |story: &Story, log: &ShotLog| (story.clone(), log.shots_from(0).count());
        runtime.block_on(store.study("table".into(), look)).unwrap()
    };
    for (rest, says) in [
        (1290, Step::Shot { potted: 2 }),
        (1250, Step::Miss),
        (1100, Step::NoRest),
        (900, Step::Scratch),
        (1295, Step::ByHand),
    ] {
        correct(rest, says);
        let (story, shots) = standing();
        let again = RecordReader::open(&folder.0).unwrap().stories().unwrap().pop().unwrap();
        assert!(story == again.story, "after the correction of rest {rest}");
        assert_eq!(shots, again.log.shots_from(0).count());
    }
}

#[test]
fn skills_are_looked_for_on_request_and_the_outcome_is_held() {
    let folder = Folder::new("told-skills");
    filled(&folder.0);
    let service = Service::plain(&folder.0);
    let at = service.address;
    assert_eq!(get(at, "/api/skills").json()["state"], "not_asked");
    post(at, "/api/skills?camera=nobody", "text/plain", b"").is_problem(404, "not_found");
    let begun = post(at, "/api/skills", "text/plain", b"");
    assert_eq!((begun.status, begun.json()["state"].clone()), (202, "running".into()));
    until("something is found or not", Duration::from_secs(120), || {
        get(at, "/api/skills").json()["state"] != "running"
    });
    // The made-up player's balls vanish where they lie: no pot of theirs was ever on.
    let state = get(at, "/api/skills").json();
    assert_eq!(state["camera"], "table");
    let page = get(at, "/progress").text();
    match state["why"].as_str() {
        Some(why) => assert!(page.contains(why), "{page}"),
        None => assert!(page.contains("With a tenth less error of aim"), "{page}"),
    }
}
