//! What is worth practising, on the progress page: the reason in figures, layouts to set up again, and
//! whether it has helped since a day that the player names.

use super::{
    messages::say,
    sketch::{bed_once, sketch},
};
use crate::{
    record::Rest,
    service::{App, Problem},
    study::{Plan, ToPractise},
};
use maud::{Markup, html};

/// Layouts that are shown to each thing.
const SHOWN: usize = 4;

/// The layouts that the plan leads to.
pub(super) async fn look_up(app: &App, plan: Option<&Plan>) -> Result<Vec<Rest>, Problem> {
    let things = plan.map_or(&[][..], |plan| &plan.things);
    let mut rests = Vec::new();
    for id in things.iter().flat_map(|thing| thing.rests.iter().take(SHOWN)) {
        rests.extend(app.record.by_id(*id).await?);
    }
    Ok(rests)
}

pub(super) fn section(plan: &Plan, again: &[Rest]) -> Markup {
    html! {
        section.plan aria-labelledby="plan" {
            h2 #plan { (say!("plan-heading")) }
            @if plan.things.is_empty() {
                @for sentence in plan.in_words() { p { (sentence) } }
            } @else {
                (bed_once())
                ol.things { @for thing in &plan.things { li { (one(plan, thing, again)) } } }
                details.change {
                    summary { (say!("plan-helped")) }
                    div.fields {
                        label {
                            (say!("plan-since"))
                            input #since type="date" value=[plan.since.map(|day| day.to_string())];
                        }
                        button #set-since type="button" { (say!("plan-compare")) }
                    }
                }
            }
        }
    }
}

fn one(plan: &Plan, thing: &ToPractise, again: &[Rest]) -> Markup {
    let shown = thing.rests.iter().filter_map(|id| again.iter().find(|rest| rest.id == *id));
    html! {
        h3 { (thing.practice.name()) }
        @for sentence in thing.in_words(plan.since) { p { (sentence) } }
        ul.strip {
            @for rest in shown.take(SHOWN) {
                li {
                    a href=(super::again::address(rest.id)) {
                        (sketch(&rest.layout))
                        span.told { (say!("set-it-up-again")) }
                    }
                    span.quiet { (say!("plan-missed-from", rest = rest.id)) }
                }
            }
        }
    }
}
