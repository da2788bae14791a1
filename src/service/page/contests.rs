//! The contests kept here, and the fields to open one.

use super::{
    contest::{Standings, address},
    messages::{say, weave},
    shell::{Place, Shell},
};
use crate::{
    contest::{Counts, Entered, Rules},
    record::Contest,
    service::{App, Problem},
    table::TableSize,
};
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use maud::{Markup, html};

/// The page.
pub(super) async fn page(State(app): State<App>) -> Result<Response, Problem> {
    let mut all = Vec::new();
    for contest in app.record.contests().await?.into_iter().rev() {
        let (contest, entries) = app.record.contest(contest.id).await?;
        all.push((contest, entries));
    }
    let shell = Shell {
        title: &say!("contests"),
        place: Place::Elsewhere,
        sheet: Some("/contests.css"),
        script: Some("/contests.js"),
    };
    let main = html! {
        main #main.contests {
            div.heading {
                h1 { (say!("contests")) }
                p { (weave(&say!("contests-lead"), &[])) }
            }
            @if all.is_empty() {
                p { (say!("contests-none")) }
            } @else {
                table.all {
                    thead {
                        tr {
                            th scope="col" { (say!("contests-contest")) }
                            th scope="col" { (say!("contests-days")) }
                            th scope="col" { (say!("contests-players")) }
                            th scope="col" { (say!("contests-leads")) }
                        }
                    }
                    tbody { @for (contest, entries) in &all { (row(contest, entries)) } }
                }
            }
            (open_one(all.is_empty()))
        }
    };
    Ok(shell.around(&main).into_response())
}

fn row(contest: &Contest, entries: &[Entered]) -> Markup {
    let Rules { name, from, to, .. } = &contest.rules;
    let standings = Standings::of(contest, entries);
    let leads: Vec<&str> = standings.leaders().collect();
    html! {
        tr {
            th scope="row" {
                a href=(address(contest.id)) { (name) }
                span.quiet { (counts(contest.rules.counts)) }
            }
            td { (say!("range", from = from.to_string(), to = to.to_string())) }
            td { (standings.players()) }
            td { @if leads.is_empty() { "–" } @else { (leads.join(", ")) } }
        }
    }
}

/// What counts, in words.
pub(super) fn counts(counts: Counts) -> String {
    match counts {
        Counts::LongestRun => say!("contests-longest-run"),
        Counts::RunAgainstAge => say!("contests-run-against-age"),
    }
}

fn open_one(open: bool) -> Markup {
    let sizes = TableSize::PRESETS;
    html! {
        section aria-labelledby="open-title" {
            h2 #open-title { (say!("contests-open")) }
            details open[open] {
                summary { (say!("contests-fields")) }
                div.fields {
                    label { (say!("contests-name")) input #name type="text" required maxlength="80"; }
                    label {
                        (say!("contests-counts"))
                        select #counts {
                            option value="longest_run" { (counts(Counts::LongestRun)) }
                            option value="run_against_age" { (counts(Counts::RunAgainstAge)) }
                        }
                    }
                    label { (say!("contests-from")) input #from type="date" required; }
                    label { (say!("contests-to")) input #to type="date" required; }
                    label {
                        (say!("contests-table"))
                        select #table {
                            option value="" { (say!("contests-any-table")) }
                            @for size in sizes {
                                @let name = size.name();
                                option value={ (size.length_mm) "x" (size.width_mm) } { (name) }
                            }
                        }
                    }
                    button #open type="button" { (say!("contests-open-it")) }
                }
                p.quiet { (say!("contests-days-told")) }
            }
            p #told tabindex="-1" role="status" {}
        }
    }
}
