//! Positions of the record like one, as a strip of small tables with what came of each.

use super::{messages::say, sketch::sketch};
use crate::{
    record::Rest,
    service::{
        App, Problem,
        api::nearest::{NearView, nearest_to},
    },
};
use maud::{Markup, html};

/// A position like another one, with its layout.
pub(super) struct Near {
    view: NearView,
    rest: Rest,
}

/// The nearest to a rest.
pub(super) async fn look_up(app: &App, rest: &Rest, count: usize) -> Result<Vec<Near>, Problem> {
    let mut near = Vec::new();
    for view in nearest_to(app, rest, count).await? {
        if let Some(rest) = app.record.by_id(view.rest).await? {
            near.push(Near { view, rest });
        }
    }
    Ok(near)
}

/// How many of them were made, as a sentence; the page has to have the bed in it for the strip.
pub(super) fn summary(near: &[Near]) -> String {
    let made = near.iter().filter(|one| one.view.made).count();
    say!("near-made", positions = near.len(), made = made)
}

/// The items of a strip.
pub(super) fn items(near: &[Near]) -> Markup {
    html! {
        @for one in near {
            li {
                a href=(super::rest::address(one.rest.id)) {
                    (sketch(&one.rest.layout))
                    span.told { (one.view.in_words()) }
                }
                @let off = format!("{:.2}", one.view.off_diamonds);
                span.quiet { (say!("near-off", diamonds = off)) }
            }
        }
    }
}
