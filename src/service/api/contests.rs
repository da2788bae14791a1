//! Contests: opened, entered by file or by hand, and their standings.

use super::{
    contest_view::{ContestHead, ContestList, ContestView, EntryView, checked},
    frames::{drain, receive_file},
    pictures::saved_as,
};
use crate::{
    contest::{
        Clash, Counts, EntryState, Facts, Finding, MOST_BYTES, Rules, Verdict, standings, verify,
    },
    record::{Contest, EntryTaken},
    service::{App, Problem, Sent, page, status::now},
    study::MOST_BALLS,
    table::TableSize,
};
use axum::{
    Json,
    extract::{Path, Request, State, rejection::PathRejection},
    http::{HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use jiff::civil::Date;
use serde::Deserialize;
use utoipa::ToSchema;

/// What cannot be kept in a contest.
const UNFIT: &str = "does_not_count";
/// Findings that a refusal names.
const FINDINGS_TOLD: usize = 5;
/// The longest reason, in characters.
const LONGEST_REASON: usize = 300;

const CSV: HeaderValue = HeaderValue::from_static("text/csv; charset=utf-8");
const HTML: HeaderValue = HeaderValue::from_static("text/html; charset=utf-8");
/// JSON Lines has no registered media type; this is the one in use.
const LINES: HeaderValue = HeaderValue::from_static("application/x-ndjson");

/// A contest to be opened.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ContestBody {
    #[schema(
        min_length = 1,
        max_length = 80,
        pattern = r"^(?!\s)[^\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]*(?<!\s)$"
    )]
    name: String,
    /// `longest_run`, or `run_against_age`: how many balls the run is above the player's age in years.
    #[schema(value_type = String, pattern = "^(longest_run|run_against_age)$")]
    counts: Counts,
    /// Attempts count that began on one of these days, UTC, both included.
    #[schema(value_type = String, format = Date)]
    from: Date,
    #[schema(value_type = String, format = Date)]
    to: Date,
    /// Attempts count at a table of this size alone: `9ft`, `8ft`, `7ft`, or length x width between the
    /// noses in millimetres. At any where it is left out.
    table: Option<String>,
}

/// An entry by hand.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EntryBody {
    #[schema(
        min_length = 1,
        max_length = 80,
        pattern = r"^(?!\s)[^\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]*(?<!\s)$"
    )]
    player: String,
    /// At the attempt, in whole years.
    #[schema(minimum = 1, maximum = 120)]
    age_years: Option<u8>,
    #[schema(maximum = 10_000)]
    run: u32,
    /// The day of the attempt.
    #[schema(value_type = String, format = Date)]
    day: Date,
    /// Where a film of it is to be seen.
    #[schema(
        min_length = 8,
        max_length = 500,
        pattern = r#"^https?://[A-Za-z0-9\[][^\s"<>\\^`{|}\x00-\x1f\x7f-\x9f]*$"#
    )]
    film: String,
}

/// A word on an entry.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EntryWord {
    /// `counts`, `withdrawn` (by the player) or `removed` (by the organiser).
    #[schema(value_type = String, pattern = "^(counts|withdrawn|removed)$")]
    state: EntryState,
    /// Why; plain text.
    #[serde(default)]
    #[schema(max_length = 300, pattern = r"^[^\x00-\x1f\x7f-\x9f]*$")]
    reason: String,
}

fn unfit(detail: String) -> Problem {
    Problem::new(StatusCode::UNPROCESSABLE_ENTITY, UNFIT, detail)
}

fn ids<T>(path: Result<Path<T>, PathRejection>) -> Result<T, Problem> {
    let no_such = |_| Problem::not_found("There is no such contest: ids are whole numbers.");
    Ok(path.map_err(no_such)?.0)
}

fn clashes(clash: &Clash) -> Problem {
    let words = clash.to_string();
    let mut letters = words.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string()).unwrap_or_default();
    let detail = format!("{first}{}.", letters.as_str());
    Problem::new(StatusCode::CONFLICT, "clash", detail)
}

