//! The figures of a set of trials, and the tables that show them.
//!
//! A refused frame counts: its balls are missed, and its cue ball, obstruction and table size are
//! not right. Means of places and corners are over what was found. Must not know how a trial is
//! made.

use super::trial::{Trial, median};
use serde::Serialize;
use std::collections::BTreeMap;

/// The figures of one row.
#[derive(Serialize)]
pub struct Figures {
    pub row: String,
    pub frames: usize,
    pub refused: usize,
    pub balls: usize,
    pub found: usize,
    #[serde(rename = "false")]
    pub false_balls: usize,
    /// Frames where the cue ball and nothing else is said to be it.
    pub cue_right: usize,
    /// Object balls that were found, and those of them with the right number.
    pub object_balls_found: usize,
    pub numbers_right: usize,
    pub centre_rms_mm: Option<f64>,
    pub worst_mm: Option<f64>,
    pub nose_corners_rms_px: Option<f64>,
    pub within_2_sigma: usize,
    pub obstructed_right: usize,
    pub size_right: usize,
    pub calibrate_median_s: Option<f64>,
    pub calibrate_worst_s: Option<f64>,
    pub circles_found: usize,
    pub circles_false: usize,
    pub circles_rms_px: Option<f64>,
    /// Median over the frames of reading's time as a multiple of the circle transform's.
    pub times_circles: Option<f64>,
}

impl Figures {
    fn of(row: &str, trials: &[&Trial]) -> Self {
        let read: Vec<_> = trials.iter().filter_map(|trial| trial.read.as_ref()).collect();
        let found: Vec<_> = read.iter().flat_map(|read| &read.found).collect();
        let objects: Vec<_> = found.iter().filter(|ball| ball.number != 0).collect();
        let circles = || trials.iter().flat_map(|trial| &trial.circles.errors_px).copied();
        let mut calibrate_s: Vec<f64> =
            trials.iter().filter_map(|trial| trial.calibrate_s).collect();
        let mut ratios: Vec<f64> = trials.iter().filter_map(|trial| trial.times_circles).collect();
        Self {
            row: row.into(),
            frames: trials.len(),
            refused: trials.iter().filter(|trial| trial.refused.is_some()).count(),
            balls: trials.iter().map(|trial| trial.balls).sum(),
            found: found.len(),
            false_balls: read.iter().map(|read| read.false_balls.len()).sum(),
            cue_right: read.iter().filter(|read| read.cue_right).count(),
            object_balls_found: objects.len(),
            numbers_right: objects.iter().filter(|b| b.read_as == Some(b.number)).count(),
            centre_rms_mm: rms(found.iter().map(|ball| ball.error_mm)),
            worst_mm: found.iter().map(|ball| ball.error_mm).max_by(f64::total_cmp),
            nose_corners_rms_px: rms(read.iter().map(|read| read.corners_rms_px)),
            within_2_sigma: found.iter().filter(|b| b.error_mm <= 2.0 * b.sigma_mm).count(),
            obstructed_right: read.iter().filter(|read| read.obstructed_right).count(),
            size_right: read.iter().filter(|read| read.size_right).count(),
            calibrate_median_s: median(&mut calibrate_s),
            calibrate_worst_s: calibrate_s.last().copied(),
            circles_found: circles().count(),
            circles_false: trials.iter().map(|trial| trial.circles.false_circles).sum(),
            circles_rms_px: rms(circles()),
            times_circles: median(&mut ratios),
        }
    }
}

fn rms(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, count) = values.fold((0.0, 0_u32), |(sum, count), v| (sum + v * v, count + 1));
    (count > 0).then(|| (sum / f64::from(count)).sqrt())
}

/// A row for each profile and folder, and one for all where there are several.
pub fn rows(trials: &[Trial]) -> Vec<Figures> {
    let mut groups: BTreeMap<&str, Vec<&Trial>> = BTreeMap::new();
    for trial in trials {
        groups.entry(&trial.group).or_default().push(trial);
    }
    let mut rows: Vec<Figures> =
        groups.iter().map(|(group, trials)| Figures::of(group, trials)).collect();
    if rows.len() > 1 {
        rows.push(Figures::of("all", &trials.iter().collect::<Vec<_>>()));
    }
    rows
}

