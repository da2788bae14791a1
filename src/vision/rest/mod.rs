//! From a stream of frames to rests: when the table is still, clear and seen twice alike.
//!
//! Input: the frames of one calibrated camera with the source's own times, five to thirty a
//! second, some missing, some repeated. Output: what state the table is in, and once for every
//! change of the layout its reading. Method: each frame is thinned out (`glance`) and compared,
//! whatever the light did, with the first of those that look alike (`likeness`); when nothing has
//! changed for long enough, and the picture is not that of the last rest, the mean of every other
//! frame is read, and on the next frame that of the others (`mean`). The noses tell whether the
//! camera was bumped (`bump`), and the usual look of the bed, learned at rests, what lies over it and
//! what is no ball (`steady`).
//!
//! [`RestWatch`] is the one thing in `vision` that keeps anything between frames. Not modelled: a
//! ball that creeps by less than 2 mm a second; a layout that somebody rebuilds exactly.

mod bump;
mod few;
mod glance;
mod in_the_way;
mod light;
mod likeness;
mod mean;
mod moved;
mod noise;
mod passing;
mod pending;
mod rolling;
mod same;
mod telling;
mod unmoved;

use super::bed::BedView;
use super::obstruction::{self, Obstruction};
use super::read::{ReadError, Reader, Reading};
use super::recalibrate::Where;
use super::steady::SteadyBed;
use crate::camera::Calibration;
use crate::layout::Layout;
use crate::table::TablePoint;
use bump::{NoseMarks, Noses};
use glance::{Glance, Raster};
use image::RgbImage;
use in_the_way::InTheWay;
use likeness::{Known, Likeness};
use mean::{Halves, Part};
use pending::Pending;
use rolling::Rolling;
use std::time::Duration;

pub use passing::Passed;
pub use rolling::RollingBall;

/// Nothing has changed for so long at a rest. A film may hold a rolling ball for 0.3 s.
const STILL: Duration = Duration::from_millis(400);
/// The same where every frame is an exact copy of the one before: a camera may have stalled.
const STILL_COPIES: Duration = Duration::from_millis(800);
/// Frames are taken to come at least this often when the next one is reckoned with.
const LONGEST_INTERVAL: Duration = Duration::from_millis(250);
/// After so long without a frame balls may have come to rest and been struck anew.
const SIGHT_LOST: Duration = Duration::from_millis(1500);
/// A time this far before the last one is a source that began anew.
const BEGAN_ANEW: Duration = Duration::from_secs(5);
/// Noses farther off than this mean a bumped camera.
const BUMPED_PX: f64 = 1.5;
/// Farther off than this the table is looked for anew, since noses are looked for near their places
/// only: of a camera that moved by more, a part of the way may show.
const SUSPECT_PX: f64 = 0.8;
/// What has come in over a rail for so long, still picture after still picture, belongs to the
/// look of the table: a lamp was moved, or a chair.
const BELONGS: Duration = Duration::from_secs(30);
/// What is in the way is held against what was, this often.
const SUSPECT_EVERY: Duration = Duration::from_secs(5);
/// At rest the noses are looked at this often.
const CHECK_EVERY: Duration = Duration::from_secs(5);
/// A camera is calibrated again at most this often, and ever less often where it does not help.
const FIRST_PAUSE: Duration = Duration::from_secs(1);
const LONGEST_PAUSE: Duration = Duration::from_secs(30);
/// But for a picture that was not there then: what hid the noses may be gone.
const NEW_PICTURE_PAUSE: Duration = Duration::from_secs(2);

/// What the table is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableState {
    /// Balls roll, or something moves over the cloth.
    Moving,
    /// Something is over the cloth and holds still.
    Obstructed,
    /// Nothing moves; whether it is a rest is not yet known.
    Settling,
    /// The table is at rest and its layout is known.
    Resting,
    /// Too dark to see the balls.
    Dark,
    /// The camera was moved, and the table was not yet found again.
    Bumped,
}

impl TableState {
    /// The state in words for a player.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Moving => "Something is moving on the table.",
            Self::Obstructed => "Something is over the cloth: balls may be hidden.",
            Self::Settling => "The balls are coming to rest.",
            Self::Resting => "At rest.",
            Self::Dark => "It is too dark to see the balls.",
            Self::Bumped => "The camera was moved: it is finding the table again.",
        }
    }
}

