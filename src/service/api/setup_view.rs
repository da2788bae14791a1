//! A calibration as those see it who set a camera up: lines to draw over the frame, and plain words
//! on how good it is and what would make it better.

use crate::{
    camera::{Calibration, CalibrationReport, PixelPoint},
    table::FootEnd,
    vision::{
        FootChoice,
        overlay::{Line, Lines},
    },
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A side of the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    Left,
    Right,
    Top,
    Bottom,
}

impl Side {
    pub(super) fn as_foot(self) -> FootChoice {
        match self {
            Self::Left => FootChoice::Left,
            Self::Right => FootChoice::Right,
            Self::Top => FootChoice::Top,
            Self::Bottom => FootChoice::Bottom,
        }
    }

    /// The side toward which one place lies from another.
    fn toward(from: PixelPoint, to: PixelPoint) -> Self {
        let (right, down) = (to.x_px - from.x_px, to.y_px - from.y_px);
        match (right.abs() >= down.abs(), right >= 0.0, down >= 0.0) {
            (true, true, _) => Self::Right,
            (true, false, _) => Self::Left,
            (false, _, true) => Self::Bottom,
            (false, _, false) => Self::Top,
        }
    }
}

/// How good a calibration is, in a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    Good,
    Usable,
    Poor,
}

/// Where the parts of the table have to show, as lines of points, x and y in pixels of the frame.
#[derive(Debug, Serialize, ToSchema)]
pub struct LinesView {
    noses: Vec<Vec<[f64; 2]>>,
    pockets: Vec<Vec<[f64; 2]>>,
    sights: Vec<Vec<[f64; 2]>>,
    /// From diamond to diamond.
    grid: Vec<Vec<[f64; 2]>>,
}

/// A calibration, to be judged by a person.
#[derive(Debug, Serialize, ToSchema)]
pub struct CalibrationView {
    /// The frame's size in pixels.
    width_px: u32,
    height_px: u32,
    /// The table's size in a word.
    table: String,
    length_mm: f64,
    width_mm: f64,
    /// Whether the size was given, or taken from the picture.
    table_given: bool,
    /// How it is known which end is the foot: `given`, `seen` in the picture, or `open`.
    #[schema(value_type = String)]
    foot: FootEnd,
    /// The side of the picture where the foot is, if that is not open.
    foot_side: Option<Side>,
    /// Where the noses' lines meet, in order around the table: head, foot, foot, head.
    corners_px: Vec<[f64; 2]>,
    lines: LinesView,
    grade: Grade,
    /// How good it is, in plain words.
    says: Vec<String>,
    /// What would make it better; empty where nothing is weak.
    better: Vec<String>,
}

/// Within these a calibration is good.
const GOOD: Bounds = Bounds { sigma_mm: 1.5, mm_per_px: 3.0, off_px: 1.0 };
/// Beyond these it is poor.
const POOR: Bounds = Bounds { sigma_mm: 4.0, mm_per_px: 6.0, off_px: 2.5 };

/// A lens lower than this over the cloth has to be so wide that its rim is bent a lot.
const LOW_MM: f64 = 1900.0;

struct Bounds {
    sigma_mm: f64,
    mm_per_px: f64,
    off_px: f64,
}

impl Bounds {
    fn hold(&self, report: &CalibrationReport) -> bool {
        report.sigma_mm <= self.sigma_mm
            && report.worst_corner_mm_per_px <= self.mm_per_px
            && report.reprojection_px <= self.off_px
    }
}

/// Tenths of a pixel, which is as exact as anybody can drag, and keeps what is sent short.
fn tenths(point: &PixelPoint) -> [f64; 2] {
    [point.x_px, point.y_px].map(|px| (10.0 * px).round() / 10.0)
}

impl CalibrationView {
    pub(super) fn of(calibration: &Calibration) -> Self {
        let Calibration { table, table_given, foot, camera, nose_corners_px, report } = calibration;
        let view =
            |lines: Vec<Line>| lines.iter().map(|line| line.iter().map(tenths).collect()).collect();
        let Lines { grid, noses, pockets, sights } = Lines::of(calibration);
        let [a, b, c, d] = nose_corners_px;
        let middle = |p: &PixelPoint, q: &PixelPoint| {
            PixelPoint::new((p.x_px + q.x_px) / 2.0, (p.y_px + q.y_px) / 2.0)
        };
        let foot_side = (*foot != FootEnd::Open).then(|| Side::toward(middle(a, d), middle(b, c)));
        Self {
            width_px: camera.lens.width_px,
            height_px: camera.lens.height_px,
            table: table.name(),
            length_mm: table.length_mm,
            width_mm: table.width_mm,
            table_given: *table_given,
            foot: *foot,
            foot_side,
            corners_px: nose_corners_px.iter().map(tenths).collect(),
            lines: LinesView {
                noses: view(noses),
                pockets: view(pockets),
                sights: view(sights),
                grid: view(grid),
            },
            grade: grade(report),
            says: says(report),
            better: better(report),
        }
    }
}

