//! Streams with all that befalls them, from made-up sources: not there, gone, hanging, frozen,
//! damaged, slow, and a clock that jumps.

use crate::{
    client::get,
    staging::{Folder, Script, Service, Wish, impatient, scripted, scripted_readers, until},
};
use image::{RgbImage, imageops};
use serde_json::Value;
use std::{
    collections::VecDeque,
    fmt,
    net::SocketAddr,
    path::Path,
    sync::{
        Arc,
        atomic::{AtomicBool, AtomicI64, AtomicU32, AtomicU64, Ordering},
    },
    time::{Duration, Instant},
};
use stillcloth::{
    camera::source::{
        FrameSource, Grabbed, Nature, OpenStream, SourceError, SourceFrame, Stream, Terms,
    },
    service::Watching,
};

/// What a made-up source does next.
#[derive(Debug, Clone, Copy)]
enum Step {
    /// So many frames of so many balls, each with noise of its own.
    Show(u32, u8),
    /// The same frame over and over, so many times.
    Freeze(u32, u8),
    /// So many frames that cannot be decoded.
    Damage(u32),
    /// Nothing comes for so many milliseconds.
    Silence(u64),
    /// Waits in a library until the test is over, whatever anyone says.
    Hang,
    /// The stream is lost.
    Break,
}

/// From frame to frame on the source's own clock, and really.
const GAP: Duration = Duration::from_millis(100);
const REAL_GAP: Duration = Duration::from_millis(8);

/// A source that follows a script: for each attempt what happens, or none where it is not there.
struct MadeUp {
    script: Box<dyn Fn(u32) -> Option<Vec<Step>> + Send + Sync>,
    gap: Duration,
    opened: AtomicU32,
    shown: Arc<AtomicU32>,
    retrieved: Arc<AtomicU32>,
    clock_ms: Arc<AtomicU64>,
    over: Arc<AtomicBool>,
}

impl fmt::Debug for MadeUp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("MadeUp")
    }
}

impl MadeUp {
    fn new(script: impl Fn(u32) -> Option<Vec<Step>> + Send + Sync + 'static) -> Arc<Self> {
        Self::paced(GAP, script)
    }

    fn paced(
        gap: Duration,
        script: impl Fn(u32) -> Option<Vec<Step>> + Send + Sync + 'static,
    ) -> Arc<Self> {
        Arc::new(Self {
            script: Box::new(script),
            gap,
            opened: AtomicU32::new(0),
            shown: Arc::default(),
            retrieved: Arc::default(),
            clock_ms: Arc::default(),
            over: Arc::default(),
        })
    }
}

impl OpenStream for MadeUp {
    fn kind(&self) -> &'static str {
        "webcam"
    }

    fn nature(&self) -> Nature {
        Nature::LiveStills
    }

    fn open(&self, _: &Terms) -> Result<Box<dyn Stream>, SourceError> {
        let attempt = self.opened.fetch_add(1, Ordering::Relaxed);
        let steps = (self.script)(attempt).ok_or_else(|| SourceError::NotThere {
            camera: "the made-up camera".into(),
            why: "it is not plugged in".into(),
        })?;
        Ok(Box::new(MadeUpStream {
            steps: steps.into(),
            gap: self.gap,
            frame: None,
            shown: Arc::clone(&self.shown),
            retrieved: Arc::clone(&self.retrieved),
            clock_ms: Arc::clone(&self.clock_ms),
            over: Arc::clone(&self.over),
        }))
    }
}

struct MadeUpStream {
    steps: VecDeque<Step>,
    gap: Duration,
    frame: Option<RgbImage>,
    shown: Arc<AtomicU32>,
    retrieved: Arc<AtomicU32>,
    clock_ms: Arc<AtomicU64>,
    over: Arc<AtomicBool>,
}

/// A frame large enough to have noise in it, with the script in its first pixel.
fn noisy(balls: u8, seed: u32) -> RgbImage {
    let small = scripted(Script::Read, balls, 0);
    let mut frame = imageops::resize(&small, 80, 60, imageops::FilterType::Nearest);
    for (at, pixel) in frame.pixels_mut().enumerate().skip(1) {
        let noise = (at as u32 ^ seed).wrapping_mul(2_654_435_761) >> 28;
        pixel.0 = [90 + noise as u8; 3];
    }
    frame.put_pixel(0, 0, *small.get_pixel(0, 0));
    frame
}

