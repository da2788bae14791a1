//! A camera that this program feeds itself: takes frames from a source at the source's pace and
//! keeps each new rest.
//!
//! A film shows balls rolling and players leaning over the table, so of a film only those layouts
//! count that are unobstructed, stand in two looks one after the other, and differ from the rest
//! before. In a folder and in the demo each picture was chosen, and each is kept.

use super::{
    CameraName, CameraState, Cameras, FrameError, pipeline::Pipeline, status::now,
    still::same_places,
};
use crate::{
    camera::{
        picture::{PictureError, PictureFormat},
        source::{FrameSource, SourceFrame},
    },
    layout::Layout,
    vision::Reading,
};
use image::{RgbImage, codecs::jpeg::JpegEncoder};
use jiff::Timestamp;
use std::{
    sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel},
    thread::JoinHandle,
    time::{Duration, Instant},
};

/// Quality at which frames of a film are kept.
const JPEG_QUALITY: u8 = 92;

/// A rest of a film or folder is stale after this; players take their time.
const STALE_AFTER_S: u64 = 300;

/// The demo's rests follow each other closely.
const DEMO_STALE_AFTER_S: u64 = 30;

/// A running live camera; stops when told to or dropped.
pub struct LiveCamera {
    stop: Sender<()>,
    thread: JoinHandle<()>,
}

impl LiveCamera {
    /// Starts taking frames.
    ///
    /// # Errors
    /// Where the system gives no thread.
    pub fn start(
        name: &CameraName,
        source: FrameSource,
        cameras: &Cameras,
    ) -> std::io::Result<Self> {
        let stale_after_s = match source {
            FrameSource::Demo(_) => DEMO_STALE_AFTER_S,
            FrameSource::Folder(_) | FrameSource::Video(_) => STALE_AFTER_S,
        };
        let pipeline = cameras.own(name, source.kind(), stale_after_s);
        let (stop, stopped) = channel();
        let thread = std::thread::Builder::new()
            .name(format!("camera {name}"))
            .spawn(move || Watch { pipeline, source, before: None, kept: None }.run(&stopped))?;
        Ok(Self { stop, thread })
    }

    /// Stops and waits until the frame in hand is done.
    pub fn stop(self) {
        drop(self.stop);
        if self.thread.join().is_err() {
            tracing::error!("a camera's thread had ended in a panic");
        }
    }
}

/// The state of a live camera's thread.
struct Watch {
    pipeline: Pipeline,
    source: FrameSource,
    /// The layout of the look before.
    before: Option<Layout>,
    /// The layout that was kept last.
    kept: Option<Layout>,
}

impl Watch {
    fn run(mut self, stopped: &Receiver<()>) {
        let mut next = Instant::now();
        loop {
            let wait = next.saturating_duration_since(Instant::now());
            match stopped.recv_timeout(wait) {
                Err(RecvTimeoutError::Timeout) => {}
                Ok(()) | Err(RecvTimeoutError::Disconnected) => return,
            }
            // A film goes on while one of its frames is read; missed looks are not made up for.
            next = (next + self.source.pace()).max(Instant::now());
            match self.source.next_frame() {
                Ok(Some(frame)) => {
                    if let Err(error) = self.take(frame) {
                        self.pipeline.note_error(&error);
                    }
                }
                Ok(None) => {
                    let words = format!("The {} has come to its end.", self.source.kind());
                    self.note(CameraState::Ended, &words);
                    return;
                }
                Err(error) => {
                    tracing::warn!(camera = %self.pipeline.camera, "no frame: {error}");
                    self.note(CameraState::Failed, &format!("No frame: {error}."));
                    next += Duration::from_secs(1);
                }
            }
        }
    }

    fn note(&self, state: CameraState, words: &str) {
        self.pipeline.board.note(&self.pipeline.camera, state, words);
    }

    fn take(&mut self, frame: SourceFrame) -> Result<(), FrameError> {
        let at = now();
        match frame {
            SourceFrame::File(bytes) => {
                self.pipeline.take(bytes, at)?;
            }
            SourceFrame::Decoded(picture) => {
                self.pipeline.board.note_frame(&self.pipeline.camera, at);
                let reading = self.pipeline.look(&picture)?;
                if self.is_a_new_rest(&reading.layout) {
                    self.keep(reading, &picture, at)?;
                }
            }
        }
        Ok(())
    }

    /// Whether a look's layout is a rest that has not been kept yet.
    fn is_a_new_rest(&mut self, layout: &Layout) -> bool {
        let before = self.before.replace(layout.clone());
        let stands = before.is_some_and(|before| same_places(&before, layout));
        let known = self.kept.as_ref().is_some_and(|kept| same_places(kept, layout));
        stands && !known && !layout.obstructed
    }

    fn keep(
        &mut self,
        reading: Reading,
        picture: &RgbImage,
        at: Timestamp,
    ) -> Result<(), FrameError> {
        let mut bytes = Vec::new();
        let encoder = JpegEncoder::new_with_quality(&mut bytes, JPEG_QUALITY);
        picture.write_with_encoder(encoder).map_err(|error| PictureError::Corrupt {
            format: PictureFormat::Jpeg.name(),
            why: error.to_string(),
        })?;
        let rest = self.pipeline.keep(reading, bytes, PictureFormat::Jpeg, at)?;
        self.kept = Some(rest.layout);
        Ok(())
    }
}
