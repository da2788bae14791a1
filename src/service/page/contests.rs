//! The contests kept here, and the fields to open one.

use super::{
    contest::{Standings, address},
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
        title: "Contests",
        place: Place::Elsewhere,
        sheet: Some("/contests.css"),
        script: Some("/contests.js"),
    };
    let main = html! {
        main #main.contests {
            div.heading {
                h1 { "Contests" }
                p {
                    "Runs of several players compared. A player's entry is a signed file, which "
                    code { "stillcloth enter" }
                    " writes; who has none is entered by hand, with a film."
                }
            }
            @if all.is_empty() {
                p { "No contest yet." }
            } @else {
                table.all {
                    thead {
                        tr {
                            th scope="col" { "Contest" }
                            th scope="col" { "Days" }
                            th scope="col" { "Players" }
                            th scope="col" { "Leads" }
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
            td { (from) " to " (to) }
            td { (standings.players()) }
            td { @if leads.is_empty() { "–" } @else { (leads.join(", ")) } }
        }
    }
}

/// What counts, in words.
pub(super) const fn counts(counts: Counts) -> &'static str {
    match counts {
        Counts::LongestRun => "Longest run",
        Counts::RunAgainstAge => "Run against age",
    }
}

fn open_one(open: bool) -> Markup {
    let sizes = TableSize::PRESETS;
    html! {
        section aria-labelledby="open-title" {
            h2 #open-title { "Open a contest" }
            details open[open] {
                summary { "Name, days and what counts" }
                div.fields {
                    label { "Name" input #name type="text" required maxlength="80"; }
                    label {
                        "What counts"
                        select #counts {
                            option value="longest_run" { (counts(Counts::LongestRun)) }
                            option value="run_against_age" { (counts(Counts::RunAgainstAge)) }
                        }
                    }
                    label { "From" input #from type="date" required; }
                    label { "To" input #to type="date" required; }
                    label {
                        "Table"
                        select #table {
                            option value="" { "Any" }
                            @for size in sizes {
                                @let name = size.name();
                                option value={ (size.length_mm) "x" (size.width_mm) } { (name) }
                            }
                        }
                    }
                    button #open type="button" { "Open the contest" }
                }
                p.quiet { "Days are those of UTC, the last one included. An age is told in whole years; nobody is asked for a birth date." }
            }
            p #told tabindex="-1" role="status" {}
        }
    }
}
