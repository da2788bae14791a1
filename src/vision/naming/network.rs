//! The network that looks at the patches of a layout: loading and running it.
//!
//! The file `models/ball_naming.onnx` is built into the program; its card is `models/README.md`.
//! It runs on the caller's behalf on one thread, since every camera has a thread of its own.
//! Input: patches as `crop` cuts them, all of one layout at once. Output for each: logits over 17
//! classes and a signature of the ball's look.

use super::belief::Odds;
use super::crop::SIDE;
use crate::vision::net::{Net, NetError, Rows};
use sha2::{Digest, Sha256};

static MODEL: &[u8] = include_bytes!("../../../models/ball_naming.onnx");

/// Classes: cue ball, 1 to 15, no ball.
const CLASSES: usize = 17;
/// Values of a signature.
pub(super) const SIGNATURE: usize = 16;

/// What the network says of one patch.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Seen {
    pub logits: [f32; CLASSES],
    pub signature: [f32; SIGNATURE],
}

impl Seen {
    /// Probabilities of the classes.
    pub fn odds(&self) -> Odds {
        let largest = self.logits.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        let weights = self.logits.map(|logit| f64::from(logit - largest).exp());
        let sum: f64 = weights.iter().sum();
        weights.map(|weight| weight / sum)
    }
}

/// The loaded network.
pub(super) struct Network {
    net: Net,
    version: String,
}

impl Network {
    pub fn load() -> Result<Self, NetError> {
        let digest = Sha256::digest(MODEL);
        let version = digest.iter().take(6).map(|byte| format!("{byte:02x}")).collect();
        Ok(Self { net: Net::read("ball_naming", MODEL, SIDE)?, version })
    }

    /// The beginning of the file's SHA-256: signatures of different networks do not compare.
    pub fn version(&self) -> &str {
        &self.version
    }

    /// Looks at all patches of a layout.
    pub fn look_at<'a>(
        &self,
        patches: impl Iterator<Item = &'a Vec<f32>>,
    ) -> Result<Vec<Seen>, NetError> {
        let mut outputs = self.net.outputs(patches.flatten().copied().collect())?.into_iter();
        let logits = self.rows::<CLASSES>(outputs.next())?;
        let signatures = self.rows::<SIGNATURE>(outputs.next())?;
        let both = logits.into_iter().zip(signatures);
        Ok(both.map(|(logits, signature)| Seen { logits, signature }).collect())
    }

    /// An output's rows, each of `N` values.
    fn rows<const N: usize>(&self, output: Option<Rows>) -> Result<Vec<[f32; N]>, NetError> {
        let row = |row: Vec<f32>| row.try_into().map_err(|_| self.net.failed("a row's length"));
        output.unwrap_or_default().into_iter().map(row).collect()
    }
}
