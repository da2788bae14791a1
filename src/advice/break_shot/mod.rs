//! The break shot: how to pot the last ball so that the cue ball opens the rack.
//!
//! Input: a closing layout (`closing`), the player's errors, a seed, maybe a bound. Output: the
//! recommended hit with the runner-up and the others that were played, each with the figures of at
//! least [`LEAST_HITS`] simulated hits (`search`, `outcome`, `figures`), where and how squarely the
//! cue ball meets the rack (`meeting`), and why in a sentence (`why`). Besides: where a good break
//! ball and cue ball lie for a player on a table (`map`), and what advice gains over a plain medium
//! stun (`measure`).
//!
//! What is not modelled: banks and combinations into the break ball's pocket, what the next balls
//! but the first bring beyond a middling chance each.

mod closing;
mod figures;
mod map;
mod measure;
mod meeting;
mod next_shot;
mod outcome;
mod search;
mod stroke;
mod why;

pub use figures::BreakFigures;
pub(super) use map::sketched_at;
pub use map::{BreakMap, BreakPlace, Opening, map, openings};
pub use measure::{AgainstStun, Played, STUN_M_S, against_stun};
pub use meeting::{Meeting, Spin};
pub use search::LEAST_HITS;
pub(super) use search::glanced_at;

use super::{Bound, Player};
use crate::layout::Layout;
use crate::motion::{Bed, Hit, PlayError};
use crate::table::DiamondPoint;
use closing::Closing;
use schemars::JsonSchema;
use search::{Game, Trial};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Places of the cue ball at rest that are told of a choice.
const KEPT_LIES: usize = 60;

/// Why a layout gets no advice for a break shot.
#[derive(Debug, Error, PartialEq)]
pub enum BreakError {
    #[error("there are {count} cue balls: a break shot has one")]
    CueBalls { count: usize },
    #[error(
        "there are {count} object balls: a break shot has one beside fourteen racked ones, or one alone before they are racked"
    )]
    Count { count: usize },
    #[error("which end of the table is the foot is not known: say so in the layout's foot")]
    FootOpen,
    #[error("the layout is of a table of {layout}, the advice of one of {bed}: give the same")]
    OtherTable { layout: String, bed: String },
    #[error("all fifteen are racked, with {apex} on the apex: no ball is free to break with")]
    NoFreeBall { apex: String },
    #[error("{name} lies on the rack's apex, which stays empty before a break shot: take it out")]
    OnApex { name: String },
    #[error("{name} lies {off_mm:.0} mm off its place in the rack: rack the balls again")]
    OffPlace { name: String, off_mm: f64 },
    #[error("{name} and {other} both lie outside the rack: a break shot has one free ball")]
    TwoFree { name: String, other: String },
    #[error("{name} lies in the rack: by the rules {goes}")]
    InTheRack { name: String, goes: &'static str },
    #[error(
        "no pocket is open to {name} from where the cue ball lies: there is no break shot to advise on"
    )]
    NoPot { name: String },
    #[error(transparent)]
    Play(#[from] PlayError),
}

/// A way to play the break shot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BreakChoice {
    /// The pocket of the break ball, numbered as the table's: corners from head y = 0 around by the
    /// foot to head y = 4, then the sides at y = 0 and y = 4.
    #[schemars(range(min = 0, max = 5))]
    pub pocket: usize,
    /// What is to be meant.
    pub hit: Hit,
    /// What the cue ball's spin is as it meets the break ball.
    pub spin: Spin,
    /// Where the cue ball meets the rack when the hit comes out as meant; none where it does not.
    pub meeting: Option<Meeting>,
    pub figures: BreakFigures,
    /// Where the cue ball came to rest in the first hits after which the run goes on, in diamonds.
    pub cue_ball_lies: Vec<DiamondPoint>,
}

/// The advice for a break shot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BreakAdvice {
    /// Number of the break ball, where it is known.
    #[schemars(range(min = 1, max = 15))]
    pub break_ball: Option<u8>,
    /// The recommended hit first, then the runner-up, then what else was played to the end.
    pub choices: Vec<BreakChoice>,
    /// Why the first is recommended.
    pub why: String,
    /// False where the bound cut the search.
    pub whole: bool,
}

impl BreakAdvice {
    pub fn recommended(&self) -> Option<&BreakChoice> {
        self.choices.first()
    }

    pub fn runner_up(&self) -> Option<&BreakChoice> {
        self.choices.get(1)
    }
}

/// The break shot of a closing layout: a cue ball, one object ball, and fourteen racked or to be
/// racked.
///
/// `seed` draws the player's errors; without a bound the same input gives the same advice. A
/// bound is overrun by at most the two choices that are played to the end, some 0.1 s.
///
/// # Errors
/// [`BreakError`] names the ball that makes the layout no break shot.
pub fn advise(
    bed: &Bed,
    player: &Player,
    layout: &Layout,
    seed: u64,
    bound: &Bound,
) -> Result<BreakAdvice, BreakError> {
    let closing = Closing::of(bed, layout)?;
    advice_on(bed, player, &closing, seed, bound)
}

fn advice_on(
    bed: &Bed,
    player: &Player,
    closing: &Closing,
    seed: u64,
    bound: &Bound,
) -> Result<BreakAdvice, BreakError> {
    let game = Game::new(bed, player, closing, seed);
    let (trials, whole) = game.search(bound);
    let break_ball = closing.number(closing::BREAK_BALL);
    if trials.is_empty() {
        let name = break_ball.map_or("the break ball".into(), |number| format!("ball {number}"));
        return Err(BreakError::NoPot { name });
    }
    let choices: Vec<BreakChoice> = trials.iter().map(|trial| choice(&game, trial)).collect();
    let why = why::why(&choices, &trials, game.middling);
    Ok(BreakAdvice { break_ball, choices, why, whole })
}

fn choice(game: &Game<'_>, trial: &Trial) -> BreakChoice {
    let closing = game.closing;
    let shot = game.shot(&trial.meant);
    let diameter_mm = closing.table.ball_diameter_mm;
    let spin = shot.as_ref().map(|shot| meeting::spin_at_break_ball(shot, diameter_mm));
    let going_on = trial.outcomes.iter().filter(|outcome| outcome.goes_on());
    let lies = going_on.filter_map(|outcome| Some(closing.in_layout(outcome.cue_end?)));
    BreakChoice {
        pocket: closing.side.pocket(trial.pot.pocket),
        hit: closing.side.hit(&trial.meant),
        spin: spin.unwrap_or(Spin::Stun),
        meeting: shot.as_ref().and_then(|shot| Meeting::of(closing, shot)),
        figures: BreakFigures::of(&trial.outcomes, game.middling),
        cue_ball_lies: lies.take(KEPT_LIES).collect(),
    }
}

#[cfg(test)]
mod tests;
