//! The look of one ball set, taught from frames in which the balls are laid out in known order.
//!
//! What is kept of each ball is the mean of the network's signatures of it: sixteen values that the
//! network was trained to keep apart for different balls of a set and together for one ball turned
//! another way, whatever its colours ("Prototypical networks", Snell, Swersky & Zemel, 2017). A
//! ball on the table is then weighed by its signature's squared distance to each taught one. How
//! much the network's own reading still counts depends on how it did on the taught balls
//! themselves: for a set in the usual colours it is right, for another it misleads. Whether
//! something is a ball at all stays the network's word. A look holds for one network, whose version
//! it bears. Stored as JSON beside the calibration.

use super::super::net::NetError;
use super::belief::{NO_BALL, Odds};
use super::{Naming, SIGNATURE, Seen};
use crate::camera::Camera;
use crate::table::{TablePoint, TableSize};
use image::RgbImage;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// The network's reading counts this much at least, and fully from `TRUSTED_FROM` right on; below
/// `MISTRUSTED_TO` right it counts least. Chosen on made-up sets.
const LEAST_TRUST: f64 = 0.15;
const MISTRUSTED_TO: f64 = 0.6;
const TRUSTED_FROM: f64 = 0.9;

/// Why a look could not be learned or used.
#[derive(Debug, Error)]
pub enum LookError {
    #[error("{number} is on no ball: 0 is the cue ball, object balls are 1 to 15")]
    NoSuchBall { number: u8 },
    #[error("ball {number} is not in the picture: lay the balls out in full view")]
    OutOfView { number: u8 },
    #[error("{balls} different balls are laid out: teaching needs two or more, with their numbers")]
    TooFew { balls: usize },
    #[error(
        "the balls' look was taught to another network ({taught}, this is {here}): teach it again"
    )]
    OtherNetwork { taught: String, here: String },
    #[error(transparent)]
    Net(#[from] NetError),
}

/// A frame in which balls lie in known places: their numbers (0 for the cue ball) and centres.
#[derive(Debug, Clone, Copy)]
pub struct LaidOut<'a> {
    pub frame: &'a RgbImage,
    pub balls: &'a [(u8, TablePoint)],
}

/// How the balls of one set look to the network.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BallLook {
    /// The network it was taught to.
    network: String,
    /// Part of the taught balls that the network read rightly by itself.
    read_rightly: f64,
    balls: Vec<Taught>,
}

/// One taught ball.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Taught {
    number: u8,
    signature: [f32; SIGNATURE],
}

impl BallLook {
    /// Learns a set's look from one or more frames of one camera. Turning the balls between frames
    /// makes it surer.
    ///
    /// # Errors
    /// [`LookError`] where too few or other balls than the set's are laid out, or one is out of
    /// view.
    pub fn learn(
        camera: &Camera,
        table: &TableSize,
        frames: &[LaidOut],
    ) -> Result<Self, LookError> {
        let naming = Naming::new()?;
        let mut sums = [([0.0_f32; SIGNATURE], 0.0_f32); NO_BALL];
        let (mut balls, mut right) = (0, 0);
        for LaidOut { frame, balls: laid } in frames {
            let mut patches = Vec::with_capacity(laid.len());
            for &(number, centre) in *laid {
                let patch = super::patch_of(frame, (camera, table), centre);
                patches.push(patch.ok_or(LookError::OutOfView { number })?);
            }
            let seen = naming.look_at(patches.iter())?;
            let odds: Vec<_> = seen.iter().map(Seen::odds).collect();
            for ((&(number, _), seen), name) in laid.iter().zip(&seen).zip(super::decide(&odds)) {
                let (sum, count) =
                    sums.get_mut(usize::from(number)).ok_or(LookError::NoSuchBall { number })?;
                sum.iter_mut().zip(&seen.signature).for_each(|(sum, value)| *sum += value);
                *count += 1.0;
                balls += 1;
                right += usize::from(name.number == Some(number));
            }
        }
        let taught: Vec<_> = (0..)
            .zip(sums)
            .filter(|(_, (_, count))| *count > 0.0)
            .map(|(number, (sum, count))| Taught { number, signature: sum.map(|v| v / count) })
            .collect();
        if taught.len() < 2 {
            return Err(LookError::TooFew { balls: taught.len() });
        }
        let read_rightly = right as f64 / f64::from(balls);
        Ok(Self { network: super::version(), read_rightly, balls: taught })
    }

