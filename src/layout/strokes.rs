//! Writing without a font: digits and capitals as strokes of our own design.
//!
//! Pictures have to come out the same on every machine, whatever fonts it has, so what is written
//! into diagrams and overlays is drawn as lines. A glyph stands in a box of height 1 (cap height),
//! y down from the cap line to the base line; lines are meant to be drawn with round caps and
//! joins. Knows nothing of what is written or where.

use std::f64::consts::TAU;

/// One line of a glyph, through points x right and y down.
pub type Line = Vec<[f64; 2]>;

/// Space between two glyphs, in cap heights, for a stroke of about a sixth of it.
const GAP: f64 = 0.24;

/// Points of a full turn; a circle of half the cap height is then true to a hundredth of it.
const STEPS_PER_TURN: f64 = 32.0;

enum Part {
    Path(&'static [[f64; 2]]),
    /// Part of an ellipse: centre, radii, and the angles it runs between, in turns clockwise
    /// from the right.
    Arc([f64; 2], [f64; 2], [f64; 2]),
}

use Part::{Arc, Path};

/// How wide a text runs, without the strokes' own width.
pub fn text_width(text: &str, cap_height: f64) -> f64 {
    let advance: f64 = text.chars().map(|c| glyph(c).0 + GAP).sum();
    (advance - GAP).max(0.0) * cap_height
}

/// The lines of a text whose cap line starts at `left`, `top`. Characters outside the set come
/// out as question marks.
pub fn text_lines(text: &str, left: f64, top: f64, cap_height: f64) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut from = left;
    for character in text.chars() {
        let (width, parts) = glyph(character);
        let place = |[x, y]: [f64; 2]| [from + x * cap_height, top + y * cap_height];
        lines.extend(parts.iter().map(|part| match part {
            Path(points) => points.iter().copied().map(place).collect(),
            Arc(centre, radii, turns) => arc(*centre, *radii, *turns).map(place).collect::<Line>(),
        }));
        from += (width + GAP) * cap_height;
    }
    lines
}

fn arc(centre: [f64; 2], radii: [f64; 2], turns: [f64; 2]) -> impl Iterator<Item = [f64; 2]> {
    let [from, to] = turns;
    let steps = ((to - from).abs() * STEPS_PER_TURN).ceil().max(1.0) as u32;
    (0..=steps).map(move |step| {
        let turn = from + (to - from) * f64::from(step) / f64::from(steps);
        let (sin, cos) = (turn * TAU).sin_cos();
        [centre[0] + radii[0] * cos, centre[1] + radii[1] * sin]
    })
}

/// Width and strokes of a character.
fn glyph(character: char) -> (f64, &'static [Part]) {
    match character {
        '0'..='9' => digit(character),
        'A'..='M' => first_letter(character),
        'N'..='Z' => second_letter(character),
        ' ' => (0.30, &[]),
        '.' => (0.06, &[Path(&[[0.03, 0.98], [0.03, 1.0]])]),
        '·' => (0.10, &[Path(&[[0.05, 0.52], [0.05, 0.53]])]),
        '-' => (0.40, &[Path(&[[0.02, 0.54], [0.38, 0.54]])]),
        '+' => (0.50, &[Path(&[[0.02, 0.54], [0.48, 0.54]]), Path(&[[0.25, 0.31], [0.25, 0.77]])]),
        '×' => (0.46, &[Path(&[[0.03, 0.32], [0.43, 0.76]]), Path(&[[0.43, 0.32], [0.03, 0.76]])]),
        '(' => (0.20, &[Arc([0.42, 0.5], [0.40, 0.66], [0.39, 0.61])]),
        ')' => (0.20, &[Arc([-0.22, 0.5], [0.40, 0.66], [-0.11, 0.11])]),
        _ => (
            0.50,
            &[
                Arc([0.25, 0.26], [0.24, 0.26], [0.55, 1.12]),
                Path(&[[0.425, 0.438], [0.26, 0.58], [0.25, 0.70]]),
                Path(&[[0.25, 0.98], [0.25, 1.0]]),
            ],
        ),
    }
}

