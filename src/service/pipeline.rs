//! From one frame's bytes to a kept rest: decode, read, keep. Runs on a camera's own thread.

use super::{
    CameraName, CameraState, FrameReader, Metrics, ReaderError, StatusBoard, cloth::Cloths,
    sight::Sight, status::now, turns::Turns, unkept::Unkept, unseen::Unseen, vitals::Part,
};
use crate::{
    camera::picture::{self, PictureError, PictureFormat},
    layout::Layout,
    record::{Kept, NewRest, Record, RecordError, Rest},
    vision::{Passed, Reading, TableState},
};
use image::RgbImage;
use jiff::Timestamp;
use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    sync::Arc,
    time::{Duration, Instant},
};
use thiserror::Error;

/// Why a frame did not become a rest.
#[derive(Debug, Error)]
pub enum FrameError {
    #[error(transparent)]
    Picture(#[from] PictureError),
    #[error(transparent)]
    Reader(#[from] ReaderError),
    #[error(transparent)]
    Record(#[from] RecordError),
    #[error("reading the frame failed inside the program")]
    Panicked,
    #[error(
        "camera {camera} has more frames waiting than it can read: send the next one a little later"
    )]
    Busy { camera: CameraName },
    #[error(
        "{count} cameras are busy, and no more are taken on: use the name of one that is there, or wait"
    )]
    TooManyCameras { count: usize },
    #[error("camera {camera} gets its frames in another way: send yours under another name")]
    NotYours { camera: CameraName },
    #[error(
        "another device sends the pictures of camera {camera}: give this one another name, or stop \
         the other"
    )]
    Fed { camera: CameraName },
    #[error("the service is stopping")]
    Stopping,
}

/// What a camera does as long as nothing is in its way.
const SEES_ALL: &str = "Sees the whole table.";

/// One camera's way from frames to the record.
pub(super) struct Pipeline {
    pub(super) camera: CameraName,
    pub(super) reader: Box<dyn FrameReader>,
    pub(super) record: Record,
    pub(super) board: StatusBoard,
    pub(super) turns: Turns,
    pub(super) metrics: Metrics,
    pub(super) unseen: Unseen,
    pub(super) unkept: Unkept,
    pub(super) sight: Sight,
    pub(super) cloths: Cloths,
    /// The beginning of the camera's monotonic time, for frames that come singly.
    pub(super) epoch: Instant,
    /// Its thread lives as long as it has this.
    pub(super) _part: Part,
}

impl Pipeline {
    /// Decodes, reads and keeps a frame that was sent.
    pub(super) fn take(&mut self, bytes: Vec<u8>, at: Timestamp) -> Result<Rest, FrameError> {
        self.board.note_frame(&self.camera, at);
        let begun = Instant::now();
        let monotonic = self.epoch.elapsed();
        let result = self.decode_and_look(&bytes).and_then(|(reading, format)| {
            let read = begun.elapsed();
            self.unseen.seen(monotonic);
            let new = self.new_rest(reading, bytes, format, at);
            let kept = self.unkept.keep_or_lose(new, |new| self.record.append(new))?;
            self.note_kept(&kept);
            let rest = kept.rest;
            let kept = begun.elapsed().saturating_sub(read);
            tracing::debug!(camera = %self.camera, id = rest.id, ?read, ?kept, "a rest");
            Ok(rest)
        });
        if let Err(error) = &result {
            self.note_error(error);
        }
        result
    }

    fn decode_and_look(&mut self, bytes: &[u8]) -> Result<(Reading, PictureFormat), FrameError> {
        let turns = self.turns.clone();
        let _turn = turns.take();
        let (frame, format) = decode_in_turn(bytes)?;
        let frame = Arc::new(frame);
        self.sight.show(&frame);
        Ok((self.look_in_turn(&frame)?, format))
    }

    /// Decodes a frame without reading it.
    pub(super) fn decode(&self, bytes: &[u8]) -> Result<(RgbImage, PictureFormat), FrameError> {
        let _turn = self.turns.take();
        decode_in_turn(bytes)
    }

    /// Reads a frame that is decoded already.
    pub(super) fn look(&mut self, frame: &RgbImage) -> Result<Reading, FrameError> {
        let turns = self.turns.clone();
        let _turn = turns.take();
        self.look_in_turn(frame)
    }

    fn look_in_turn(&mut self, frame: &RgbImage) -> Result<Reading, FrameError> {
        let sight = self.sight.clone();
        let _looking = sight.look(&mut *self.reader);
        let reader = &mut self.reader;
        let reading = guarded(|| Ok(reader.read(frame)?))?;
        let (state, words) = if reading.layout.obstructed {
            (CameraState::Obstructed, TableState::Obstructed.words())
        } else {
            (CameraState::Reading, SEES_ALL)
        };
        self.board.note(&self.camera, state, words);
        Ok(reading)
    }

