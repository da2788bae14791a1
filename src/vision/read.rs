//! Reading a frame with a calibration: the balls, where they lie and which they are.

use super::ball_fit::{self, BallFit, Widening};
use super::balls::BallFinder;
use super::bare;
use super::bed::BedView;
use super::centring::{Centred, Centring};
use super::evidence;
use super::naming::{BallLook, LookError, Name, Naming};
use super::net::NetError;
use super::obstruction::{Obstruction, Odd};
use super::room::{RackGaps, are_apart, are_two, is_free_of, let_touch};
use super::steady::SteadyBed;
use crate::camera::Calibration;
use crate::layout::{Ball, BallKind, Layout};
use crate::table::{DiamondPoint, TablePoint, TableSize};
use image::RgbImage;
use nalgebra::{Matrix2, Vector2};
use serde::Serialize;
use thiserror::Error;

/// Something that was looked at and found to be no ball on the table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rejected {
    pub at: TablePoint,
    /// Why it is no ball, in a few words.
    pub why: String,
}

/// What a frame shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    pub layout: Layout,
    pub rejected: Vec<Rejected>,
}

/// Why a frame could not be read.
#[derive(Debug, Error)]
pub enum ReadError {
    #[error(
        "the frame is {got} pixels, the calibration was made for {wanted}: calibrate again with a frame of this camera"
    )]
    WrongSize { got: String, wanted: String },
    #[error(
        "the table is not where the calibration has it: {why}. Calibrate again; the camera may have been moved"
    )]
    TableMoved { why: String },
    #[error(transparent)]
    Net(#[from] NetError),
}

/// Part of the bed that shows cloth, and pockets that are where they should be, on a frame that
/// still shows the calibrated table.
const LEAST_CLOTH: f64 = 0.4;
const LEAST_POCKETS: usize = 3;
/// A place counts as a ball from this sureness on.
const LEAST_BALL: f64 = 0.5;
/// What touches something in the way has to be surer, or it is a piece of that: in staged frames
/// with a player, cuffs and fists reach 0.991 and balls beside an arm begin at 0.997.
pub(super) const SURE_BALL: f64 = 0.993;
/// What is seen over a nose is a ball at the cushion only if it is one beyond doubt: in poor light the
/// cushions' edges look like balls too.
pub(super) const BEYOND_DOUBT: f64 = 0.998;
/// A cue ball is one at least this surely.
const SURE_CUE: f64 = 0.6;

/// Least part of the outline that is seen where it counts, and the least radius in the picture:
/// on a smaller ball the edges tell less than the network.
const LEAST_OUTLINE: f64 = 0.5;
const LEAST_RADIUS_PX: f64 = 14.0;
/// An outline's errors are shared by its edges (shading, shadow), beyond their scatter.
const OUTLINE_SHARED: f64 = 8.0;
const OUTLINE_FLOOR_MM2: f64 = 0.1;
/// Squared distance, in standard deviations, up to which outline and network agree.
const MOST_APART: f64 = 3.0;

/// What earlier frames of a camera told of the bed.
#[derive(Clone, Copy)]
pub(super) struct Before<'a> {
    /// Its usual look.
    pub steady: &'a SteadyBed,
    /// Where balls lay.
    pub lay: &'a [TablePoint],
    /// Balls that lay there, and there everything looks as it did.
    pub stay: &'a [Centred],
}

impl<'a> Before<'a> {
    /// The usual look alone.
    pub const fn of(steady: &'a SteadyBed) -> Self {
        Self { steady, lay: &[], stay: &[] }
    }
}

/// Reads frames of one camera; what a calibration gives once is kept.
pub struct Reader {
    calibration: Calibration,
    finder: BallFinder,
    centring: Centring,
    naming: Naming,
}

impl Reader {
    /// A reader for a calibration.
    ///
    /// # Errors
    /// [`ReadError::Net`] where the program was built with a faulty network.
    pub fn new(calibration: Calibration) -> Result<Self, ReadError> {
        let finder = BallFinder::new(&calibration.camera, &calibration.table);
        Ok(Self { calibration, finder, centring: Centring::new()?, naming: Naming::new()? })
    }

