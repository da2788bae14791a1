//! What the study of a record costs as it grows, up to 100,000 attempts of fifty rests each: a record is
//! made on disk, the program serves it and exports it. Prints a row for each size: a look at the progress
//! page right after the start, which waits until all rests are followed, later ones, the nearest positions,
//! exports, memory.
//!
//! `cargo bench --bench study`, or with sizes: `cargo bench --bench study -- 1000 10000`.

#![allow(clippy::print_stdout, reason = "a bench prints")]
#![allow(clippy::expect_used, clippy::panic, reason = "a bench that cannot go on has failed")]

#[path = "../tests/it/played.rs"]
#[allow(dead_code, clippy::unwrap_used, reason = "of the tests' own player, a part is needed here")]
mod played;

use std::{
    fs,
    io::{BufRead, BufReader, Read, Write},
    net::TcpStream,
    path::{Path, PathBuf},
    process::{Child, Command, Stdio},
    time::{Duration, Instant},
};
use stillcloth::{
    camera::picture::PictureFormat,
    random::Random,
    record::{NewRest, Record, Retention},
};

const SIZES: [u32; 3] = [1_000, 10_000, 100_000];
/// Looks of which the slowest but one is told.
const LOOKS: usize = 7;

/// Runs of the player, fifty balls on the mean, so long that they go over racks.
fn runs(attempts: u32) -> impl Iterator<Item = u32> {
    let mut random = Random::new(3);
    // Each rack's racking is a rest too.
    (0..attempts).map(move |_| (random.unit().max(1e-9).ln() / 0.978_f64.ln()) as u32)
}

/// A record as the program writes it, without its pictures; how many rests it has.
fn fill(folder: &Path, attempts: u32) -> usize {
    let first = played::rests().next().expect("a rest");
    let store = Record::open(folder, Retention::default()).expect("a record");
    let rest = NewRest {
        at: played::time_of(0),
        unseen_ms: 0,
        camera: "table".into(),
        layout: first.layout,
        picture: b"a picture".to_vec(),
        format: PictureFormat::Jpeg,
    };
    store.append(rest).expect("a rest is kept");
    drop(store);
    // The record's thread lets the folder go when it has ended.
    std::thread::sleep(Duration::from_millis(300));
    let mut database =
        rusqlite::Connection::open(folder.join("record.sqlite3")).expect("the database");
    let mut random = Random::new(5);
    let transaction = database.transaction().expect("a transaction");
    let mut count = 1;
    {
        let mut insert = transaction
            .prepare(
                "INSERT INTO rests (id, at_unix_ms, unseen_ms, camera, layout_json, picture_sha256, \
                 picture_type, row_sha256) VALUES ($1, $2, 0, 'table', $3, $4, 'image/jpeg', $4)",
            )
            .expect("a statement");
        for (index, played) in played::of_runs(runs(attempts)).enumerate().skip(1) {
            let mut layout = played.layout;
            // As a camera reads it: never twice alike, and the cue ball anywhere.
            for ball in &mut layout.balls {
                ball.x += random.between(-0.004, 0.004);
                ball.y += random.between(-0.004, 0.004);
            }
            count = index + 1;
            let id = i64::try_from(count).expect("a number");
            let at = played::time_of(index).as_millisecond();
            let json = serde_json::to_string(&layout).expect("JSON");
            insert.execute((id, at, json, format!("{index:064x}"))).expect("a row");
        }
    }
    transaction.commit().expect("all rows");
    count
}

/// The program serving a record.
struct Served {
    child: Child,
    address: String,
}

