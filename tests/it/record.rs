//! The record outlives the program, notices what was changed behind its back, and is used by one
//! program at a time. The program itself is run here, and killed.

use crate::{
    client::{get, post},
    staging::{Folder, Script, Service, png, until},
};
use std::{
    io::{BufRead, BufReader},
    net::SocketAddr,
    path::{Path, PathBuf},
    process::{Child, Command, Output, Stdio},
    time::Duration,
};

/// The program as a user starts it.
pub struct Program {
    pub child: Child,
    pub address: SocketAddr,
    log: std::thread::JoinHandle<String>,
}

fn stillcloth() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    command.env_remove("RUST_LOG").stdin(Stdio::null());
    command
}

impl Program {
    pub fn serve(data: &Path, more: &[&str]) -> Self {
        let mut child = stillcloth()
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(data)
            .args(more)
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines().map(Result::unwrap);
        let mut log = String::new();
        let address = loop {
            let line = lines.next().unwrap_or_else(|| panic!("it ended early: {log}"));
            log.push_str(&line);
            log.push('\n');
            let address = line.split("http://").nth(1).and_then(|rest| rest.split('/').next());
            if let Some(address) = address {
                break address.parse().expect("an address");
            }
        };
        let log = std::thread::spawn(move || {
            lines.for_each(|line| log = format!("{log}{line}\n"));
            log
        });
        Self { child, address, log }
    }

    /// Ends it the way an operator does, and returns its log.
    pub fn terminate(mut self) -> String {
        let id = self.child.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &id]).status().unwrap().success());
        assert!(self.child.wait().unwrap().success(), "a service that is stopped ends well");
        self.log.join().unwrap()
    }

    /// Ends it the way a power cut does.
    fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