/// All contests.
#[utoipa::path(
    get, path = "/api/contests", tag = "contests",
    responses((status = 200, description = "The contests", body = ContestList))
)]
pub async fn get_contests(State(app): State<App>) -> Result<Json<ContestList>, Problem> {
    let contests = app.record.contests().await?;
    Ok(Json(ContestList { contests: contests.iter().map(ContestHead::from).collect() }))
}

/// Open a contest.
#[utoipa::path(
    post, path = "/api/contests", tag = "contests", request_body = ContestBody,
    responses(
        (status = 201, description = "Opened", body = ContestHead),
        (status = 400, description = "The body is no JSON", body = Problem,
            content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and no contest", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_contest(
    State(app): State<App>,
    sent: Sent,
) -> Result<(StatusCode, Json<ContestHead>), Problem> {
    let ContestBody { name, counts, from, to, table } = sent.into_a("contest", UNFIT)?;
    let table = table.as_deref().map(str::parse::<TableSize>).transpose();
    let table = table.map_err(|error| unfit(format!("{error}.")))?;
    let rules = Rules { name: name.trim().into(), counts, from, to, table };
    rules.check().map_err(|error| unfit(format!("{error}.")))?;
    let contest = app.record.open_contest(rules, now()).await?;
    Ok((StatusCode::CREATED, Json(ContestHead::from(&contest))))
}

/// A contest with its standings and entries.
#[utoipa::path(
    get, path = "/api/contests/{id}", tag = "contests",
    params(("id" = i64, Path, description = "The contest's id")),
    responses(
        (status = 200, description = "The contest", body = ContestView),
        (status = 404, description = "There is none of this id", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_contest(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Json<ContestView>, Problem> {
    let (contest, entries) = app.record.contest(ids(id)?).await?;
    Ok(Json(ContestView::of(&contest, entries)))
}

/// Enter a signed file, as `stillcloth enter` writes it.
///
/// It is checked as `stillcloth verify` does; what it names of pictures is not looked for.
#[utoipa::path(
    post, path = "/api/contests/{id}/entries", tag = "contests",
    params(("id" = i64, Path, description = "The contest's id")),
    request_body(
        description = "The entry's file itself, at most 16 MiB",
        content((Vec<u8> = "application/x-ndjson"))
    ),
    responses(
        (status = 201, description = "Checked and kept", body = EntryView),
        (status = 404, description = "There is no such contest", body = Problem,
            content_type = "application/problem+json"),
        (status = 408, description = "The file did not come in time", body = Problem,
            content_type = "application/problem+json"),
        (status = 409, description = "It cannot stand beside an entry that counts", body = Problem,
            content_type = "application/problem+json"),
        (status = 413, description = "The file is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The check refuses it, or it is of no attempt that counts here",
            body = Problem, content_type = "application/problem+json"),
        (status = 503, description = "Too many files at a time; Retry-After says when to come back",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn post_entry(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
    request: Request,
) -> Response {
    let (parts, mut sent) = request.into_parts();
    let most = usize::try_from(MOST_BYTES).unwrap_or(usize::MAX);
    let received = match ids(id) {
        Ok(id) => receive_file(&app, &parts.headers, &mut sent, most).await.map(|it| (id, it)),
        Err(problem) => Err(problem),
    };
    match received {
        Ok((id, (bytes, room))) => {
            let taken = take_entry(&app, id, bytes).await;
            drop(room);
            taken.map(|entry| (StatusCode::CREATED, Json(entry))).into_response()
        }
        Err(problem) => {
            drain(sent, most).await;
            problem.into_response()
        }
    }
}

async fn take_entry(app: &App, id: i64, bytes: Vec<u8>) -> Result<EntryView, Problem> {
    let (Contest { rules, .. }, _) = app.record.contest(id).await?;
    let check = move || {
        let report = verify(bytes.as_slice(), None, |_, _| None);
        (report, bytes)
    };
    let checked = tokio::task::spawn_blocking(check).await;
    let (report, bytes) = checked.map_err(|error| Problem::ours(&error))?;
    let report = report.map_err(|error| Problem::ours(&error))?;
    let facts = Facts::of(&report).filter(|_| report.verdict() != Verdict::Refused);
    let (Some(facts), Ok(file)) = (facts, String::from_utf8(bytes)) else {
        return Err(entry_refused(&report.findings));
    };
    does_it_count(&rules, &facts, report.table.as_ref())?;
    kept(app.record.enter(id, facts, Some(file), now()).await?)
}

fn entry_refused(findings: &[Finding]) -> Problem {
    let told: Vec<String> = findings.iter().take(FINDINGS_TOLD).map(|f| format!("{f}.")).collect();
    let more = findings.len().saturating_sub(told.len());
    let more = if more > 0 { format!(" And {more} more.") } else { String::new() };
    let detail = format!("The entry is refused. {}{more}", told.join(" "));
    Problem::new(StatusCode::UNPROCESSABLE_ENTITY, "entry_refused", detail)
}

fn does_it_count(rules: &Rules, facts: &Facts, table: Option<&TableSize>) -> Result<(), Problem> {
    let why = rules.unfit(facts, table);
    if why.is_empty() {
        return Ok(());
    }
    let why: Vec<String> = why.iter().map(ToString::to_string).collect();
    Err(unfit(format!("This does not count here: {}.", why.join("; "))))
}

fn kept(taken: EntryTaken) -> Result<EntryView, Problem> {
    match taken {
        EntryTaken::Kept(entry) => Ok(entry.into()),
        EntryTaken::Clash(clash) => Err(clashes(&clash)),
    }
}

/// Enter a run by hand, with a film of it. It is marked as unverified.
#[utoipa::path(
    post, path = "/api/contests/{id}/entries/by-hand", tag = "contests",
    params(("id" = i64, Path, description = "The contest's id")),
    request_body = EntryBody,
    responses(
        (status = 201, description = "Kept", body = EntryView),
        (status = 400, description = "The body is no JSON", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is no such contest", body = Problem,
            content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and no entry that counts here",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn post_by_hand(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
    sent: Sent,
) -> Result<(StatusCode, Json<EntryView>), Problem> {
    let id = ids(id)?;
    let EntryBody { player, age_years, run, day, film } = sent.into_a("entry", UNFIT)?;
    let (Contest { rules, .. }, _) = app.record.contest(id).await?;
    if run > MOST_BALLS {
        return Err(unfit(format!(
            "A run of {run} is none: at most {MOST_BALLS} balls are taken."
        )));
    }
    let (player, film) = (player.trim().into(), Some(film.trim().into()));
    let facts = Facts { player, age_years, run, day, film, signed: None };
    does_it_count(&rules, &facts, None)?;
    let entry = kept(app.record.enter(id, facts, None, now()).await?)?;
    Ok((StatusCode::CREATED, Json(entry)))
}

/// Withdraw or remove an entry, or let it count again.
#[utoipa::path(
    post, path = "/api/contests/{id}/entries/{entry}/state", tag = "contests",
    params(
        ("id" = i64, Path, description = "The contest's id"),
        ("entry" = i64, Path, description = "The entry's id"),
    ),
    request_body = EntryWord,
    responses(
        (status = 201, description = "Kept", body = EntryView),
        (status = 400, description = "The body is no JSON", body = Problem,
            content_type = "application/problem+json"),
        (status = 404, description = "There is no such entry", body = Problem,
            content_type = "application/problem+json"),
        (status = 409, description = "It cannot stand beside an entry that counts", body = Problem,
            content_type = "application/problem+json"),
        (status = 413, description = "The body is too large", body = Problem,
            content_type = "application/problem+json"),
        (status = 415, description = "The body's type is not application/json", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "The body is JSON and no word on an entry", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn post_entry_state(
    State(app): State<App>,
    path: Result<Path<(i64, i64)>, PathRejection>,
    sent: Sent,
) -> Result<(StatusCode, Json<EntryView>), Problem> {
    let (id, entry) = ids(path)?;
    let EntryWord { state, reason } = sent.into_a("word on an entry", UNFIT)?;
    let reason = reason.trim().to_string();
    if reason.chars().count() > LONGEST_REASON || reason.contains(char::is_control) {
        return Err(unfit(format!(
            "A reason is one line of at most {LONGEST_REASON} plain characters: shorten it."
        )));
    }
    let entry = kept(app.record.say_of_entry(id, entry, (state, reason), now()).await?)?;
    Ok((StatusCode::CREATED, Json(entry)))
}

/// The signed file of an entry, for whoever wants to check it too.
#[utoipa::path(
    get, path = "/api/contests/{id}/entries/{entry}/file", tag = "contests",
    params(
        ("id" = i64, Path, description = "The contest's id"),
        ("entry" = i64, Path, description = "The entry's id"),
    ),
    responses(
        (status = 200, description = "The file", body = Vec<u8>,
            content_type = "application/x-ndjson"),
        (status = 404, description = "There is no such entry, or it was made by hand",
            body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn get_entry_file(
    State(app): State<App>,
    path: Result<Path<(i64, i64)>, PathRejection>,
) -> Result<Response, Problem> {
    let (id, entry) = ids(path)?;
    let file = app.record.entry_file(id, entry).await?;
    let none = || Problem::not_found(format!("Entry {entry} was made by hand and has no file."));
    let answer = ([(header::CONTENT_TYPE, LINES)], file.ok_or_else(none)?).into_response();
    Ok(saved_as(&format!("entry-{entry}.jsonl"), answer))
}

/// The standings as CSV.
#[utoipa::path(
    get, path = "/api/contests/{id}/standings.csv", tag = "contests",
    params(("id" = i64, Path, description = "The contest's id")),
    responses(
        (status = 200, description = "A row for each player", body = String,
            content_type = "text/csv"),
        (status = 404, description = "There is no such contest", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_standings_csv(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Response, Problem> {
    let (contest, entries) = app.record.contest(ids(id)?).await?;
    let mut sheet = csv::Writer::from_writer(Vec::new());
    let head = ["place", "player", "age_years", "run", "result", "day", "checked", "film", "entry"];
    let mut written = sheet.write_record(head);
    for rank in standings(&contest.rules, &entries) {
        let facts = &rank.entry.facts;
        written = written.and_then(|()| {
            sheet.write_record([
                rank.place.to_string(),
                plain_cell(&facts.player),
                facts.age_years.map_or_else(String::new, |age| age.to_string()),
                facts.run.to_string(),
                rank.result.to_string(),
                facts.day.to_string(),
                checked(rank.entry).into(),
                plain_cell(facts.film.as_deref().unwrap_or_default()),
                rank.entry.id.to_string(),
            ])
        });
    }
    written.map_err(|error| Problem::ours(&error))?;
    let text = sheet.into_inner().map_err(|error| Problem::ours(&error))?;
    let answer = ([(header::CONTENT_TYPE, CSV)], text).into_response();
    Ok(saved_as(&format!("contest-{}.csv", contest.id), answer))
}

/// The standings as a page that stands alone, to be put on a site.
#[utoipa::path(
    get, path = "/api/contests/{id}/standings.html", tag = "contests",
    params(("id" = i64, Path, description = "The contest's id")),
    responses(
        (status = 200, description = "The page", body = String, content_type = "text/html"),
        (status = 404, description = "There is no such contest", body = Problem,
            content_type = "application/problem+json"),
    )
)]
pub async fn get_standings_html(
    State(app): State<App>,
    id: Result<Path<i64>, PathRejection>,
) -> Result<Response, Problem> {
    let (contest, entries) = app.record.contest(ids(id)?).await?;
    let text = page::standalone_standings(&contest, &entries);
    let answer = ([(header::CONTENT_TYPE, HTML)], text).into_response();
    Ok(saved_as(&format!("contest-{}.html", contest.id), answer))
}

/// A text that no spreadsheet takes for a formula.
fn plain_cell(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t']) { format!("'{text}") } else { text.into() }
}