    /// Names balls by the taught look of their set from now on.
    ///
    /// # Errors
    /// [`LookError::OtherNetwork`] where it was taught to another version of the program's network.
    pub fn teach(&mut self, look: BallLook) -> Result<(), LookError> {
        self.naming.teach(look)
    }

    /// Reads with another calibration from now on; what it was taught stays.
    pub fn recalibrate(&mut self, calibration: Calibration) {
        self.finder = BallFinder::new(&calibration.camera, &calibration.table);
        self.calibration = calibration;
    }

    /// The calibration it reads with.
    pub fn calibration(&self) -> &Calibration {
        &self.calibration
    }

    pub(super) fn table(&self) -> &TableSize {
        &self.calibration.table
    }

    /// Reads one frame.
    ///
    /// # Errors
    /// [`ReadError`] where frame and calibration do not belong together.
    pub fn read(&self, frame: &RgbImage) -> Result<Reading, ReadError> {
        self.check_size(frame)?;
        let view = self.finder.view(frame);
        let (reading, _) = self.read_view(frame, &view, Before::of(&SteadyBed::default()))?;
        Ok(reading)
    }

    /// Whether a frame has the size that the calibration is for.
    pub fn fits(&self, frame: &RgbImage) -> bool {
        let lens = &self.calibration.camera.lens;
        frame.dimensions() == (lens.width_px, lens.height_px)
    }

    pub(super) fn check_size(&self, frame: &RgbImage) -> Result<(), ReadError> {
        if self.fits(frame) {
            return Ok(());
        }
        let lens = &self.calibration.camera.lens;
        let size = |(width, height)| format!("{width} × {height}");
        let wanted = size((lens.width_px, lens.height_px));
        Err(ReadError::WrongSize { got: size(frame.dimensions()), wanted })
    }

    /// The bed of a frame, seen from above.
    pub(super) fn view(&self, frame: &RgbImage) -> BedView {
        self.finder.view(frame)
    }

    /// Reads a frame whose bed is seen already, knowing what earlier ones told; with what is in the way,
    /// if anything.
    pub(super) fn read_view(
        &self,
        frame: &RgbImage,
        view: &BedView,
        before: Before,
    ) -> Result<(Reading, Option<Obstruction>), ReadError> {
        let mut rejected = Vec::new();
        let Before { steady, .. } = before;
        let (mut kept, odd) = self.on_bed(frame, (view, before), &mut rejected)?;
        let (table, found) = (self.table(), kept.clone());
        kept.retain(|centred| {
            let Centred { centre: at, ball, .. } = centred;
            let why = if *ball > BEYOND_DOUBT {
                None
            } else if self.finder.is_at_nose(*at) && bare::is_bare(view, *at, table, steady) {
                Some("the bed as it always looks")
            } else if bare::is_vague(centred, &found)
                && bare::is_shadow(view, (*at, &found), table, steady)
            {
                Some("the cloth in a shadow")
            } else {
                None
            };
            rejected.extend(why.map(|why| Rejected { at: *at, why: why.into() }));
            why.is_none()
        });
        let scene = (&self.finder.camera, &self.finder.table);
        let centres: Vec<TablePoint> = kept.iter().map(|centred| centred.centre).collect();
        let sure: Vec<f64> = kept.iter().map(|centred| centred.ball).collect();
        let odd = odd.filter(|_| kept.len() == found.len());
        let odd = odd.unwrap_or_else(|| Odd::beside(view, (&centres, scene.1), steady));
        let obstruction = odd.obstruction();
        let names = self.naming.name(frame, scene, (&centres, &sure))?;
        let mut balls = Vec::new();
        for (centred, name) in kept.iter().zip(names) {
            let at = centred.centre;
            let mut reject = |why: &str| rejected.push(Rejected { at, why: why.into() });
            if name.number.is_none() {
                reject("does not look like a ball");
            } else if centred.ball < SURE_BALL
                && obstruction.as_ref().is_some_and(|thing| thing.touches(view, at, scene.1))
            {
                reject("part of what is in the way");
            } else {
                balls.push(self.ball(centred, &name));
            }
        }
        let Calibration { table, foot, .. } = self.calibration;
        let obstructed = obstruction.is_some();
        let layout = Layout { obstructed, ..Layout::of(table, foot, balls) };
        Ok((Reading { layout, rejected }, obstruction))
    }