fn grade(report: &CalibrationReport) -> Grade {
    match (GOOD.hold(report), POOR.hold(report)) {
        (true, _) => Grade::Good,
        (false, true) => Grade::Usable,
        (false, false) => Grade::Poor,
    }
}

fn says(report: &CalibrationReport) -> Vec<String> {
    vec![
        format!(
            "As far as the camera's place goes, a ball's is sure to {:.1} mm.",
            report.sigma_mm.max(0.1)
        ),
        format!(
            "The camera hangs {:.2} m above the cloth and looks down with a tilt of {:.0}°.",
            report.height_mm / 1000.0,
            report.tilt_deg
        ),
        format!(
            "One pixel covers {:.1} mm at the farthest corner; edges lie {:.1} px from where they \
             should.",
            report.worst_corner_mm_per_px, report.reprojection_px
        ),
    ]
}

/// What was found weak when it was made, and what its figures tell.
fn better(report: &CalibrationReport) -> Vec<String> {
    let mut better: Vec<String> = report.weak.iter().map(|weak| sentence(weak)).collect();
    if report.worst_corner_mm_per_px > GOOD.mm_per_px {
        better.push(format!(
            "One pixel covers {:.1} mm at the farthest corner: a camera with more pixels, or one \
             whose picture the table fills better, sees more.",
            report.worst_corner_mm_per_px
        ));
    }
    if report.height_mm < LOW_MM {
        better.push(format!(
            "The camera hangs only {:.1} m above the cloth: 2.5 to 3.5 m bend the picture less.",
            report.height_mm / 1000.0
        ));
    }
    if report.reprojection_px > GOOD.off_px {
        better.push(
            "Edges lie beside their lines: look whether the corners are right, whether the picture \
             is sharp, and whether the camera corrects its lens by itself; a printed board gives \
             the lens exactly (`stillcloth board`, `stillcloth lens`)."
                .into(),
        );
    }
    better
}

/// With a capital and a full stop.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first: String = letters.next().map(char::to_uppercase).into_iter().flatten().collect();
    format!("{first}{}.", letters.as_str().trim_end_matches('.'))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report() -> CalibrationReport {
        CalibrationReport {
            frames: 1,
            reprojection_px: 0.4,
            height_mm: 2800.0,
            tilt_deg: 2.0,
            focal_px: 1500.0,
            worst_corner_mm_per_px: 1.9,
            sigma_mm: 0.5,
            weak: Vec::new(),
        }
    }

    #[test]
    fn a_good_calibration_wants_nothing_and_each_fault_says_what_helps() {
        let good = report();
        assert_eq!((grade(&good), better(&good)), (Grade::Good, vec![]));
        let coarse = CalibrationReport { worst_corner_mm_per_px: 4.2, ..report() };
        assert_eq!(grade(&coarse), Grade::Usable);
        assert!(better(&coarse)[0].contains("4.2 mm") && better(&coarse)[0].contains("pixels"));
        let low = CalibrationReport { height_mm: 1500.0, ..report() };
        assert!(better(&low)[0].contains("1.5 m"));
        let off = CalibrationReport { reprojection_px: 3.0, ..report() };
        assert_eq!(grade(&off), Grade::Poor);
        assert!(better(&off)[0].contains("printed board"));
        let weak = CalibrationReport { weak: vec!["the light is faint".into()], ..report() };
        assert_eq!(better(&weak), ["The light is faint."]);
    }

    #[test]
    fn the_foot_is_on_the_side_where_most_of_the_way_goes() {
        let from = PixelPoint::new(0.0, 0.0);
        for (to, side) in [
            ((9.0, 4.0), Side::Right),
            ((-9.0, 4.0), Side::Left),
            ((3.0, -5.0), Side::Top),
            ((-3.0, 5.0), Side::Bottom),
        ] {
            assert_eq!(Side::toward(from, PixelPoint::new(to.0, to.1)), side);
        }
    }
}
