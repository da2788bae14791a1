//! The table of the diagram: rails, cushions, pockets, sights, spots, and the words below.

use super::look;
use super::sheet::{Pen, Sheet, number};
use crate::layout::{BallKind, Layout, strokes};
use crate::table::{FootEnd, Rack, TablePoint};

/// Half the width and length of a sight's lozenge.
const SIGHT: [f64; 2] = [13.0, 21.0];

pub fn draw(sheet: &mut Sheet, layout: &Layout) {
    rails(sheet, layout);
    markings(sheet, layout);
    pockets(sheet, layout);
    if layout.obstructed {
        warning(sheet);
    }
}

fn rails(sheet: &mut Sheet, layout: &Layout) {
    let (l, w) = (look::LENGTH, sheet.across);
    let out = look::RAIL;
    sheet.block([-out, -out], [l + 2.0 * out, w + 2.0 * out], look::RAIL_FILL, r#"rx="70""#);
    let cushion = look::CUSHION;
    sheet.block([-cushion, -cushion], [l + 2.0 * cushion, w + 2.0 * cushion], look::CLOTH, "");
    for nose in layout.table.noses() {
        self::cushion(sheet, nose.map(|tip| sheet.place(tip)));
    }
    for sight in layout.table.sights() {
        let [x, y] = sheet.place(sight);
        // The lozenge points across its rail.
        let on_long_rail = !(0.0..=w).contains(&y);
        let [a, b] = if on_long_rail { SIGHT } else { [SIGHT[1], SIGHT[0]] };
        sheet.shape(&[[x - a, y], [x, y - b], [x + a, y], [x, y + b]], look::PAPER);
    }
}

fn markings(sheet: &mut Sheet, layout: &Layout) {
    let (l, w) = (look::LENGTH, sheet.across);
    let mut grid: Vec<_> =
        (1..8).map(|i| f64::from(i) * l / 8.0).map(|x| vec![[x, 0.0], [x, w]]).collect();
    grid.extend((1..4).map(|i| f64::from(i) * w / 4.0).map(|y| vec![[0.0, y], [l, y]]));
    sheet.lines(&grid, Pen { colour: look::GRID, width: 3.0 }, "");
    // Where the foot is open, either end may hold string and spot.
    let both = layout.foot == FootEnd::Open;
    let strings = if both { vec![l / 4.0, 3.0 * l / 4.0] } else { vec![l / 4.0] };
    let spots = [layout.table.foot_spot(), layout.table.head_spot()];
    let strings: Vec<_> = strings.into_iter().map(|x| vec![[x, 0.0], [x, w]]).collect();
    sheet.lines(&strings, Pen { colour: look::MARKING, width: 6.0 }, r#"stroke-dasharray="2 20""#);
    for spot in spots.into_iter().take(if both { 2 } else { 1 }) {
        let at = sheet.place(spot);
        sheet.disc(at, 10.0, look::MARKING);
    }
    if !both {
        rack_outline(sheet, layout);
    }
}

/// The triangle's inner outline: what has some part inside it lies in the rack.
fn rack_outline(sheet: &mut Sheet, layout: &Layout) {
    let rack = Rack::on(&layout.table);
    let [apex, .., last] = *rack.places();
    let first = TablePoint::new(last.x_mm, layout.table.width_mm - last.y_mm);
    let radius = sheet.units(layout.table.ball_radius_mm());
    let [a, b, c] = [apex, first, last].map(|point| sheet.place(point));
    let round = number(radius);
    let mut data = String::new();
    // The first side comes again at the end for the sake of the corner before it.
    for (from, to) in [(a, b), (b, c), (c, a), (a, b)] {
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        let long = dx.hypot(dy);
        // The way around is anticlockwise as seen, so outward is to its right.
        let (out_x, out_y) = (-dy / long * radius, dx / long * radius);
        let turn = if data.is_empty() { "M".into() } else { format!("A{round} {round} 0 0 0 ") };
        let start = [number(from[0] + out_x), number(from[1] + out_y)].join(" ");
        let end = [number(to[0] + out_x), number(to[1] + out_y)].join(" ");
        data.push_str(&format!("{turn}{start}L{end}"));
    }
    sheet.raw(&format!(
        r#"<path d="{data}" fill="none" stroke="{}" stroke-width="4"/>"#,
        look::MARKING
    ));
}

/// A cushion behind its nose: it narrows from the mouths inward, more at a corner's than at a
/// side's.
fn cushion(sheet: &mut Sheet, [from, to]: [[f64; 2]; 2]) {
    let (l, w) = (look::LENGTH, sheet.across);
    let upright = (from[0] - to[0]).abs() < 1e-6;
    let along = usize::from(upright);
    // Where the jaw meets the rail: away from its cushion's middle.
    let back = |tip: [f64; 2], other: [f64; 2]| {
        let at_side = !upright && (tip[0] - l / 2.0).abs() < l / 8.0;
        let lean = if at_side { 0.25 } else { 0.9 } * look::CUSHION;
        let mut back = tip;
        back[along] += lean * (tip[along] - other[along]).signum();
        let outward =
            if upright { (tip[0] - l / 2.0).signum() } else { (tip[1] - w / 2.0).signum() };
        back[1 - along] += outward * look::CUSHION;
        back
    };
    sheet.shape(&[from, to, back(to, from), back(from, to)], look::CUSHION_FILL);
}

fn pockets(sheet: &mut Sheet, layout: &Layout) {
    for pocket in layout.table.pockets() {
        sheet.disc(sheet.place(pocket.centre), sheet.units(pocket.radius_mm), look::POCKET);
    }
}

/// The line below the table: which end is which, and what is shown.
pub fn words(sheet: &mut Sheet, layout: &Layout, shown: &str) {
    let pen = Pen { colour: look::INK, width: look::WORD_STROKE };
    let top = sheet.across + look::RAIL + look::MARGIN + 14.0;
    let (from, to) = (-look::RAIL, look::LENGTH + look::RAIL);
    let (head, foot) = match layout.foot {
        FootEnd::Given | FootEnd::Seen => ("HEAD", "FOOT"),
        FootEnd::Open => ("HEAD?", "FOOT?"),
    };
    let (arrow, gap) = (40.0, 34.0);
    let middle = top + look::WORD / 2.0;
    sheet.text(head, [from + arrow + gap, top], look::WORD, pen);
    sheet.shape(
        &[[from, middle], [from + arrow, middle - 26.0], [from + arrow, middle + 26.0]],
        look::INK,
    );
    let foot_left = to - arrow - gap - strokes::text_width(foot, look::WORD);
    sheet.text(foot, [foot_left, top], look::WORD, pen);
    sheet.shape(
        &[[to, middle], [to - arrow, middle - 26.0], [to - arrow, middle + 26.0]],
        look::INK,
    );
    let wide = strokes::text_width(shown, look::WORD);
    sheet.text(shown, [(look::LENGTH - wide) / 2.0, top], look::WORD, pen);
}

/// The table, and how many balls.
pub fn summary(layout: &Layout) -> String {
    let cue = layout.balls.iter().filter(|ball| ball.kind == BallKind::Cue).count();
    let objects = layout.balls.len() - cue;
    let cue = if cue == 0 { "NO CUE BALL" } else { "CUE BALL" };
    let hidden = if layout.obstructed { " · PART HIDDEN" } else { "" };
    format!("{} · {cue} + {objects}{hidden}", layout.table.name().to_uppercase())
}

/// A barred border: part of the cloth cannot be seen.
fn warning(sheet: &mut Sheet) {
    let out = look::RAIL + look::MARGIN / 2.0;
    let (l, w) = (look::LENGTH + 2.0 * out, sheet.across + 2.0 * out);
    let around =
        format!(r#"rx="80" stroke="{}" stroke-width="26" stroke-dasharray="70 44""#, look::SIGNAL);
    sheet.block([-out, -out], [l, w], "none", &around);
}
