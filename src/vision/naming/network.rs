//! The network that looks at the patches of a layout: loading and running it.
//!
//! The file `models/ball_naming.onnx` is built into the program; its card is `models/README.md`.
//! It runs on the caller's behalf on one thread, since every camera has a thread of its own.
//! Input: patches as `crop` cuts them, all of one layout at once. Output for each: logits over 17
//! classes and a signature of the ball's look.

use super::NamingError;
use super::belief::Odds;
use super::crop::{SIDE, VALUES};
use rten::{Model, ModelOptions, RunOptions, ThreadPool, Value, op_registry};
use rten_tensor::{AsView, Layout, NdTensor};
use sha2::{Digest, Sha256};
use std::sync::Arc;

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
    model: Model,
    threads: Arc<ThreadPool>,
    version: String,
}

impl Network {
    pub fn load() -> Result<Self, NamingError> {
        // Only what the file uses: the runtime's other operators stay out of the program.
        let operators =
            op_registry!(Add, Concat, Conv, Gemm, MatMul, Mul, ReduceMax, ReduceMean, Relu, Sub);
        let model = ModelOptions::with_ops(operators)
            .load_static_slice(MODEL)
            .map_err(|source| NamingError::Load { source })?;
        let digest = Sha256::digest(MODEL);
        let version = digest.iter().take(6).map(|byte| format!("{byte:02x}")).collect();
        Ok(Self { model, threads: Arc::new(ThreadPool::with_num_threads(1)), version })
    }

    /// The beginning of the file's SHA-256: signatures of different networks do not compare.
    pub fn version(&self) -> &str {
        &self.version
    }

    /// Looks at all patches of a layout.
    pub fn look_at<'a>(
        &self,
        patches: impl Iterator<Item = &'a Vec<f32>>,
    ) -> Result<Vec<Seen>, NamingError> {
        let values: Vec<f32> = patches.flatten().copied().collect();
        let balls = values.len() / VALUES;
        if balls == 0 {
            return Ok(Vec::new());
        }
        let input = NdTensor::from_data([balls, 3, SIDE, SIDE], values);
        let inputs: Vec<_> =
            self.model.input_ids().first().map(|&id| (id, input.into())).into_iter().collect();
        let options = RunOptions::default().with_thread_pool(Some(self.threads.clone()));
        let outputs = self
            .model
            .run(inputs, self.model.output_ids(), Some(options))
            .map_err(|source| NamingError::Run { balls, source })?;
        let mut outputs = outputs.into_iter();
        let logits = rows::<CLASSES>(outputs.next(), balls)?;
        let signatures = rows::<SIGNATURE>(outputs.next(), balls)?;
        let both = logits.into_iter().zip(signatures);
        Ok(both.map(|(logits, signature)| Seen { logits, signature }).collect())
    }
}

/// An output as rows of `N` values, one for each ball.
fn rows<const N: usize>(output: Option<Value>, balls: usize) -> Result<Vec<[f32; N]>, NamingError> {
    let shape = output.as_ref().map(|value| value.shape().to_vec()).unwrap_or_default();
    let table: Option<NdTensor<f32, 2>> = output.and_then(|value| value.try_into().ok());
    match table.map(|table| table.to_vec()) {
        Some(values) if values.len() == balls * N => {
            let (rows, _) = values.as_chunks::<N>();
            Ok(rows.to_vec())
        }
        _ => Err(NamingError::Shape { found: shape }),
    }
}