impl Served {
    fn start(data: &Path) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_stillcloth"))
            .args(["serve", "--camera", "pushed", "--listen", "127.0.0.1:0", "--data"])
            .arg(data)
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program");
        let mut lines = BufReader::new(child.stderr.take().expect("its log")).lines();
        let address = loop {
            let line = lines.next().expect("it tells its address").expect("a line");
            if let Some(at) = line.find("http://127.0.0.1:") {
                let address = &line[at + 7..];
                let end = address.find(|c: char| c != '.' && c != ':' && !c.is_ascii_digit());
                break address[..end.unwrap_or(address.len())].to_string();
            }
        };
        std::thread::spawn(move || lines.for_each(drop));
        Self { child, address }
    }

    /// An answer and the time to its end.
    fn get(&self, path: &str) -> (String, Duration) {
        let begun = Instant::now();
        let mut stream = TcpStream::connect(&self.address).expect("a connection");
        let head =
            format!("GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.address);
        stream.write_all(head.as_bytes()).expect("it is asked");
        let mut answer = String::new();
        stream.read_to_string(&mut answer).expect("it answers");
        assert!(answer.starts_with("HTTP/1.1 200"), "{path}: {}", &answer[..answer.len().min(300)]);
        (answer, begun.elapsed())
    }

    /// The slowest but one of some looks.
    fn looks(&self, path: &str) -> Duration {
        let mut took: Vec<Duration> = (0..LOOKS).map(|_| self.get(path).1).collect();
        took.sort();
        took[LOOKS - 2]
    }

    fn memory_mb(&self, what: &str) -> u64 {
        memory_mb(self.child.id(), what).unwrap_or(0)
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A process's memory by the kernel's word, in megabytes.
fn memory_mb(process: u32, what: &str) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with(what))?;
    line.split_whitespace().nth(1)?.parse::<u64>().ok().map(|kb| kb / 1024)
}

/// Time and highest memory of an export.
fn export(data: &Path, what: &str, format: &str) -> (Duration, u64) {
    let begun = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_stillcloth"))
        .args(["export", what, "--format", format, "--data"])
        .arg(data)
        .stdout(Stdio::null())
        .spawn()
        .expect("the program");
    let mut highest = 0;
    loop {
        highest = highest.max(memory_mb(child.id(), "VmHWM").unwrap_or(0));
        if let Some(ended) = child.try_wait().expect("it ends") {
            assert!(ended.success());
            return (begun.elapsed(), highest);
        }
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn main() {
    let asked: Vec<u32> = std::env::args().filter_map(|word| word.parse().ok()).collect();
    let sizes = if asked.is_empty() { SIZES.to_vec() } else { asked };
    println!(
        "{:>9} {:>9} {:>9} {:>9} {:>9} {:>9} {:>9} {:>11} {:>11} {:>11}",
        "attempts",
        "rests",
        "first s",
        "page ms",
        "near ms",
        "serve MB",
        "peak MB",
        "jsonl /s",
        "parquet /s",
        "export MB"
    );
    for attempts in sizes {
        let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("growth-{attempts}"));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).expect("a folder");
        let rests = fill(&folder, attempts);
        let served = Served::start(&folder);
        let progress = "/progress?goal=100&by=2199-12-31&since=2035-01-01";
        let first = served.get(progress).1;
        let page = served.looks(progress);
        // The last rest with three object balls.
        let layouts = served.get(&format!("/api/layouts?limit=200&after={}", rests - 200)).0;
        let near = layouts[layouts.find("\r\n\r\n").map_or(0, |at| at + 4)..].to_string();
        let near: serde_json::Value = serde_json::from_str(&near).expect("JSON");
        let few = |rest: &&serde_json::Value| {
            rest["layout"]["balls"].as_array().is_some_and(|balls| balls.len() == 4)
        };
        let near = near["layouts"].as_array().and_then(|all| all.iter().find(few).cloned());
        let near = near.map_or(0, |rest| rest["id"].as_i64().unwrap_or(0));
        let nearest = served.looks(&format!("/api/layouts/{near}/nearest"));
        let (now, peak) = (served.memory_mb("VmRSS"), served.memory_mb("VmHWM"));
        drop(served);
        let (lines, lines_mb) = export(&folder, "rests", "jsonl");
        let (columns, columns_mb) = export(&folder, "rests", "parquet");
        let rate = |took: Duration| rests as f64 / took.as_secs_f64();
        println!(
            "{attempts:>9} {rests:>9} {:>9.1} {:>9.0} {:>9.1} {now:>9} {peak:>9} {:>11.0} {:>11.0} {:>11}",
            first.as_secs_f64(),
            page.as_secs_f64() * 1e3,
            nearest.as_secs_f64() * 1e3,
            rate(lines),
            rate(columns),
            lines_mb.max(columns_mb),
        );
        let _ = fs::remove_dir_all(&folder);
    }
}
