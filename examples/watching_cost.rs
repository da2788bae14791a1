//! What a hundred watching pages cost the service: it is started in a process of its own over a
//! folder that is thrown away, gets a rest every two seconds, and each page does what `watch.js`
//! does: follows the events, asks for the parts and the drawing anew at each rest, and for the
//! cameras every two seconds. Prints the service's processor time with and without the pages, and
//! how long after the answer to the frame the pages had all of a rest.
//!
//! `cargo run --release --example watching_cost -- [PAGES] [SECONDS]`

#![allow(clippy::print_stdout, reason = "an example prints")]

use image::{ImageEncoder, RgbImage, codecs::png::PngEncoder};
use std::{
    error::Error,
    io::{BufRead, BufReader, Read, Write},
    net::{SocketAddr, TcpStream},
    path::Path,
    process::{Command, Stdio},
    sync::{
        Arc, Mutex,
        atomic::{AtomicBool, Ordering},
    },
    time::{Duration, Instant},
};
use stillcloth::{
    layout::{Ball, BallKind, Layout},
    record::Retention,
    service::{AccessSettings, FrameReader, Limits, ReaderError, Server, Settings, Watching},
    table::{FootEnd, TableSize},
    vision::{Look, Reading, TableState},
};

type Failure = Box<dyn Error + Send + Sync>;

/// A rest comes so often, and so does a page's question for the cameras.
const PAUSE: Duration = Duration::from_secs(2);

/// Reads a layout off the first pixel: seeing is not what is measured here.
struct Told;

impl FrameReader for Told {
    fn read(&mut self, frame: &RgbImage) -> Result<Reading, ReaderError> {
        let [cue_at, ..] = frame.get_pixel(0, 0).0;
        let ball = |number: u8| Ball {
            kind: if number == 0 { BallKind::Cue } else { BallKind::Object },
            number: Some(number),
            x: if number == 0 { 0.5 + f64::from(cue_at) / 40.0 } else { 0.45 * f64::from(number) },
            y: if number == 0 { 0.3 } else { 1.0 + 0.15 * f64::from(number) },
            sigma_mm: 0.5,
            confidence: 0.99,
            number_confidence: 0.9,
        };
        let layout = Layout::of(TableSize::NINE_FOOT, FootEnd::Given, (0..=15).map(ball).collect());
        Ok(Reading { layout, rejected: Vec::new() })
    }

    fn watch(&mut self, _: &RgbImage, _: Duration) -> Result<Look, ReaderError> {
        // Frames are sent singly here.
        Ok(Look::of(TableState::Settling))
    }
}

/// The service alone, until its input ends.
fn serve(data: &Path) -> Result<(), Failure> {
    tokio::runtime::Runtime::new()?.block_on(async {
        let settings = Settings {
            data: data.into(),
            retention: Retention::default(),
            listen: "127.0.0.1:0".parse()?,
            access: AccessSettings::default(),
            advice: None,
            limits: Limits::default(),
            cameras: Vec::new(),
            watching: Watching::default(),
            listeners: Vec::new(),
        };
        let server = Server::start(settings, Arc::new(|_| Box::new(Told))).await?;
        println!("{}", server.address());
        server
            .run(async {
                let _ = tokio::task::spawn_blocking(|| std::io::stdin().read(&mut [0])).await;
            })
            .await;
        Ok(())
    })
}

/// Processor time of a process so far, in seconds.
fn processor_s(process: u32) -> Result<f64, Failure> {
    let mut total_ns = 0_u64;
    for thread in std::fs::read_dir(format!("/proc/{process}/task"))? {
        let figures = std::fs::read_to_string(thread?.path().join("schedstat"))?;
        total_ns += figures.split(' ').next().unwrap_or_default().parse::<u64>()?;
    }
    Ok(total_ns as f64 / 1e9)
}

/// A connection that is kept open, as a browser does.
struct Line(BufReader<TcpStream>, SocketAddr);

impl Line {
    fn to(at: SocketAddr) -> Result<Self, Failure> {
        Ok(Self(BufReader::new(TcpStream::connect(at)?), at))
    }

    fn ask(&mut self, head: &str, body: &[u8]) -> Result<String, Failure> {
        let (at, length) = (self.1, body.len());
        let head = format!("{head} HTTP/1.1\r\nHost: {at}\r\nContent-Length: {length}\r\n");
        let head = format!("{head}Content-Type: image/png\r\n\r\n");
        self.0.get_mut().write_all(&[head.as_bytes(), body].concat())?;
        let mut length = 0;
        loop {
            let mut line = String::new();
            self.0.read_line(&mut line)?;
            match line.trim_end().to_ascii_lowercase().split_once(": ") {
                Some(("content-length", value)) => length = value.parse()?,
                None if line.trim_end().is_empty() => break,
                _ => {}
            }
        }
        let mut body = vec![0; length];
        self.0.read_exact(&mut body)?;
        Ok(String::from_utf8_lossy(&body).into_owned())
    }
}

