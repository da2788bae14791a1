//! Tables small enough for a strip of them: the bed once to a page, balls as discs on it.
//!
//! A hundred units are a diamond, y down. Balls are drawn larger than they are, or nobody would
//! see them; the diagram of a layout is the drawing to scale. Shape tells before colour does: the
//! cue ball is a ring with a dot, object balls are full discs. Colours are the page's.

use super::{messages::say, words::in_words};
use crate::{
    layout::{BallKind, Layout},
    table::{DiamondPoint, Rack, TableSize},
};
use maud::{Markup, html};

/// Units to a diamond.
pub(super) const DIAMOND: f64 = 100.0;

/// From the noses to the rail's outer border.
const RAIL: f64 = 44.0;

/// How much larger than life balls are drawn.
const LARGER: f64 = 1.35;

/// A place in the drawing.
pub(super) fn place(point: DiamondPoint) -> (f64, f64) {
    let rounded = |units: f64| (10.0 * units).round() / 10.0;
    (rounded(DIAMOND * point.x), rounded(DIAMOND * (4.0 - point.y)))
}

/// What the drawing shows, with its rails.
pub(super) const VIEW: &str = "-44 -44 888 488";

/// Rails, cloth, pockets, sights, strings, spots and the rack's outline.
pub(super) fn bed() -> Markup {
    let table = TableSize::NINE_FOOT;
    let on_sheet = |point| place(DiamondPoint::from_table(point, &table));
    let [apex, .., last] = *Rack::on(&table).places();
    let (x0, y0) = on_sheet(apex);
    let (x1, y1) = on_sheet(last);
    let outline = format!("M{x0} {y0}L{x1} {y1}L{x1} {}Z", 4.0 * DIAMOND - y1);
    html! {
        rect.rail x=(-RAIL) y=(-RAIL) width=(8.0 * DIAMOND + 2.0 * RAIL)
            height=(4.0 * DIAMOND + 2.0 * RAIL) rx="26" {}
        rect.cloth x="0" y="0" width=(8.0 * DIAMOND) height=(4.0 * DIAMOND) {}
        path.marking d="M200 0V400" {}
        path.marking d=(outline) {}
        @for pocket in table.pockets() {
            @let (x, y) = on_sheet(pocket.centre);
            circle.pocket cx=(x) cy=(y) r="22" {}
        }
        @for sight in table.sights() {
            @let (x, y) = on_sheet(sight);
            circle.sight cx=(x) cy=(y) r="5" {}
        }
    }
}

/// The bed as something that every sketch of a page refers to.
pub(super) fn bed_once() -> Markup {
    html! {
        svg.hidden aria-hidden="true" width="0" height="0" {
            symbol #bed viewBox=(VIEW) { (bed()) }
        }
    }
}

/// The table of a page whose script draws on it: layers over the bed, which end is which, and below
/// what the script says, at first `said`.
pub(super) fn stage(label: &str, layers: &[&str], said: &str) -> Markup {
    html! {
        div.stage {
            svg #table viewBox=(VIEW) role="group" aria-label=(label) {
                g #turn {
                    (bed())
                    @for layer in layers { g id=(layer) {} }
                }
            }
            p.ends.lying { span { (say!("head-end")) } span { (say!("foot-end")) } }
            p.ends.upright { span { (say!("ends-upright")) } }
            p #status role="status" { (said) }
        }
    }
}

/// The radius that balls are drawn with.
pub(super) fn radius(table: &TableSize) -> f64 {
    let radius = LARGER * DIAMOND * 4.0 * table.ball_diameter_mm / table.length_mm;
    radius.clamp(8.0, 24.0).round()
}

/// A layout as a small drawing; the page has to have the bed in it.
pub(super) fn sketch(layout: &Layout) -> Markup {
    let radius = radius(&layout.table);
    let balls = |kind: BallKind| layout.balls.iter().filter(move |ball| ball.kind == kind);
    html! {
        svg.sketch viewBox=(VIEW) role="img" aria-label=(in_words(layout)) {
            use href="#bed" x="-44" y="-44" width="888" height="488" {}
            @for ball in balls(BallKind::Object) {
                @let (x, y) = place(ball.place());
                circle.object cx=(x) cy=(y) r=(radius) {}
            }
            @for ball in balls(BallKind::Cue) {
                @let (x, y) = place(ball.place());
                circle.cue cx=(x) cy=(y) r=(radius + 2.0) {}
                circle.dot cx=(x) cy=(y) r="5" {}
            }
        }
    }
}