impl Stream for MadeUpStream {
    fn grab(&mut self) -> Result<Option<Grabbed>, SourceError> {
        let broke_off = || SourceError::BrokeOff {
            camera: "the made-up camera".into(),
            why: "somebody pulled the plug".into(),
        };
        let seed = self.shown.load(Ordering::Relaxed);
        let (frame, again) = match self.steps.pop_front() {
            None | Some(Step::Break) => return Err(broke_off()),
            Some(Step::Hang) => {
                while !self.over.load(Ordering::Relaxed) {
                    std::thread::sleep(Duration::from_millis(20));
                }
                return Err(broke_off());
            }
            Some(Step::Silence(ms)) => {
                std::thread::sleep(Duration::from_millis(ms));
                return self.grab();
            }
            Some(Step::Show(0, _) | Step::Freeze(0, _) | Step::Damage(0)) => return self.grab(),
            Some(Step::Show(left, balls)) => {
                (Some(noisy(balls, seed)), Step::Show(left - 1, balls))
            }
            Some(Step::Freeze(left, balls)) => {
                (Some(noisy(balls, 0)), Step::Freeze(left - 1, balls))
            }
            Some(Step::Damage(left)) => (None, Step::Damage(left - 1)),
        };
        std::thread::sleep(REAL_GAP);
        self.steps.push_front(again);
        self.frame = frame;
        self.shown.fetch_add(1, Ordering::Relaxed);
        let gap_ms = self.gap.as_millis() as u64;
        let at_ms = self.clock_ms.fetch_add(gap_ms, Ordering::Relaxed);
        Ok(Some(Grabbed { at: Some(Duration::from_millis(at_ms)) }))
    }

    fn retrieve(&mut self) -> Result<SourceFrame, SourceError> {
        self.retrieved.fetch_add(1, Ordering::Relaxed);
        match self.frame.take() {
            Some(frame) => Ok(SourceFrame::Decoded(frame)),
            None => Err(SourceError::Undecodable {
                camera: "the made-up camera".into(),
                why: "it is damaged".into(),
            }),
        }
    }
}

fn watch(data: &Path, sources: &[(&str, &Arc<MadeUp>)], watching: Watching) -> Service {
    let more_cameras = sources
        .iter()
        .map(|(name, source)| {
            let source: Arc<dyn OpenStream> = Arc::<MadeUp>::clone(source);
            (name.parse().unwrap(), FrameSource::Stream(source))
        })
        .collect();
    Service::start(data, Wish { more_cameras, watching, ..Wish::default() }, scripted_readers())
}

fn camera(at: SocketAddr, name: &str) -> Value {
    let cameras = get(at, "/api/cameras").json();
    cameras.as_array().unwrap().iter().find(|camera| camera["name"] == name).unwrap().clone()
}

fn waits_for(at: SocketAddr, name: &str, health: &str) -> Value {
    let mut last = Value::Null;
    until(&format!("camera {name} is {health}"), Duration::from_secs(20), || {
        last = camera(at, name);
        last["health"] == health
    });
    last
}

fn ball_counts(at: SocketAddr) -> Vec<usize> {
    let list = get(at, "/api/layouts").json();
    let balls = |rest: &Value| rest["layout"]["balls"].as_array().unwrap().len();
    list["layouts"].as_array().unwrap().iter().map(balls).collect()
}