/// What is noted together: whether it is over, when the last rest was kept, and how late each page
/// had it, in milliseconds.
#[derive(Default)]
struct Shared {
    over: AtomicBool,
    kept: Mutex<Option<Instant>>,
    late_ms: Mutex<Vec<f64>>,
}

/// A page that watches, as two threads: what it follows, and what it asks every two seconds.
fn watch(at: SocketAddr, shared: &Arc<Shared>) {
    let asking = Arc::clone(shared);
    std::thread::spawn(move || -> Result<(), Failure> {
        let mut line = Line::to(at)?;
        while !asking.over.load(Ordering::Relaxed) {
            std::thread::sleep(PAUSE);
            line.ask("GET /api/cameras", b"")?;
        }
        Ok(())
    });
    let shared = Arc::clone(shared);
    std::thread::spawn(move || -> Result<(), Failure> {
        let mut line = Line::to(at)?;
        line.ask("GET /", b"")?;
        let mut events = TcpStream::connect(at)?;
        write!(events, "GET /api/events HTTP/1.1\r\nHost: {at}\r\n\r\n")?;
        for event in BufReader::new(events).lines() {
            if event? != "event: rest" {
                continue;
            }
            // The page gathers for so long what comes with one rest.
            std::thread::sleep(Duration::from_millis(15));
            let parts = line.ask("GET /parts", b"")?;
            let drawing = parts.split("/api/layouts/").nth(1).and_then(|t| t.split('"').next());
            line.ask(&format!("GET /api/layouts/{}", drawing.ok_or("no drawing")?), b"")?;
            let kept = shared.kept.lock().map_err(|_| "poisoned")?.ok_or("no rest yet")?;
            shared.late_ms.lock().map_err(|_| "poisoned")?.push(1e3 * kept.elapsed().as_secs_f64());
        }
        Ok(())
    });
}

/// Sends a rest every two seconds for a while; the service's processor time, as a part of a core.
fn rests(at: SocketAddr, process: u32, lasting: Duration, shared: &Shared) -> Result<f64, Failure> {
    let mut line = Line::to(at)?;
    let (begun, before_s) = (Instant::now(), processor_s(process)?);
    for number in 0_u8.. {
        if begun.elapsed() >= lasting {
            break;
        }
        let mut png = Vec::new();
        let pixels = [number.wrapping_mul(7), 0, 0].repeat(4);
        PngEncoder::new(&mut png).write_image(&pixels, 2, 2, image::ExtendedColorType::Rgb8)?;
        // The event may be there before the answer: from then on it is late.
        *shared.kept.lock().map_err(|_| "poisoned")? = Some(Instant::now());
        line.ask("POST /api/frames?camera=table", &png)?;
        std::thread::sleep(PAUSE);
    }
    Ok((processor_s(process)? - before_s) / begun.elapsed().as_secs_f64())
}

fn main() -> Result<(), Failure> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if let [serving, data] = arguments.as_slice()
        && serving == "serve"
    {
        return serve(Path::new(data));
    }
    let number = |at: usize, usual: u64| {
        arguments.get(at).map_or(Ok(usual), |text: &String| text.parse::<u64>())
    };
    let (pages, seconds) = (number(0, 100)?, number(1, 40)?);
    let data = std::env::temp_dir().join(format!("stillcloth-watching-{}", std::process::id()));
    let mut service = Command::new(std::env::current_exe()?)
        .arg("serve")
        .arg(&data)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()?;
    let mut address = String::new();
    BufReader::new(service.stdout.take().ok_or("no output")?).read_line(&mut address)?;
    let at: SocketAddr = address.trim().parse()?;
    let lasting = Duration::from_secs(seconds);
    let shared = Arc::new(Shared::default());
    let alone = rests(at, service.id(), lasting, &shared)?;
    (0..pages).for_each(|_| watch(at, &shared));
    std::thread::sleep(PAUSE);
    let watched = rests(at, service.id(), lasting, &shared)?;
    shared.over.store(true, Ordering::Relaxed);
    let mut late_ms = shared.late_ms.lock().map_err(|_| "poisoned")?.clone();
    late_ms.sort_by(f64::total_cmp);
    let late = |part: f64| late_ms[((late_ms.len() - 1) as f64 * part) as usize];
    println!("a rest every {} s: {:.2} % of a core without pages", PAUSE.as_secs(), 100.0 * alone);
    println!("with {pages} watching pages: {:.2} % of a core", 100.0 * watched);
    println!(
        "{} looks; half had the rest within {:.0} ms of sending its frame, all within {:.0} ms",
        late_ms.len(),
        late(0.5),
        late(1.0)
    );
    drop(service.stdin.take());
    service.wait()?;
    Ok(std::fs::remove_dir_all(&data)?)
}
