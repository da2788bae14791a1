//! A layout set up again: what lies where it should, which way the other balls have to go, and the
//! shots counted.
//!
//! Of a rest the page is whole without its script. A drawn layout stands in the address behind #,
//! where only the script sees it.

use super::{
    board::{is_seen, seeing},
    count::count,
    messages::{say, weave},
    shell::{Place, Shell, not_there},
    sketch::{VIEW, bed, bed_once, place, radius},
};
use crate::{
    again::{Guide, Wanted},
    layout::BallKind,
    service::{
        App, Problem, Sent,
        api::again::{AgainBody, Standing, practice_in},
    },
    table::{DiamondPoint, TablePoint},
};
use axum::{
    extract::{Query, State, rejection::QueryRejection},
    http::StatusCode,
    response::{Html, IntoResponse, Response},
};
use maud::{Markup, html};
use serde::Deserialize;

/// An arrow in the drawing is at least so long, in its units, so that a few millimetres are seen.
const LEAST_ARROW: f64 = 42.0;

/// Shorter ways along or across are not worth a word, in millimetres.
const NO_WORD_MM: f64 = 2.0;

/// What is set up, and since when.
#[derive(Debug, Deserialize)]
pub(super) struct Which {
    rest: Option<i64>,
    camera: Option<String>,
    /// The newest rest when the practice began; the newest now where it begins.
    after: Option<i64>,
}

/// Where a rest is set up again.
pub(super) fn address(rest: i64) -> String {
    format!("/again?rest={rest}")
}

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    which: Result<Query<Which>, QueryRejection>,
) -> Result<Response, Problem> {
    let Query(Which { rest, camera, after }) = which?;
    let last = *app.record.announcements().borrow();
    let newest = app.record.newest(camera.clone(), 1).await?.pop().map_or(0, |rest| rest.id);
    let after = after.unwrap_or(newest);
    let (camera, inner) = match rest {
        None => (camera, choose()),
        Some(rest) => match AgainBody::of_rest(rest, camera, after).stand(&app).await {
            Ok(standing) => (Some(standing.camera.clone()), sections(&app, &standing)),
            Err(problem) if problem.status == StatusCode::NOT_FOUND => {
                let to = ("/attempts", &*say!("to-the-attempts"));
                return Ok(not_there(&say!("again-nothing"), &problem.detail, to));
            }
            Err(problem) => return Err(problem),
        },
    };
    let shell = Shell {
        title: &say!("again"),
        place: Place::Elsewhere,
        sheet: Some("/again.css"),
        script: Some("/again.js"),
    };
    let main = html! {
        main #main.again data-rest=[rest] data-camera=[camera] data-after=(after) data-last=(last) {
            h1 { (say!("again")) }
            p #link role="status" { (say!("reload")) }
            p #told.hidden role="status" {}
            p #failed hidden role="status" {}
            div #parts { (inner) }
        }
    };
    Ok(shell.around(&main).into_response())
}

/// What is shown where no layout is named.
fn choose() -> Markup {
    html! {
        p.lead { (say!("again-lead")) }
        @let attempts = html! { a href="/attempts" {} };
        @let draw = html! { a href="/draw" {} };
        p { (weave(&say!("again-choose"), &[("attempts", attempts), ("draw", draw)])) }
    }
}

/// The parts alone, for the script.
pub(super) async fn parts(State(app): State<App>, sent: Sent) -> Result<Response, Problem> {
    let standing = practice_in(sent)?.stand(&app).await?;
    Ok(Html(sections(&app, &standing).into_string()).into_response())
}

/// All parts; each is known by its id.
fn sections(app: &App, standing: &Standing) -> Markup {
    let practice = &standing.practice;
    let status = app.cameras.board().all();
    let status = status.iter().find(|status| status.name.as_str() == standing.camera);
    html! {
        (bed_once())
        section #seeing aria-label=(say!("camera")) data-camera=(standing.camera) {
            (seeing(&standing.camera, status))
            @if !is_seen(status) {
                p.stale { (weave(&say!("again-not-live"), &[])) }
            }
        }
        section #next aria-label=(say!("again-what-to-do")) {
            (next(practice.guide(), practice.is_ready()))
        }
        section #practice aria-label=(say!("again-the-score")) { (score(standing.uncounted)) }
        section #lies aria-label=(say!("the-table")) {
            @if let Some(guide) = practice.guide() { (drawing(guide)) }
        }
        section #balls aria-labelledby="balls-title" {
            h2 #balls-title { (say!("balls")) }
            @if let Some(guide) = practice.guide() { (list(guide)) }
        }
        section #count aria-labelledby="count-title" { (count(standing)) }
    }
}

