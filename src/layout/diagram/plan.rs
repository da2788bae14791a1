//! What a shot is to do, drawn into a diagram: the balls' ways, where the cue ball meets another
//! ball, where it comes to rest when the player's errors are in it, and the legend of all that.
//!
//! A meeting is a broken ring of a ball's size with a dot in its middle. Where the cue ball lands is
//! a dotted oval over 86 of 100 hits, or a small square for each of some hits where they do not lie
//! about one place.

use super::Layout;
use super::balls::Drawn;
use super::look;
use super::sheet::{Pen, Sheet, number};
use super::ways::{self, Way};
use crate::layout::strokes;
use crate::table::TablePoint;

/// What is drawn of a shot; places in the table frame.
#[derive(Debug, Clone, Default)]
pub struct Plan<'a> {
    pub ways: &'a [Way],
    /// Balls in a rack that is to be broken: drawn without numbers.
    pub racked: &'a [TablePoint],
    /// The cue ball's centre where it meets another ball.
    pub meetings: &'a [TablePoint],
    /// Where the cue ball comes to rest.
    pub landing: Option<Area>,
    /// Or its places after single hits.
    pub lies: &'a [TablePoint],
}

/// Where places lie: their mean and one standard deviation along and across a direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    pub at: TablePoint,
    pub sigma_mm: [f64; 2],
    /// From x toward y.
    pub direction_rad: f64,
}

/// Half the side of a landing's square.
const SQUARE: f64 = 11.0;
/// No area is drawn smaller than this, in ball radii.
const LEAST_AREA: f64 = 0.6;

/// What chips have to leave free besides the balls, with its radius.
pub fn in_the_way<'a>(sheet: &'a Sheet, layout: &Layout, plan: &'a Plan<'_>) -> Vec<Drawn> {
    let radius = sheet.units(layout.table.ball_radius_mm());
    let points = plan.racked.iter().chain(plan.meetings);
    points.map(|point| Drawn::unnumbered(sheet.place(*point), radius)).collect()
}

/// Draws the plan under the balls, with its legend.
pub fn draw(sheet: &mut Sheet, layout: &Layout, plan: &Plan<'_>) {
    let radius = sheet.units(layout.table.ball_radius_mm());
    for racked in plan.racked {
        let at = sheet.place(*racked);
        if sheet.holds(at) {
            sheet.disc(at, radius, look::INK);
            sheet.disc(at, radius - 5.0, look::UNREAD);
        }
    }
    let lands = plan.landing.is_some() || !plan.lies.is_empty();
    if let Some(area) = &plan.landing {
        self::area(sheet, area, radius);
    }
    for lie in plan.lies {
        let at = sheet.place(*lie);
        if sheet.holds(at) {
            square(sheet, at);
        }
    }
    let mut line = 1.0;
    if !plan.ways.is_empty() {
        sheet.add_line();
        ways::draw(sheet, layout, plan.ways);
        ways::legend(sheet, layout, line);
        line += 1.0;
    }
    for meeting in plan.meetings {
        let at = sheet.place(*meeting);
        if sheet.holds(at) {
            self::meeting(sheet, at, radius);
        }
    }
    if lands || !plan.meetings.is_empty() {
        sheet.add_line();
        legend(sheet, plan, radius, line);
    }
}

fn area(sheet: &mut Sheet, area: &Area, radius: f64) {
    let at = sheet.place(area.at);
    if !sheet.holds(at) || !area.sigma_mm.iter().all(|sigma| sigma.is_finite()) {
        return;
    }
    let reach = area.sigma_mm.map(|mm| sheet.units(2.0 * mm).max(LEAST_AREA * radius));
    // No ball lands on a rail: the inner drawing ends where the bed does.
    let (long, wide) = (number(look::LENGTH), number(sheet.across));
    sheet.raw(&format!(r#"<svg x="0" y="0" width="{long}" height="{wide}">"#));
    oval(sheet, at, reach, -area.direction_rad.to_degrees());
    sheet.raw("</svg>");
}

fn oval(sheet: &mut Sheet, [x, y]: [f64; 2], [along, across]: [f64; 2], turned_deg: f64) {
    let (x, y) = (number(x), number(y));
    sheet.raw(&format!(
        r#"<ellipse class="landing" cx="{x}" cy="{y}" rx="{}" ry="{}" transform="rotate({} {x} {y})" fill="{}" fill-opacity="0.45" stroke="{}" stroke-width="7" stroke-linecap="round" stroke-dasharray="1 19"/>"#,
        number(along),
        number(across),
        number(turned_deg),
        look::AREA,
        look::INK
    ));
}

fn square(sheet: &mut Sheet, [x, y]: [f64; 2]) {
    let size = 2.0 * SQUARE;
    let more = format!(r#"class="landing" stroke="{}" stroke-width="4""#, look::INK);
    sheet.block([x - SQUARE, y - SQUARE], [size, size], look::AREA, &more);
}

fn meeting(sheet: &mut Sheet, at: [f64; 2], radius: f64) {
    for (colour, width, more) in
        [(look::PAPER, 13.0, ""), (look::INK, 7.0, r#" class="meeting" stroke-dasharray="17 11""#)]
    {
        sheet.raw(&format!(
            r#"<circle{more} cx="{}" cy="{}" r="{}" fill="none" stroke="{colour}" stroke-width="{width}"/>"#,
            number(at[0]),
            number(at[1]),
            number(radius - 3.5),
        ));
    }
    sheet.disc(at, 7.5, look::INK);
}

/// The line of the legend that tells of meeting and landing.
fn legend(sheet: &mut Sheet, plan: &Plan<'_>, radius: f64, line: f64) {
    let top = sheet.across + look::RAIL + look::MARGIN + line * look::FOOTER;
    let middle = top + look::WORD / 2.0;
    let pen = Pen { colour: look::INK, width: look::WORD_STROKE };
    let gap = 30.0;
    let mut left = -look::RAIL;
    let mut item = |sheet: &mut Sheet, wide: f64, words: &str| {
        let mark = [left + 0.5 * wide, middle];
        sheet.text(words, [left + wide + gap, top], look::WORD, pen);
        left += wide + gap + strokes::text_width(words, look::WORD) + 3.0 * gap;
        mark
    };
    if !plan.meetings.is_empty() {
        let at = item(sheet, 2.0 * radius, "CUE BALL MEETS A BALL");
        meeting(sheet, at, radius);
    }
    if plan.landing.is_some() {
        let at = item(sheet, 3.0 * radius, "CUE BALL LANDS: 86 OF 100 HITS");
        oval(sheet, at, [1.5 * radius, 0.9 * radius], 0.0);
    } else if !plan.lies.is_empty() {
        let words = format!("CUE BALL LANDS: {} HITS", plan.lies.len());
        let at = item(sheet, 2.0 * SQUARE, &words);
        square(sheet, at);
    }
}
