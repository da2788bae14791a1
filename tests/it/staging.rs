//! A service for tests: on a port of its own, over a folder of its own, with a scripted reader.
//!
//! The scripted reader obeys the frame: the first pixel's red says what to do, its green how many
//! balls there are. So a test says with its picture what is to happen, and needs no table.

use image::{ImageEncoder, Rgb, RgbImage, codecs::png::PngEncoder};
use std::{
    net::SocketAddr,
    path::{Path, PathBuf},
    sync::{
        Arc,
        atomic::{AtomicU32, Ordering},
    },
    thread::JoinHandle,
    time::{Duration, Instant},
};
use stillcloth::{
    advice::Player,
    camera::source::FrameSource,
    layout::{Ball, BallKind, Layout},
    record::Retention,
    service::{
        AccessSettings, CameraName, FrameReader, Limits, Patience, ReaderError, ReaderFactory,
        Server, Settings, Watching, webhooks::Listener,
    },
    table::{FootEnd, TableSize},
    vision::{CalibrateError, Look, Reading, TableState},
};
use tokio::sync::oneshot;

/// What a frame tells the scripted reader to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Script {
    Read = 0,
    FindNoTable = 1,
    Panic = 2,
    TakeLong = 3,
    SeeAPlayer = 4,
}

/// The time a frame takes that is told to take long.
pub const LONG: Duration = Duration::from_millis(400);

/// A frame with a script in it, of so many balls; `salt` makes frames differ.
pub fn scripted(script: Script, balls: u8, salt: u8) -> RgbImage {
    let mut frame = RgbImage::from_pixel(8, 6, Rgb([9, 9, salt]));
    frame.put_pixel(0, 0, Rgb([script as u8, balls, salt]));
    frame
}

/// The same as a PNG file.
pub fn png(script: Script, balls: u8, salt: u8) -> Vec<u8> {
    let frame = scripted(script, balls, salt);
    let mut bytes = Vec::new();
    PngEncoder::new(&mut bytes)
        .write_image(&frame, frame.width(), frame.height(), image::ExtendedColorType::Rgb8)
        .unwrap();
    bytes
}

/// A layout of so many balls, the first of them the cue ball.
pub fn layout(balls: u8) -> Layout {
    let ball = |number: u8| Ball {
        kind: if number == 0 { BallKind::Cue } else { BallKind::Object },
        number: Some(number),
        x: 0.4 + 0.45 * f64::from(number),
        y: 1.0 + 0.1 * f64::from(number),
        sigma_mm: 0.4,
        confidence: 0.98,
        number_confidence: 0.9,
    };
    Layout::of(TableSize::NINE_FOOT, FootEnd::Given, (0..balls).map(ball).collect())
}

/// Reads what [`scripted`] wrote; of a stream, a layout that two frames show is a rest.
#[derive(Default)]
struct ScriptedReader {
    before: Option<Layout>,
    rest: Option<Layout>,
}

impl FrameReader for ScriptedReader {
    fn read(&mut self, frame: &RgbImage) -> Result<Reading, ReaderError> {
        let [script, balls, _] = frame.get_pixel(0, 0).0;
        let mut layout = layout(balls);
        match script {
            1 => {
                let missing = "no cloth in view".into();
                return Err(CalibrateError::NoTable { missing }.into());
            }
            2 => panic!("the scripted reader was told to fall over"),
            3 => std::thread::sleep(LONG),
            4 => layout.obstructed = true,
            _ => {}
        }
        Ok(Reading { layout, rejected: Vec::new() })
    }

    fn watch(&mut self, frame: &RgbImage, _: Duration) -> Result<Look, ReaderError> {
        let reading = self.read(frame)?;
        let now = Some(reading.layout.clone());
        let stands = self.before == now && !reading.layout.obstructed;
        let new = stands && self.rest != now;
        let state = match reading.layout.obstructed {
            true => TableState::Obstructed,
            false if stands => TableState::Resting,
            false => TableState::Settling,
        };
        self.before.clone_from(&now);
        if new {
            self.rest = now;
        }
        Ok(Look { rest: new.then_some(reading), ..Look::of(state) })
    }
}

pub fn scripted_readers() -> ReaderFactory {
    Arc::new(|_| Box::new(ScriptedReader::default()))
}

/// A folder under target/ that is empty now and gone afterwards.
pub struct Folder(pub PathBuf);

impl Folder {
    pub fn new(name: &str) -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let name = format!("{name}-{}-{count}", std::process::id());
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// What a test wants of its service.
#[derive(Default)]
pub struct Wish {
    pub access: AccessSettings,
    pub limits: Limits,
    pub camera: Option<(CameraName, FrameSource)>,
    pub more_cameras: Vec<(CameraName, FrameSource)>,
    pub watching: Watching,
    pub listeners: Vec<Listener>,
    /// Where to listen; a port that is free where it is not given.
    pub listen: Option<SocketAddr>,
    pub advice: Option<Player>,
}

/// Time-outs short enough to be waited for.
pub fn impatient() -> Watching {
    let ms = Duration::from_millis;
    let patience = Patience {
        open: ms(400),
        least_stale: ms(150),
        least_lost: ms(400),
        frozen: ms(1000),
        first_pause: ms(10),
        longest_pause: ms(60),
        settled: ms(300),
        letting_go: ms(100),
        ..Patience::default()
    };
    Watching { patience, ..Watching::default() }
}

/// A running service; stops when dropped.
pub struct Service {
    pub address: SocketAddr,
    /// The texts of secrets that were made for listeners without one.
    pub new_secrets: Vec<String>,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Service {
    pub fn plain(data: &Path) -> Self {
        Self::start(data, Wish::default(), scripted_readers())
    }

    pub fn start(data: &Path, wish: Wish, readers: ReaderFactory) -> Self {
        let settings = Settings {
            advice: wish.advice,
            data: data.into(),
            retention: Retention::default(),
            listen: wish.listen.unwrap_or_else(|| "127.0.0.1:0".parse().unwrap()),
            access: wish.access,
            limits: wish.limits,
            cameras: wish.camera.into_iter().chain(wish.more_cameras).collect(),
            watching: wish.watching,
            listeners: wish.listeners,
        };
        let (stop, stopped) = oneshot::channel::<()>();
        let (tell, told) = std::sync::mpsc::channel();
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_multi_thread()
                .worker_threads(2)
                .enable_all()
                .build()
                .unwrap();
            runtime.block_on(async {
                let server = Server::start(settings, readers).await.expect("the service starts");
                let secrets = server.new_secrets().iter().map(|new| new.secret.reveal()).collect();
                tell.send((server.address(), secrets)).unwrap();
                server
                    .run(async {
                        let _ = stopped.await;
                    })
                    .await;
            });
        });
        let (address, new_secrets) = told.recv().expect("the service tells its address");
        Self { address, new_secrets, stop: Some(stop), thread: Some(thread) }
    }

    /// Stops in peace, and waits for it.
    pub fn stop(mut self) {
        self.end();
    }

    fn end(&mut self) {
        if let Some(stop) = self.stop.take() {
            let _ = stop.send(());
        }
        if let Some(thread) = self.thread.take() {
            let ended = thread.join();
            assert!(ended.is_ok() || std::thread::panicking(), "the service fell over");
        }
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        self.end();
    }
}

/// Waits until something holds; fails when it does not within `patience`.
pub fn until(what: &str, patience: Duration, mut holds: impl FnMut() -> bool) {
    let end = Instant::now() + patience;
    while !holds() {
        assert!(Instant::now() < end, "waited {patience:?} in vain until {what}");
        std::thread::sleep(Duration::from_millis(15));
    }
}
