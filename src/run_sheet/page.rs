//! A page under way: lines, texts and drawings at their places, in tenths of a millimetre, y down.

use crate::layout::diagram::{INK, PAPER, escaped, number, path};
use crate::layout::strokes::{text_lines, text_width};

/// Strokes of a text for its cap height.
const PLAIN: f64 = 0.12;
const BOLD: f64 = 0.17;

/// A page under way.
pub(super) struct Page {
    size: [f64; 2],
    body: String,
}

/// How a text is written.
#[derive(Clone, Copy)]
pub(super) struct Letters {
    pub cap_height: f64,
    pub bold: bool,
}

impl Letters {
    pub const fn plain(cap_height: f64) -> Self {
        Self { cap_height, bold: false }
    }

    pub const fn bold(cap_height: f64) -> Self {
        Self { cap_height, bold: true }
    }

    /// How wide a text runs.
    pub fn width(self, text: &str) -> f64 {
        text_width(&text.to_uppercase(), self.cap_height)
    }
}

impl Page {
    pub fn new(size: [f64; 2]) -> Self {
        Self { size, body: String::new() }
    }

    pub fn raw(&mut self, element: &str) {
        self.body.push_str(element);
        self.body.push('\n');
    }

    /// A text from its upper left corner.
    pub fn text(&mut self, text: &str, [left, top]: [f64; 2], letters: Letters) {
        let lines = text_lines(&text.to_uppercase(), left, top, letters.cap_height);
        let data: String = lines.iter().map(|line| path(line)).collect();
        let width = letters.cap_height * if letters.bold { BOLD } else { PLAIN };
        self.raw(&format!(
            r#"<path d="{data}" fill="none" stroke="{INK}" stroke-width="{}" stroke-linecap="round" stroke-linejoin="round"/>"#,
            number(width)
        ));
    }

    /// A text that ends at a place.
    pub fn text_to(&mut self, text: &str, [right, top]: [f64; 2], letters: Letters) {
        self.text(text, [right - letters.width(text), top], letters);
    }

    /// A rule across.
    pub fn rule(&mut self, [left, y]: [f64; 2], right: f64, width: f64) {
        self.raw(&format!(
            r#"<path d="{}" fill="none" stroke="{INK}" stroke-width="{}"/>"#,
            path(&[[left, y], [right, y]]),
            number(width)
        ));
    }

    /// An empty frame.
    pub fn frame(&mut self, [left, top]: [f64; 2], [width, height]: [f64; 2]) {
        self.raw(&format!(
            r#"<rect x="{}" y="{}" width="{}" height="{}" fill="none" stroke="{INK}" stroke-width="2" stroke-dasharray="12 10"/>"#,
            number(left),
            number(top),
            number(width),
            number(height)
        ));
    }

    /// The document; as large on paper as its tenths of a millimetre say.
    pub fn finish(self, title: &str, description: &str) -> String {
        let [width, height] = self.size.map(number);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" role=\"img\">\n<title>{}</title>\n<desc>{}</desc>\n<rect width=\"{width}\" height=\"{height}\" fill=\"{PAPER}\"/>\n{}</svg>\n",
            escaped(title),
            escaped(description),
            self.body
        )
    }
}
