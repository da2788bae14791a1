//! One contest: the standings, every entry with what was found in it, and the ways to enter.

use super::{
    contests::counts,
    shell::{Place, Shell, not_there},
    words,
};
use crate::{
    contest::{Counts, Entered, EntryState, Rank, Rules, Verdict, standings},
    record::{Contest, RecordError},
    service::{App, Problem},
};
use axum::{
    extract::{Path, State, rejection::PathRejection},
    response::{IntoResponse, Response},
};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Where a contest is found.
pub(super) fn address(id: i64) -> String {
    format!("/contests/{id}")
}

/// A contest's list, for whoever shows it.
pub(super) struct Standings<'a> {
    rules: &'a Rules,
    ranks: Vec<Rank<'a>>,
}

impl<'a> Standings<'a> {
    pub(super) fn of(contest: &'a Contest, entries: &'a [Entered]) -> Self {
        Self { rules: &contest.rules, ranks: standings(&contest.rules, entries) }
    }

    pub(super) fn players(&self) -> usize {
        self.ranks.len()
    }

    /// The names of those in the first place.
    pub(super) fn leaders(&self) -> impl Iterator<Item = &str> {
        let first = self.ranks.iter().take_while(|rank| rank.place == 1);
        first.map(|rank| rank.entry.facts.player.as_str())
    }

    fn table(&self) -> Markup {
        let against_age = self.rules.counts == Counts::RunAgainstAge;
        html! {
            @if self.ranks.is_empty() {
                p { "No entry counts yet." }
            } @else {
                table.standings {
                    thead {
                        tr {
                            th scope="col" { "Place" }
                            th.words scope="col" { "Player" }
                            th scope="col" { "Run" }
                            @if against_age { th scope="col" { "Above age" } }
                            th.day scope="col" { "Day" }
                            th.words scope="col" { "Checked" }
                        }
                    }
                    tbody { @for rank in &self.ranks { (self.row(rank, against_age)) } }
                }
            }
        }
    }

    fn row(&self, rank: &Rank<'_>, against_age: bool) -> Markup {
        let facts = &rank.entry.facts;
        html! {
            tr {
                th.place scope="row" {
                    (rank.place) "." @if rank.tied { " " span.quiet { "tied" } }
                }
                td.words {
                    (facts.player)
                    @if let Some(age) = facts.age_years { " " span.quiet { (age) " years" } }
                }
                td.run { (facts.run) }
                @if against_age { td.run { (signed(rank.result)) } }
                td.day { (facts.day) }
                td.words { (mark(rank.entry)) (film(rank.entry)) }
            }
        }
    }
}

/// With its sign, and a minus that is as wide as the plus.
fn signed(number: i64) -> String {
    if number < 0 { format!("−{}", number.abs()) } else { format!("+{number}") }
}

/// How far an entry was checked: a mark and words.
fn mark(entry: &Entered) -> Markup {
    let (kind, words) = match entry.facts.verdict() {
        Some(Verdict::Verified) => ("verified", "Verified"),
        Some(Verdict::ToLookAt | Verdict::Refused) => ("look", "To be looked at"),
        None => ("unverified", "Unverified, by hand"),
    };
    html! { span.mark data-kind=(kind) { (words) } }
}

fn film(entry: &Entered) -> Markup {
    html! {
        @if let Some(film) = &entry.facts.film {
            " " a href=(film) rel="noopener noreferrer nofollow ugc" {
                "Film" span.hidden { " of " (entry.facts.player) ", entry " (entry.id) }
            }
        }
    }
}

/// What counts, in a sentence.
fn rules_in_words(rules: &Rules) -> String {
    let Rules { counts: by, from, to, table, .. } = rules;
    let table = table.map_or_else(String::new, |size| format!(", table {}", size.name()));
    format!("{}, attempts of {from} to {to} (UTC){table}.", counts(*by))
}

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Response, Problem> {
    let no_such = || {
        let why = "There is no contest at this address.";
        not_there("No such contest", why, ("/contests", "To the contests"))
    };
    let Ok(Path(id)) = id else { return Ok(no_such()) };
    let (contest, entries) = match app.record.contest(id).await {
        Err(RecordError::NoSuchContest { .. }) => return Ok(no_such()),
        other => other?,
    };
    let shell = Shell {
        title: &contest.rules.name,
        place: Place::Elsewhere,
        sheet: Some("/contests.css"),
        script: Some("/contests.js"),
    };
    Ok(shell.around(&body(&contest, &entries)).into_response())
}