fn check(data: &Path) -> Output {
    stillcloth().args(["check", "--data"]).arg(data).output().unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn true_frame() -> Vec<u8> {
    let path = "testdata/frames/club-071003.jpg";
    std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap()
}

#[test]
fn what_was_answered_survives_a_kill() {
    let folder = Folder::new("kill");
    let program = Program::serve(&folder.0, &[]);
    let answer = post(program.address, "/api/frames?camera=hall", "image/jpeg", &true_frame());
    assert_eq!(answer.status, 201, "{}", answer.text());
    program.kill();

    let program = Program::serve(&folder.0, &[]);
    assert_eq!(get(program.address, "/api/layouts/latest").json(), answer.json());
    assert_eq!(get(program.address, "/api/layouts/1/frame").body, true_frame());
    let again = post(program.address, "/api/frames?camera=hall", "image/jpeg", &true_frame());
    assert_eq!(again.json()["id"], 2, "ids go on where they were");
    assert_eq!(again.json()["layout"], answer.json()["layout"], "with the kept calibration");

    let second = stillcloth().args(["serve", "--data"]).arg(&folder.0).output().unwrap();
    assert!(!second.status.success());
    let said_by_second = String::from_utf8_lossy(&second.stderr).into_owned();
    assert!(said_by_second.contains("in use by another process"), "{said_by_second}");

    let log = program.terminate();
    for bad in ["ERROR", "WARN", "panicked"] {
        assert!(!log.contains(bad), "{log}");
    }
    let checked = check(&folder.0);
    assert!(checked.status.success(), "{}", said(&checked));
    assert!(said(&checked).contains("2 rests, 0 problems"), "{}", said(&checked));
}

#[test]
fn killing_it_again_and_again_in_the_middle_of_frames_loses_no_answer() {
    let folder = Folder::new("kills");
    let mut answered = Vec::new();
    for round in 0..4 {
        let service = Program::serve(&folder.0, &[]);
        let at = service.address;
        let (tell, first) = std::sync::mpsc::channel();
        let sender = std::thread::spawn(move || {
            let mut ids = Vec::new();
            let frame = true_frame();
            while let Some(id) = try_to_post(at, &frame) {
                ids.push(id);
                let _ = tell.send(());
            }
            ids
        });
        // From the first answer on, so that there is one however slow the machine is.
        first.recv_timeout(Duration::from_mins(1)).expect("an answer");
        std::thread::sleep(Duration::from_millis(30 + 70 * round));
        service.kill();
        answered.extend(sender.join().unwrap());
    }
    let service = Service::plain(&folder.0);
    for id in &answered {
        assert_eq!(get(service.address, &format!("/api/layouts/{id}")).json()["id"], *id);
    }
    service.stop();
    assert!(!answered.is_empty());
    let checked = check(&folder.0);
    assert!(checked.status.success(), "{}", said(&checked));
}

/// Posts a frame to a service that may be killed meanwhile; the id if it answered.
fn try_to_post(at: SocketAddr, frame: &[u8]) -> Option<i64> {
    use std::io::{Read, Write};
    let mut stream = std::net::TcpStream::connect(at).ok()?;
    let head = format!(
        "POST /api/frames HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Type: image/jpeg\r\nContent-Length: {}\r\n\r\n",
        frame.len()
    );
    stream.write_all(head.as_bytes()).ok()?;
    stream.write_all(frame).ok()?;
    let mut answer = String::new();
    stream.read_to_string(&mut answer).ok()?;
    let location = answer.lines().find_map(|line| line.strip_prefix("location: /api/layouts/"))?;
    // An answer counts once all of it is there.
    answer.ends_with('}').then(|| location.parse().unwrap())
}

fn stored_pictures(folder: &Path) -> Vec<PathBuf> {
    let shelves = std::fs::read_dir(folder.join("pictures")).unwrap();
    let files = shelves.flat_map(|shelf| std::fs::read_dir(shelf.unwrap().path()).unwrap());
    files.map(|file| file.unwrap().path()).collect()
}

#[test]
fn the_same_picture_is_kept_once_and_nothing_unfinished_stays() {
    let folder = Folder::new("once");
    let service = Service::plain(&folder.0);
    for _ in 0..3 {
        post(service.address, "/api/frames", "image/png", &png(Script::Read, 2, 1));
    }
    post(service.address, "/api/frames", "image/png", &png(Script::Read, 2, 2));
    let pictures = stored_pictures(&folder.0);
    assert_eq!(pictures.len(), 2, "{pictures:?}");
}

#[test]
fn a_check_finds_whatever_was_changed_or_lost() {
    let folder = Folder::new("check");
    let service = Service::plain(&folder.0);
    for salt in 0..6 {
        post(service.address, "/api/frames", "image/png", &png(Script::Read, 2, salt));
    }
    let frame_of = |id: i64| {
        let rest = get(service.address, &format!("/api/layouts/{id}")).json();
        let name = rest["frame_sha256"].as_str().unwrap().to_string();
        folder.0.join("pictures").join(&name[..2]).join(format!("{name}.png"))
    };
    let (changed, lost) = (frame_of(1), frame_of(2));
    service.stop();
    assert!(check(&folder.0).status.success());

    std::fs::write(changed, b"another picture").unwrap();
    std::fs::remove_file(lost).unwrap();
    let database = rusqlite::Connection::open(folder.0.join("record.sqlite3")).unwrap();
    database.execute("UPDATE rests SET camera = 'other' WHERE id = 3", []).unwrap();
    database.execute("DELETE FROM rests WHERE id = 4", []).unwrap();
    database.execute("UPDATE rests SET layout_json = '{}' WHERE id = 5", []).unwrap();
    drop(database);

    let checked = check(&folder.0);
    assert!(!checked.status.success());
    let text = said(&checked);
    for (finding, id) in [
        ("of rest 1 was changed", 1),
        ("of rest 2 is missing", 2),
        ("rest 3 was changed after it was written", 3),
        ("rest 4 is missing", 4),
        ("rest 5 cannot be read", 5),
    ] {
        assert!(text.contains(finding), "rest {id}: {text}");
    }
    assert!(!text.contains("rest 6"), "{text}");

    let service = Service::plain(&folder.0);
    get(service.address, "/api/layouts/5").is_problem(500, "internal");
    let list = get(service.address, "/api/layouts").json();
    assert_eq!(list["layouts"].as_array().unwrap().len(), 4, "one bad row hides no other");
}

#[test]
fn a_folder_that_cannot_be_used_is_named() {
    let output = stillcloth().args(["serve", "--data", "/proc/none"]).output().unwrap();
    assert!(!output.status.success());
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("/proc/none"), "{said}");
    let output = stillcloth().args(["serve", "--listener", "ftp://x/"]).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(!output.status.success() && said.contains("ftp://x/"), "{said}");
}

/// The program's memory with nothing to do stays within what the project promises.
#[test]
fn at_rest_it_needs_little_memory() {
    let folder = Folder::new("memory");
    let program = Program::serve(&folder.0, &["--camera", "demo"]);
    until("some layouts are there", Duration::from_secs(60), || {
        get(program.address, "/healthz").json()["latest_layout"].as_i64() >= Some(3)
    });
    let status = std::fs::read_to_string(format!("/proc/{}/status", program.child.id())).unwrap();
    let resident = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap();
    let kib: u64 = resident.trim().trim_end_matches(" kB").parse().unwrap();
    program.terminate();
    assert!(kib < 200 << 10, "{} MiB", kib >> 10);
}