/// What one frame added.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    pub state: TableState,
    /// The layout, when it is another than at the last rest and was seen twice.
    pub rest: Option<Reading>,
    /// With a rest that was over before this frame: when that was.
    pub passed: Option<Passed>,
    /// With a rest, how the last ball rolled to it, oldest first, where that was seen.
    pub rolled_out: Vec<RollingBall>,
    /// The calibration that holds from now on, when the camera had been moved.
    pub recalibrated: Option<Calibration>,
}

impl Look {
    /// A frame that added nothing but what the table is doing.
    pub const fn of(state: TableState) -> Self {
        Self { state, rest: None, passed: None, rolled_out: Vec::new(), recalibrated: None }
    }
}

/// Watches one table for rests.
pub struct RestWatch {
    reader: Reader,
    raster: Raster,
    marks: NoseMarks,
    steady: SteadyBed,
    state: TableState,
    last_at: Option<Duration>,
    interval: Duration,
    still: Option<Stillness>,
    pending: Option<Pending>,
    rest: Option<Rest>,
    obstructed: Option<InTheWay>,
    /// What was seen since the last rest that may have been balls that rolled.
    rolling: Rolling,
    /// Since when every still picture has had something come in over a rail.
    comes_in_since: Option<Duration>,
    suspected_at: Duration,
    checked_at: Duration,
    repair_at: Duration,
    repair_pause: Duration,
}

/// The frames since nothing has changed.
struct Stillness {
    since: Duration,
    first: Known,
    /// The frames after the first.
    frames: Halves,
    /// Whether any frame was more than an exact copy of the first.
    fresh: bool,
    /// Whether the frame before was but nearly like the first.
    nearly: bool,
    /// What the first was found to be like.
    like: Like,
    sought: Sought,
    /// How often a ball dropped meanwhile.
    drops: u32,
}

/// What a picture was found to be like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Like {
    TheLastRest,
    TheObstructed,
    Nothing,
}

/// What came of looking for the table anew in a still picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sought {
    Not,
    NotFound,
    /// It is where it was, whatever the noses seem to say.
    InPlace,
}

/// The last rest.
struct Rest {
    layout: Layout,
    /// What it looks like now; none where the camera has moved since.
    glance: Option<Known>,
    /// The bed as it was read.
    view: BedView,
}

impl RestWatch {
    /// A watch over the table that a reader reads.
    pub fn new(reader: Reader) -> Self {
        let Calibration { camera, table, nose_corners_px, .. } = reader.calibration();
        let raster = Raster::new(camera, table);
        let marks = NoseMarks::new(camera, table, *nose_corners_px);
        Self {
            reader,
            raster,
            marks,
            steady: SteadyBed::default(),
            state: TableState::Settling,
            last_at: None,
            interval: LONGEST_INTERVAL,
            still: None,
            pending: None,
            rest: None,
            obstructed: None,
            rolling: Rolling::default(),
            comes_in_since: None,
            suspected_at: Duration::ZERO,
            checked_at: Duration::ZERO,
            repair_at: Duration::ZERO,
            repair_pause: FIRST_PAUSE,
        }
    }

    /// The reader, for reading a frame besides.
    pub fn reader(&self) -> &Reader {
        &self.reader
    }

    /// The reader, for teaching it a ball set.
    pub fn reader_mut(&mut self) -> &mut Reader {
        &mut self.reader
    }

    /// Looks at the next frame; `at` is the source's time. A frame that is not later than the last
    /// adds nothing.
    ///
    /// # Errors
    /// [`ReadError::WrongSize`] where the frame is of another camera.
    pub fn look(&mut self, frame: &RgbImage, at: Duration) -> Result<Look, ReadError> {
        self.reader.check_size(frame)?;
        let seen_to = self.last_at.unwrap_or(at);
        if !self.is_later(at) {
            return Ok(self.told(self.state));
        }
        let glance = self.raster.glance(frame);
        let passed = self.passed(&glance, (seen_to, at));
        if at >= seen_to + SIGHT_LOST
            && let Some(Rest { layout, glance: Some(known), .. }) = &self.rest
            && let Some(cue) = layout.cue_ball()
        {
            self.rolling.lose_sight(&self.raster, known, layout.centre_of(cue));
        }
        let look = self.look_on(frame, glance, at)?;
        Ok(match passed {
            Some(passed) => Look { state: look.state, recalibrated: look.recalibrated, ..passed },
            None => look,
        })
    }

