//! Following a whole film, or frames made up one after the other, without a record: the same way
//! from frames to rests to the score that a live camera takes, as fast as frames come.
//!
//! Times are the film's own. Rests are numbered as they come, from 1.

use super::{FrameReader, ReaderError, unseen::Unseen};
use crate::{
    layout::Layout,
    score::{Follower, RestSeen, ScoreEvent, Story},
    vision::{Look, TableState},
};
use image::RgbImage;
use serde::Serialize;
use std::time::Duration;

/// One thing that a film told.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    /// The time of the last frame that tells it, in seconds of the film.
    pub at_s: f64,
    #[serde(flatten)]
    pub event: ScoreEvent,
    /// The layout, with a rest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layout: Option<Layout>,
}

/// What one frame brought.
#[derive(Debug, Clone, PartialEq)]
pub struct Followed {
    pub state: TableState,
    /// A rest first, then what followed from it; empty for most frames.
    pub told: Vec<Told>,
    /// Whether the camera was found moved, and the table found again.
    pub recalibrated: bool,
}

/// Follows one film.
pub struct Following {
    reader: Box<dyn FrameReader>,
    unseen: Unseen,
    follower: Follower,
    rests: i64,
}

impl Following {
    /// Begins before the first frame.
    pub fn new(reader: Box<dyn FrameReader>) -> Self {
        Self { reader, unseen: Unseen::default(), follower: Follower::new(), rests: 0 }
    }

    /// Looks at the next frame of a film, `at` so long after its beginning.
    ///
    /// # Errors
    /// Where no table can be found in the frame; the next one may show it.
    pub fn watch(&mut self, frame: &RgbImage, at: Duration) -> Result<Followed, ReaderError> {
        let Look { state, rest, passed, recalibrated, .. } = self.reader.watch(frame, at)?;
        let shown_at = passed.map_or(at, |passed| passed.at);
        self.unseen.seen(shown_at);
        let told = rest.map(|reading| self.take(reading.layout, shown_at)).unwrap_or_default();
        self.unseen.seen(at);
        Ok(Followed { state, told, recalibrated: recalibrated.is_some() })
    }

    /// Looks at a picture that somebody chose: what it shows is a rest, unless something is over
    /// the cloth.
    ///
    /// # Errors
    /// Where no table can be found in the picture.
    pub fn look(&mut self, picture: &RgbImage, at: Duration) -> Result<Followed, ReaderError> {
        let layout = self.reader.read(picture)?.layout;
        let (state, told) = if layout.obstructed {
            (TableState::Obstructed, Vec::new())
        } else {
            (TableState::Resting, self.take(layout, at))
        };
        Ok(Followed { state, told, recalibrated: false })
    }

    /// The attempts so far.
    pub fn story(&self) -> &Story {
        self.follower.story()
    }

    fn take(&mut self, layout: Layout, at: Duration) -> Vec<Told> {
        self.rests += 1;
        let rest = RestSeen {
            id: self.rests,
            at_unix_ms: i64::try_from(at.as_millis()).unwrap_or(i64::MAX),
            unseen_ms: self.unseen.take_ms(),
            layout,
        };
        let events = self.follower.take(&rest, None);
        let mut layout = Some(rest.layout);
        events
            .into_iter()
            .map(|event| {
                let is_rest = matches!(event, ScoreEvent::Rest { .. });
                let layout = if is_rest { layout.take() } else { None };
                Told { at_s: at.as_secs_f64(), event, layout }
            })
            .collect()
    }
}
