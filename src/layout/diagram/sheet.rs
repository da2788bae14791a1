//! The sheet the diagram is drawn on: from table to drawing units, and SVG elements as text.

use super::look;
use crate::layout::strokes::{self, Line};
use crate::table::{TablePoint, TableSize};
use std::fmt::Write as _;

/// A drawing under way.
pub struct Sheet {
    /// Width of the playing surface in units; its length is [`look::LENGTH`].
    pub across: f64,
    units_per_mm: f64,
    /// Height of what stands below the table.
    footer: f64,
    body: String,
}

/// How a line is drawn.
#[derive(Clone, Copy)]
pub struct Pen {
    pub colour: &'static str,
    pub width: f64,
}

impl Sheet {
    pub fn new(table: &TableSize) -> Self {
        let units_per_mm = look::LENGTH / table.length_mm;
        Self {
            across: table.width_mm * units_per_mm,
            units_per_mm,
            footer: look::FOOTER,
            body: String::new(),
        }
    }

    /// The drawing's width and height in units.
    pub fn size(&self) -> [f64; 2] {
        let border = 2.0 * (look::RAIL + look::MARGIN);
        [look::LENGTH + border, self.across + border + self.footer]
    }

    /// Makes room for one more line below the table.
    pub fn add_line(&mut self) {
        self.footer += look::FOOTER;
    }

    pub fn units(&self, mm: f64) -> f64 {
        mm * self.units_per_mm
    }

    /// A place on the table in the drawing, y turned down.
    pub fn place(&self, point: TablePoint) -> [f64; 2] {
        [self.units(point.x_mm), self.across - self.units(point.y_mm)]
    }

    /// Whether a place lies on the table or its rails.
    pub fn holds(&self, [x, y]: [f64; 2]) -> bool {
        let rail = -look::RAIL;
        (rail..=look::LENGTH - rail).contains(&x) && (rail..=self.across - rail).contains(&y)
    }

    /// Adds an element as it stands.
    pub fn raw(&mut self, element: &str) {
        self.body.push_str(element);
        self.body.push('\n');
    }

    pub fn disc(&mut self, [x, y]: [f64; 2], radius: f64, fill: &str) {
        self.raw(&format!(
            r#"<circle cx="{}" cy="{}" r="{}" fill="{fill}"/>"#,
            number(x),
            number(y),
            number(radius)
        ));
    }

    /// A rectangle from its upper left corner and size; `more` holds further attributes.
    pub fn block(&mut self, [x, y]: [f64; 2], [width, height]: [f64; 2], fill: &str, more: &str) {
        self.raw(&format!(
            r#"<rect x="{}" y="{}" width="{}" height="{}" fill="{fill}"{}{more}/>"#,
            number(x),
            number(y),
            number(width),
            number(height),
            if more.is_empty() { "" } else { " " }
        ));
    }

    /// A closed shape.
    pub fn shape(&mut self, corners: &[[f64; 2]], fill: &str) {
        self.raw(&format!(r#"<path d="{}Z" fill="{fill}"/>"#, path(corners)));
    }

    /// Open lines with round ends; `more` holds further attributes.
    pub fn lines(&mut self, lines: &[Line], pen: Pen, more: &str) {
        let mut data = String::new();
        for line in lines {
            data.push_str(&path(line));
        }
        self.raw(&format!(
            r#"<path d="{data}" fill="none" stroke="{}" stroke-width="{}" stroke-linecap="round" stroke-linejoin="round"{}{more}/>"#,
            pen.colour,
            number(pen.width),
            if more.is_empty() { "" } else { " " }
        ));
    }

    /// A text from its upper left corner.
    pub fn text(&mut self, text: &str, [left, top]: [f64; 2], cap_height: f64, pen: Pen) {
        let lines = strokes::text_lines(text, left, top, cap_height);
        self.lines(&lines, pen, "");
    }

    /// What is drawn as a group within another drawing, and its height there.
    pub fn part(self, [x, y]: [f64; 2], width: f64) -> (String, f64) {
        let [wide, high] = self.size();
        let scale = width / wide;
        let border = scale * (look::RAIL + look::MARGIN);
        let (x, y) = (number(x + border), number(y + border));
        let group =
            format!("<g transform=\"translate({x} {y}) scale({scale:.5})\">\n{}</g>", self.body);
        (group, scale * high)
    }

    /// The document.
    pub fn finish(self, title: &str, description: &str) -> String {
        let [width, height] = self.size();
        let border = look::RAIL + look::MARGIN;
        let (left, wide, high) = (number(-border), number(width), number(height));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"{left} {left} {wide} {high}\" width=\"{wide}\" height=\"{high}\" role=\"img\">\n<title>{}</title>\n<desc>{}</desc>\n<rect x=\"{left}\" y=\"{left}\" width=\"{wide}\" height=\"{high}\" fill=\"{}\"/>\n{}</svg>\n",
            escaped(title),
            escaped(description),
            look::PAPER,
            self.body
        )
    }
}

/// A number with at most two places: a hundredth of a unit is a hundredth of a millimetre.
pub fn number(value: f64) -> String {
    let mut text = format!("{value:.2}");
    while text.ends_with('0') {
        text.pop();
    }
    if text.ends_with('.') {
        text.pop();
    }
    if text == "-0" { "0".into() } else { text }
}

/// Path data through points, left open.
pub fn path(points: &[[f64; 2]]) -> String {
    let mut data = String::new();
    for (i, [x, y]) in points.iter().enumerate() {
        let command = if i == 0 { 'M' } else { 'L' };
        // Writing to a string cannot fail.
        let _ = write!(data, "{command}{} {}", number(*x), number(*y));
    }
    data
}

/// A text as it stands in XML.
pub fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
