//! The sheet drawn: a head with the run and its conditions, then a cell for each rack and for the last
//! shot, two to a row. A cell is never cut: a page takes as many rows as fit.

use super::{
    RackTold, RunSheet,
    page::{Letters, Page},
};
use crate::{
    layout::{Layout, diagram},
    score::Cause,
};
use jiff::Timestamp;

/// Lengths on a sheet are tenths of a millimetre.
pub const UNITS_PER_MM: f64 = 10.0;

/// A4, upright.
const WIDTH: f64 = 2100.0;
const HEIGHT: f64 = 2970.0;
const MARGIN: f64 = 140.0;
/// Between the two cells of a row, and between rows.
const GAP: f64 = 80.0;
const ROW_GAP: f64 = 44.0;
const CELL: f64 = (WIDTH - 2.0 * MARGIN - GAP) / 2.0;
/// What stands above a cell's drawing.
const CAPTION: f64 = 92.0;
const HEAD: f64 = 480.0;
/// The head of the pages after the first.
const SMALL_HEAD: f64 = 90.0;
const FOOT: f64 = 60.0;

const SMALL: Letters = Letters::plain(25.0);
const CAPS: Letters = Letters::bold(30.0);

/// What a cell shows.
struct Cell {
    name: String,
    /// At the right of its name.
    figure: String,
    told: String,
    shows: Result<Layout, &'static str>,
}

/// The whole run as one drawing, as long as it has to be.
pub fn long(sheet: &RunSheet) -> String {
    let cells = cells(sheet);
    let rows = rows_height(sheet, &cells);
    let height = 2.0 * MARGIN + HEAD + rows + FOOT;
    let mut page = Page::new([WIDTH, height]);
    head(&mut page, sheet);
    let top = MARGIN + HEAD;
    draw_rows(&mut page, &cells, top, cell_height(sheet) + ROW_GAP);
    foot(&mut page, sheet, height, None);
    page.finish(&sheet.title(), &in_words(sheet))
}

/// The run on pages of A4.
pub fn pages(sheet: &RunSheet) -> Vec<String> {
    let cells = cells(sheet);
    let row = cell_height(sheet) + ROW_GAP;
    let fit = |head: f64| ((HEIGHT - 2.0 * MARGIN - FOOT - head + ROW_GAP) / row).floor() as usize;
    let (first, later) = (2 * fit(HEAD).max(1), 2 * fit(SMALL_HEAD).max(1));
    let split = cells.len().min(first);
    let (on_first, others) = cells.split_at(split);
    let parts: Vec<&[Cell]> = std::iter::once(on_first).chain(others.chunks(later)).collect();
    let draw = |(at, cells): (usize, &&[Cell])| {
        let mut page = Page::new([WIDTH, HEIGHT]);
        let top = if at == 0 {
            head(&mut page, sheet);
            MARGIN + HEAD
        } else {
            page.text(&sheet.title(), [MARGIN, MARGIN], CAPS);
            page.rule([MARGIN, MARGIN + 54.0], WIDTH - MARGIN, 3.0);
            MARGIN + SMALL_HEAD
        };
        draw_rows(&mut page, cells, top, row);
        foot(&mut page, sheet, HEIGHT, Some((at + 1, parts.len())));
        page.finish(&sheet.title(), &in_words(sheet))
    };
    parts.iter().enumerate().map(draw).collect()
}

fn rows_height(sheet: &RunSheet, cells: &[Cell]) -> f64 {
    cells.len().div_ceil(2) as f64 * (cell_height(sheet) + ROW_GAP)
}

/// Tables of all sizes are twice as long as wide to within a tenth: the sheet's own has its height.
fn cell_height(sheet: &RunSheet) -> f64 {
    let Some(table) = sheet.table else { return CAPTION + CELL * 0.6 };
    let bare = Layout::of(table, crate::table::FootEnd::Given, Vec::new());
    CAPTION + diagram::part(&bare, [0.0, 0.0], CELL).1
}

fn cells(sheet: &RunSheet) -> Vec<Cell> {
    let closed = sheet.racks.iter().map(rack_cell);
    let ended = sheet.cause.map_or("", ended_by);
    let shots = ["Before the last shot", "After it"];
    let last = sheet.last_shot.iter().zip(shots).filter_map(|(layout, name)| {
        let shows = Ok(layout.clone()?);
        Some(Cell { name: name.into(), figure: String::new(), told: ended.into(), shows })
    });
    let mut cells: Vec<Cell> = closed.collect();
    // The last rack's own layouts are those of the last shot.
    let shown: Vec<Cell> = last.collect();
    if !shown.is_empty() && cells.last().is_some_and(|cell| cell.shows.is_err()) {
        let told = cells.pop();
        cells.extend(shown);
        if let (Some(told), Some(before)) = (told, cells.len().checked_sub(2)) {
            if let Some(cell) = cells.get_mut(before) {
                cell.name = format!("{}: {}", told.name, cell.name.to_lowercase());
                cell.told = told.told;
            }
            if let Some(cell) = cells.last_mut() {
                cell.figure = told.figure;
            }
        }
    }
    cells
}

fn rack_cell(rack: &RackTold) -> Cell {
    let mut told = counted(rack.balls as usize, "ball", "balls");
    if let Some(began) = rack.began_unix_ms {
        told += &format!(" · {}", clock(began));
    }
    if let (Some(from), Some(to)) = (rack.began_unix_ms, rack.ended_unix_ms) {
        told += &format!(" · {}", took(from, to));
    }
    let none = "Closing layout not on record";
    Cell {
        name: format!("Rack {}", rack.number),
        figure: format!("Run {}", rack.run),
        told,
        shows: rack.closing.clone().ok_or(none),
    }
}

