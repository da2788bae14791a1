//! What the shots of a layout that is played again and again came to: how many dropped, and where
//! the cue ball ended.

use super::{
    messages::{say, weave},
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
        h2 #count-title { (say!("count-heading")) }
        @if standing.wanted.cue_ball().is_none() {
            p { (say!("count-no-cue-ball")) }
        } @else if practice.shots().is_empty() {
            p { (say!("count-none")) }
        } @else {
            p.made data-made=(tally.made) data-shots=(tally.shots()) {
                @let told = say!("count-made-of", made = tally.made, shots = tally.shots());
                (weave(&told, &[("made", html! { span.figure {} })]))
            }
            p { (chance(tally.chance(), tally.shots())) }
            dl.facts {
                div { dt { (say!("count-missed")) } dd { (tally.missed) } }
                div { dt { (say!("count-scratched")) } dd { (tally.scratched) } }
            }
            h3 { (say!("count-where")) }
            (ended(&practice.scatter(), practice.shots(), &table))
            (shots(practice.shots()))
        }
    }
}

/// How sure the player's chance is.
fn chance(bounds: Option<(f64, f64)>, shots: usize) -> String {
    match bounds {
        Some((low, high)) if shots >= LEAST_SHOTS => {
            say!("count-chance", low = words::percent(low), high = words::percent(high))
        }
        _ => say!("count-no-chance", shots = shots, needed = LEAST_SHOTS),
    }
}

/// Where the cue ball ended: a disc for a shot that was made, a cross for a miss.
fn ended(scatter: &Scatter, shots: &[Shot], table: &TableSize) -> Markup {
    let counted = || shots.iter().filter(|shot| shot.counts);
    let at = |shot: &Shot| Some(place(DiamondPoint::from_table(shot.cue?, table)));
    let units = |mm: f64| DIAMOND * mm * 8.0 / table.length_mm;
    html! {
        figure {
            svg.ended viewBox=(VIEW) role="img" aria-label=(say!("count-where")) {
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
                (say!("count-marks")) " "
                @if scatter.ellipse.is_some() {
                    (say!("count-ellipse"))
                } @else {
                    @let shots = scatter.places.len();
                    (say!("count-no-ellipse", shots = shots, needed = LEAST_PLACES))
                }
            }
        }
    }
}

fn ending(ending: Ending) -> String {
    match ending {
        Ending::Made => say!("count-shot-made"),
        Ending::Missed => say!("count-shot-missed"),
        Ending::Scratched => say!("count-shot-scratched"),
    }
}

fn shots(shots: &[Shot]) -> Markup {
    html! {
        ol.shots reversed start=(shots.len()) {
            @for shot in shots.iter().rev().take(LISTED) {
                li data-counts=(shot.counts) {
                    a href=(super::rest::address(shot.rest)) { (ending(shot.ending)) }
                    @if shot.potted > 1 {
                        " " span.quiet { (say!("count-pocketed", balls = shot.potted)) }
                    }
                    " "
                    button type="button" data-leave=(shot.rest) aria-pressed=(!shot.counts) {
                        @if shot.counts {
                            (say!("count-was-no-shot"))
                        } @else {
                            (say!("count-left-out"))
                        }
                    }
                }
            }
        }
    }
}