/// Whether the score takes notice of what is played here.
fn score(uncounted: bool) -> Markup {
    html! {
        @if uncounted {
            p { (weave(&say!("again-practice"), &[])) }
            button type="button" data-practise="false" { (say!("end-the-practice")) }
        } @else {
            p { (say!("again-counts")) }
            button type="button" data-practise="true" { (say!("again-practise")) }
        }
    }
}

/// The one thing to do now, in words that are read from the table.
fn next(guide: Option<&Guide>, ready: bool) -> Markup {
    let Some(guide) = guide else {
        return html! {
            p.now data-stands="missing" { (say!("again-not-clear")) }
        };
    };
    let all = guide.wanted.len();
    let first = guide.wanted.iter().find(|ball| !ball.is_in_place());
    html! {
        @if ready {
            p.now data-stands="in_place" { (say!("again-ready")) }
        } @else if all == 0 {
            p.now data-stands="missing" { (say!("again-empty")) }
        } @else if let Some(ball) = first {
            p.now data-stands=(stands(ball)) data-way=[way(ball)] {
                (say!("again-now", ball = name(ball.kind, ball.number), asks = asks(ball)))
            }
        } @else if let Some((kind, number, _)) = guide.extra.first() {
            @let (ball, asks) = (name(*kind, *number), say!("again-take-off"));
            p.now data-stands="extra" { (say!("again-now", ball = ball, asks = asks)) }
        }
        @if all > 0 && !ready {
            @let (placed, extra) = (guide.in_place(), guide.extra.len());
            p.quiet { (say!("again-in-place", placed = placed, all = all, extra = extra)) }
        }
        @if guide.turned {
            p.quiet { (say!("again-turned")) }
        }
    }
}

fn stands(ball: &Wanted) -> &'static str {
    match ball.partner {
        None => "missing",
        Some(_) if ball.is_in_place() => "in_place",
        Some(_) => "away",
    }
}

fn name(kind: BallKind, number: Option<u8>) -> String {
    match (kind, number) {
        (BallKind::Cue, _) => say!("ball-cue"),
        (BallKind::Object, Some(number)) => say!("ball-number", number = number),
        (BallKind::Object, None) => say!("again-a-ball"),
    }
}

/// What a wanted ball asks for.
fn asks(ball: &Wanted) -> String {
    let Some(partner) = ball.partner else { return say!("again-put-on") };
    if ball.is_in_place() {
        return say!("again-placed");
    }
    let [along, across] = partner.by_mm;
    let mut parts = Vec::new();
    if along.abs() >= NO_WORD_MM {
        let way = far(along.abs());
        parts.push(if along < 0.0 {
            say!("again-toward-head", way = way)
        } else {
            say!("again-toward-foot", way = way)
        });
    }
    if across.abs() >= NO_WORD_MM {
        let way = far(across.abs());
        parts.push(if across < 0.0 {
            say!("again-to-right", way = way)
        } else {
            say!("again-to-left", way = way)
        });
    }
    parts.join(", ")
}

/// A way in words: nobody needs millimetres of a way across the table.
fn far(mm: f64) -> String {
    if mm < 100.0 { format!("{mm:.0} mm") } else { format!("{:.0} cm", mm / 10.0) }
}

/// Where an arrow has to point on the screen, the foot at the right: an eighth of a turn each, from
/// the foot on, against the clock.
fn way(ball: &Wanted) -> Option<i64> {
    let [along, across] = ball.partner.filter(|_| !ball.is_in_place())?.by_mm;
    let eighths = across.atan2(along) / std::f64::consts::FRAC_PI_4;
    Some((eighths.round() as i64).rem_euclid(8))
}

fn list(guide: &Guide) -> Markup {
    html! {
        ul.asks {
            @for ball in &guide.wanted {
                li data-stands=(stands(ball)) data-way=[way(ball)] {
                    strong { (name(ball.kind, ball.number)) } " " (asks(ball))
                    @if let Some(another) = ball.partner.and_then(|partner| partner.another) {
                        span.quiet { " " (say!("again-another", ball = another)) }
                    }
                }
            }
            @for (kind, number, _) in &guide.extra {
                li data-stands="extra" { strong { (name(*kind, *number)) } " " (say!("again-take-off")) }
            }
        }
        p.quiet { (say!("again-left-right")) }
    }
}

