//! The seeing side of one watched camera: takes the newest frame, decodes it where need be, looks
//! for a rest, and keeps it.

use super::{Health, ReaderError};
use super::{
    frozen::Frozen,
    live::Watching,
    newest::{Caught, Fate, Newest, Receipt},
    pipeline::{FrameError, Pipeline},
    status::now,
};
use crate::{
    camera::{
        picture::{self, PictureFormat},
        source::{Nature, SourceFrame},
    },
    record::Rest,
    vision::{Passed, Reading},
};
use image::RgbImage;
use std::{sync::Arc, time::Duration};

/// Quality at which frames that did not come as files are kept.
const JPEG_QUALITY: u8 = 92;

/// Until a table was seen for the first time each look for one costs seconds, so looks are spaced
/// out, from this on and twice as far each time.
const FIRST_SPACE: Duration = Duration::from_millis(500);
const WIDEST_SPACE: Duration = Duration::from_secs(8);

/// The seeing thread's state.
pub(super) struct Seer {
    pipeline: Pipeline,
    newest: Arc<Newest>,
    watching: Watching,
    frozen: Frozen,
    search: Search,
}

/// When to look for a table that was never seen.
#[derive(Default)]
struct Search {
    found: bool,
    space: Option<Duration>,
    next: Duration,
}

impl Search {
    fn is_due(&self, at: Duration) -> bool {
        self.found || self.space.is_none() || at >= self.next
    }

    fn note(&mut self, found: bool, at: Duration) {
        self.found |= found;
        let space = self.space.map_or(FIRST_SPACE, |space| (2 * space).min(WIDEST_SPACE));
        (self.space, self.next) = (Some(space), at + space);
    }
}

impl Seer {
    pub(super) fn new(
        pipeline: Pipeline,
        newest: Arc<Newest>,
        nature: Nature,
        watching: Watching,
    ) -> Self {
        let frozen = Frozen::new(nature);
        Self { pipeline, newest, watching, frozen, search: Search::default() }
    }

    /// Looks until no more frames come.
    pub(super) fn run(mut self) {
        while let Some(caught) = self.newest.next() {
            self.take(caught);
        }
        // After a call to stop nobody reads this any more.
        let words = "The video has come to its end.";
        self.pipeline.board.note_health(&self.pipeline.camera, Health::Ended, words, now());
    }

    fn take(&mut self, caught: Caught) {
        let Caught { frame, at, utc, receipt } = caught;
        let decoded = match frame {
            SourceFrame::File(bytes) => self
                .pipeline
                .decode(&bytes)
                .map(|(picture, format)| (picture, Some((bytes, format)))),
            SourceFrame::Decoded(picture) => Ok((picture, None)),
        };
        self.newest.note_usable(decoded.is_ok());
        let seen = decoded.and_then(|(picture, file)| {
            let picture = Arc::new(picture);
            self.pipeline.sight.show(&picture);
            let same = self.frozen.look(&picture, at, &self.watching.patience);
            self.newest.note_frozen(same.map(|same| same.time));
            if let Some(same) = same.filter(|same| same.exactly) {
                self.pipeline.unseen.not_since(at.saturating_sub(same.time));
                return Ok(None);
            }
            if !self.search.is_due(at) {
                return Ok(None);
            }
            let Some((reading, passed)) = self.look(&picture, at)? else {
                self.pipeline.unseen.seen(at);
                self.pipeline.keep_held(at);
                return Ok(None);
            };
            let shown_at = passed.as_ref().map_or(at, |passed| passed.at);
            self.pipeline.unseen.seen(shown_at);
            let shown_utc = utc.checked_sub(at.saturating_sub(shown_at)).unwrap_or(utc);
            let kept = match passed {
                Some(passed) => self.keep(reading, &passed.picture, None, shown_utc),
                None => self.keep(reading, &picture, file, utc),
            };
            // Whatever came of it, this frame was seen.
            self.pipeline.unseen.seen(at);
            kept.map(Some)
        });
        answer(receipt, &seen);
        match seen {
            Ok(_) => {}
            // Single damaged frames are counted; that none can be decoded is the keeper's to say.
            Err(FrameError::Picture(error)) => tracing::debug!("{error}"),
            Err(error) => self.pipeline.note_error(&error),
        }
    }

    fn look(
        &mut self,
        picture: &RgbImage,
        at: Duration,
    ) -> Result<Option<(Reading, Option<Passed>)>, FrameError> {
        let looked = self.pipeline.watch(picture, at);
        let no_table = matches!(looked, Err(FrameError::Reader(ReaderError::NoTable(_))));
        self.search.note(!no_table, at);
        looked
    }

    fn keep(
        &mut self,
        reading: Reading,
        picture: &RgbImage,
        file: Option<(Vec<u8>, PictureFormat)>,
        utc: jiff::Timestamp,
    ) -> Result<Rest, FrameError> {
        let (bytes, format) = match file {
            Some(file) => file,
            None => (picture::jpeg(picture, JPEG_QUALITY)?, PictureFormat::Jpeg),
        };
        self.pipeline.keep(reading, bytes, format, utc)
    }
}

fn answer(receipt: Option<Receipt>, seen: &Result<Option<Rest>, FrameError>) {
    let Some(receipt) = receipt else { return };
    receipt.tell(match seen {
        Ok(rest) => Fate::Seen { rest: rest.as_ref().map(|rest| rest.id) },
        Err(FrameError::Picture(error)) => Fate::Unreadable { why: error.to_string() },
        Err(FrameError::Reader(error)) => Fate::Unreadable { why: error.to_string() },
        Err(_) => Fate::Unreadable { why: "something failed inside the program".into() },
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn until_a_table_was_seen_looks_are_spaced_out_and_then_never_again() {
        let mut search = Search::default();
        let tenths = |tenths: u64| Duration::from_millis(100 * tenths);
        let mut looks = Vec::new();
        for tenth in 0..400 {
            if search.is_due(tenths(tenth)) {
                looks.push(tenth);
                search.note(false, tenths(tenth));
            }
        }
        assert_eq!(looks, [0, 5, 15, 35, 75, 155, 235, 315, 395]);
        search.note(true, tenths(400));
        search.note(false, tenths(401));
        assert!(search.is_due(tenths(402)), "a table that is hidden may show again at any time");
    }
}