fn digit(character: char) -> (f64, &'static [Part]) {
    match character {
        '0' => (0.60, &[Arc([0.30, 0.50], [0.30, 0.50], [0.0, 1.0])]),
        '1' => (0.34, &[Path(&[[0.02, 0.24], [0.30, 0.0], [0.30, 1.0]])]),
        '2' => (
            0.58,
            &[
                Arc([0.29, 0.29], [0.28, 0.29], [0.53, 1.10]),
                Path(&[[0.517, 0.46], [0.02, 1.0], [0.58, 1.0]]),
            ],
        ),
        '3' => (
            0.57,
            &[
                Arc([0.27, 0.24], [0.25, 0.24], [0.57, 1.25]),
                Arc([0.27, 0.74], [0.30, 0.26], [0.75, 1.43]),
            ],
        ),
        '4' => (0.62, &[Path(&[[0.46, 1.0], [0.46, 0.0], [0.0, 0.70], [0.62, 0.70]])]),
        '5' => (
            0.58,
            &[
                Path(&[[0.53, 0.0], [0.11, 0.0], [0.06, 0.455]]),
                Arc([0.275, 0.68], [0.305, 0.32], [0.625, 1.41]),
            ],
        ),
        '6' => (
            0.60,
            &[
                Arc([0.30, 0.68], [0.30, 0.32], [0.0, 1.0]),
                Arc([0.56, 0.68], [0.56, 0.68], [0.5, 0.73]),
            ],
        ),
        '7' => (0.56, &[Path(&[[0.0, 0.0], [0.56, 0.0], [0.18, 1.0]])]),
        '8' => (
            0.60,
            &[
                Arc([0.30, 0.24], [0.25, 0.24], [0.0, 1.0]),
                Arc([0.30, 0.74], [0.30, 0.26], [0.0, 1.0]),
            ],
        ),
        _ => (
            0.60,
            &[
                Arc([0.30, 0.32], [0.30, 0.32], [0.0, 1.0]),
                Arc([0.04, 0.32], [0.56, 0.68], [0.0, 0.23]),
            ],
        ),
    }
}

fn first_letter(character: char) -> (f64, &'static [Part]) {
    match character {
        'A' => (
            0.70,
            &[Path(&[[0.0, 1.0], [0.35, 0.0], [0.70, 1.0]]), Path(&[[0.126, 0.64], [0.574, 0.64]])],
        ),
        'B' => (
            0.56,
            &[
                Path(&[[0.30, 0.0], [0.0, 0.0], [0.0, 1.0], [0.30, 1.0]]),
                Path(&[[0.0, 0.48], [0.30, 0.48]]),
                Arc([0.30, 0.24], [0.22, 0.24], [-0.25, 0.25]),
                Arc([0.30, 0.74], [0.26, 0.26], [-0.25, 0.25]),
            ],
        ),
        'C' => (0.62, &[Arc([0.38, 0.50], [0.38, 0.50], [0.14, 0.86])]),
        'D' => (
            0.62,
            &[
                Path(&[[0.22, 1.0], [0.0, 1.0], [0.0, 0.0], [0.22, 0.0]]),
                Arc([0.22, 0.50], [0.40, 0.50], [-0.25, 0.25]),
            ],
        ),
        'E' => (
            0.50,
            &[
                Path(&[[0.50, 0.0], [0.0, 0.0], [0.0, 1.0], [0.50, 1.0]]),
                Path(&[[0.0, 0.50], [0.42, 0.50]]),
            ],
        ),
        'F' => (
            0.50,
            &[Path(&[[0.50, 0.0], [0.0, 0.0], [0.0, 1.0]]), Path(&[[0.0, 0.50], [0.42, 0.50]])],
        ),
        'G' => (
            0.68,
            &[
                Arc([0.38, 0.50], [0.38, 0.50], [0.10, 0.86]),
                Path(&[[0.40, 0.56], [0.68, 0.56], [0.68, 0.80]]),
            ],
        ),
        'H' => (
            0.62,
            &[
                Path(&[[0.0, 0.0], [0.0, 1.0]]),
                Path(&[[0.62, 0.0], [0.62, 1.0]]),
                Path(&[[0.0, 0.5], [0.62, 0.5]]),
            ],
        ),
        'I' => (0.06, &[Path(&[[0.03, 0.0], [0.03, 1.0]])]),
        'J' => (
            0.44,
            &[Path(&[[0.44, 0.0], [0.44, 0.76]]), Arc([0.22, 0.76], [0.22, 0.24], [0.0, 0.46])],
        ),
        'K' => (
            0.58,
            &[
                Path(&[[0.0, 0.0], [0.0, 1.0]]),
                Path(&[[0.55, 0.0], [0.0, 0.60]]),
                Path(&[[0.19, 0.40], [0.58, 1.0]]),
            ],
        ),
        'L' => (0.48, &[Path(&[[0.0, 0.0], [0.0, 1.0], [0.48, 1.0]])]),
        _ => (0.80, &[Path(&[[0.0, 1.0], [0.04, 0.0], [0.40, 0.68], [0.76, 0.0], [0.80, 1.0]])]),
    }
}