fn draw_rows(page: &mut Page, cells: &[Cell], top: f64, row: f64) {
    for (at, cell) in cells.iter().enumerate() {
        let left = if at % 2 == 0 { MARGIN } else { MARGIN + CELL + GAP };
        let top = top + row * (at / 2) as f64;
        page.text(&cell.name, [left, top], CAPS);
        page.text_to(&cell.figure, [left + CELL, top], CAPS);
        page.text(&cell.told, [left, top + 46.0], SMALL);
        match &cell.shows {
            Ok(layout) => {
                let (drawing, _) = diagram::part(layout, [left, top + CAPTION], CELL);
                page.raw(&drawing);
            }
            Err(why) => {
                let inside = [CELL, row - ROW_GAP - CAPTION];
                page.frame([left, top + CAPTION], inside);
                let middle = top + CAPTION + inside[1] / 2.0 - 12.0;
                page.text(why, [left + (CELL - SMALL.width(why)) / 2.0, middle], SMALL);
            }
        }
    }
}

/// The run in large, what the attempt was, and its conditions.
fn head(page: &mut Page, sheet: &RunSheet) {
    let figure = Letters::bold(210.0);
    page.text("Run", [MARGIN, MARGIN], Letters::plain(34.0));
    page.text(&sheet.run.to_string(), [MARGIN, MARGIN + 70.0], figure);
    let wide = figure.width(&sheet.run.to_string()).max(Letters::plain(34.0).width("Run"));
    let left = MARGIN + wide.max(CELL / 2.0) + GAP;
    let mut top = MARGIN;
    page.text(&format!("Attempt {}", sheet.attempt), [left, top], Letters::bold(46.0));
    top += 78.0;
    for line in conditions(sheet) {
        page.text(&line, [left, top], Letters::plain(28.0));
        top += 52.0;
    }
    page.rule([MARGIN, MARGIN + HEAD - 60.0], WIDTH - MARGIN, 5.0);
}

/// What stands beside the run, line by line.
fn conditions(sheet: &RunSheet) -> Vec<String> {
    let begun = moment(sheet.began_unix_ms).strftime("%Y-%m-%d %H:%M").to_string();
    let ended = sheet.ended_unix_ms.map(|at| {
        let took = took(sheet.began_unix_ms, at);
        format!(" to {} UTC · {took}", moment(at).strftime("%H:%M"))
    });
    let mut end = sheet.cause.map_or("Going on", ended_by).to_string();
    if sheet.run == sheet.high_run && sheet.run > 0 {
        end += " · the high run";
    } else {
        end += &format!(" · high run {}", sheet.high_run);
    }
    let counts =
        [counted(sheet.racks.len(), "rack", "racks"), counted(sheet.shots, "shot", "shots")];
    let table = sheet.table.map_or("unknown".into(), |table| {
        format!("{} · {:.0} × {:.0} mm", table.name(), table.length_mm, table.width_mm)
    });
    let advice = sheet.advice.as_ref().map_or("none unasked".into(), |who| format!("for {who}"));
    let mut lines = vec![
        end,
        format!("{begun}{}", ended.unwrap_or_else(|| " UTC".into())),
        counts.join(" · "),
        format!("Table: {table}"),
        format!("Camera: {} · advice: {advice}", sheet.camera.replace('_', "-")),
    ];
    if !sheet.start_seen {
        lines.push("Start not seen: the run may be longer".into());
    } else if !sheet.sure {
        lines.push("A question about it is open".into());
    }
    lines
}

fn foot(page: &mut Page, sheet: &RunSheet, height: f64, numbered: Option<(usize, usize)>) {
    let top = height - MARGIN - 25.0;
    page.text("Stillcloth", [MARGIN, top], SMALL);
    if let Some((at, of)) = numbered {
        page.text_to(&format!("{at}/{of}"), [WIDTH - MARGIN, top], SMALL);
    } else {
        page.text_to(&sheet.title(), [WIDTH - MARGIN, top], SMALL);
    }
}

/// For those who do not see it.
fn in_words(sheet: &RunSheet) -> String {
    let mut text = conditions(sheet).join(". ") + ".";
    for rack in &sheet.racks {
        let balls = counted(rack.balls as usize, "ball", "balls");
        text += &format!(" Rack {}: {balls}, run {}.", rack.number, rack.run);
    }
    text
}

const fn ended_by(cause: Cause) -> &'static str {
    match cause {
        Cause::Miss => "Ended by a miss",
        Cause::Scratch => "Ended by a scratch",
        Cause::Foul => "Ended by a ball off the table",
        Cause::Stopped => "Stopped",
        Cause::Unseen => "End not seen",
    }
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

fn moment(unix_ms: i64) -> Timestamp {
    Timestamp::from_millisecond(unix_ms).unwrap_or_default()
}

fn clock(unix_ms: i64) -> String {
    moment(unix_ms).strftime("%H:%M:%S UTC").to_string()
}

/// How long something took; a clock that was set back leaves nothing to tell.
fn took(from_unix_ms: i64, to_unix_ms: i64) -> String {
    let seconds = to_unix_ms.saturating_sub(from_unix_ms) / 1000;
    match seconds {
        ..0 => "clock set back".into(),
        0..60 => format!("{seconds} s"),
        60..3600 => format!("{} min {} s", seconds / 60, seconds % 60),
        _ => format!("{} h {} min", seconds / 3600, seconds / 60 % 60),
    }
}