#[test]
fn a_camera_that_is_not_there_at_the_start_is_said_and_tried_until_it_is() {
    let folder = Folder::new("absent");
    let plugged_in = Arc::new(AtomicBool::new(false));
    let there = Arc::clone(&plugged_in);
    let source =
        MadeUp::new(move |_| there.load(Ordering::Relaxed).then(|| vec![Step::Show(10_000, 5)]));
    let service = watch(&folder.0, &[("table", &source)], impatient());
    let lost = waits_for(service.address, "table", "lost");
    assert!(lost["words"].as_str().unwrap().contains("not plugged in"), "{lost}");
    assert_eq!(lost["state"], "waiting");
    assert_eq!(lost["last_frame_age_ms"], Value::Null);
    until("it was tried a few times", Duration::from_secs(10), || {
        source.opened.load(Ordering::Relaxed) >= 4
    });
    plugged_in.store(true, Ordering::Relaxed);
    let live = waits_for(service.address, "table", "live");
    assert!(live["reconnects"].as_u64().unwrap() >= 4, "{live}");
    until("its rest is kept", Duration::from_secs(10), || ball_counts(service.address) == [5]);
    assert_eq!(camera(service.address, "table")["state"], "reading");
}

#[test]
fn what_hangs_holds_up_neither_another_camera_nor_the_end_and_is_not_opened_without_bound() {
    let folder = Folder::new("hangs");
    let hanging = MadeUp::new(|_| Some(vec![Step::Hang]));
    let other = MadeUp::new(|_| Some(vec![Step::Show(10_000, 3)]));
    let service = watch(&folder.0, &[("hangs", &hanging), ("goes", &other)], impatient());
    waits_for(service.address, "goes", "live");
    let lost = waits_for(service.address, "hangs", "lost");
    assert!(lost["words"].as_str().unwrap().contains("no frame came"), "{lost}");
    until("it is said that tries hang", Duration::from_secs(20), || {
        let words = camera(service.address, "hangs")["words"].to_string();
        words.contains("earlier tries still hang")
    });
    assert_eq!(hanging.opened.load(Ordering::Relaxed), 3);
    assert_eq!(camera(service.address, "goes")["health"], "live");
    assert_eq!(ball_counts(service.address), [3]);
    let begun = Instant::now();
    service.stop();
    assert!(begun.elapsed() < Duration::from_secs(5), "{:?}", begun.elapsed());
    hanging.over.store(true, Ordering::Relaxed);
}

#[test]
fn the_attempt_goes_on_after_a_loss() {
    let folder = Folder::new("loss");
    let source = MadeUp::new(|attempt| match attempt {
        0 => Some(vec![Step::Show(30, 5), Step::Break]),
        1 | 2 => None,
        3 => Some(vec![Step::Show(30, 5), Step::Break]),
        _ => Some(vec![Step::Show(10_000, 4)]),
    });
    let service = watch(&folder.0, &[("table", &source)], impatient());
    until("the next rest is kept", Duration::from_secs(20), || {
        ball_counts(service.address).len() > 1
    });
    assert_eq!(ball_counts(service.address), [5, 4], "what lay there before and after is one rest");
    assert!(camera(service.address, "table")["reconnects"].as_u64().unwrap() >= 4);
}

#[test]
fn silence_is_stale_and_not_told_as_if_it_were_now_then_lost_then_live_again() {
    let folder = Folder::new("silence");
    let source = MadeUp::new(|attempt| match attempt {
        0 => Some(vec![Step::Show(40, 5), Step::Silence(10_000)]),
        _ => Some(vec![Step::Show(10_000, 5)]),
    });
    let service = watch(&folder.0, &[("table", &source)], impatient());
    until("it is read", Duration::from_secs(10), || {
        camera(service.address, "table")["state"] == "reading"
    });
    let stale = waits_for(service.address, "table", "stale");
    assert_eq!(stale["state"], "waiting", "{stale}");
    assert!(stale["words"].as_str().unwrap().contains("may no longer be so"), "{stale}");
    assert!(stale["last_frame_age_ms"].as_u64().unwrap() >= 150, "{stale}");
    let lost = waits_for(service.address, "table", "lost");
    assert!(lost["words"].as_str().unwrap().contains("no new frame came in time"), "{lost}");
    assert!(stale["health_since"].as_str() < lost["health_since"].as_str());
    waits_for(service.address, "table", "live");
}

