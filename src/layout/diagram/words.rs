//! The layout in words, for those who cannot see the drawing.

use super::balls::Look;
use super::{Plan, Way, WayEnd};
use crate::layout::{Ball, Layout};
use crate::table::{DiamondPoint, FootEnd};
use std::fmt::Write as _;

pub fn title(layout: &Layout) -> String {
    let objects = layout.object_balls().count();
    let cue = if layout.cue_ball().is_some() { "Cue ball" } else { "No cue ball" };
    let plural = if objects == 1 { "" } else { "s" };
    format!("{cue} and {objects} object ball{plural} on a table of {}", layout.table.name())
}

pub fn description(layout: &Layout, plan: &Plan<'_>) -> String {
    let mut text = format!(
        "Seen from above; playing surface {}. Places in diamonds: 0 to 8 from the left end to the right, 0 to 4 from the lower rail to the upper. ",
        layout.table
    );
    text.push_str(match layout.foot {
        FootEnd::Given | FootEnd::Seen => "The foot end is at the right.",
        FootEnd::Open => "Which end is the foot is not known.",
    });
    if layout.obstructed {
        text.push_str(" Part of the cloth is hidden: there may be more balls.");
    }
    let mut balls: Vec<&Ball> = layout.balls.iter().collect();
    balls.sort_by_key(|ball| match Look::of(ball) {
        Look::Cue => 0,
        Look::Solid(number) | Look::Striped(number) => number,
        Look::Unread => u8::MAX,
    });
    for ball in balls {
        let name = name(ball);
        // Writing to a string cannot fail.
        let _ = write!(text, " {name} at {:.2}, {:.2}", ball.x, ball.y);
        if ball.sigma_mm > super::look::HALO_ABOVE_MM {
            let _ = write!(text, ", give or take {:.0} mm", ball.sigma_mm);
        }
        text.push('.');
    }
    if !plan.racked.is_empty() {
        let _ = write!(text, " {} balls are racked.", plan.racked.len());
    }
    let drawn: &[Way] = plan.ways;
    for way in drawn.iter().filter(|way| way.points.len() > 1) {
        let (Some(ball), Some(end)) = (layout.balls.get(way.ball), way.points.last()) else {
            continue;
        };
        let end = DiamondPoint::from_table(*end, &layout.table);
        let how = match way.end {
            WayEnd::Rests => "comes to rest at",
            WayEnd::Drops => "drops at",
            WayEnd::GoesOn => "is drawn as far as",
        };
        let _ = write!(text, " {} {how} {:.2}, {:.2}.", name(ball), end.x, end.y);
    }
    for meeting in plan.meetings {
        let at = DiamondPoint::from_table(*meeting, &layout.table);
        let _ = write!(text, " The cue ball meets a ball from {:.2}, {:.2}.", at.x, at.y);
    }
    if let Some(area) = &plan.landing {
        let at = DiamondPoint::from_table(area.at, &layout.table);
        let [most, least] = area.sigma_mm;
        let _ = write!(
            text,
            " The cue ball comes to rest about {:.2}, {:.2}: 86 of 100 within {:.0} by {:.0} mm of there.",
            at.x,
            at.y,
            2.0 * most,
            2.0 * least
        );
    }
    text
}

fn name(ball: &Ball) -> String {
    match Look::of(ball) {
        Look::Cue => "Cue ball".into(),
        Look::Solid(number) => format!("Ball {number} (solid)"),
        Look::Striped(number) => format!("Ball {number} (striped)"),
        Look::Unread => "Ball of unknown number".into(),
    }
}
