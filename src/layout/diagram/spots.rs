//! A map over the bare bed: places for a ball, the better the larger and darker, and the best of
//! them numbered, each with its place for the cue ball.
//!
//! Size says the same as shade, so that the map holds in grey print. A line below the table's own
//! says what stands for what.

use super::look;
use super::sheet::{Pen, Sheet, number};
use crate::layout::strokes;
use crate::table::TablePoint;

/// A place for a ball.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    pub at: TablePoint,
    /// How good it is: 0 for nothing, 1 for the best.
    pub part: f64,
}

/// One of the best places, with where the cue ball goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BestSpot {
    pub at: TablePoint,
    pub cue_ball: TablePoint,
}

/// From nothing to the best, light to dark.
const SHADES: [&str; 5] = ["#dfe8dd", "#b4d0c3", "#7fb0a8", "#46838f", "#1f4f6b"];
/// Radius of the best and of the worst place, in ball radii.
const SIZES: (f64, f64) = (1.15, 0.25);

fn disc(sheet: &mut Sheet, [x, y]: [f64; 2], part: f64, ball: f64) {
    let part = if part.is_finite() { part.clamp(0.0, 1.0) } else { 0.0 };
    let shade = SHADES[((part * 5.0) as usize).min(4)];
    let radius = ball * (SIZES.1 + part * (SIZES.0 - SIZES.1));
    sheet.raw(&format!(
        r#"<circle class="spot" cx="{}" cy="{}" r="{}" fill="{shade}" stroke="{}" stroke-width="4"/>"#,
        number(x),
        number(y),
        number(radius),
        look::INK
    ));
}

fn cue_ring(sheet: &mut Sheet, [x, y]: [f64; 2], ball: f64) {
    sheet.raw(&format!(
        r#"<circle class="cue-place" cx="{}" cy="{}" r="{}" fill="{}" stroke="{}" stroke-width="9"/>"#,
        number(x),
        number(y),
        number(ball - 5.0),
        look::PAPER,
        look::SIGNAL
    ));
}

/// Draws the places, then the best with their numbers.
pub fn draw(sheet: &mut Sheet, ball_radius_mm: f64, spots: &[Spot], best: &[BestSpot]) {
    let ball = sheet.units(ball_radius_mm);
    for spot in spots {
        let at = sheet.place(spot.at);
        if sheet.holds(at) {
            disc(sheet, at, spot.part, ball);
        }
    }
    for (index, spot) in best.iter().enumerate() {
        let (at, cue) = (sheet.place(spot.at), sheet.place(spot.cue_ball));
        if !sheet.holds(at) || !sheet.holds(cue) {
            continue;
        }
        let way = [vec![cue, at]];
        sheet.lines(&way, Pen { colour: look::SIGNAL, width: 7.0 }, r#"stroke-dasharray="6 18""#);
        disc(sheet, at, 1.0, ball);
        cue_ring(sheet, cue, ball);
        for (place, colour) in [(at, look::PAPER), (cue, look::INK)] {
            label(sheet, &(index + 1).to_string(), place, ball, colour);
        }
    }
}

/// A number in the middle of a ball.
fn label(sheet: &mut Sheet, text: &str, [x, y]: [f64; 2], ball: f64, colour: &'static str) {
    let high = 1.05 * ball;
    let left = x - 0.5 * strokes::text_width(text, high);
    sheet.text(text, [left, y - 0.5 * high], high, Pen { colour, width: 7.0 });
}

/// The line below the table's own; `worth` says what a large place stands for.
pub fn legend(sheet: &mut Sheet, ball_radius_mm: f64, worth: &str) {
    let top = sheet.across + look::RAIL + look::MARGIN + look::FOOTER;
    let middle = top + look::WORD / 2.0;
    let pen = Pen { colour: look::INK, width: look::WORD_STROKE };
    let ball = sheet.units(ball_radius_mm);
    let gap = 34.0;
    let mut left = -look::RAIL;
    let mut item = |sheet: &mut Sheet, words: &str, draws: &dyn Fn(&mut Sheet, [f64; 2])| {
        draws(sheet, [left + ball, middle]);
        left += 2.0 * ball + gap;
        sheet.text(words, [left, top], look::WORD, pen);
        left += strokes::text_width(words, look::WORD) + 2.0 * gap;
    };
    item(sheet, "WORTH NOTHING", &|sheet, at| disc(sheet, at, 0.0, ball));
    item(sheet, worth, &|sheet, at| disc(sheet, at, 1.0, ball));
    item(sheet, "CUE BALL", &|sheet, at| cue_ring(sheet, at, ball));
}
