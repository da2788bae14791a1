//! What the shots of a layout that is played again and again came to: how many dropped, and where
//! the cue ball ended.

use super::{
    sketch::{DIAMOND, VIEW, place},
    words,
};
use crate::{
    again::{Ending, LEAST_PLACES, Scatter, Shot},
    service::api::again::Standing,
    table::{DiamondPoint, TableSize},
};
use maud::{Markup, html};

/// The newest shots, by which a wrong one can be left out.
const LISTED: usize = 12;

/// With fewer shots the chance is not told: its bounds would hardly leave anything out.
const LEAST_SHOTS: usize = 5;

pub(super) fn count(standing: &Standing) -> Markup {
    let practice = &standing.practice;
    let tally = practice.tally();
    let table = practice.guide().map_or(standing.wanted.table, |guide| guide.table);
    html! {
        h2 #count-title { "Shots" }
        @if standing.wanted.cue_ball().is_none() {
            p { "Shots are counted where the layout has a cue ball; this one has none." }
        } @else if practice.shots().is_empty() {
            p { "Each shot from the layout as it should lie is counted here." }
        } @else {
            p.made data-made=(tally.made) data-shots=(tally.shots()) {
                span.figure { (tally.made) } " of " (tally.shots()) " made"
            }
            p { (chance(tally.chance(), tally.shots())) }
            dl.facts {
                div { dt { "Missed" } dd { (tally.missed) } }
                div { dt { "Scratched" } dd { (tally.scratched) } }
            }
            h3 { "Where the cue ball ended" }
            (ended(&practice.scatter(), practice.shots(), &table))
            (shots(practice.shots()))
        }
    }
}

/// How sure the player's chance is.
fn chance(bounds: Option<(f64, f64)>, shots: usize) -> String {
    match bounds {
        Some((low, high)) if shots >= LEAST_SHOTS => format!(
            "So many shots put your chance between {} and {}, with 95 % confidence.",
            words::percent(low),
            words::percent(high)
        ),
        _ => format!("Too few to tell a chance: {shots} of {LEAST_SHOTS} shots."),
    }
}

/// Where the cue ball ended: a disc for a shot that was made, a cross for a miss.
fn ended(scatter: &Scatter, shots: &[Shot], table: &TableSize) -> Markup {
    let counted = || shots.iter().filter(|shot| shot.counts);
    let at = |shot: &Shot| Some(place(DiamondPoint::from_table(shot.cue?, table)));
    let units = |mm: f64| DIAMOND * mm * 8.0 / table.length_mm;
    html! {
        figure {
            svg.ended viewBox=(VIEW) role="img" aria-label="Where the cue ball ended" {
                use href="#bed" x="-44" y="-44" width="888" height="488" {}
                @if let Some(ellipse) = scatter.ellipse {
                    @let (x, y) = place(DiamondPoint::from_table(ellipse.middle, table));
                    @let turn = -ellipse.turned_rad.to_degrees();
                    ellipse rx=(format!("{:.1}", units(ellipse.half_mm[0])))
                        ry=(format!("{:.1}", units(ellipse.half_mm[1])))
                        transform=(format!("translate({x} {y}) rotate({turn:.1})")) {}
                }
                @for shot in counted().filter(|shot| shot.ending == Ending::Missed) {
                    @if let Some((x, y)) = at(shot) {
                        path.miss d="M-8 -8L8 8M-8 8L8 -8" transform=(format!("translate({x} {y})")) {}
                    }
                }
                @for shot in counted().filter(|shot| shot.ending == Ending::Made) {
                    @if let Some((x, y)) = at(shot) { circle.make cx=(x) cy=(y) r="8" {} }
                }
            }
            figcaption {
                "Discs: made. Crosses: missed. "
                @if scatter.ellipse.is_some() {
                    "Nine in ten further made shots will end inside the ellipse, if they are like these."
                } @else {
                    "Too few for an ellipse: " (scatter.places.len()) " of " (LEAST_PLACES)
                    " made shots."
                }
            }
        }
    }
}

const fn ending(ending: Ending) -> &'static str {
    match ending {
        Ending::Made => "made",
        Ending::Missed => "missed",
        Ending::Scratched => "scratched",
    }
}

fn shots(shots: &[Shot]) -> Markup {
    html! {
        ol.shots reversed start=(shots.len()) {
            @for shot in shots.iter().rev().take(LISTED) {
                li data-counts=(shot.counts) {
                    a href=(super::rest::address(shot.rest)) { (ending(shot.ending)) }
                    @if shot.potted > 1 { " " span.quiet { (shot.potted) " pocketed" } }
                    " "
                    button type="button" data-leave=(shot.rest) aria-pressed=(!shot.counts) {
                        @if shot.counts { "Was no shot" } @else { "Left out" }
                    }
                }
            }
        }
    }
}