    /// How many different balls it knows.
    pub fn balls(&self) -> usize {
        self.balls.len()
    }

    /// Part of the taught balls, 0 to 1, that the program named rightly before it was taught.
    pub fn read_rightly(&self) -> f64 {
        self.read_rightly
    }

    /// Whether it was taught to the network of this version.
    pub(super) fn belongs_to(&self, network: &str) -> Result<(), LookError> {
        if self.network == network {
            return Ok(());
        }
        Err(LookError::OtherNetwork { taught: self.network.clone(), here: network.into() })
    }

    /// Each ball's odds, from the network's reading and the nearest taught look.
    pub(super) fn odds(&self, seen: &[Seen]) -> Vec<Odds> {
        let over = (self.read_rightly - MISTRUSTED_TO) / (TRUSTED_FROM - MISTRUSTED_TO);
        let trust = LEAST_TRUST + (1.0 - LEAST_TRUST) * over.clamp(0.0, 1.0);
        seen.iter().map(|seen| self.odds_of(seen, trust)).collect()
    }

    /// Shares what the network gives to the taught balls out among them anew.
    fn odds_of(&self, seen: &Seen, trust: f64) -> Odds {
        let mut odds = seen.odds();
        let own = |ball: &Taught| odds.get(usize::from(ball.number)).copied().unwrap_or(0.0);
        let to_share: f64 = self.balls.iter().map(own).sum();
        let score = |ball: &Taught| {
            let apart = ball.signature.iter().zip(&seen.signature);
            let squared: f32 = apart.map(|(a, b)| (a - b) * (a - b)).sum();
            trust * own(ball).max(1e-12).ln() - f64::from(squared)
        };
        let scores: Vec<f64> = self.balls.iter().map(score).collect();
        let best = scores.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<f64> = scores.iter().map(|score| (score - best).exp()).collect();
        let sum: f64 = weights.iter().sum();
        for (ball, weight) in self.balls.iter().zip(weights) {
            if let Some(odds) = odds.get_mut(usize::from(ball.number)) {
                *odds = to_share * weight / sum;
            }
        }
        odds
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taught(number: u8, first: f32) -> Taught {
        let mut signature = [0.0; SIGNATURE];
        signature[0] = first;
        Taught { number, signature }
    }

    fn seen(class: usize, first: f32) -> Seen {
        let mut logits = [0.0; 17];
        logits[class] = 6.0;
        let mut signature = [0.0; SIGNATURE];
        signature[0] = first;
        Seen { logits, signature }
    }

    fn look(read_rightly: f64) -> BallLook {
        let balls = vec![taught(0, 0.0), taught(3, 4.0), taught(4, 8.0)];
        BallLook { network: "abc".into(), read_rightly, balls }
    }

    fn best(odds: &Odds) -> usize {
        (0..17).max_by(|&a, &b| odds[a].total_cmp(&odds[b])).unwrap()
    }

    #[test]
    fn an_odd_set_is_read_by_its_look_and_a_usual_one_by_both() {
        // The network reads a three, the signature is halfway but nearer to the four.
        let between = seen(3, 6.2);
        assert_eq!(best(&look(0.2).odds(std::slice::from_ref(&between))[0]), 4);
        assert_eq!(best(&look(1.0).odds(&[between])[0]), 3);
    }

    #[test]
    fn no_ball_and_untaught_balls_keep_their_odds() {
        let look = look(0.2);
        for class in [NO_BALL, 9] {
            let seen = seen(class, 4.0);
            let odds = look.odds(std::slice::from_ref(&seen))[0];
            assert!((odds[class] - seen.odds()[class]).abs() < 1e-12);
            assert!((odds.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn it_is_kept_as_json_and_refused_by_another_network() {
        let look = look(0.5);
        let text = serde_json::to_string(&look).unwrap();
        assert_eq!(serde_json::from_str::<BallLook>(&text).unwrap(), look);
        assert!(look.belongs_to("abc").is_ok());
        assert!(matches!(look.belongs_to("def"), Err(LookError::OtherNetwork { .. })));
    }
}