    /// Looks at the next frame, whatever was before.
    fn look_on(
        &mut self,
        frame: &RgbImage,
        glance: Glance,
        at: Duration,
    ) -> Result<Look, ReadError> {
        if self.raster.is_dark(&glance) {
            self.still = None;
            self.pending = None;
            return Ok(self.told(TableState::Dark));
        }
        let (still_for, fresh, like) = self.still_for(&glance, at);
        match like {
            Like::TheLastRest => {
                self.pending = None;
                if still_for >= STILL && at >= self.checked_at + CHECK_EVERY {
                    return self.check_at_rest(frame, at);
                }
                return Ok(self.told(TableState::Resting));
            }
            Like::TheObstructed if self.is_free_again(frame, at) => {
                (self.obstructed, self.still) = (None, None);
                return Ok(self.told(TableState::Moving));
            }
            Like::TheObstructed => return Ok(self.told(TableState::Obstructed)),
            Like::Nothing if still_for == Duration::ZERO => {
                self.pending = None;
                return Ok(self.told(TableState::Moving));
            }
            Like::Nothing => {}
        }
        if let Some(still) = &mut self.still {
            still.frames.add(frame);
        }
        let needed = if fresh { STILL } else { STILL_COPIES };
        let waits = self.pending.as_ref().is_some_and(|pending| pending.waits(at));
        if still_for + self.interval < needed || waits {
            return Ok(self.told(TableState::Settling));
        }
        let part = self.pending.as_ref().map_or(Part::Half(0), Pending::part);
        let mean = self.still.as_ref().and_then(|still| still.frames.mean(part));
        let still = self.still.as_ref().map(|still| still.first.with(glance));
        self.candidate((mean.as_ref().unwrap_or(frame), frame), still, (at, still_for, needed))
    }

    fn found_like(&mut self, like: Like) {
        if let Some(still) = &mut self.still {
            still.like = like;
            // Known now, it is read no more, and frames of a large picture take some megabytes.
            still.frames = Halves::default();
        }
    }

    fn told(&mut self, state: TableState) -> Look {
        self.state = state;
        Look::of(state)
    }

    /// Whether a frame comes after the last, and notes it.
    fn is_later(&mut self, at: Duration) -> bool {
        match self.last_at {
            Some(last) if at > last => self.interval = (at - last).min(LONGEST_INTERVAL),
            Some(last) if last - at < BEGAN_ANEW => return false,
            Some(_) => {
                self.still = None;
                self.pending = None;
                (self.checked_at, self.repair_at) = (Duration::ZERO, Duration::ZERO);
                self.suspected_at = Duration::ZERO;
                self.comes_in_since = None;
            }
            None => {}
        }
        self.last_at = Some(at);
        true
    }

    /// How long nothing has changed, whether that is more than copies of one frame, and what the
    /// picture is like.
    fn still_for(&mut self, glance: &Glance, at: Duration) -> (Duration, bool, Like) {
        let mut moved = None;
        if let Some(still) = &mut self.still {
            let changes = still.first.changes_soon(&self.raster, glance);
            let likeness = changes.likeness();
            let nearly = likeness == Likeness::Nearly;
            // One such frame is compression's doing; of a ball that creeps the next one is too.
            if likeness == Likeness::Alike || (nearly && !still.nearly) {
                still.nearly = nearly;
                still.fresh |= *glance != still.first.glance;
                return (at - still.since, still.fresh, still.like);
            }
            moved = Some(changes);
        }
        let is_like =
            |known: &Known| known.changes(&self.raster, glance).likeness() == Likeness::Alike;
        let like = if self.rest.as_ref().and_then(|rest| rest.glance.as_ref()).is_some_and(is_like)
        {
            Like::TheLastRest
        } else if self.obstructed.as_ref().and_then(|it| it.picture.as_ref()).is_some_and(is_like) {
            Like::TheObstructed
        } else {
            Like::Nothing
        };
        if like == Like::TheLastRest {
            self.rolling = Rolling::default();
        } else if let Some(moved) = moved {
            self.rolling.look(&self.raster, &moved, (at, glance));
        }
        let first = Known::new(glance.clone());
        self.still = Some(Stillness {
            since: at,
            first,
            frames: Halves::default(),
            fresh: false,
            nearly: false,
            like,
            sought: Sought::Not,
            drops: 0,
        });
        self.repair_at = self.repair_at.min(at + NEW_PICTURE_PAUSE);
        (Duration::ZERO, false, like)
    }