/// The table as it lies with the places that are wanted: a ball in its place has a ring with a tick,
/// one that has to go an arrow, a place without a ball is a dashed ring with a plus, a ball that is
/// too many has a cross.
fn drawing(guide: &Guide) -> Markup {
    let at = |point: TablePoint| place(DiamondPoint::from_table(point, &guide.table));
    let r = radius(&guide.table);
    let told = say!("again-told", placed = guide.in_place(), all = guide.wanted.len());
    html! {
        figure {
            svg.setup viewBox=(VIEW) role="img" aria-label=(told) {
                (bed())
                @for ball in &guide.wanted {
                    @let (x, y) = at(ball.at);
                    g.wish data-stands=(stands(ball)) transform=(format!("translate({x} {y})")) {
                        circle.place r=(r + 7.0) {}
                        @if ball.partner.is_none() { path.mark d="M-9 0H9M0 -9V9" {} }
                        @if let Some(number) = ball.number.filter(|_| ball.kind == BallKind::Object) {
                            text x="0" y=(-r - 14.0) { (number) }
                        }
                    }
                }
                @for ball in &guide.wanted {
                    @if let Some(partner) = ball.partner {
                        @let (x, y) = at(partner.at);
                        g.lie data-stands=(stands(ball)) transform=(format!("translate({x} {y})")) {
                            (disc(ball.kind, r))
                            @if ball.is_in_place() { path.mark d="M-7 0L-2 6L8 -7" {} }
                        }
                        @if !ball.is_in_place() { (arrow((x, y), at(ball.at), r)) }
                    }
                }
                @for (kind, _, point) in &guide.extra {
                    @let (x, y) = at(*point);
                    g.lie data-stands="extra" transform=(format!("translate({x} {y})")) {
                        (disc(*kind, r))
                        path.mark d="M-16 -16L16 16M-16 16L16 -16" {}
                    }
                }
            }
            p.ends { span { (say!("head-end")) } span { (say!("foot-end")) } }
        }
    }
}

fn disc(kind: BallKind, r: f64) -> Markup {
    html! {
        @match kind {
            BallKind::Object => circle.object r=(r) {},
            BallKind::Cue => { circle.cue r=(r) {} circle.dot r="5" {} }
        }
    }
}

/// From a ball toward its place, and at least long enough to be seen.
fn arrow((x, y): (f64, f64), to: (f64, f64), r: f64) -> Markup {
    let (dx, dy) = (to.0 - x, to.1 - y);
    let length = dx.hypot(dy).max(LEAST_ARROW);
    let turn = dy.atan2(dx).to_degrees();
    let (shaft, barb) = (length - 2.0, length - 13.0);
    let d = format!("M{r:.0} 0H{shaft:.1}M{barb:.1} -9L{shaft:.1} 0L{barb:.1} 9");
    html! { path.arrow d=(d) transform=(format!("translate({x} {y}) rotate({turn:.1})")) {} }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::again::Partner;

    fn ball(by_mm: [f64; 2]) -> Wanted {
        let partner = Partner { at: TablePoint::new(500.0, 400.0), by_mm, another: None };
        let at = TablePoint::new(500.0 + by_mm[0], 400.0 + by_mm[1]);
        Wanted { kind: BallKind::Object, number: Some(3), at, partner: Some(partner) }
    }

    #[test]
    fn ways_are_told_along_and_across_as_seen_from_the_head() {
        assert_eq!(asks(&ball([34.2, 0.4])), "34 mm toward the foot");
        assert_eq!(asks(&ball([-8.0, -412.0])), "8 mm toward the head, 41 cm to the right");
        assert_eq!(asks(&ball([1.0, 12.0])), "12 mm to the left");
        assert_eq!(asks(&ball([3.0, 3.0])), "in place");
        assert_eq!(asks(&Wanted { partner: None, ..ball([0.0; 2]) }), "put it on the table");
    }

    #[test]
    fn arrows_point_as_the_drawing_does() {
        let ways = [[50.0, 0.0], [50.0, 50.0], [0.0, 50.0], [-50.0, 1.0], [1.0, -50.0]];
        assert_eq!(ways.map(|by_mm| way(&ball(by_mm)).unwrap()), [0, 1, 2, 4, 6]);
        assert_eq!(way(&ball([1.0, 1.0])), None);
    }
}
