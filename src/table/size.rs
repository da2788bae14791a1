//! Table sizes and what follows from them: noses, spots, sights and pockets.

use super::TablePoint;
use serde::{Deserialize, Serialize};
use std::{fmt, str::FromStr};
use thiserror::Error;

/// Diameter of a pocket-billiard ball (2 1/4 in).
pub const BALL_DIAMETER_MM: f64 = 57.15;

/// Height of the cushion nose as a part of the ball's diameter (62.5–64.5 % in the specifications).
const NOSE_HEIGHT_PER_DIAMETER: f64 = 0.635;

/// How far the sights (diamonds) stand behind the nose line (3 11/16 in).
const SIGHT_BEHIND_NOSE_MM: f64 = 93.7;

/// A table: the size of its playing surface between the cushion noses, and of its balls.
///
/// The length is always twice the width to within a tenth, as on every table of the trade.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(try_from = "RawTableSize")]
pub struct TableSize {
    /// Nose to nose along the table, in millimetres.
    pub length_mm: f64,
    /// Nose to nose across the table, in millimetres.
    pub width_mm: f64,
    /// Diameter of a ball, in millimetres.
    pub ball_diameter_mm: f64,
}

/// What is read before it is checked.
#[derive(Deserialize, schemars::JsonSchema)]
#[schemars(rename = "TableSize")]
struct RawTableSize {
    /// Nose to nose along the table, in millimetres.
    #[schemars(range(min = 1000, max = 4000))]
    length_mm: f64,
    /// Nose to nose across the table, in millimetres: half the length to within a tenth.
    #[schemars(range(min = 450, max = 2250))]
    width_mm: f64,
    /// Diameter of a ball, in millimetres.
    #[serde(default = "standard_ball")]
    #[schemars(range(min = 40, max = 70))]
    ball_diameter_mm: f64,
}

const fn standard_ball() -> f64 {
    BALL_DIAMETER_MM
}

impl TryFrom<RawTableSize> for TableSize {
    type Error = TableSizeError;
    fn try_from(raw: RawTableSize) -> Result<Self, TableSizeError> {
        Self::new(raw.length_mm, raw.width_mm, raw.ball_diameter_mm)
    }
}

/// Why a table size was refused.
#[derive(Debug, Error, PartialEq)]
pub enum TableSizeError {
    #[error(
        "'{text}' is no table size: give 9ft, 8ft, 7ft or LENGTHxWIDTH in millimetres between the cushion noses, such as 2540x1270"
    )]
    Unreadable { text: String },
    #[error(
        "a table of {length_mm} × {width_mm} mm with balls of {ball_diameter_mm} mm cannot be: the length lies between 1000 and 4000 mm, is about twice the width, and a ball measures 40 to 70 mm"
    )]
    OutOfRange { length_mm: f64, width_mm: f64, ball_diameter_mm: f64 },
}

/// Which opening a pocket is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PocketKind {
    Corner,
    Side,
}

/// A pocket by its number in [`TableSize::pockets`], as one who stands at the head end and looks
/// along the table names it.
pub fn pocket_name(pocket: usize) -> &'static str {
    const NAMES: [&str; 6] = [
        "head corner y = 0",
        "foot corner y = 0",
        "foot corner y = 4",
        "head corner y = 4",
        "side y = 0",
        "side y = 4",
    ];
    NAMES.get(pocket).copied().unwrap_or("pocket")
}

/// A pocket's opening in the bed: a ball whose centre lies inside the circle has dropped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pocket {
    pub kind: PocketKind,
    pub centre: TablePoint,
    pub radius_mm: f64,
}

impl TableSize {
    pub const NINE_FOOT: Self = Self::preset(2540.0, 1270.0);
    pub const EIGHT_FOOT: Self = Self::preset(2235.2, 1117.6);
    pub const EIGHT_FOOT_LARGE: Self = Self::preset(2336.8, 1168.4);
    pub const SEVEN_FOOT: Self = Self::preset(1981.2, 990.6);
    pub const SEVEN_FOOT_SMALL: Self = Self::preset(1930.4, 965.2);

    /// Every size that is built in quantity, largest first.
    pub const PRESETS: [Self; 5] = [
        Self::NINE_FOOT,
        Self::EIGHT_FOOT_LARGE,
        Self::EIGHT_FOOT,
        Self::SEVEN_FOOT,
        Self::SEVEN_FOOT_SMALL,
    ];

    const fn preset(length_mm: f64, width_mm: f64) -> Self {
        Self { length_mm, width_mm, ball_diameter_mm: BALL_DIAMETER_MM }
    }

    /// A table of any size.
    ///
    /// # Errors
    /// [`TableSizeError::OutOfRange`] where no pocket-billiard table has such a size.
    pub fn new(
        length_mm: f64,
        width_mm: f64,
        ball_diameter_mm: f64,
    ) -> Result<Self, TableSizeError> {
        let fits = (1000.0..=4000.0).contains(&length_mm)
            && (1.8..=2.2).contains(&(length_mm / width_mm))
            && (40.0..=70.0).contains(&ball_diameter_mm);
        if fits {
            Ok(Self { length_mm, width_mm, ball_diameter_mm })
        } else {
            Err(TableSizeError::OutOfRange { length_mm, width_mm, ball_diameter_mm })
        }
    }