#[test]
fn the_same_picture_over_and_over_is_frozen_until_another_comes() {
    let folder = Folder::new("frozen");
    let source = MadeUp::new(|attempt| {
        let first = if attempt == 0 { Step::Show(20, 5) } else { Step::Freeze(1, 5) };
        // Frozen again after it was opened anew, as a camera is that hangs itself.
        let then = if attempt < 2 { Step::Freeze(10_000, 5) } else { Step::Show(10_000, 4) };
        Some(vec![first, then])
    });
    let service = watch(&folder.0, &[("table", &source)], impatient());
    let stale = waits_for(service.address, "table", "stale");
    assert!(stale["words"].as_str().unwrap().contains("frozen"), "{stale}");
    until("it was opened anew and is live", Duration::from_secs(20), || {
        let now = camera(service.address, "table");
        now["health"] == "live" && now["reconnects"] == 2
    });
    until("what came then is kept", Duration::from_secs(10), || {
        ball_counts(service.address) == [5, 4]
    });
}

#[test]
fn damaged_frames_are_counted_and_survived_and_nothing_but_them_is_no_life() {
    let folder = Folder::new("damage");
    let source = MadeUp::new(|_| {
        let some = [Step::Damage(3), Step::Show(10, 5)];
        Some(some.into_iter().cycle().take(12).chain([Step::Damage(10_000)]).collect())
    });
    let service = watch(&folder.0, &[("table", &source)], impatient());
    until("a rest is kept between damaged frames", Duration::from_secs(10), || {
        ball_counts(service.address) == [5]
    });
    until("they are counted", Duration::from_secs(10), || {
        camera(service.address, "table")["undecodable"].as_u64().unwrap() >= 18
    });
    let mut seen = Vec::new();
    until("it was stale and lost", Duration::from_secs(10), || {
        let now = camera(service.address, "table");
        if now["words"].as_str().unwrap().contains("cannot be decoded") {
            seen.push(now["health"].clone());
        }
        seen.iter().any(|health| health == "lost" || health == "stale")
    });
}

/// What the wall clock is off by, for the test of clock jumps.
static CLOCK_OFF_S: AtomicI64 = AtomicI64::new(0);

#[test]
fn a_wall_clock_that_jumps_changes_neither_health_nor_rests() {
    fn jumpy() -> jiff::Timestamp {
        let off = jiff::SignedDuration::from_secs(CLOCK_OFF_S.load(Ordering::Relaxed));
        jiff::Timestamp::now() + off
    }
    let folder = Folder::new("clock");
    let source = MadeUp::new(|_| Some(vec![Step::Show(100, 5), Step::Show(100_000, 4)]));
    let watching = Watching { utc: jumpy, ..impatient() };
    let service = watch(&folder.0, &[("table", &source)], watching);
    waits_for(service.address, "table", "live");
    for off_s in [-86_400, 864_000, 0, -30] {
        CLOCK_OFF_S.store(off_s, Ordering::Relaxed);
        let before = camera(service.address, "table")["frames"].as_u64().unwrap();
        until("frames came by the new clock", Duration::from_secs(10), || {
            camera(service.address, "table")["frames"].as_u64().unwrap() > before + 5
        });
        let now = camera(service.address, "table");
        assert!(now["last_frame_age_ms"].as_u64().unwrap() < 5000, "{now}");
        assert_eq!(now["reconnects"], 0, "{now}");
    }
    until("both rests are kept", Duration::from_secs(10), || {
        ball_counts(service.address) == [5, 4]
    });
}

#[test]
fn a_fast_source_is_looked_at_ten_times_a_second_and_the_rest_is_never_converted() {
    let folder = Folder::new("fast");
    let source = MadeUp::paced(Duration::from_millis(20), |_| {
        Some(vec![Step::Show(250, 5), Step::Silence(10_000)])
    });
    let service = watch(&folder.0, &[("table", &source)], impatient());
    until("all have come", Duration::from_secs(20), || source.shown.load(Ordering::Relaxed) >= 250);
    let retrieved = source.retrieved.load(Ordering::Relaxed);
    assert!((45..=51).contains(&retrieved), "{retrieved} of 250 in 5 s");
    assert_eq!(camera(service.address, "table")["frames"], 250);
}
