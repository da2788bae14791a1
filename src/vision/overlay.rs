//! A calibration and a reading drawn over the frame they belong to, for a person to judge.
//!
//! Noses, pocket openings, sights and the diamond grid stand on the nose plane and are sampled
//! along their length, so that they bend as the lens bends them; balls are drawn as the outlines
//! of the spheres that were found. What fits hides the edge under it; what does not shows as two.
//! Knows the geometry and how to draw, nothing of how things were found.

mod canvas;
mod lines;

pub use lines::{Line, Lines};

use super::Reading;
use crate::camera::{Calibration, PixelPoint};
use crate::layout::{Ball, BallKind};
use crate::table::{FootEnd, TablePoint};
use canvas::{Canvas, Paint};
use image::RgbImage;

const NOSE: Paint = Paint { rgb: [0, 229, 255], alpha: 255, width: 1.4 };
const GRID: Paint = Paint { rgb: [255, 255, 255], alpha: 120, width: 0.9 };
const OPENING: Paint = Paint { rgb: [255, 92, 214], alpha: 255, width: 1.4 };
const AXIS: Paint = Paint { rgb: [255, 214, 10], alpha: 255, width: 2.6 };
const OUTLINE: Paint = Paint { rgb: [182, 255, 60], alpha: 255, width: 1.2 };
const REJECTED: Paint = Paint { rgb: [255, 106, 61], alpha: 255, width: 1.6 };
const WORDS: Paint = Paint { rgb: [255, 255, 255], alpha: 255, width: 2.0 };

/// Points to a ball's outline.
const CIRCLE_POINTS: usize = 72;
/// How far from the nose line the ends' names stand.
const END_BEHIND_NOSE_MM: f64 = 230.0;

/// Draws the calibration, and the reading where there is one, over a copy of the frame.
pub fn draw(frame: &RgbImage, calibration: &Calibration, reading: Option<&Reading>) -> RgbImage {
    let Some(mut canvas) = Canvas::over(frame) else { return frame.clone() };
    let sketch = Sketch { calibration };
    // What matters most comes last, so that nothing hides it.
    if let Some(reading) = reading {
        sketch.rejected(&mut canvas, reading);
    }
    let Lines { grid, noses, pockets, sights } = Lines::of(calibration);
    let openings = [pockets, sights].concat();
    for (lines, paint) in [(grid, GRID), (noses, NOSE), (openings, OPENING)] {
        lines.iter().for_each(|line| canvas.line(line, paint));
    }
    sketch.axes(&mut canvas);
    if let Some(reading) = reading {
        sketch.balls(&mut canvas, reading);
    }
    sketch.words(&mut canvas, reading);
    canvas.finish()
}

struct Sketch<'a> {
    calibration: &'a Calibration,
}

