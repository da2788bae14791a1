//! The balls' ways in a diagram: how a shot runs, and where it ends.
//!
//! The cue ball's way is a solid dark line, an object ball's a line in its own colour edged dark
//! and broken, so that the two differ in grey as well. Where a ball comes to rest stands a ring of
//! its size; where it drops, a ring in the pocket. A line below the table says so.

use super::Layout;
use super::balls::Look;
use super::look;
use super::sheet::{Pen, Sheet, number};
use crate::layout::strokes;
use crate::table::TablePoint;

/// One ball's way over the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// The ball's index in the layout.
    pub ball: usize,
    /// Where its centre passes, straight from point to point, in the table frame.
    pub points: Vec<TablePoint>,
    pub end: WayEnd,
}

/// How a drawn way ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WayEnd {
    Rests,
    Drops,
    /// The ball goes on; the drawing follows it no further.
    GoesOn,
}

/// Width of a way's line, of its casing, and of a ring at its end.
const LINE: f64 = 9.0;
const CASING: f64 = 17.0;
const RING: f64 = 8.0;
/// Dashes of object balls' ways.
const DASHES: &str = r#"stroke-dasharray="38 22""#;

fn look_of(layout: &Layout, way: &Way) -> Option<Look> {
    layout.balls.get(way.ball).map(Look::of)
}

fn colour(look: Look) -> &'static str {
    match look {
        Look::Cue => look::INK,
        Look::Solid(number) | Look::Striped(number) => look::ball_colour(number),
        Look::Unread => look::UNREAD,
    }
}

/// Draws the ways that lead anywhere.
pub fn draw(sheet: &mut Sheet, layout: &Layout, ways: &[Way]) {
    let radius = sheet.units(layout.table.ball_radius_mm());
    let mut known: Vec<(Look, Vec<[f64; 2]>, WayEnd)> = ways
        .iter()
        .filter(|way| way.points.len() > 1)
        .filter(|way| way.points.iter().all(|point| sheet.holds(sheet.place(*point))))
        .filter_map(|way| {
            let points = way.points.iter().map(|point| sheet.place(*point)).collect();
            Some((look_of(layout, way)?, points, way.end))
        })
        .collect();
    // The cue ball's way comes last, over the others.
    known.sort_by_key(|(look, _, _)| *look == Look::Cue);
    for (look, points, end) in &known {
        line(sheet, *look, points);
        let Some(at) = points.last() else { continue };
        match end {
            WayEnd::Rests => ring(sheet, *look, *at, radius),
            WayEnd::Drops => ring(sheet, *look, *at, 0.55 * radius),
            WayEnd::GoesOn => {}
        }
    }
}

fn line(sheet: &mut Sheet, look: Look, points: &[[f64; 2]]) {
    let lines = [points.to_vec()];
    if look == Look::Cue {
        sheet.lines(&lines, Pen { colour: look::PAPER, width: CASING }, r#"class="way cue""#);
        sheet.lines(&lines, Pen { colour: look::INK, width: LINE }, "");
    } else {
        let more = format!(r#"class="way object" {DASHES}"#);
        sheet.lines(&lines, Pen { colour: look::INK, width: LINE + 6.0 }, &more);
        sheet.lines(&lines, Pen { colour: colour(look), width: LINE }, DASHES);
    }
}

fn ring(sheet: &mut Sheet, look: Look, [x, y]: [f64; 2], radius: f64) {
    for (colour, width) in
        [(look::INK, RING + 6.0), (look::PAPER, RING + 2.0), (colour(look), RING)]
    {
        sheet.raw(&format!(
            r#"<circle cx="{}" cy="{}" r="{}" fill="none" stroke="{colour}" stroke-width="{}"/>"#,
            number(x),
            number(y),
            number(radius - 0.5 * (RING + 6.0)),
            number(width)
        ));
    }
}

/// A line below the table: what the lines and rings stand for.
pub fn legend(sheet: &mut Sheet, layout: &Layout, line: f64) {
    let top = sheet.across + look::RAIL + look::MARGIN + line * look::FOOTER;
    let middle = top + look::WORD / 2.0;
    let pen = Pen { colour: look::INK, width: look::WORD_STROKE };
    let radius = sheet.units(layout.table.ball_radius_mm());
    let (sample, gap) = (190.0, 30.0);
    let mut left = -look::RAIL;
    for (look, words) in [(Look::Cue, "CUE BALL"), (Look::Solid(1), "OBJECT BALL")] {
        self::line(sheet, look, &[[left, middle], [left + sample, middle]]);
        left += sample + gap;
        sheet.text(words, [left, top], look::WORD, pen);
        left += strokes::text_width(words, look::WORD) + 3.0 * gap;
    }
    for (size, words) in [(1.0, "COMES TO REST"), (0.55, "DROPS")] {
        ring(sheet, Look::Cue, [left + radius, middle], size * radius);
        left += 2.0 * radius + gap;
        sheet.text(words, [left, top], look::WORD, pen);
        left += strokes::text_width(words, look::WORD) + 3.0 * gap;
    }
}