    pub fn ball_radius_mm(&self) -> f64 {
        self.ball_diameter_mm / 2.0
    }

    /// Height of the cushion noses above the cloth.
    pub fn nose_height_mm(&self) -> f64 {
        NOSE_HEIGHT_PER_DIAMETER * self.ball_diameter_mm
    }

    /// The corners of the playing surface, where nose lines meet: (0,0), (L,0), (L,W), (0,W).
    pub fn corners(&self) -> [TablePoint; 4] {
        let (l, w) = (self.length_mm, self.width_mm);
        [
            TablePoint::new(0.0, 0.0),
            TablePoint::new(l, 0.0),
            TablePoint::new(l, w),
            TablePoint::new(0.0, w),
        ]
    }

    pub fn foot_spot(&self) -> TablePoint {
        TablePoint::new(0.75 * self.length_mm, 0.5 * self.width_mm)
    }

    pub fn head_spot(&self) -> TablePoint {
        TablePoint::new(0.25 * self.length_mm, 0.5 * self.width_mm)
    }

    pub fn centre_spot(&self) -> TablePoint {
        TablePoint::new(0.5 * self.length_mm, 0.5 * self.width_mm)
    }

    /// The six pockets of a table in the middle of the specified openings: four corners in the
    /// order of [`corners`](Self::corners), then the side pockets at y = 0 and y = W.
    pub fn pockets(&self) -> [Pocket; 6] {
        let corner_radius_mm = 61.0;
        let side_radius_mm = 59.5;
        let out_mm = 0.3 * corner_radius_mm;
        let side_out_mm = 0.82 * side_radius_mm;
        let (l, w) = (self.length_mm, self.width_mm);
        let corner = |x, y| Pocket {
            kind: PocketKind::Corner,
            centre: TablePoint::new(x, y),
            radius_mm: corner_radius_mm,
        };
        let side = |y| Pocket {
            kind: PocketKind::Side,
            centre: TablePoint::new(l / 2.0, y),
            radius_mm: side_radius_mm,
        };
        [
            corner(-out_mm, -out_mm),
            corner(l + out_mm, -out_mm),
            corner(l + out_mm, w + out_mm),
            corner(-out_mm, w + out_mm),
            side(-side_out_mm),
            side(w + side_out_mm),
        ]
    }

    /// How far a place lies beyond the rim of the nearest pocket's hole, in millimetres; negative
    /// over the hole.
    pub fn beyond_rim_mm(&self, place: TablePoint) -> f64 {
        let beyond = |pocket: Pocket| pocket.centre.distance_mm(place) - pocket.radius_mm;
        self.pockets().into_iter().map(beyond).fold(f64::INFINITY, f64::min)
    }

    /// The eighteen sights on the rails: every diamond of the long rails but the side pockets',
    /// and the three of each short rail.
    pub fn sights(&self) -> Vec<TablePoint> {
        let (l, w) = (self.length_mm, self.width_mm);
        let long = [1.0, 2.0, 3.0, 5.0, 6.0, 7.0].map(|i| i * l / 8.0);
        let short = [1.0, 2.0, 3.0].map(|i| i * w / 4.0);
        let mut sights = Vec::with_capacity(18);
        for y in [-SIGHT_BEHIND_NOSE_MM, w + SIGHT_BEHIND_NOSE_MM] {
            sights.extend(long.map(|x| TablePoint::new(x, y)));
        }
        for x in [-SIGHT_BEHIND_NOSE_MM, l + SIGHT_BEHIND_NOSE_MM] {
            sights.extend(short.map(|y| TablePoint::new(x, y)));
        }
        sights
    }

    /// How the trade calls the size, or the measures where it has no name.
    pub fn name(&self) -> String {
        match self.length_mm.round() as i64 {
            2540 => "9 ft".into(),
            2235 => "8 ft".into(),
            2337 => "8 ft (large)".into(),
            1981 => "7 ft".into(),
            1930 => "7 ft (small)".into(),
            _ => self.to_string(),
        }
    }
}

impl fmt::Display for TableSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} × {:.1} mm", self.length_mm, self.width_mm)
    }
}

impl FromStr for TableSize {
    type Err = TableSizeError;

    fn from_str(text: &str) -> Result<Self, TableSizeError> {
        let unreadable = || TableSizeError::Unreadable { text: text.into() };
        let bare = text.trim().to_ascii_lowercase();
        let bare = bare.strip_suffix("mm").unwrap_or(&bare).trim();
        let trade_name = if bare.len() == 1 { format!("{bare}ft") } else { bare.replace(' ', "") };
        let is_it = |table: &Self| table.name().replace(' ', "") == trade_name;
        if let Some(table) = Self::PRESETS.into_iter().find(is_it) {
            return Ok(table);
        }
        let (length, width) = bare.split_once(['x', '×']).ok_or_else(unreadable)?;
        let number = |part: &str| part.trim().parse::<f64>().map_err(|_| unreadable());
        Self::new(number(length)?, number(width)?, BALL_DIAMETER_MM)
    }
}
