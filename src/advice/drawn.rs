//! The advice drawn into the diagram of its layout.
//!
//! Input: a layout and the advice on it. Output: SVG of one choice: the first shot of a pattern, a
//! break-out, a nudge, or a way to play the break shot. Drawn are the balls' ways as the hit is meant, the cue ball's meetings
//! and where it lands with the player's errors. After a break shot's meeting with the rack no way is
//! drawn: fifteen of them would say nothing.

use super::answer::Advice;
use super::break_shot::BreakChoice;
use super::estimate::Estimate;
use super::outcome::{CUE, cue_in, first_meeting};
use super::pattern::Landing;
use super::said;
use super::trouble::When;
use crate::layout::diagram::{self, Area, Plan, Way, WayEnd};
use crate::layout::{Ball, BallKind, Layout};
use crate::motion::{self, Bed, Hit, Physics, Placed, Shot, ball_name};
use crate::table::{DiamondPoint, Rack, TablePoint, pocket_name};

/// How far a drawn way may lie off the ball's, in millimetres.
const WAY_WITHIN_MM: f64 = 0.5;
/// A way's point this near to a meeting is the meeting, in millimetres.
const SAME_MM: f64 = 1.0;

/// A choice: what it is called, and what is drawn of it.
struct Shown<'a> {
    name: String,
    what: What<'a>,
}

enum What<'a> {
    BreakShot(&'a BreakChoice),
    Hit {
        hit: &'a Hit,
        /// Where the cue ball meets a cluster.
        enters: Option<DiamondPoint>,
        landing: Option<&'a Landing>,
    },
}

impl Advice {
    /// The choices, the first recommended: ways to play the break shot, or else the patterns' first
    /// shots, the break-outs and the nudge. A break-out comes first where attempts say so.
    fn shown(&self) -> Vec<Shown<'_>> {
        if let Some(break_shot) = &self.break_shot {
            let shown = |choice| Shown { name: break_name(choice), what: What::BreakShot(choice) };
            return break_shot.choices.iter().map(shown).collect();
        }
        let patterns = self.patterns.iter().filter_map(|pattern| pattern.steps.first());
        let patterns = patterns.map(|step| Shown {
            name: said::capital(&format!(
                "{}, {:.0} of 100",
                said::shot_words(step),
                said::hundred(step.probability)
            )),
            what: What::Hit { hit: &step.hit, enters: None, landing: step.landing.as_ref() },
        });
        let break_outs = self.trouble.break_outs.iter().map(|out| Shown {
            name: hit_name("Break out", (out.ball, out.pocket), &out.probability),
            what: What::Hit { hit: &out.hit, enters: Some(out.at), landing: out.landing.as_ref() },
        });
        let now = self.trouble.timing.as_ref().is_some_and(|timing| timing.when == When::Now);
        let mut shown: Vec<Shown<'_>> = if now {
            break_outs.chain(patterns).collect()
        } else {
            patterns.chain(break_outs).collect()
        };
        shown.extend(self.break_balls.nudge.as_ref().map(|nudge| Shown {
            name: hit_name("Nudge", (nudge.ball, nudge.pocket), &nudge.probability),
            what: What::Hit { hit: &nudge.hit, enters: None, landing: nudge.landing.as_ref() },
        }));
        shown
    }

    /// A short name of each choice, the recommended first.
    pub fn choice_names(&self) -> Vec<String> {
        self.shown().into_iter().map(|shown| shown.name).collect()
    }

    /// The hit of a choice that is played from the layout as it lies; a break shot's is not, since
    /// its rack is yet to be set.
    pub fn choice_hit(&self, choice: usize) -> Option<Hit> {
        match self.shown().get(choice)?.what {
            What::BreakShot(_) => None,
            What::Hit { hit, .. } => Some(*hit),
        }
    }

    /// A choice, counted from 0, drawn into the layout that the advice is on; the bare layout where
    /// there is no such choice.
    pub fn svg(&self, layout: &Layout, physics: &Physics, choice: usize) -> String {
        let shown = self.shown();
        let bed = Bed::new(&layout.table, physics).ok();
        let drawn = bed.zip(shown.get(choice)).and_then(|(bed, shown)| match shown.what {
            What::BreakShot(choice) => break_choice(&bed, layout, choice),
            What::Hit { hit, enters, landing } => plain_hit(&bed, layout, hit, (enters, landing)),
        });
        drawn.unwrap_or_else(|| diagram::svg(layout))
    }
}

fn break_name(choice: &BreakChoice) -> String {
    let next = said::hundred(choice.figures.next_shot.mean);
    format!("{}, a next shot in {next:.0} of 100", said::hit_words(&choice.hit))
}

fn hit_name(what: &str, (ball, pocket): (usize, usize), probability: &Estimate) -> String {
    format!(
        "{what}: {} into the {}, {:.0} of 100",
        ball_name(ball),
        pocket_name(pocket),
        said::hundred(probability.mean)
    )
}

fn played(bed: &Bed, layout: &Layout, hit: &Hit) -> Option<Shot> {
    motion::play(bed, &Placed::all_of(layout).ok()?, CUE, hit).ok()
}

fn plain_hit(
    bed: &Bed,
    layout: &Layout,
    hit: &Hit,
    (enters, landing): (Option<DiamondPoint>, Option<&Landing>),
) -> Option<String> {
    let shot = played(bed, layout, hit)?;
    let ways = shot.ways(layout, WAY_WITHIN_MM);
    let mut meetings: Vec<TablePoint> = cue_in(first_meeting(&shot)).into_iter().collect();
    meetings.extend(enters.map(|at| at.on_table(&layout.table)));
    let landing = landing.map(|landing| Area {
        at: landing.at.on_table(&layout.table),
        sigma_mm: landing.sigma_mm,
        direction_rad: landing.direction_deg.to_radians(),
    });
    let plan = Plan { ways: &ways, meetings: &meetings, landing, ..Plan::default() };
    Some(diagram::svg_with_plan(layout, &plan))
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
