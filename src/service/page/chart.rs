//! Charts as the server draws them: a frame with scales, and marks that differ in shape and line as
//! well as in shade, so that they read in print and in grey.
//!
//! Lengths are the drawing's own units. Colours are the page's (`study.css`). Every chart has a title
//! and a description for those who do not see it; the figures stand in a table beside it.

use crate::study::Estimate;
use maud::{Markup, html};

/// The drawing, and the plot within it.
const WIDTH: f64 = 600.0;
const HEIGHT: f64 = 400.0;
const LEFT: f64 = 104.0;
const RIGHT: f64 = 16.0;
const TOP: f64 = 36.0;
const BOTTOM: f64 = 62.0;

/// How values of an axis lie.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Scale {
    Even,
    /// Equal factors lie equally far apart.
    Factors,
}

/// An axis: its words, its ends, and the values that are written at it.
pub(super) struct Axis {
    pub(super) name: String,
    pub(super) ends: (f64, f64),
    pub(super) scale: Scale,
    pub(super) marks: Vec<(f64, String)>,
}

impl Axis {
    /// Where a value lies between the ends, 0 to 1; one beyond lies at the end.
    fn part(&self, value: f64) -> f64 {
        let along = |value: f64| match self.scale {
            Scale::Even => value,
            Scale::Factors => value.max(f64::MIN_POSITIVE).ln(),
        };
        let (from, to) = (along(self.ends.0), along(self.ends.1));
        ((along(value) - from) / (to - from)).clamp(0.0, 1.0)
    }
}

/// A chart's frame.
pub(super) struct Chart {
    pub(super) title: String,
    /// What it shows, in a sentence or two.
    pub(super) told: String,
    pub(super) x: Axis,
    pub(super) y: Axis,
}

fn tenths(units: f64) -> f64 {
    (10.0 * units).round() / 10.0
}

impl Chart {
    pub(super) fn x(&self, value: f64) -> f64 {
        tenths(LEFT + (WIDTH - LEFT - RIGHT) * self.x.part(value))
    }

    pub(super) fn y(&self, value: f64) -> f64 {
        tenths(HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * self.y.part(value))
    }

    /// The whole drawing around its marks; `id` is its own on the page.
    pub(super) fn around(&self, id: &str, marks: &Markup) -> Markup {
        let (bottom, right) = (HEIGHT - BOTTOM, WIDTH - RIGHT);
        html! {
            svg.chart viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img"
                aria-labelledby={ (id) "-title " (id) "-told" } {
                title id={ (id) "-title" } { (self.title) }
                desc id={ (id) "-told" } { (self.told) }
                @for (value, words) in &self.y.marks {
                    @let y = self.y(*value);
                    line.grid x1=(LEFT) y1=(y) x2=(right) y2=(y) {}
                    text.mark x=(LEFT - 8.0) y=(y + 6.0) text-anchor="end" { (words) }
                }
                @for (value, words) in &self.x.marks {
                    @let x = self.x(*value);
                    line.tick x1=(x) y1=(bottom) x2=(x) y2=(bottom + 7.0) {}
                    text.mark x=(x) y=(bottom + 26.0) text-anchor="middle" { (words) }
                }
                line.ground x1=(LEFT) y1=(bottom) x2=(right) y2=(bottom) {}
                text.axis x="0" y="18" { (self.y.name) }
                text.axis x=(right) y=(HEIGHT - 8.0) text-anchor="end" { (self.x.name) }
                (marks)
            }
        }
    }

    /// A line through points, as the `d` of a path.
    pub(super) fn line(&self, points: impl IntoIterator<Item = (f64, f64)>) -> String {
        let mut path = String::new();
        for (x, y) in points {
            path += if path.is_empty() { "M" } else { "L" };
            path += &format!("{} {}", self.x(x), self.y(y));
        }
        path
    }
}

/// A row of [`rows`].
pub(super) struct Row<'a> {
    pub(super) name: &'a str,
    pub(super) chance: Estimate,
}

/// Height of a row, and where its name ends and the scale begins.
const ROW: f64 = 36.0;
const NAMES: f64 = 216.0;
/// How wide they are: narrower than other charts, so that their words stay large on a phone.
const ROWS_WIDTH: f64 = 440.0;

/// Chances side by side, a row for each: a disc with its interval on a scale from 0 to `end`. An interval
/// that runs beyond the scale ends in an arrow.
pub(super) fn rows<'a>(
    id: &str,
    title: &str,
    told: &str,
    end: f64,
    rows: impl ExactSizeIterator<Item = Row<'a>>,
) -> Markup {
    let bottom = ROW * rows.len() as f64 + 6.0;
    let x =
        |chance: f64| tenths(NAMES + (ROWS_WIDTH - 32.0 - NAMES) * (chance / end).clamp(0.0, 1.0));
    let parts: Vec<f64> =
        round_marks(100.0 * end, 4).into_iter().filter(|part| part / 100.0 <= end).collect();
    html! {
        svg.chart.rows viewBox={ "0 0 " (ROWS_WIDTH) " " (bottom + 34.0) } role="img"
            aria-labelledby={ (id) "-title " (id) "-told" } {
            title id={ (id) "-title" } { (title) }
            desc id={ (id) "-told" } { (told) }
            @for part in &parts {
                @let x = x(part / 100.0);
                line.grid x1=(x) y1="0" x2=(x) y2=(bottom) {}
                text.mark x=(x) y=(bottom + 24.0) text-anchor="middle" { (format!("{part:.0} %")) }
            }
            @for (at, row) in (0_u32..).zip(rows) {
                @let y = ROW * (f64::from(at) + 0.5);
                @let Estimate { value, low, high } = row.chance;
                text.mark x="0" y=(y + 6.0) { (row.name) }
                line.whisker x1=(x(low)) y1=(y) x2=(x(high)) y2=(y) {}
                @if high > end {
                    path.run d={ "M" (x(end) + 12.0) " " (y) "l-12 -7v14z" } {}
                }
                circle.run cx=(x(value)) cy=(y) r="6" {}
            }
            line.ground x1=(NAMES) y1=(bottom) x2=(ROWS_WIDTH) y2=(bottom) {}
        }
    }
}

/// Round values from 0 to at least `most`, in at most `count` steps.
pub(super) fn round_marks(most: f64, count: u32) -> Vec<f64> {
    let rough = (most / f64::from(count)).max(1e-12);
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|times| times * power)
        .find(|step| *step >= rough * (1.0 - 1e-9))
        .unwrap_or(10.0 * power);
    let steps = (most / step - 1e-9).ceil().max(1.0) as u32;
    (0..=steps).map(|k| step * f64::from(k)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_round_and_reach_the_most() {
        assert_eq!(round_marks(51.0, 5), [0.0, 20.0, 40.0, 60.0]);
        assert_eq!(round_marks(10.0, 5), [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(round_marks(0.0, 5).len(), 2);
    }

    #[test]
    fn what_lies_beyond_an_end_is_drawn_at_it() {
        let axis =
            |scale| Axis { name: String::new(), ends: (0.01, 1.0), scale, marks: Vec::new() };
        assert_eq!(axis(Scale::Even).part(7.0), 1.0);
        assert_eq!(axis(Scale::Factors).part(0.0), 0.0);
        assert!((axis(Scale::Factors).part(0.1) - 0.5).abs() < 1e-12);
    }
}