    /// Where balls lie, whatever they look like: for a set that is not known yet.
    ///
    /// # Errors
    /// [`ReadError`] where frame and calibration do not belong together.
    pub fn places(&self, frame: &RgbImage) -> Result<Vec<TablePoint>, ReadError> {
        self.check_size(frame)?;
        let nothing = SteadyBed::default();
        let before = Before::of(&nothing);
        let (kept, _) = self.on_bed(frame, (&self.view(frame), before), &mut Vec::new())?;
        Ok(kept.iter().map(|centred| centred.centre).collect())
    }

    /// Finds and centres what lies on the bed, not named yet, and what is odd beside it where that is
    /// known already.
    fn on_bed(
        &self,
        frame: &RgbImage,
        (view, before): (&BedView, Before),
        rejected: &mut Vec<Rejected>,
    ) -> Result<(Vec<Centred>, Option<Odd>), ReadError> {
        let scene = (&self.finder.camera, &self.finder.table);
        let pockets = evidence::pockets_in_place(frame, scene.0, scene.1);
        if view.cloth_part < LEAST_CLOTH || pockets < LEAST_POCKETS {
            let why = format!(
                "{pockets} of six pockets and {:.0} % of the cloth are in place",
                100.0 * view.cloth_part
            );
            return Err(ReadError::TableMoved { why });
        }
        let (mut kept, odd) = self.likely(frame, (view, before), rejected)?;
        for centred in &mut kept {
            *centred = self.sharpened(frame, centred);
        }
        let_touch(&mut kept, scene.1);
        for centred in &mut kept {
            centred.centre = self.finder.beside_noses(centred.centre);
        }
        Ok((kept, odd))
    }

    /// The places that the network takes for balls, surest first, each where a ball can lie and
    /// no two in one place; and what is odd beside them, where that is known already.
    fn likely(
        &self,
        frame: &RgbImage,
        (view, Before { steady, lay, stay }): (&BedView, Before),
        rejected: &mut Vec<Rejected>,
    ) -> Result<(Vec<Centred>, Option<Odd>), ReadError> {
        let mut kept = Vec::new();
        self.keep_likely(frame, &self.finder.candidates(view), &mut kept, rejected)?;
        // A dark ball on dark cloth is seen where one lay, though nothing else points to it.
        let free = |at: &TablePoint| is_free(&kept, *at, &self.finder.table);
        let left: Vec<TablePoint> = lay.iter().copied().filter(free).collect();
        self.keep_likely(frame, &left, &mut kept, rejected)?;
        for centred in stay {
            if is_free(&kept, centred.centre, &self.finder.table) {
                kept.push(*centred);
            }
        }
        let centres: Vec<TablePoint> = kept.iter().map(|centred| centred.centre).collect();
        let odd = Odd::beside(view, (&centres, &self.finder.table), steady);
        self.keep_likely(frame, &odd.perhaps_balls(), &mut kept, rejected)?;
        self.fill_rack(frame, &mut kept, rejected)?;
        let same = kept.len() == centres.len();
        Ok((kept, same.then_some(odd)))
    }

    /// Looks at the empty places of a rack, and again at the balls that crowd one: a ball that was taken
    /// for one between its place and the next hides that one.
    fn fill_rack(
        &self,
        frame: &RgbImage,
        kept: &mut Vec<Centred>,
        rejected: &mut Vec<Rejected>,
    ) -> Result<(), ReadError> {
        let centres: Vec<TablePoint> = kept.iter().map(|ball| ball.centre).collect();
        let RackGaps { empty, crowded } = RackGaps::among(&centres, &self.finder.table);
        let mut filled = kept.clone();
        filled.retain(|ball| is_free_of(&empty, ball.centre, &self.finder.table));
        let places = [empty, crowded].concat();
        self.keep_likely(frame, &places, &mut filled, rejected)?;
        if filled.len() > kept.len() {
            *kept = filled;
        }
        Ok(())
    }

