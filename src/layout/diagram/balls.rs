//! The balls of the diagram, each at its place and to scale.

use super::look;
use super::sheet::{Pen, Sheet, number};
use crate::layout::{Ball, BallKind, Layout};

/// What a ball looks like, told by shape.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Look {
    Cue,
    Solid(u8),
    Striped(u8),
    Unread,
}

/// A ball in drawing units.
#[derive(Clone, Debug)]
pub struct Drawn {
    pub at: [f64; 2],
    pub radius: f64,
    pub look: Look,
    /// What the chip says.
    pub label: String,
    /// Radius of the halo, where the place is uncertain.
    halo: Option<f64>,
}

impl Look {
    pub fn of(ball: &Ball) -> Self {
        match (ball.kind, ball.number) {
            (BallKind::Cue, _) => Self::Cue,
            (BallKind::Object, Some(number @ 1..=8)) => Self::Solid(number),
            (BallKind::Object, Some(number @ 9..=15)) => Self::Striped(number),
            (BallKind::Object, _) => Self::Unread,
        }
    }
}

impl Drawn {
    /// Something of a ball's size that has no chip.
    pub fn unnumbered(at: [f64; 2], radius: f64) -> Self {
        Self { at, radius, look: Look::Unread, label: String::new(), halo: None }
    }
}

/// The balls that lie on the table or its rails, in an order that does not depend on the layout's.
pub fn drawn(sheet: &Sheet, layout: &Layout) -> Vec<Drawn> {
    let radius = sheet.units(layout.table.ball_radius_mm());
    let mut drawn: Vec<Drawn> = layout
        .balls
        .iter()
        .map(|ball| (ball, sheet.place(layout.centre_of(ball))))
        .filter(|(_, at)| sheet.holds(*at))
        .map(|(ball, at)| Drawn {
            at,
            radius,
            look: Look::of(ball),
            label: label(ball),
            halo: halo(sheet, ball, radius),
        })
        .collect();
    drawn.sort_by(|a, b| a.at[0].total_cmp(&b.at[0]).then(a.at[1].total_cmp(&b.at[1])));
    drawn
}

/// A number that is more likely wrong than right carries a question mark.
fn label(ball: &Ball) -> String {
    match Look::of(ball) {
        Look::Cue => String::new(),
        Look::Unread => "?".into(),
        Look::Solid(number) | Look::Striped(number) => {
            let doubtful = (f64::MIN_POSITIVE..0.5).contains(&ball.number_confidence);
            format!("{number}{}", if doubtful { "?" } else { "" })
        }
    }
}

/// Two standard deviations around the outline; wider than a diamond says no more.
fn halo(sheet: &Sheet, ball: &Ball, radius: f64) -> Option<f64> {
    let certain = ball.sigma_mm <= look::HALO_ABOVE_MM;
    let widest = look::LENGTH / 8.0;
    let around = sheet.units(2.0 * ball.sigma_mm);
    (!certain).then_some(radius + if around < widest { around } else { widest })
}

pub fn draw(sheet: &mut Sheet, balls: &[Drawn]) {
    for ball in balls {
        if let Some(halo) = ball.halo {
            sheet.raw(&format!(
                r#"<circle class="halo" cx="{}" cy="{}" r="{}" fill="{}" fill-opacity="0.7" stroke="{}" stroke-width="5" stroke-dasharray="14 14"/>"#,
                number(ball.at[0]),
                number(ball.at[1]),
                number(halo),
                look::HALO,
                look::SIGNAL
            ));
        }
    }
    // The cue ball comes last, so that nothing covers its ticks.
    let (cue, objects): (Vec<_>, Vec<_>) = balls.iter().partition(|ball| ball.look == Look::Cue);
    for ball in objects.into_iter().chain(cue) {
        one(sheet, ball);
    }
}

fn one(sheet: &mut Sheet, ball: &Drawn) {
    let class = match ball.look {
        Look::Cue => "ball cue",
        Look::Solid(_) => "ball solid",
        Look::Striped(_) => "ball striped",
        Look::Unread => "ball unread",
    };
    sheet.raw(&format!(r#"<g class="{class}">"#));
    // The outline's line lies inside the ball, so that touching balls touch.
    let border = 5.0;
    let inner = ball.radius - border / 2.0;
    match ball.look {
        Look::Cue => {
            sheet.disc(ball.at, ball.radius, look::INK);
            sheet.disc(ball.at, ball.radius - 6.0, look::PAPER);
            ticks(sheet, ball);
        }
        Look::Solid(number) => {
            sheet.disc(ball.at, ball.radius, look::INK);
            sheet.disc(ball.at, ball.radius - border, look::ball_colour(number));
        }
        Look::Striped(number) => {
            sheet.disc(ball.at, ball.radius, look::INK);
            sheet.disc(ball.at, ball.radius - border, look::PAPER);
            band(sheet, ball, inner, look::ball_colour(number));
        }
        Look::Unread => {
            sheet.disc(ball.at, ball.radius, look::INK);
            sheet.disc(ball.at, ball.radius - border, look::UNREAD);
            slash(sheet, ball, inner);
        }
    }
    sheet.raw("</g>");
}

/// A striped ball's band, edged so that it shows in grey whatever its colour.
fn band(sheet: &mut Sheet, ball: &Drawn, radius: f64, colour: &str) {
    let half = radius * 0.52;
    let reach = (radius * radius - half * half).sqrt();
    let [x, y] = ball.at;
    let r = number(radius);
    sheet.raw(&format!(
        r#"<path d="M{} {}L{} {}A{r} {r} 0 0 1 {} {}L{} {}A{r} {r} 0 0 1 {} {}Z" fill="{colour}" stroke="{}" stroke-width="4"/>"#,
        number(x - reach),
        number(y - half),
        number(x + reach),
        number(y - half),
        number(x + reach),
        number(y + half),
        number(x - reach),
        number(y + half),
        number(x - reach),
        number(y - half),
        look::INK
    ));
}

/// A slanting line through a ball that could not be told.
fn slash(sheet: &mut Sheet, ball: &Drawn, radius: f64) {
    let [x, y] = ball.at;
    let arm = radius * 0.7;
    let line = vec![vec![[x - arm, y + arm], [x + arm, y - arm]]];
    sheet.lines(&line, Pen { colour: look::INK, width: 7.0 }, "");
}

/// The cue ball's four ticks and its middle.
fn ticks(sheet: &mut Sheet, ball: &Drawn) {
    let [x, y] = ball.at;
    let (from, to) = (ball.radius * 1.3, ball.radius * 2.2);
    let lines: Vec<_> = [[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]]
        .into_iter()
        .map(|[dx, dy]| vec![[x + dx * from, y + dy * from], [x + dx * to, y + dy * to]])
        .collect();
    sheet.lines(&lines, Pen { colour: look::PAPER, width: 24.0 }, "");
    sheet.lines(&lines, Pen { colour: look::SIGNAL, width: 15.0 }, "");
    sheet.disc(ball.at, ball.radius * 0.36, look::SIGNAL);
}
