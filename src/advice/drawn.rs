//! The advice drawn into the diagram of its layout.
//!
//! Input: a layout and the advice on it. Output: SVG of one choice: the first shot of a pattern, or a
//! way to play the break shot. Drawn are the balls' ways as the hit is meant, the cue ball's meetings
//! and where it lands with the player's errors. After a break shot's meeting with the rack no way is
//! drawn: fifteen of them would say nothing.

use super::answer::Advice;
use super::break_shot::BreakChoice;
use super::outcome::{CUE, first_meeting};
use super::pattern::Step;
use crate::layout::diagram::{self, Area, Plan, Way, WayEnd};
use crate::layout::{Ball, BallKind, Layout};
use crate::motion::{self, Bed, Hit, Physics, Placed, Shot};
use crate::table::{DiamondPoint, Rack, TablePoint};

/// How far a drawn way may lie off the ball's, in millimetres.
const WAY_WITHIN_MM: f64 = 0.5;
/// A way's point this near to a meeting is the meeting, in millimetres.
const SAME_MM: f64 = 1.0;

impl Advice {
    /// How many choices there are to draw: the patterns, or the ways to play the break shot.
    pub fn choices(&self) -> usize {
        match &self.break_shot {
            Some(break_shot) => break_shot.choices.len(),
            None => self.patterns.len(),
        }
    }

    /// A choice drawn into the layout that the advice is on, and the bare layout where there is no
    /// such choice.
    pub fn svg(&self, layout: &Layout, physics: &Physics, choice: usize) -> String {
        let bed = Bed::new(&layout.table, physics).ok();
        let drawn = bed.and_then(|bed| match &self.break_shot {
            Some(break_shot) => break_choice(&bed, layout, break_shot.choices.get(choice)?),
            None => step(&bed, layout, self.patterns.get(choice)?.steps.first()?),
        });
        drawn.unwrap_or_else(|| diagram::svg(layout))
    }
}

fn played(bed: &Bed, layout: &Layout, hit: &Hit) -> Option<Shot> {
    motion::play(bed, &Placed::all_of(layout).ok()?, CUE, hit).ok()
}

fn step(bed: &Bed, layout: &Layout, step: &Step) -> Option<String> {
    let shot = played(bed, layout, &step.hit)?;
    let ways = shot.ways(layout, WAY_WITHIN_MM);
    let meetings: Vec<TablePoint> = cue_in(first_meeting(&shot)).into_iter().collect();
    let landing = step.landing.as_ref().map(|landing| Area {
        at: landing.at.on_table(&layout.table),
        sigma_mm: landing.sigma_mm,
        direction_rad: landing.direction_deg.to_radians(),
    });
    let plan = Plan { ways: &ways, meetings: &meetings, landing, ..Plan::default() };
    Some(diagram::svg_with_plan(layout, &plan))
}

/// The cue ball's place in an event.
fn cue_in(event: Option<&motion::Event>) -> Option<TablePoint> {
    event?.balls.iter().find(|change| change.ball == CUE).map(|change| change.place)
}

fn break_choice(bed: &Bed, layout: &Layout, choice: &BreakChoice) -> Option<String> {
    let before = racked(layout);
    let shot = played(bed, &before, &choice.hit)?;
    let at_break_ball = cue_in(first_meeting(&shot));
    let at_rack = choice.meeting.as_ref().map(|meeting| meeting.at.on_table(&layout.table));
    let rack = Rack::on(&layout.table);
    let is_racked = |ball: &Ball| rack.holds_part_of(before.centre_of(ball));
    let mut free = Layout { balls: Vec::new(), ..layout.clone() };
    let (mut racked, mut ways) = (Vec::new(), Vec::new());
    for (way, ball) in shot.ways(&before, WAY_WITHIN_MM).into_iter().zip(&before.balls) {
        if is_racked(ball) {
            racked.push(before.centre_of(ball));
        } else {
            ways.push(Way { ball: free.balls.len(), ..way });
            free.balls.push(ball.clone());
        }
    }
    for way in &mut ways {
        let is_cue = free.balls.get(way.ball).is_some_and(|ball| ball.kind == BallKind::Cue);
        if let Some(at) = at_rack.filter(|_| is_cue)
            && let Some(last) = way.points.iter().position(|point| point.distance_mm(at) < SAME_MM)
        {
            way.points.truncate(last + 1);
            way.end = WayEnd::GoesOn;
        }
    }
    let meetings: Vec<TablePoint> = at_break_ball.into_iter().chain(at_rack).collect();
    let lies: Vec<TablePoint> =
        choice.cue_ball_lies.iter().map(|lie| lie.on_table(&layout.table)).collect();
    let plan =
        Plan { ways: &ways, racked: &racked, meetings: &meetings, lies: &lies, landing: None };
    Some(diagram::svg_with_plan(&free, &plan))
}

/// The layout with fourteen racked, where they are not there yet.
fn racked(layout: &Layout) -> Layout {
    let mut before = layout.clone();
    if before.object_balls().count() == 1 {
        let ball = |place: &TablePoint| {
            let DiamondPoint { x, y } = DiamondPoint::from_table(*place, &layout.table);
            Ball {
                kind: BallKind::Object,
                number: None,
                x,
                y,
                sigma_mm: 0.0,
                confidence: 1.0,
                number_confidence: 0.0,
            }
        };
        before.balls.extend(Rack::on(&layout.table).continuing().iter().map(ball));
    }
    before
}