    /// Of some places those that are likely, beside what is kept already.
    fn keep_likely(
        &self,
        frame: &RgbImage,
        places: &[TablePoint],
        kept: &mut Vec<Centred>,
        rejected: &mut Vec<Rejected>,
    ) -> Result<(), ReadError> {
        let scene = (&self.finder.camera, &self.finder.table);
        let centred = self.centring.refine(frame, scene, places)?;
        let mut likely: Vec<Centred> =
            centred.into_iter().flatten().filter(|centred| centred.ball > LEAST_BALL).collect();
        likely.sort_by(|a, b| b.ball.total_cmp(&a.ball));
        for centred in likely {
            let at = centred.centre;
            if let Some(why) = self.finder.misplaced(at) {
                rejected.push(Rejected { at, why: why.into() });
            } else if centred.ball < BEYOND_DOUBT && self.finder.is_over_nose(at) {
                rejected.push(Rejected { at, why: "on a cushion".into() });
            } else if kept.iter().all(|other| are_two(other, &centred, scene.1)) {
                kept.push(centred);
            }
        }
        Ok(())
    }

    /// Network and outline together: where the outline agrees it is the sharper of the two, and
    /// where it does not it has caught on a shadow or a neighbour.
    fn sharpened(&self, frame: &RgbImage, centred: &Centred) -> Centred {
        let (camera, table) = (&self.finder.camera, &self.finder.table);
        let fit = ball_fit::fit(frame, camera, table, centred.centre, Widening::Usual);
        let sharp = |fit: &BallFit| fit.seen > LEAST_OUTLINE && fit.radius_px > LEAST_RADIUS_PX;
        let Some(fit) = fit.filter(sharp) else { return *centred };
        let by_outline =
            fit.covariance_mm2 * OUTLINE_SHARED + Matrix2::identity() * OUTLINE_FLOOR_MM2;
        let apart = Vector2::new(
            fit.centre.x_mm - centred.centre.x_mm,
            fit.centre.y_mm - centred.centre.y_mm,
        );
        let Some(weight) = (by_outline + centred.covariance_mm2).try_inverse() else {
            return *centred;
        };
        if apart.dot(&(weight * apart)) > MOST_APART {
            return *centred;
        }
        let gain = centred.covariance_mm2 * weight;
        let moved = gain * apart;
        Centred {
            centre: TablePoint::new(centred.centre.x_mm + moved.x, centred.centre.y_mm + moved.y),
            covariance_mm2: centred.covariance_mm2 - gain * centred.covariance_mm2,
            ball: centred.ball,
        }
    }

    fn ball(&self, centred: &Centred, name: &Name) -> Ball {
        let place = DiamondPoint::from_table(centred.centre, &self.calibration.table);
        let variance_mm2 = centred.covariance_mm2.trace() / 2.0;
        let is_cue = name.number == Some(0);
        // A table without a cue ball is one that something happened on: another ball must not pass
        // for it.
        let number = name.number.filter(|_| !is_cue || name.confidence >= SURE_CUE);
        let kind = if number == Some(0) { BallKind::Cue } else { BallKind::Object };
        Ball {
            kind,
            number,
            x: place.x,
            y: place.y,
            sigma_mm: variance_mm2.sqrt().hypot(self.calibration.report.sigma_mm),
            confidence: centred.ball.min(0.999),
            number_confidence: if number.is_some() { name.confidence } else { 0.0 },
        }
    }
}

/// Whether no ball that is kept already lies at a place.
fn is_free(kept: &[Centred], at: TablePoint, table: &TableSize) -> bool {
    kept.iter().all(|other| are_apart(other.centre, at, table))
}

/// Reads one frame; to read many of one camera, keep a [`Reader`].
///
/// # Errors
/// [`ReadError`] where frame and calibration do not belong together.
pub fn read(frame: &RgbImage, calibration: &Calibration) -> Result<Reading, ReadError> {
    Reader::new(calibration.clone())?.read(frame)
}
