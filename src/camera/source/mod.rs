//! Where frames come from without being posted: a folder of pictures, a film, a webcam, a network
//! camera, or a sender that pushes them. The demo comes from `staged`.
//!
//! Two natures: *chosen* pictures (a folder), each of which somebody meant to be looked at, and a
//! *stream* (film, webcam, network, pushed, demo) that is watched and shows whatever happens. A stream
//! is opened anew after each loss by whoever watches it. A source hands frames out and looks at
//! none. Knows nothing of tables, of reading or of storage, and keeps no thread.

mod capture;
mod folder;
mod http;
mod multipart;
mod thinning;

pub use capture::{Film, NetworkCamera, Webcam};
pub use folder::Folder;
pub use http::HttpCamera;
pub use multipart::{MultipartError, Part, Parts};
pub use thinning::Thinning;

use image::RgbImage;
use std::{
    fmt,
    path::{Path, PathBuf},
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};
use thiserror::Error;

/// One frame as its source has it.
#[derive(Debug, Clone)]
pub enum SourceFrame {
    /// A whole picture file.
    File(Vec<u8>),
    /// A picture out of a film or stream, already decoded.
    Decoded(RgbImage),
}

/// Why a source gave no frame.
#[derive(Debug, Error)]
pub enum SourceError {
    #[error(
        "'{text}' is no camera: give demo, pushed, a folder of pictures, a video file, a webcam's number or path (0, /dev/video0), or an address (rtsp://…, http://… for MJPEG, https://…)"
    )]
    Unknown { text: String },
    #[error("'{text}' is no address of a camera: {why}. Write it as in {example}")]
    Address { text: String, why: String, example: &'static str },
    #[error("cannot read {path}: {source}")]
    Unreadable { path: PathBuf, source: std::io::Error },
    #[error("there is no JPEG, PNG or WebP picture in the folder {path}")]
    EmptyFolder { path: PathBuf },
    #[error("{path} is no video that can be read: {why}. MP4 with H.264 is read everywhere")]
    NoVideo { path: PathBuf, why: String },
    #[error("{camera} cannot be opened: {why}. Check that it is on, plugged in and free")]
    NotThere { camera: String, why: String },
    #[error("{camera} does not answer as an MJPEG camera: {why}")]
    BadAnswer { camera: String, why: String },
    #[error("{camera} broke off: {why}")]
    BrokeOff { camera: String, why: String },
    #[error("{camera} sent nothing for {seconds:.1} s")]
    Silent { camera: String, seconds: f64 },
    #[error("a frame of {camera} could not be decoded: {why}")]
    Undecodable { camera: String, why: String },
    #[error("the program is stopping")]
    Stopped,
}

/// Tells those who wait for a camera that nobody wants its frames any more. Cheap to clone.
#[derive(Debug, Clone, Default)]
pub struct StopSign(Arc<AtomicBool>);

impl StopSign {
    /// Says so, for good.
    pub fn raise(&self) {
        self.0.store(true, Ordering::Release);
    }

    /// Whether it was said.
    pub fn is_raised(&self) -> bool {
        self.0.load(Ordering::Acquire)
    }
}

/// How long a source may take, and how it hears that it is to stop.
#[derive(Debug, Clone)]
pub struct Terms {
    /// From the beginning to an open stream.
    pub open_within: Duration,
    /// From one frame to the next.
    pub read_within: Duration,
    pub stop: StopSign,
}

/// What kind of stream it is, as far as its frames' times and likeness go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nature {
    /// A film: comes to an end, has times of its own, and may well stand still.
    Film,
    /// Live, each frame encoded by itself: two frames of a working camera always differ in noise.
    LiveStills,
    /// Live, frames encoded by their differences: what does not move may repeat for seconds.
    LiveCoded,
}

/// A frame that a stream has moved on to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grabbed {
    /// Its own time from the stream's beginning, where it has one; never runs backwards.
    pub at: Option<Duration>,
}

/// An open stream. Used on one thread.
pub trait Stream {
    /// Waits for the next frame, paying as little for it as can be; none at the end of a film.
    ///
    /// # Errors
    /// Where the stream is lost and has to be opened anew.
    fn grab(&mut self) -> Result<Option<Grabbed>, SourceError>;

    /// Hands out the frame that was grabbed last.
    ///
    /// # Errors
    /// Where this frame cannot be decoded; the next one may.
    fn retrieve(&mut self) -> Result<SourceFrame, SourceError>;
}

/// A stream that can be opened, as often as need be.
pub trait OpenStream: fmt::Debug + Send + Sync {
    /// What it is, in a word: `video`, `webcam`, `mjpeg`, `network`.
    fn kind(&self) -> &'static str;

    fn nature(&self) -> Nature;

    /// Opens it; may take up to the terms' time, and a little more where a library does not keep
    /// to it.
    ///
    /// # Errors
    /// Where it cannot be opened now; it may be later.
    fn open(&self, terms: &Terms) -> Result<Box<dyn Stream>, SourceError>;
}

/// A source of frames.
#[derive(Debug)]
pub enum FrameSource {
    /// Pictures that somebody chose, each to be looked at.
    Chosen(Folder),
    Stream(Arc<dyn OpenStream>),
    /// Frames come in from a sender, over the service's WebSocket.
    Pushed,
}

impl FrameSource {
    /// The source that a user names. What cannot be there later either is refused: a path that is
    /// none, a folder without pictures, a file that is no film. A camera that is not there yet is
    /// not: it is opened later, and tried again.
    ///
    /// # Errors
    /// Where there is no such source, or nothing in it.
    pub fn open(text: &str) -> Result<Self, SourceError> {
        if text == "pushed" {
            return Ok(Self::Pushed);
        }
        if let Some(camera) = NetworkCamera::named(text)? {
            return Ok(Self::Stream(Arc::new(camera)));
        }
        if let Some(camera) = HttpCamera::named(text)? {
            return Ok(Self::Stream(Arc::new(camera)));
        }
        let path = Path::new(text);
        if path.is_dir() {
            Ok(Self::Chosen(Folder::open(path)?))
        } else if let Some(webcam) = Webcam::named(text) {
            Ok(Self::Stream(Arc::new(webcam)))
        } else if path.is_file() {
            Ok(Self::Stream(Arc::new(Film::at(path)?)))
        } else {
            Err(SourceError::Unknown { text: text.into() })
        }
    }

    /// What the source is, in a word.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Chosen(_) => "folder",
            Self::Stream(stream) => stream.kind(),
            Self::Pushed => "pushed",
        }
    }
}
