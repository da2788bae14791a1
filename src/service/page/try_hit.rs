//! A shot of one's own on a layout: the page's frame; its script asks what becomes of it.

use super::{
    messages::{say, weave},
    shell::{Place, Shell},
    sketch::stage,
};
use crate::{
    advice::Level,
    motion::Hit,
    service::{App, Problem},
};
use axum::{
    extract::{Query, State, rejection::QueryRejection},
    response::{IntoResponse, Response},
};
use maud::{Markup, html};
use serde::Deserialize;

/// What to begin with.
#[derive(Debug, Deserialize)]
pub(super) struct Begin {
    /// A rest whose layout is played from; the latest where none is given.
    rest: Option<i64>,
}

/// The page's address for a rest and a hit that is begun with.
pub(super) fn address(rest: i64, hit: &Hit) -> String {
    format!(
        "/try?rest={rest}&aim={:.3}&speed={:.2}&height={:.2}&side={:.2}&raised={:.1}",
        hit.aim_rad.to_degrees().rem_euclid(360.0),
        hit.speed_m_s,
        hit.height,
        hit.side,
        hit.elevation_rad.to_degrees()
    )
}

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    begin: Result<Query<Begin>, QueryRejection>,
) -> Result<Response, Problem> {
    let Query(Begin { rest }) = begin?;
    let begun = match rest {
        Some(rest) => app.record.by_id(rest).await?,
        None => app.record.newest(None, 1).await?.pop(),
    };
    let rest = rest.or(begun.as_ref().map(|rest| rest.id));
    let camera = begun.map(|rest| rest.camera);
    let shell = Shell {
        title: &say!("try-a-shot"),
        place: Place::Elsewhere,
        sheet: Some("/draw.css"),
        script: Some("/try.js"),
    };
    let usual = app.advising.usual_player();
    let main = html! {
        main #main.draw.try data-rest=[rest] data-camera=[camera] {
            h1 { (say!("try-a-shot")) }
            noscript { p { (say!("try-needs-scripts")) } }
            (stage(
                &say!("try-table"),
                &["ways", "balls", "cue"],
                &say!("try-begin"),
            ))
            div.tools {
                (stroke())
                (outcome())
                (aim())
                (who(usual))
            }
        }
    };
    Ok(shell.around(&main).into_response())
}

fn outcome() -> Markup {
    html! {
        section aria-labelledby="outcome-title" {
            h2 #outcome-title { (say!("try-outcome")) }
            ul #said aria-live="polite" {}
            div.row {
                button type="button" id="on" disabled { (say!("try-go-on")) }
                button type="button" id="back" disabled { (say!("try-back")) }
                button type="button" id="link" { (say!("copy-link")) }
                a.button id="draw" href="/draw" { (say!("try-change")) }
            }
        }
    }
}

fn aim() -> Markup {
    html! {
        section aria-labelledby="aim-title" {
            h2 #aim-title { (say!("try-aim")) }
            div.row {
                button type="button" data-turn="0.1" { (say!("try-left")) }
                input type="number" id="aim" step="0.1" aria-labelledby="aim-title";
                button type="button" data-turn="-0.1" { (say!("try-right")) }
            }
            p.quiet { (say!("try-aim-keys")) }
        }
    }
}

fn stroke() -> Markup {
    html! {
        section.stroke aria-labelledby="stroke-title" {
            h2 #stroke-title { (say!("try-stroke")) }
            svg #tip viewBox="-60 -60 120 120" role="img" aria-label=(say!("try-tip")) {
                circle.face r="50" {}
                circle.holds r="30" {}
                path.cross d="M-50 0H50M0 -50V50" {}
                circle #spot r="8" {}
            }
            div.sliders {
                (slider("speed", &say!("try-speed"), ("0.2", "9", "0.1")))
                (slider("height", &say!("try-height"), ("-1", "1", "0.05")))
                (slider("side", &say!("try-side"), ("-1", "1", "0.05")))
                (slider("raised", &say!("try-raised"), ("0", "60", "1")))
            }
        }
    }
}

fn slider(id: &str, name: &str, (least, most, step): (&str, &str, &str)) -> Markup {
    html! {
        label for=(id) { (name) }
        output for=(id) data-of=(id) {}
        input type="range" id=(id) min=(least) max=(most) step=(step);
    }
}

fn who(usual: crate::advice::Player) -> Markup {
    let levels = html! {
        select id="player" {
            @for level in Level::ALL {
                option value=(level.name()) selected[level.prior() == usual] { (level.name()) }
            }
        }
    };
    html! {
        section aria-labelledby="who-title" {
            h2 #who-title { (say!("try-who")) }
            label { (weave(&say!("try-errors"), &[("level", levels)])) }
            p.quiet { (say!("try-squares")) }
        }
    }
}