impl Sketch<'_> {
    fn straight(&self, canvas: &mut Canvas, from: TablePoint, to: TablePoint, paint: Paint) {
        for piece in lines::straight(self.calibration, from, to) {
            canvas.line(&piece, paint);
        }
    }

    /// The table's axes from its origin, and which end is the foot.
    fn axes(&self, canvas: &mut Canvas) {
        let table = &self.calibration.table;
        let (l, w) = (table.length_mm, table.width_mm);
        let origin = TablePoint::new(0.0, 0.0);
        for (tip, name) in
            [(TablePoint::new(l / 8.0, 0.0), "X"), (TablePoint::new(0.0, w / 4.0), "Y")]
        {
            self.straight(canvas, origin, tip, AXIS);
            let (Some(from), Some(to)) = (
                lines::on_nose_plane(self.calibration, origin),
                lines::on_nose_plane(self.calibration, tip),
            ) else {
                continue;
            };
            canvas.arrow_head(from, to, AXIS);
            canvas.words(name, beyond(from, to, canvas.unit_px() * 16.0), 12.0, AXIS);
        }
        let (head, foot) = match self.calibration.foot {
            FootEnd::Given | FootEnd::Seen => ("HEAD", "FOOT"),
            FootEnd::Open => ("HEAD?", "FOOT?"),
        };
        for (x_mm, out, name) in [(0.0, -1.0, head), (l, 1.0, foot)] {
            // Behind the rail, where it covers nothing; before it where the frame ends there.
            let places = [END_BEHIND_NOSE_MM, -END_BEHIND_NOSE_MM]
                .map(|away_mm| TablePoint::new(x_mm + out * away_mm, w / 2.0));
            let seen = places
                .into_iter()
                .filter_map(|place| lines::on_nose_plane(self.calibration, place));
            if let Some(at) = seen.into_iter().find(|at| canvas.has_room(*at, name, 14.0)) {
                canvas.words(name, at, 14.0, AXIS);
            }
        }
    }

    fn balls(&self, canvas: &mut Canvas, reading: &Reading) {
        let layout = &reading.layout;
        let radius_mm = layout.table.ball_radius_mm();
        let camera = &self.calibration.camera;
        let picture_of = |ball: &Ball| camera.project(layout.centre_of(ball).at_height(radius_mm));
        let centres: Vec<_> = layout.balls.iter().filter_map(picture_of).collect();
        for ball in &layout.balls {
            let mut outline = camera.ball_outline(layout.centre_of(ball), radius_mm, CIRCLE_POINTS);
            outline.extend(outline.first().copied());
            let Some(centre) = picture_of(ball) else { continue };
            canvas.thin_line(&outline, OUTLINE);
            canvas.cross(centre, 3.0, OUTLINE);
            let radius_px = outline.iter().map(|p| p.distance_px(centre)).fold(0.0, f64::max);
            let label = label(ball);
            let away_px = radius_px + canvas.label_reach_px(&label, NUMBER);
            let place = freest(centre, &centres, away_px);
            canvas.words(&label, place, NUMBER, OUTLINE);
        }
    }

    /// Marks what was rejected, and says why where there is room beside the others' words.
    fn rejected(&self, canvas: &mut Canvas, reading: &Reading) {
        // Spots lie on the cloth, hands above it: the cloth is as good a guess as any.
        let picture_of = |place: TablePoint| self.calibration.camera.project(place.at_height(0.0));
        let (mark, cap) = (4.5, 8.0);
        let mut said: Vec<(PixelPoint, f64)> = Vec::new();
        for rejected in &reading.rejected {
            let Some(at) = picture_of(rejected.at) else { continue };
            canvas.saltire(at, mark, REJECTED);
            let why = rejected.why.to_uppercase();
            let below = PixelPoint::new(at.x_px, at.y_px + 15.0 * canvas.unit_px());
            let half_px = canvas.label_reach_px(&why, cap);
            let high_px = 2.0 * cap * canvas.unit_px();
            let free = said.iter().all(|(other, other_half_px)| {
                (other.x_px - below.x_px).abs() > half_px + other_half_px
                    || (other.y_px - below.y_px).abs() > high_px
            });
            if free {
                canvas.words(&why, below, cap, REJECTED);
                said.push((below, half_px));
            }
        }
    }

    /// The calibration's figures in the picture's upper left corner.
    fn words(&self, canvas: &mut Canvas, reading: Option<&Reading>) {
        let report = &self.calibration.report;
        let mut lines = vec![
            format!(
                "{} · FIT {:.2} PX",
                self.calibration.table.name().to_uppercase(),
                report.reprojection_px
            ),
            format!(
                "CAMERA {:.2} M UP · TILT {:.1} DEG · FOCAL {:.0} PX",
                report.height_mm / 1000.0,
                report.tilt_deg,
                report.focal_px
            ),
        ];
        if let Some(reading) = reading {
            let hidden = if reading.layout.obstructed { " · PART HIDDEN" } else { "" };
            let (balls, rejected) = (reading.layout.balls.len(), reading.rejected.len());
            lines.push(format!("{balls} BALLS · {rejected} REJECTED{hidden}"));
        }
        canvas.corner_words(&lines, 11.0, WORDS);
    }
}

/// Cap height of the balls' numbers, in the canvas's units.
const NUMBER: f64 = 11.0;

fn label(ball: &Ball) -> String {
    match (ball.kind, ball.number) {
        (BallKind::Cue, _) => "CUE".into(),
        (BallKind::Object, Some(number)) => number.to_string(),
        (BallKind::Object, None) => "?".into(),
    }
}

/// A point on the line from one to another, a stretch past the second.
fn beyond(from: PixelPoint, to: PixelPoint, stretch_px: f64) -> PixelPoint {
    let long = from.distance_px(to).max(1e-9);
    let scale = stretch_px / long;
    PixelPoint::new(
        to.x_px + (to.x_px - from.x_px) * scale,
        to.y_px + (to.y_px - from.y_px) * scale,
    )
}

/// The place around a ball that is farthest from the other balls.
fn freest(centre: PixelPoint, all: &[PixelPoint], away_px: f64) -> PixelPoint {
    let around = (0..16).map(|i| {
        let (sin, cos) = (f64::from(i) / 16.0 * std::f64::consts::TAU).sin_cos();
        PixelPoint::new(centre.x_px + away_px * cos, centre.y_px + away_px * sin)
    });
    let room = |place: &PixelPoint| {
        let others = all.iter().filter(|other| other.distance_px(centre) > 0.5);
        others.map(|other| other.distance_px(*place)).fold(3.0 * away_px, f64::min)
    };
    around.max_by(|a, b| room(a).total_cmp(&room(b))).unwrap_or(centre)
}

#[cfg(test)]
mod tests;
