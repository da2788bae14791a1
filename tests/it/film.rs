//! A session's film: chapters that a browser takes, clips that ffmpeg cuts.

use crate::{
    browser::{Browser, Light, Screen},
    command::{printed, refusal},
    pages::filled,
    played::time_of,
    staging::Folder,
};
use serde_json::json;
use std::{
    io::{Read, Write},
    net::{Ipv4Addr, TcpListener},
    path::Path,
    process::{Command, Output},
};

fn stillcloth(folder: &Path, arguments: &[&str], path: Option<&str>) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    command.current_dir(folder).args(arguments);
    if let Some(path) = path {
        command.env("PATH", path);
    }
    command.output().unwrap()
}

fn recorded(name: &str) -> Folder {
    let folder = Folder::new(name);
    filled(&folder.0.join("data"), |played| played.attempt == 3 && played.over);
    folder
}

/// Serves a page with a film's chapters, to one browser.
fn serve(chapters: String) -> std::net::SocketAddr {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let address = listener.local_addr().unwrap();
    std::thread::spawn(move || {
        for mut stream in listener.incoming().flatten() {
            let mut head = [0; 4096];
            let Ok(length) = stream.read(&mut head) else { continue };
            let asked = String::from_utf8_lossy(&head[..length]).into_owned();
            let page = "<!doctype html><title>film</title><video>\
                        <track kind=chapters default src=/chapters.vtt></video>";
            let (kind, body) = match asked.split(' ').nth(1) {
                Some("/chapters.vtt") => ("text/vtt", chapters.as_str()),
                Some("/favicon.ico") => ("image/x-icon", ""),
                _ => ("text/html", page),
            };
            let length = body.len();
            let answer = format!(
                "HTTP/1.1 200 OK\r\nContent-Type: {kind}\r\nContent-Length: {length}\r\n\
                 Connection: close\r\n\r\n{body}"
            );
            let _ = stream.write_all(answer.as_bytes());
        }
    });
    address
}

#[test]
fn a_browser_takes_the_chapters_of_attempts_and_racks() {
    let folder = recorded("chapters");
    let film = [time_of(0), time_of(60)].map(|at| at.to_string());
    let browser = Browser::open();
    browser.look_on(Screen::Wide, Light::Day);
    for (of, wanted) in [
        (
            "attempts",
            vec!["Attempt 1: run 3, miss", "Attempt 2: run 17, miss", "Attempt 3: run 1, miss"],
        ),
        (
            "racks",
            vec![
                "Attempt 1: run 3, miss",
                "Attempt 2, rack 1: run 14",
                "Attempt 2, rack 2: run 17, miss",
                "Attempt 3: run 1, miss",
            ],
        ),
    ] {
        let chapters = stillcloth(&folder.0, &["chapters", &film[0], &film[1], "--of", of], None);
        let address = serve(printed(&chapters));
        browser.visit(address, "/");
        browser.run("document.querySelector('track').track.mode = 'hidden'");
        browser.until("the track is loaded", "document.querySelector('track').readyState === 2");
        let cues = browser.run(
            "return [...document.querySelector('track').track.cues]
                .map((cue) => [cue.text, cue.startTime, cue.endTime])",
        );
        let cues = cues.as_array().unwrap();
        let titles: Vec<&str> = cues.iter().map(|cue| cue[0].as_str().unwrap()).collect();
        assert_eq!(titles, wanted);
        assert_eq!(cues[0][1], json!(0));
        let in_order = cues.windows(2).all(|pair| pair[0][2].as_f64() <= pair[1][1].as_f64());
        assert!(in_order, "{cues:?}");
    }
}

/// A film of a test picture, so many seconds long, made by ffmpeg.
fn film(folder: &Path, name: &str, seconds: u32) {
    let source = format!("testsrc=duration={seconds}:size=128x72:rate=10");
    let done = Command::new("ffmpeg")
        .args(["-hide_banner", "-loglevel", "error", "-f", "lavfi", "-i", &source])
        .arg(folder.join(name))
        .output()
        .expect("ffmpeg, which the tests of films need");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

/// How long a film is, in seconds.
fn length_s(file: &Path) -> f64 {
    let done = Command::new("ffprobe")
        .args(["-v", "error", "-show_entries", "format=duration", "-of", "csv=p=0"])
        .arg(file)
        .output()
        .expect("ffprobe");
    String::from_utf8_lossy(&done.stdout).trim().parse().unwrap()
}

#[test]
fn clips_are_cut_at_the_shots_whatever_the_film_is_called() {
    let folder = recorded("clips");
    // A name that would be an option, a protocol and two commands.
    let name = "-y concat:a|b; touch gone.mp4";
    film(&folder.0, "film.mp4", 50);
    std::fs::rename(folder.0.join("film.mp4"), folder.0.join(name)).unwrap();
    let began = time_of(0).to_string();
    let path = format!("./{name}");
    let arguments = ["clips", &path, &began, "--attempt", "1"];
    let said = printed(&stillcloth(&folder.0, &arguments, None));
    let clips: Vec<&str> = said.lines().collect();
    assert_eq!(clips.len(), 4, "{said}");
    assert!(clips[0].ends_with("clips/attempt-1-shot-001-1-made.mp4"), "{said}");
    assert!(clips[3].ends_with("attempt-1-shot-004-miss.mp4"), "{said}");
    for clip in &clips {
        // From one rest to a second after the next, ten seconds later.
        let length = length_s(Path::new(clip));
        assert!((10.5..=11.5).contains(&length), "{clip}: {length}");
    }
    assert!(!folder.0.join("gone.mp4").exists());
    // Once more: what is there stays.
    assert_eq!(printed(&stillcloth(&folder.0, &arguments, None)), said);
}

#[test]
fn what_stands_in_the_way_of_clips_is_said() {
    let folder = recorded("no-clips");
    let began = time_of(0).to_string();
    let clips = |film: &str, from: &str, attempt: &str, path: Option<&str>| {
        let arguments = ["clips", film, from, "--attempt", attempt];
        refusal(&stillcloth(&folder.0, &arguments, path))
    };
    let said = clips("none.mp4", &began, "1", None);
    assert!(said.contains("cannot read the film none.mp4"), "{said}");
    std::fs::write(folder.0.join("no.mp4"), "no film").unwrap();
    let said = clips("no.mp4", &began, "1", Some("/nowhere"));
    assert!(said.contains("there is no ffmpeg on this machine"), "{said}");
    let said = clips("no.mp4", &began, "1", None);
    assert!(said.contains("attempt-1-shot-001-1-made could not be cut out"), "{said}");
    assert_eq!(std::fs::read_dir(folder.0.join("clips")).unwrap().count(), 0);
    assert!(clips("no.mp4", &began, "77", None).contains("there is no attempt 77"));
    let late = time_of(5000).to_string();
    assert!(clips("no.mp4", &late, "1", None).contains("no shot of attempt 1 is later"));
    // A film that is over before the last shots.
    film(&folder.0, "short.mp4", 25);
    let said = clips("short.mp4", &began, "1", None);
    assert!(said.contains("shot-003") || said.contains("shot-004"), "{said}");
}
