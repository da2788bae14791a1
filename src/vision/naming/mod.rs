//! Which ball is which: cue ball, number, or no ball at all.
//!
//! Input: a frame, the camera, the table and the centres of all balls found. Output: one [`Name`]
//! a centre. Method: each ball's outline is cut to a patch of fixed size (`crop`), a small network
//! looks at all patches of the layout together (`network`; card in `models/README.md`), and the
//! layout is decided as a whole: each ball of the set lies on the table at most once (`belief`
//! gives probabilities under that rule, `assign` the choice with the most names right). A set
//! that looks unusual can be taught ([`BallLook`]).
//!
//! Must not know how balls are found, nor keep anything between frames. Not modelled: two balls of
//! one number on the table at once.

mod assign;
mod belief;
mod crop;
mod look;
mod network;

pub use look::{BallLook, LaidOut};

use crate::camera::Camera;
use crate::layout::BallKind;
use crate::table::{TablePoint, TableSize};
use crate::vision::net::NetError;
use belief::{NO_BALL, Odds};
use image::RgbImage;
use network::{Network, Seen};
use thiserror::Error;

/// Which ball lies at a place, and how sure that is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Name {
    /// 0 for the cue ball, 1 to 15 for an object ball, none for what is no ball.
    pub number: Option<u8>,
    /// Probability that `number` is right.
    pub confidence: f64,
    /// Probability that it is the cue ball, whatever `number` says.
    pub cue: f64,
    /// Probability that it is a ball.
    pub ball: f64,
}

impl Name {
    /// Cue ball or object ball; none for what is no ball.
    pub fn kind(&self) -> Option<BallKind> {
        self.number.map(|number| if number == 0 { BallKind::Cue } else { BallKind::Object })
    }
}

/// Why balls could not be named.
#[derive(Debug, Error)]
pub enum NamingError {
    #[error(transparent)]
    Net(#[from] NetError),
    #[error(
        "the balls' look was taught to another network ({taught}, this is {here}): teach it again"
    )]
    OtherNetwork { taught: String, here: String },
    #[error("{number} is on no ball: 0 is the cue ball, object balls are 1 to 15")]
    NoSuchBall { number: u8 },
    #[error("ball {number} is not wholly in the picture: lay the balls out in full view")]
    OutOfView { number: u8 },
    #[error("no ball was laid out: teaching needs at least two, with their numbers")]
    NothingLaidOut,
}

/// No look at a place is surer than this.
const LEAST_DOUBT: f64 = 0.02;

/// Names balls; holds the loaded network.
pub struct Namer {
    network: Network,
}

impl Namer {
    /// Loads the built-in network; a few milliseconds.
    ///
    /// # Errors
    /// [`NamingError::Load`] where the built-in network is broken.
    pub fn new() -> Result<Self, NamingError> {
        Ok(Self { network: Network::load()? })
    }

    /// Names the balls of one layout. `centres` are all the balls found, in the table frame; they
    /// are decided together, so give them all. With a `look`, what was taught counts most.
    ///
    /// # Errors
    /// [`NamingError`] where the network does not run, or `look` was taught to another one.
    pub fn name_balls(
        &self,
        frame: &RgbImage,
        camera: &Camera,
        table: &TableSize,
        centres: &[TablePoint],
        look: Option<&BallLook>,
    ) -> Result<Vec<Name>, NamingError> {
        let unknown = vec![0.5; centres.len()];
        self.name_places(frame, (camera, table), (centres, &unknown), look)
    }

    /// The same for places of which it is known how sure each is a ball, 0 to 1: two looks at one
    /// place, so the earlier one's odds join the network's.
    ///
    /// # Errors
    /// As [`name_balls`](Self::name_balls).
    pub fn name_places(
        &self,
        frame: &RgbImage,
        (camera, table): (&Camera, &TableSize),
        (centres, sure): (&[TablePoint], &[f64]),
        look: Option<&BallLook>,
    ) -> Result<Vec<Name>, NamingError> {
        let patches: Vec<_> =
            centres.iter().map(|&centre| crop::patch(frame, camera, table, centre)).collect();
        let seen = self.network.look_at(patches.iter().flatten())?;
        let mut odds: Vec<Odds> = match look {
            Some(look) => look.odds(&seen, self.network.version())?,
            None => seen.iter().map(Seen::odds).collect(),
        };
        let cut = patches.iter().zip(sure).filter(|(patch, _)| patch.is_some());
        for (odds, (_, sure)) in odds.iter_mut().zip(cut) {
            let ball = sure.clamp(LEAST_DOUBT, 1.0 - LEAST_DOUBT);
            odds[NO_BALL] *= (1.0 - ball) / ball;
            let sum: f64 = odds.iter().sum();
            odds.iter_mut().for_each(|share| *share /= sum);
        }
        let mut named = decide(&odds).into_iter();
        // A centre that the picture does not show is no ball in it.
        let unseen = Name { number: None, confidence: 1.0, cue: 0.0, ball: 0.0 };
        let names =
            patches.iter().map(|patch| patch.as_ref().and_then(|_| named.next()).unwrap_or(unseen));
        Ok(names.collect())
    }
}

/// Names for a layout from each ball's own odds.
fn decide(odds: &[Odds]) -> Vec<Name> {
    let beliefs = belief::each_ball_once(odds);
    let chosen = assign::most_right(&beliefs);
    let name = |(belief, class): (&Odds, usize)| Name {
        number: u8::try_from(class).ok().filter(|_| class != NO_BALL),
        confidence: belief.get(class).copied().unwrap_or(0.0),
        cue: belief[0],
        ball: 1.0 - belief[NO_BALL],
    };
    beliefs.iter().zip(chosen).map(name).collect()
}

#[cfg(test)]
mod tests;