    /// Looks at the next frame of a stream; a reading comes out where there is a new rest, with what that
    /// looked like where it was over already.
    pub(super) fn watch(
        &mut self,
        frame: &RgbImage,
        at: Duration,
    ) -> Result<Option<(Reading, Option<Passed>)>, FrameError> {
        let turns = self.turns.clone();
        let _turn = turns.take();
        let sight = self.sight.clone();
        let _looking = sight.look(&mut *self.reader);
        let reader = &mut self.reader;
        let look = guarded(|| Ok(reader.watch(frame, at)?))?;
        let (state, words) = match look.state {
            TableState::Moving | TableState::Settling | TableState::Resting => {
                (CameraState::Reading, SEES_ALL)
            }
            TableState::Obstructed => (CameraState::Obstructed, look.state.words()),
            TableState::Dark | TableState::Bumped => (CameraState::Unreadable, look.state.words()),
        };
        // Until the last rest is kept that it was not is what there is to say.
        if !self.unkept.is_held() {
            self.board.note(&self.camera, state, words);
        }
        self.cloths.note(&self.camera, &look.rolled_out);
        Ok(look.rest.map(|reading| (reading, look.passed)))
    }

    /// Keeps a rest of a stream. One that is refused is held and tried again.
    pub(super) fn keep(
        &mut self,
        reading: Reading,
        picture: Vec<u8>,
        format: PictureFormat,
        at: Timestamp,
    ) -> Result<Rest, FrameError> {
        let new = self.new_rest(reading, picture, format, at);
        let (earlier, now) = self.unkept.keep(new, |new| self.record.append(new));
        if let Some(earlier) = earlier {
            self.note_kept(&earlier);
        }
        let now = now?;
        self.note_kept(&now);
        Ok(now.rest)
    }

    /// Tries to keep what was refused, if it is time.
    pub(super) fn keep_held(&mut self, at: Duration) {
        if let Some(kept) = self.unkept.try_again(at, |new| self.record.append(new)) {
            self.note_kept(&kept);
        }
    }

    fn new_rest(
        &mut self,
        reading: Reading,
        picture: Vec<u8>,
        format: PictureFormat,
        at: Timestamp,
    ) -> NewRest {
        NewRest {
            at,
            unseen_ms: self.unseen.take_ms(),
            camera: self.camera.to_string(),
            layout: reading.layout,
            picture,
            format,
        }
    }

    fn note_kept(&self, kept: &Kept) {
        let at = kept.rest.at;
        self.board.note_rest(&self.camera, at);
        let latency = Duration::try_from(now().duration_since(at)).unwrap_or_default();
        self.metrics.rest(&self.camera, latency);
    }

    pub(super) fn note_error(&self, error: &FrameError) {
        let (state, words) = match error {
            FrameError::Picture(_)
            | FrameError::Reader(ReaderError::NoTable(_) | ReaderError::Unreadable(_)) => {
                (CameraState::Unreadable, format!("The last frame was not read: {error}."))
            }
            FrameError::Record(error) => {
                tracing::error!(camera = %self.camera, "a rest was not kept: {error}");
                let why = error.without_place();
                (CameraState::Failed, format!("The last rest is not kept: {why}."))
            }
            other => {
                tracing::error!(camera = %self.camera, "a frame was lost: {other}");
                (CameraState::Failed, "A frame was lost; the program's log says why.".into())
            }
        };
        self.board.note(&self.camera, state, &words);
    }
}

/// Decodes and reads a frame that belongs to no camera; nothing is kept of it.
pub(super) fn read_alone(
    mut reader: Box<dyn FrameReader>,
    turns: &Turns,
    bytes: &[u8],
) -> Result<Layout, FrameError> {
    let _turn = turns.take();
    let (frame, _) = decode_in_turn(bytes)?;
    Ok(guarded(|| Ok(reader.read_alone(&frame)?))?.layout)
}

fn decode_in_turn(bytes: &[u8]) -> Result<(RgbImage, PictureFormat), FrameError> {
    let format = picture::format_of(bytes)?;
    let frame = guarded(|| Ok(picture::decode(bytes)?))?;
    Ok((frame, format))
}

/// Runs what handles bytes from outside, so that a slip in there costs one frame and no thread.
fn guarded<T>(work: impl FnOnce() -> Result<T, FrameError>) -> Result<T, FrameError> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or(Err(FrameError::Panicked))
}
