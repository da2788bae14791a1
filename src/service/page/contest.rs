//! One contest: the standings, every entry with what was found in it, and the ways to enter.

use super::{
    contests::counts,
    messages::{SPOKEN, plain, say, weave},
    shell::{Place, Shell, not_there},
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
                p { (say!("contest-no-entry")) }
            } @else {
                table.standings {
                    thead {
                        tr {
                            th scope="col" { (say!("contest-place")) }
                            th.words scope="col" { (say!("contest-player")) }
                            th scope="col" { (say!("run")) }
                            @if against_age { th scope="col" { (say!("contest-above-age")) } }
                            th.day scope="col" { (say!("contest-day")) }
                            th.words scope="col" { (say!("contest-checked")) }
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
                    (rank.place) "." @if rank.tied { " " span.quiet { (say!("contest-tied")) } }
                }
                td.words {
                    (facts.player)
                    @if let Some(age) = facts.age_years {
                        " " span.quiet { (say!("count-years", years = age)) }
                    }
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
        Some(Verdict::Verified) => ("verified", say!("contest-verified")),
        Some(Verdict::ToLookAt | Verdict::Refused) => ("look", say!("contest-to-look-at")),
        None => ("unverified", say!("contest-unverified")),
    };
    html! { span.mark data-kind=(kind) { (words) } }
}

/// What only those hear who do not see which line it stands in.
fn hidden() -> (&'static str, Markup) {
    ("hidden", html! { span.hidden {} })
}

fn film(entry: &Entered) -> Markup {
    html! {
        @if let Some(film) = &entry.facts.film {
            " " a href=(film) rel="noopener noreferrer nofollow ugc" {
                @let player = plain(&entry.facts.player);
                (weave(&say!("contest-film", player = player, entry = entry.id), &[hidden()]))
            }
        }
    }
}

/// What counts, in a sentence.
fn rules_in_words(rules: &Rules) -> String {
    let Rules { counts: by, from, to, table, .. } = rules;
    let (counts, from, to) = (counts(*by), from.to_string(), to.to_string());
    match table.map(|size| size.name()) {
        Some(table) => {
            say!("contest-rules-table", counts = counts, from = from, to = to, table = table)
        }
        None => say!("contest-rules", counts = counts, from = from, to = to),
    }
}

/// The page.
pub(super) async fn page(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Response, Problem> {
    let no_such = || {
        let why = say!("contest-none-why");
        not_there(&say!("contest-none"), &why, ("/contests", &say!("contest-to-contests")))
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
                nav.ways aria-label=(say!("contest-this")) {
                    a href="/contests" { (say!("contest-all")) }
                    a href={ (saved) ".csv" } { (say!("contest-save-csv")) }
                    a href={ (saved) ".html" } { (say!("contest-save-page")) }
                }
            }
            section aria-labelledby="standings" {
                h2 #standings { (say!("contest-standings")) }
                (Standings::of(contest, entries).table())
            }
            p #told tabindex="-1" role="status" {}
            @if !entries.is_empty() {
                section aria-labelledby="entries" {
                    h2 #entries { (say!("contest-entries")) }
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
        EntryState::Counts => String::new(),
        EntryState::Withdrawn => say!("contest-withdrawn"),
        EntryState::Removed => say!("contest-removed"),
    };
    let title = format!("entry-{}", entry.id);
    html! {
        li aria-labelledby=(title) data-state=[(!state.is_empty()).then_some("out")] {
            h3 id=(title) {
                (say!("contest-entry", entry = entry.id, player = &facts.player, run = facts.run))
            }
            p {
                (mark(entry)) ", " (facts.day)
                @if let Some(age) = facts.age_years { ", " (say!("count-years", years = age)) }
                @if let Some(signed) = &facts.signed {
                    ", " (say!("contest-records", records = signed.records)) " "
                    a href={ "/api/contests/" (contest) "/entries/" (entry.id) "/file" } {
                        (weave(&say!("contest-signed-file", entry = entry.id), &[hidden()]))
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
                p.key.quiet { (weave(&say!("contest-key", key = plain(&signed.key)), &[])) }
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
                summary {
                    (weave(&say!("contest-withdraw-or-remove", entry = entry.id), &[hidden()]))
                }
                div.fields {
                    label { (say!("contest-reason")) input id=(field) type="text" maxlength="300"; }
                    button type="button" data-entry=(entry.id) data-say="withdrawn" {
                        (say!("contest-withdraw"))
                    }
                    button type="button" data-entry=(entry.id) data-say="removed" {
                        (say!("contest-remove"))
                    }
                }
            }
        } @else {
            button type="button" data-entry=(entry.id) data-say="counts" {
                (weave(&say!("contest-count-again", entry = entry.id), &[hidden()]))
            }
        }
    }
}

/// The ways to enter.
fn take_in(by: Counts) -> Markup {
    html! {
        section aria-labelledby="take-in" {
            h2 #take-in { (say!("contest-take-in")) }
            p.quiet { (say!("contest-signed-shows")) }
            div.fields {
                label { (say!("contest-file")) input #file type="file" accept=".jsonl,.ndjson"; }
                button #upload type="button" { (say!("contest-check")) }
            }
            details {
                summary { (say!("contest-by-hand")) }
                div.fields {
                    label { (say!("contest-player")) input #player type="text" required maxlength="80"; }
                    label {
                        @if by == Counts::RunAgainstAge {
                            (say!("contest-age"))
                        } @else {
                            (say!("contest-age-if"))
                        }
                        input #age type="number" min="1" max="120" required[by == Counts::RunAgainstAge];
                    }
                    label { (say!("run")) input #run type="number" min="0" max="10000" required; }
                    label { (say!("contest-day")) input #day type="date" required; }
                    label.wide {
                        (say!("contest-film-field"))
                        input #film type="url" required maxlength="500";
                    }
                    button #by-hand type="button" { (say!("contest-enter")) }
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
        html lang=(SPOKEN.tag) {
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
                    p.quiet { (say!("contest-verified-told")) }
                }
            }
        }
    };
    page.into_string()
}
