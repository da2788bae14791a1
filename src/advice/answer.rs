//! Everything that is advised on a layout, as it is told, published and drawn.
//!
//! Input: a layout, the physics of its table, who plays and how long to think. Output: [`Advice`].
//! A layout before a break shot gets the break shot's advice; any other its patterns, its trouble and
//! its break balls. Time is shared out among these; without a bound the same question has the same
//! answer.

use super::advisor::{AdviceError, Advisor};
use super::bound::Bound;
use super::break_ball::BreakBalls;
use super::break_shot::{self, BreakAdvice, BreakError};
use super::outcome::objects;
use super::pattern::{Pattern, Patterns};
use super::player::Player;
use super::said;
use super::shots::ShotOn;
use super::trouble::Trouble;
use crate::layout::Layout;
use crate::motion::{Bed, Physics};
use crate::table::TableSize;
use schemars::JsonSchema;
use serde::Serialize;

/// The published JSON Schema of an advice, generated from the types (draft 2020-12).
pub const ADVICE_SCHEMA: &str = include_str!("advice.schema.json");

/// Parts of the time that is left: for patterns, where there is trouble and where there is none, then
/// for trouble.
const PATTERNS: (f64, f64) = (0.45, 0.75);
const TROUBLE: f64 = 0.65;

/// Who asks, and for how long to think.
#[derive(Debug, Clone)]
pub struct Asked {
    pub player: Player,
    /// Of the errors that are drawn.
    pub seed: u64,
    pub bound: Bound,
}

/// The advice on a layout. Balls are named by number; the cue ball is 0, and an object ball whose
/// number is not known is 16 and its index in the layout's list. Pockets are numbered 0 to 3 for the
/// corners from head y = 0 around by the foot to head y = 4, then 4 and 5 for the sides at y = 0 and
/// y = 4. Places are in diamonds, directions in degrees or radians from x (toward the foot) toward y.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(title = "Stillcloth advice")]
pub struct Advice {
    /// The errors that the player is taken to have.
    pub player: Player,
    /// What to do and why: what matters most first.
    pub said: Vec<String>,
    /// The shots that are on, the likeliest first.
    pub shots: Vec<ShotOn>,
    /// Orders to play the balls in, the best first; empty before a break shot.
    pub patterns: Vec<Pattern>,
    /// Positions that were gone on from in the search.
    pub positions: usize,
    /// Whether the widest search came to its end before the bound.
    pub exhausted: bool,
    pub trouble: Trouble,
    pub break_balls: BreakBalls,
    /// Before a break shot: how to play it.
    pub break_shot: Option<BreakAdvice>,
    /// Why a layout with one ball left gets no advice on its break shot.
    pub no_break_shot: Option<String>,
}

/// Advice on a layout.
///
/// # Errors
/// [`AdviceError`] names the ball, the field or the measure that cannot be.
pub fn advise(layout: &Layout, physics: &Physics, asked: &Asked) -> Result<Advice, AdviceError> {
    let TableSize { length_mm, width_mm, ball_diameter_mm } = layout.table;
    let table = TableSize::new(length_mm, width_mm, ball_diameter_mm)?;
    let bed = Bed::new(&table, physics)?;
    let mut advisor = Advisor::new(&bed, asked.player, asked.seed)?;
    let balls = advisor.balls(layout)?;
    let shots = advisor.shots(&balls);
    let (break_shot, no_break_shot) = match objects(&balls).count() {
        1 | 15 => break_shot_of(&bed, layout, asked),
        _ => (None, None),
    };
    let found = if break_shot.is_some() {
        Patterns::default()
    } else {
        let part = if advisor.is_troubled(&balls) { PATTERNS.0 } else { PATTERNS.1 };
        advisor.patterns(&balls, &asked.bound.part(part))
    };
    let (trouble, break_balls) = if break_shot.is_some() {
        (Trouble::default(), BreakBalls::default())
    } else {
        let best = found.patterns.first();
        let trouble = advisor.trouble(&balls, best, &asked.bound.part(TROUBLE));
        (trouble, advisor.break_balls(&balls, &asked.bound))
    };
    let Patterns { patterns, positions, exhausted } = found;
    let mut advice = Advice {
        player: asked.player,
        said: Vec::new(),
        shots,
        patterns,
        positions,
        exhausted,
        trouble,
        break_balls,
        break_shot,
        no_break_shot,
    };
    advice.said = said::sentences(&advice);
    Ok(advice)
}

/// The break shot of a layout, or why it has none. Fifteen balls that are not racked for one are
/// played like any others.
fn break_shot_of(
    bed: &Bed,
    layout: &Layout,
    asked: &Asked,
) -> (Option<BreakAdvice>, Option<String>) {
    match break_shot::advise(bed, &asked.player, layout, asked.seed, &asked.bound) {
        Ok(advice) => (Some(advice), None),
        Err(BreakError::TwoFree { .. }) => (None, None),
        Err(error) => (None, Some(error.to_string())),
    }
}
