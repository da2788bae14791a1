//! Which ball is which: cue ball, number, or no ball at all.
//!
//! Input: a frame, a camera, the centres of all balls found. Output: for each the cue ball, a number
//! or no ball, with how sure it is. Method: a trained network looks at all balls of the layout
//! together, since the light's colour and the set's own tones show only in comparison (card in
//! `models/naming/README.md`); then the layout is decided as a whole: each ball of the set lies on
//! the table at most once (`belief` gives probabilities under that rule, `assign` the names of which
//! the most are right). A set in colours of its own can be taught (`look`). Must not know how balls
//! are found. Not modelled: two balls of one number on the table at once.

mod assign;
mod belief;
mod look;

pub use look::{BallLook, LaidOut, LookError};

use super::net::{Net, NetError};
use super::patch::{self, OutlineMap};
use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};
use belief::{NO_BALL, Odds};
use image::RgbImage;
use sha2::{Digest, Sha256};

static ONNX: &[u8] = include_bytes!("../../../models/ball_naming.onnx");

/// Side of the patch in pixels, and how many radii it reaches.
const SIDE_PX: usize = 32;
const REACH_RADII: f64 = 1.25;
/// Values of a signature.
const SIGNATURE: usize = 16;
/// No look at a place is surer than this.
const LEAST_DOUBT: f64 = 0.02;

/// What a place holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Name {
    /// 0 for the cue ball, 1 to 15, or none for no ball.
    pub number: Option<u8>,
    /// Probability that `number` is right, every other reading of the layout considered.
    pub confidence: f64,
}

/// What the network says of one patch.
#[derive(Debug, Clone, PartialEq)]
struct Seen {
    /// Scores of the cue ball, 1 to 15 and no ball.
    logits: [f32; NO_BALL + 1],
    /// A signature of paint and pattern that does not depend on the other balls.
    signature: [f32; SIGNATURE],
}

impl Seen {
    /// Probabilities of the classes; no ball for scores that are no numbers.
    fn odds(&self) -> Odds {
        let largest = self.logits.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        let weights = self.logits.map(|logit| f64::from(logit - largest).exp());
        let sum: f64 = weights.iter().sum();
        if sum.is_finite() { weights.map(|weight| weight / sum) } else { belief::NOTHING }
    }
}

/// The network, ready to run, and the look of the set where it was taught.
pub(super) struct Naming {
    net: Net,
    look: Option<BallLook>,
}

impl Naming {
    pub fn new() -> Result<Self, NetError> {
        Ok(Self { net: Net::read("ball_naming", ONNX, SIDE_PX)?, look: None })
    }

    /// Names by a taught look from now on.
    pub fn teach(&mut self, look: BallLook) -> Result<(), LookError> {
        look.belongs_to(&version())?;
        self.look = Some(look);
        Ok(())
    }

    /// Names the balls of a layout; `sure` is how sure each is a ball by what was seen before.
    pub fn name(
        &self,
        frame: &RgbImage,
        (camera, table): (&Camera, &TableSize),
        (centres, sure): (&[TablePoint], &[f64]),
    ) -> Result<Vec<Name>, NetError> {
        let patches: Vec<_> =
            centres.iter().map(|centre| patch_of(frame, (camera, table), *centre)).collect();
        let mut seen = self.look_at(patches.iter().flatten())?;
        let sure =
            patches.iter().zip(sure).filter_map(|(patch, sure)| patch.as_ref().and(Some(sure)));
        for (seen, sure) in seen.iter_mut().zip(sure) {
            // Two looks at the same place: the earlier one's odds join the network's.
            let ball = sure.clamp(LEAST_DOUBT, 1.0 - LEAST_DOUBT);
            seen.logits[NO_BALL] -= (ball / (1.0 - ball)).ln() as f32;
        }
        let odds: Vec<Odds> = match &self.look {
            Some(look) => look.odds(&seen),
            None => seen.iter().map(Seen::odds).collect(),
        };
        let mut named = decide(&odds).into_iter();
        let unseen = Name { number: None, confidence: 0.0 };
        let name = |patch: &Option<_>| patch.as_ref().and_then(|_| named.next()).unwrap_or(unseen);
        Ok(patches.iter().map(name).collect())
    }

    /// Looks at all patches of a layout together.
    fn look_at<'a>(
        &self,
        patches: impl Iterator<Item = &'a Vec<f32>>,
    ) -> Result<Vec<Seen>, NetError> {
        let outputs = self.net.outputs(patches.flatten().copied().collect())?;
        let [logits, signatures] = outputs.as_slice() else { return Ok(Vec::new()) };
        let both = logits.iter().zip(signatures);
        let seen = both.map(|(logits, signature)| {
            let (logits, signature) = (logits.first_chunk()?, signature.first_chunk()?);
            Some(Seen { logits: *logits, signature: *signature })
        });
        seen.collect::<Option<_>>().ok_or_else(|| self.net.faulty("rows of another length"))
    }
}

/// The beginning of the network's SHA-256: signatures of different networks do not compare.
fn version() -> String {
    Sha256::digest(ONNX).iter().take(6).map(|byte| format!("{byte:02x}")).collect()
}

/// The patch the network looks at; none where the ball is not before the camera or its middle not
/// in the frame.
fn patch_of(
    frame: &RgbImage,
    (camera, table): (&Camera, &TableSize),
    centre: TablePoint,
) -> Option<Vec<f32>> {
    let map = OutlineMap::of(camera, table, centre)?;
    let inside = |at: f64, size: u32| (0.0..f64::from(size)).contains(&at);
    (inside(map.middle.x_px, frame.width()) && inside(map.middle.y_px, frame.height()))
        .then(|| patch::cut(frame, &map, SIDE_PX, REACH_RADII))
}

/// Names for a layout from each ball's own odds.
fn decide(odds: &[Odds]) -> Vec<Name> {
    let beliefs = belief::each_ball_once(odds);
    let chosen = assign::most_right(&beliefs);
    let name = |(belief, class): (&Odds, usize)| Name {
        number: u8::try_from(class).ok().filter(|_| class != NO_BALL),
        confidence: belief.get(class).copied().unwrap_or(0.0),
    };
    beliefs.iter().zip(chosen).map(name).collect()
}

#[cfg(test)]
mod tests;
