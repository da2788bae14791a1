//! Proportions and colours of the diagram, in drawing units and sRGB.
//!
//! Light throughout, so that a print uses little ink. The balls' colours are those of the trade's
//! ball sets, moved apart in lightness so that no two that are easily confused (yellow and
//! orange, red and maroon, blue and purple) rest on hue alone.

/// Length of every table's playing surface.
pub const LENGTH: f64 = 2540.0;
/// From the nose line to the rail's outer border.
pub const RAIL: f64 = 142.0;
/// From the nose line to where the cushion's cloth ends.
pub const CUSHION: f64 = 46.0;
/// Free border around the rails.
pub const MARGIN: f64 = 38.0;
/// Height of the line of words below the table.
pub const FOOTER: f64 = 110.0;
/// Cap height and stroke of the words below the table.
pub const WORD: f64 = 62.0;
pub const WORD_STROKE: f64 = 9.0;

/// Cap height and stroke of the numbers on chips.
pub const NUMBER: f64 = 80.0;
pub const NUMBER_STROKE: f64 = 14.5;
/// Space between a chip's border and its number.
pub const CHIP_PADDING: f64 = 20.0;
/// Corner radius of a chip.
pub const CHIP_CORNER: f64 = 26.0;

/// Standard deviation above which a ball's place is shown as uncertain, in millimetres.
pub const HALO_ABOVE_MM: f64 = 5.0;

pub const PAPER: &str = "#ffffff";
pub const INK: &str = "#17212b";
pub const CLOTH: &str = "#eef2ec";
pub const CUSHION_FILL: &str = "#cbd6cc";
pub const RAIL_FILL: &str = "#5b6a70";
pub const GRID: &str = "#d3dcd2";
pub const MARKING: &str = "#7d8c85";
pub const POCKET: &str = "#20292f";
/// Of the cue ball's ticks, of warnings and halos.
pub const SIGNAL: &str = "#d1410c";
pub const HALO: &str = "#f6d9c4";
/// Of the area in which the cue ball comes to rest.
pub const AREA: &str = "#9fc0d6";
pub const UNREAD: &str = "#c3c8cc";

/// A ball's colour by its number.
pub const fn ball_colour(number: u8) -> &'static str {
    match number {
        1 | 9 => "#f7c815",
        2 | 10 => "#1f5fc4",
        3 | 11 => "#e2382b",
        4 | 12 => "#5a2f8f",
        5 | 13 => "#f3892f",
        6 | 14 => "#0f8a55",
        7 | 15 => "#7b1f2b",
        8 => "#15181b",
        _ => UNREAD,
    }
}