fn body(contest: &Contest, entries: &[Entered]) -> Markup {
    let saved = format!("/api/contests/{}/standings", contest.id);
    html! {
        main #main.contests data-contest=(contest.id) {
            div.heading {
                h1 { (contest.rules.name) }
                p { (rules_in_words(&contest.rules)) }
                nav.ways aria-label="This contest" {
                    a href="/contests" { "All contests" }
                    a href={ (saved) ".csv" } { "Save as CSV" }
                    a href={ (saved) ".html" } { "Save as a page" }
                }
            }
            section aria-labelledby="standings" {
                h2 #standings { "Standings" }
                (Standings::of(contest, entries).table())
            }
            p #told tabindex="-1" role="status" {}
            @if !entries.is_empty() {
                section aria-labelledby="entries" {
                    h2 #entries { "Entries" }
                    ol.entries { @for entry in entries.iter().rev() { (one(contest.id, entry)) } }
                }
            }
            (take_in(contest.rules.counts))
        }
    }
}

/// One entry, with what was found and what can be said of it.
fn one(contest: i64, entry: &Entered) -> Markup {
    let facts = &entry.facts;
    let state = match entry.state {
        EntryState::Counts => "",
        EntryState::Withdrawn => "Withdrawn",
        EntryState::Removed => "Removed",
    };
    let title = format!("entry-{}", entry.id);
    html! {
        li aria-labelledby=(title) data-state=[(!state.is_empty()).then_some("out")] {
            h3 id=(title) { "Entry " (entry.id) ": " (facts.player) ", run " (facts.run) }
            p {
                (mark(entry)) ", " (facts.day)
                @if let Some(age) = facts.age_years { ", " (age) " years" }
                @if let Some(signed) = &facts.signed {
                    ", " (words::count(signed.records as usize, "record", "records")) ". "
                    a href={ "/api/contests/" (contest) "/entries/" (entry.id) "/file" } {
                        "The signed file" span.hidden { " of entry " (entry.id) }
                    }
                } @else { "." }
                (film(entry))
            }
            @if !state.is_empty() {
                p.out { strong { (state) "." } @if !entry.reason.is_empty() { " " (entry.reason) } }
            }
            @if let Some(signed) = &facts.signed {
                @if !signed.findings.is_empty() {
                    ul.findings { @for finding in &signed.findings { li { (finding) "." } } }
                }
                p.key.quiet { "Key " code { (signed.key) } }
            }
            (say(entry))
        }
    }
}

fn say(entry: &Entered) -> Markup {
    let field = format!("reason-{}", entry.id);
    html! {
        @if entry.state == EntryState::Counts {
            details {
                summary { "Withdraw or remove" span.hidden { " entry " (entry.id) } }
                div.fields {
                    label { "Reason (if you like)" input id=(field) type="text" maxlength="300"; }
                    button type="button" data-entry=(entry.id) data-say="withdrawn" {
                        "Withdraw, as the player wishes"
                    }
                    button type="button" data-entry=(entry.id) data-say="removed" { "Remove" }
                }
            }
        } @else {
            button type="button" data-entry=(entry.id) data-say="counts" {
                "Let it count again" span.hidden { ": entry " (entry.id) }
            }
        }
    }
}

/// The ways to enter.
fn take_in(by: Counts) -> Markup {
    html! {
        section aria-labelledby="take-in" {
            h2 #take-in { "Take an entry in" }
            p.quiet {
                "A signed file shows that nobody but the key's holder changed it, and that the run follows "
                "from its records by the rules. It cannot show that the rests were not made up: look at the "
                "film and the pictures."
            }
            div.fields {
                label { "Signed file" input #file type="file" accept=".jsonl,.ndjson"; }
                button #upload type="button" { "Check and take in" }
            }
            details {
                summary { "By hand, with a film" }
                div.fields {
                    label { "Player" input #player type="text" required maxlength="80"; }
                    label {
                        @if by == Counts::RunAgainstAge { "Age in years" } @else { "Age in years (if you like)" }
                        input #age type="number" min="1" max="120" required[by == Counts::RunAgainstAge];
                    }
                    label { "Run" input #run type="number" min="0" max="10000" required; }
                    label { "Day" input #day type="date" required; }
                    label.wide { "Film" input #film type="url" required maxlength="500"; }
                    button #by-hand type="button" { "Enter, unverified" }
                }
            }
        }
    }
}

/// The standings as a page that needs nothing beside it.
pub(in crate::service) fn standalone_standings(contest: &Contest, entries: &[Entered]) -> String {
    let sheets = [include_str!("page.css"), include_str!("contests.css")];
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (contest.rules.name) }
                // Built into the program: nothing of a contest stands in it.
                style { @for sheet in sheets { (PreEscaped(sheet)) } }
            }
            body {
                main.contests {
                    div.heading {
                        h1 { (contest.rules.name) }
                        p { (rules_in_words(&contest.rules)) }
                    }
                    (Standings::of(contest, entries).table())
                    p.quiet {
                        "Verified: signed by the player's key, unchanged, and the run follows from the records "
                        "by the rules. That the rests were played so, films and pictures alone can show."
                    }
                }
            }
        }
    };
    page.into_string()
}
