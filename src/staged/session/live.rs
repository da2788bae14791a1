//! The demo camera: a made-up session that goes on as time does, for a program with no camera at
//! hand.

use super::film::StagedSession;
use super::options::{SessionOptions, Upsets};
use crate::camera::source::{
    Grabbed, Nature, OpenStream, SourceError, SourceFrame, StopSign, Stream, Terms,
};
use std::time::{Duration, Instant};

/// The same table and camera at each start, so that the kept calibration fits.
const SEED: u64 = 101;
/// Attempts of a session: about an hour, then it begins anew.
const ATTEMPTS: usize = 40;
/// How soon a stop is heard.
const SLICE: Duration = Duration::from_millis(50);
/// A stream that is later than this leaves frames out.
const LATE: Duration = Duration::from_millis(500);

/// A camera over a made-up table with a made-up player.
#[derive(Debug, Clone, Copy, Default)]
pub struct Demo;

impl Demo {
    fn options() -> SessionOptions {
        SessionOptions {
            attempts: ATTEMPTS,
            width_px: 800,
            frames_per_s: 8.0,
            waiting: 0.6,
            // A program that starts calibrates first, and would miss the first rack.
            stands_first_s: 10.0,
            upsets: Upsets { chalk_chance: 0.15, passer_by_a_min: 0.2, ..Upsets::NONE },
            ..SessionOptions::default()
        }
    }
}

impl OpenStream for Demo {
    fn kind(&self) -> &'static str {
        "demo"
    }

    fn nature(&self) -> Nature {
        Nature::LiveStills
    }

    fn open(&self, terms: &Terms) -> Result<Box<dyn Stream>, SourceError> {
        let mut session = StagedSession::new(SEED, Self::options())
            .map_err(|error| broke_off(&error.to_string()))?;
        // The empty table is drawn now: it takes longer than a frame may.
        session.next_frame();
        Ok(Box::new(Live { session, began: Instant::now(), stop: terms.stop.clone() }))
    }
}

fn broke_off(why: &str) -> SourceError {
    SourceError::BrokeOff { camera: "the demo".into(), why: why.into() }
}

/// A session under way.
struct Live {
    session: StagedSession,
    began: Instant,
    stop: StopSign,
}

impl Stream for Live {
    fn grab(&mut self) -> Result<Option<Grabbed>, SourceError> {
        let now = self.began.elapsed();
        while self.session.next_time().is_some_and(|at| at + LATE < now) {
            self.session.skip_frame();
        }
        let Some(at) = self.session.next_time() else { return Ok(None) };
        while let Some(wait) = at.checked_sub(self.began.elapsed()) {
            if self.stop.is_raised() {
                return Err(SourceError::Stopped);
            }
            std::thread::sleep(wait.min(SLICE));
        }
        Ok(Some(Grabbed { at: Some(at) }))
    }

    fn retrieve(&mut self) -> Result<SourceFrame, SourceError> {
        let frame = self.session.next_frame().ok_or_else(|| broke_off("it is over"))?;
        frame.as_jpeg().map(SourceFrame::File).map_err(|error| broke_off(&error.to_string()))
    }
}