/// The rows as two Markdown tables: what the program reads, and the circle transform beside it.
pub fn tables(rows: &[Figures], given_size: bool) -> String {
    let size =
        |row: &Figures| if given_size { "given".into() } else { of_frames(row.size_right, row) };
    let reading = table(
        rows,
        &[
            ("profile", &|row| row.row.clone()),
            ("frames", &|row| row.frames.to_string()),
            ("refused", &|row| row.refused.to_string()),
            ("balls", &|row| row.balls.to_string()),
            ("found", &|row| percent(row.found, row.balls)),
            ("false", &|row| one_in(row.false_balls, row.balls)),
            ("cue ball right", &|row| of_frames(row.cue_right, row)),
            ("numbers right", &|row| percent(row.numbers_right, row.object_balls_found)),
            ("centre RMS", &|row| unit(row.centre_rms_mm, "mm")),
            ("worst", &|row| unit(row.worst_mm, "mm")),
            ("nose corners RMS", &|row| unit(row.nose_corners_rms_px, "px")),
            ("within 2 sigma", &|row| percent(row.within_2_sigma, row.found)),
            ("obstructed right", &|row| of_frames(row.obstructed_right, row)),
            ("size right", &size),
        ],
    );
    let circles = table(
        rows,
        &[
            ("HoughCircles on the same frames", &|row| row.row.clone()),
            ("found", &|row| percent(row.circles_found, row.balls)),
            ("false", &|row| one_in(row.circles_false, row.balls)),
            ("centre RMS", &|row| unit(row.circles_rms_px, "px")),
            ("time to read : its time", &|row| {
                row.times_circles.map_or("–".into(), |ratio| format!("{ratio:.2} : 1"))
            }),
            ("calibrating (median, longest)", &|row| match (
                row.calibrate_median_s,
                row.calibrate_worst_s,
            ) {
                (Some(median), Some(worst)) => format!("{median:.1} s, {worst:.1} s"),
                _ => "shared".into(),
            }),
        ],
    );
    format!("{reading}\n{circles}")
}

type Column<'a> = (&'a str, &'a dyn Fn(&Figures) -> String);

fn table(rows: &[Figures], columns: &[Column]) -> String {
    let cells: Vec<Vec<String>> = columns
        .iter()
        .map(|(head, cell)| {
            let mut column = vec![(*head).to_string()];
            column.extend(rows.iter().map(cell));
            column
        })
        .collect();
    let wide = |column: &[String]| column.iter().map(|c| c.chars().count()).max().unwrap_or(0);
    let mut text = String::new();
    for line in 0..=rows.len() {
        for column in &cells {
            let width = wide(column);
            text += &format!("| {:width$} ", column[line]);
        }
        text += "|\n";
        if line == 0 {
            for column in &cells {
                text += &format!("| {} ", "-".repeat(wide(column)));
            }
            text += "|\n";
        }
    }
    text
}

/// A part in per cent; never rounded up to all of it.
fn percent(part: usize, whole: usize) -> String {
    if whole == 0 {
        return "–".into();
    }
    if part == whole {
        return "all".into();
    }
    format!("{:.1} %", (1000.0 * part as f64 / whole as f64).floor() / 10.0)
}

fn one_in(count: usize, balls: usize) -> String {
    match balls.checked_div(count) {
        Some(each) => format!("{count} (1 in {each})"),
        None => "0".into(),
    }
}

fn of_frames(count: usize, row: &Figures) -> String {
    format!("{count} of {}", row.frames)
}

fn unit(value: Option<f64>, unit: &str) -> String {
    value.map_or("–".into(), |value| format!("{value:.2} {unit}"))
}

#[cfg(test)]
mod tests {
    use super::{one_in, percent};

    #[test]
    fn nothing_is_rounded_into_perfection() {
        assert_eq!(percent(9_999, 10_000), "99.9 %");
        assert_eq!(percent(10_000, 10_000), "all");
        assert_eq!(percent(0, 3), "0.0 %");
        assert_eq!(percent(0, 0), "–");
        assert_eq!(one_in(2, 999), "2 (1 in 499)");
        assert_eq!(one_in(0, 999), "0");
    }
}