    /// A still frame that is not known yet, and the newest of those that it is the mean of.
    fn candidate(
        &mut self,
        (frame, newest): (&RgbImage, &RgbImage),
        still: Option<Known>,
        (at, still_for, needed): (Duration, Duration, Duration),
    ) -> Result<Look, ReadError> {
        self.checked_at = at;
        let noses = self.marks.check(frame);
        if self.looks_anew(noses, at) {
            let look = self.repair(frame, at)?;
            if !self.is_in_place() {
                return Ok(look);
            }
        } else if matches!(noses, Noses::Off { px } if px < SUSPECT_PX) {
            self.repair_pause = FIRST_PAUSE;
        }
        let view = self.reader.view(frame);
        // Spares a reading for as long as the player aims.
        let comes_in = (noses != Noses::Unseen)
            .then(|| obstruction::comes_in(&view, self.reader.table(), &self.steady))
            .flatten();
        if comes_in.is_some() {
            let since = *self.comes_in_since.get_or_insert(at);
            if at < since + BELONGS {
                return Ok(self.found_obstructed(still, (comes_in, &view), at));
            }
            self.steady = SteadyBed::default();
        }
        self.comes_in_since = None;
        let (mut reading, thing) = match self.read_over(frame, &view) {
            Err(ReadError::TableMoved { .. }) => return self.repair(frame, at),
            read => read?,
        };
        if reading.layout.obstructed {
            if at >= self.suspected_at + SUSPECT_EVERY {
                self.suspected_at = at;
                self.steady.suspect(&view);
            }
            return Ok(self.found_obstructed(still, (thing, &view), at));
        }
        if self.has_dropped(&reading.layout, newest) {
            return Ok(self.told(TableState::Settling));
        }
        let needed = needed.max(self.needed_for_a_few(&mut reading, &view));
        let mut pending = self.pending.take().unwrap_or_default();
        let agreeing = pending.agreeing(&reading);
        let (Some(agreeing), true) = (agreeing, still_for >= needed) else {
            pending.add(reading, agreeing.is_some(), (at, self.interval));
            self.pending = Some(pending);
            return Ok(self.told(TableState::Settling));
        };
        let reading = pending.confirmed(agreeing, reading);
        if at >= self.repair_at && self.is_shifted(&reading.layout) {
            return self.repair_from(frame, at, Where::Anywhere);
        }
        self.found_like(Like::TheLastRest);
        Ok(self.at_rest(reading, still, (view, at)))
    }

    /// Whether what was in the way is gone, though the picture looks much as it did.
    fn is_free_again(&mut self, frame: &RgbImage, at: Duration) -> bool {
        let Some(thing) = &mut self.obstructed else { return false };
        thing.is_due(at) && thing.is_gone(&self.reader.view(frame))
    }

    fn found_obstructed(
        &mut self,
        picture: Option<Known>,
        seen: (Option<Obstruction>, &BedView),
        at: Duration,
    ) -> Look {
        self.pending = None;
        self.obstructed = Some(InTheWay::new(picture, seen, at));
        self.found_like(Like::TheObstructed);
        self.told(TableState::Obstructed)
    }
}

fn millis(time: Duration) -> u64 {
    u64::try_from(time.as_millis()).unwrap_or(u64::MAX)
}

fn centres(layout: &Layout) -> Vec<TablePoint> {
    layout.balls.iter().map(|ball| layout.centre_of(ball)).collect()
}
