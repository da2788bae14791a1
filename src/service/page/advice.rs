//! How to play a rest: the advice in sentences, drawn, with its choices to switch through by links.
//!
//! What is held already is shown at once; otherwise a link asks for it, since it takes two seconds.

use super::{
    messages::{say, weave},
    rest::address,
};
use crate::{
    advice::{Advice, Level, Player},
    layout::diagram,
    record::Rest,
    service::{App, Problem},
    table::TableSize,
};
use maud::{Markup, html};
use serde::Deserialize;
use std::sync::Arc;

/// Which choice is shown: counted from 0, the best first.
#[derive(Debug, Deserialize)]
pub(super) struct Chosen {
    advice: Option<usize>,
}

/// What is known of how to play a rest.
pub(super) enum Known {
    /// Nothing to play: no cue ball, or no other.
    Nothing,
    /// Nobody has asked yet.
    NotAsked,
    Found {
        advice: Arc<Advice>,
        choice: usize,
    },
    Refused(Problem),
}

/// The advice that is held, or asked for by this.
pub(super) async fn look_up(app: &App, rest: &Rest, chosen: &Chosen) -> Known {
    let layout = &rest.layout;
    if layout.cue_ball().is_none() || layout.object_balls().count() == 0 {
        return Known::Nothing;
    }
    let choice = chosen.advice.unwrap_or(0);
    match (app.advising.held(rest.id), chosen.advice) {
        (Some(advice), _) => Known::Found { advice, choice },
        (None, None) => Known::NotAsked,
        (None, Some(_)) => match app.advice_on(rest).await {
            Ok(advice) => Known::Found { advice, choice },
            Err(problem) => Known::Refused(problem),
        },
    }
}

fn link(rest: i64, choice: usize) -> String {
    format!("{}?advice={choice}#play", address(rest))
}

/// The section of the rest's page.
pub(super) fn section(rest: i64, known: &Known) -> Markup {
    html! {
        @match known {
            Known::Nothing => {},
            Known::NotAsked => section.advice aria-labelledby="play" {
                h2 #play { (say!("advice-heading")) }
                @let ask = html! { a href=(link(rest, 0)) {} };
                p { (weave(&say!("advice-think"), &[("ask", ask)])) }
            },
            Known::Refused(problem) => section.advice aria-labelledby="play" {
                h2 #play { (say!("advice-heading")) }
                p { (problem.detail) " " a href=(link(rest, 0)) { (say!("advice-try-again")) } }
            },
            Known::Found { advice, choice } => (found(rest, advice, *choice)),
        }
    }
}

fn found(rest: i64, advice: &Advice, choice: usize) -> Markup {
    let names = advice.choice_names();
    let choice = choice.min(names.len().saturating_sub(1));
    let drawing = format!("/api/layouts/{rest}/advice.svg?choice={choice}");
    // Of whatever size the table is, the drawing of a plan with ways and meetings has this shape.
    let [width, height] = diagram::size(&TableSize::NINE_FOOT, 2);
    html! {
        section.advice aria-labelledby="play" {
            h2 #play { (say!("advice-heading")) small { (player_words(&advice.player)) } }
            @if let Some((first, others)) = advice.said.split_first() {
                p.lead { (first) }
                @if !others.is_empty() {
                    ul { @for sentence in others { li { (sentence) } } }
                }
            }
            @if let Some(name) = names.get(choice) {
                figure {
                    img src=(drawing) alt=(name) width=(width) height=(height);
                    figcaption {
                        (name) ". "
                        @if let Some(hit) = advice.choice_hit(choice) {
                            a href=(super::try_hit::address(rest, &hit)) { (say!("advice-try-shot")) } ", "
                        }
                        a href=(drawing) { "SVG" } ", "
                        a href={ "/api/layouts/" (rest) "/advice" } { "JSON" }
                    }
                }
            }
            @if names.len() > 1 {
                nav.ways aria-label=(say!("advice-others")) {
                    @for (index, name) in names.iter().enumerate() {
                        a href=(link(rest, index)) aria-current=[(index == choice).then_some("true")] {
                            (name)
                        }
                    }
                }
            }
        }
    }
}

fn player_words(player: &Player) -> String {
    let level = Level::ALL.into_iter().find(|level| level.prior() == *player);
    level.map_or_else(
        || say!("advice-for-player"),
        |level| say!("advice-for-level", level = level.name()),
    )
}
