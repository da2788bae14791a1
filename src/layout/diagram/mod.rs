//! The diagram of a layout: one look of our own, as SVG and as PNG.
//!
//! Seen from above, head end at the left, x to the right and y up, so that nothing is mirrored.
//! What tells balls apart is shape before colour, so that it holds in grey print and for a
//! colour-blind reader: a solid ball is a filled disc with a filled number chip, a striped ball a
//! disc with one band and an outlined chip, the cue ball a white disc in a cross of four ticks, a
//! ball whose number could not be read a slashed disc and a dashed chip. Chips are larger than
//! balls, so that numbers can be read on a phone and across a room, and are tied to their balls by
//! leaders. The drawing brings its own light background; whatever surrounds it is the page's.
//!
//! Lengths are drawing units ("units"): the table's length is always [`look::LENGTH`] of them,
//! y down. Must not know cameras, pictures or storage.

mod balls;
mod bed;
mod chips;
mod look;
mod pdf;
mod plan;
mod raster;
mod sheet;
mod spots;
mod ways;
mod words;

pub use look::{INK, PAPER};
pub use pdf::pdf_of;
pub use plan::{Area, Plan};
pub use raster::{DiagramError, MOST_WIDTH_PX, png, png_of};
pub(crate) use sheet::{escaped, number, path};
pub use spots::{BestSpot, Spot};
pub use ways::{Way, WayEnd};

use super::Layout;
use crate::table::{FootEnd, TableSize};
use sheet::Sheet;

/// The drawing of a layout as an SVG document, with its description in words in `<desc>`.
pub fn svg(layout: &Layout) -> String {
    svg_with_plan(layout, &Plan::default())
}

/// Width and height of a drawing in its own units, with so many lines of legend: what stands around
/// it leaves room for it before it has come. None are of a layout alone; a plan has one for its ways
/// and one for where the cue ball meets balls and comes to rest.
pub fn size(table: &TableSize, legend_lines: usize) -> [f64; 2] {
    let mut sheet = Sheet::new(table);
    (0..legend_lines).for_each(|_| sheet.add_line());
    sheet.size()
}

/// The drawing as a part of a larger one: a group whose upper left corner lies at a place, so many
/// units wide, and its height there.
pub fn part(layout: &Layout, at: [f64; 2], width: f64) -> (String, f64) {
    drawn(layout, &Plan::default()).part(at, width)
}

/// The drawing with the balls' ways from where the layout has them, where the cue ball meets what
/// and comes to rest, and a legend of all that.
pub fn svg_with_plan(layout: &Layout, plan: &Plan<'_>) -> String {
    drawn(layout, plan).finish(&words::title(layout), &words::description(layout, plan))
}

fn drawn(layout: &Layout, plan: &Plan<'_>) -> Sheet {
    let mut sheet = Sheet::new(&layout.table);
    bed::draw(&mut sheet, layout);
    bed::words(&mut sheet, layout, &bed::summary(layout));
    plan::draw(&mut sheet, layout, plan);
    let balls = balls::drawn(&sheet, layout);
    // Chips stand beside their own balls, and leave free what the plan shows.
    let mut around = balls.clone();
    around.extend(plan::in_the_way(&sheet, layout, plan));
    let chips = chips::place(&sheet, &around);
    chips::draw_under(&mut sheet, &chips);
    balls::draw(&mut sheet, &balls);
    chips::draw_over(&mut sheet, &chips);
    sheet
}

/// A map of places on a bare table; `title` and `worth` say what it is of and what the largest
/// place stands for, `description` tells it in words.
pub fn svg_of_spots(
    table: &TableSize,
    (spots, best): (&[Spot], &[BestSpot]),
    (title, worth, description): (&str, &str, &str),
) -> String {
    let layout = Layout::of(*table, FootEnd::Given, Vec::new());
    let mut sheet = Sheet::new(table);
    sheet.add_line();
    bed::draw(&mut sheet, &layout);
    bed::words(&mut sheet, &layout, &title.to_uppercase());
    spots::draw(&mut sheet, table.ball_radius_mm(), spots, best);
    spots::legend(&mut sheet, table.ball_radius_mm(), worth);
    sheet.finish(title, description)
}

#[cfg(test)]
mod tests;