fn second_letter(character: char) -> (f64, &'static [Part]) {
    match character {
        'N' => (0.62, &[Path(&[[0.0, 1.0], [0.0, 0.0], [0.62, 1.0], [0.62, 0.0]])]),
        'O' => (0.76, &[Arc([0.38, 0.50], [0.38, 0.50], [0.0, 1.0])]),
        'P' => (
            0.54,
            &[
                Path(&[[0.0, 1.0], [0.0, 0.0], [0.28, 0.0]]),
                Path(&[[0.0, 0.54], [0.28, 0.54]]),
                Arc([0.28, 0.27], [0.26, 0.27], [-0.25, 0.25]),
            ],
        ),
        'Q' => (
            0.76,
            &[Arc([0.38, 0.50], [0.38, 0.50], [0.0, 1.0]), Path(&[[0.46, 0.72], [0.76, 1.04]])],
        ),
        'R' => (
            0.58,
            &[
                Path(&[[0.0, 1.0], [0.0, 0.0], [0.28, 0.0]]),
                Path(&[[0.0, 0.54], [0.28, 0.54]]),
                Arc([0.28, 0.27], [0.26, 0.27], [-0.25, 0.25]),
                Path(&[[0.28, 0.54], [0.58, 1.0]]),
            ],
        ),
        'S' => (
            0.54,
            &[
                Arc([0.27, 0.24], [0.24, 0.24], [0.25, 0.92]),
                Arc([0.27, 0.74], [0.27, 0.26], [-0.25, 0.42]),
            ],
        ),
        'T' => (0.62, &[Path(&[[0.0, 0.0], [0.62, 0.0]]), Path(&[[0.31, 0.0], [0.31, 1.0]])]),
        'U' => (
            0.60,
            &[
                Path(&[[0.0, 0.0], [0.0, 0.70]]),
                Arc([0.30, 0.70], [0.30, 0.30], [0.0, 0.5]),
                Path(&[[0.60, 0.0], [0.60, 0.70]]),
            ],
        ),
        'V' => (0.68, &[Path(&[[0.0, 0.0], [0.34, 1.0], [0.68, 0.0]])]),
        'W' => (0.96, &[Path(&[[0.0, 0.0], [0.22, 1.0], [0.48, 0.22], [0.74, 1.0], [0.96, 0.0]])]),
        'X' => (0.62, &[Path(&[[0.0, 0.0], [0.62, 1.0]]), Path(&[[0.62, 0.0], [0.0, 1.0]])]),
        'Y' => (
            0.64,
            &[Path(&[[0.0, 0.0], [0.32, 0.50], [0.64, 0.0]]), Path(&[[0.32, 0.50], [0.32, 1.0]])],
        ),
        _ => (0.58, &[Path(&[[0.02, 0.0], [0.58, 0.0], [0.0, 1.0], [0.58, 1.0]])]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SET: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ.·-+×()?";

    #[test]
    fn every_glyph_stays_in_its_box() {
        for character in SET.chars() {
            let width = text_width(&character.to_string(), 1.0);
            let lines = text_lines(&character.to_string(), 0.0, 0.0, 1.0);
            assert!(!lines.is_empty(), "{character} has no strokes");
            for [x, y] in lines.into_iter().flatten() {
                assert!((-0.02..=width + 0.02).contains(&x), "{character}: x {x} of {width}");
                assert!((-0.11..=1.11).contains(&y), "{character}: y {y}");
            }
        }
    }

    #[test]
    fn glyphs_differ_from_one_another() {
        let drawn: Vec<_> =
            SET.chars().map(|c| text_lines(&c.to_string(), 0.0, 0.0, 1.0)).collect();
        for (i, one) in drawn.iter().enumerate() {
            assert!(!drawn[..i].contains(one), "glyph {i} repeats an earlier one");
        }
    }

    #[test]
    fn a_text_is_as_wide_as_said() {
        let widest = text_lines("14H", 7.0, 0.0, 10.0)
            .into_iter()
            .flatten()
            .map(|[x, _]| x)
            .fold(f64::MIN, f64::max);
        assert!((widest - 7.0 - text_width("14H", 10.0)).abs() < 1e-9);
    }
}
