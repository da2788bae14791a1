//! Running the trained networks that are built into the program.

use rten::{Model, RunOptions, ThreadPool};
use rten_tensor::NdTensor;
use rten_tensor::prelude::*;
use std::sync::Arc;
use thiserror::Error;

/// Why a network could not be used. Both mean a faulty build, never a faulty frame.
#[derive(Debug, Error)]
pub enum NetError {
    #[error("the built-in network {name} cannot be read ({reason}): build the program again")]
    Unreadable { name: &'static str, reason: String },
    #[error("the built-in network {name} failed ({reason}): please report this frame")]
    Failed { name: &'static str, reason: String },
}

/// A network that takes square colour patches, one row of numbers out for each.
pub(super) struct Net {
    name: &'static str,
    model: Model,
    options: RunOptions,
    side: usize,
}

impl Net {
    /// Reads an ONNX file that was built in; `side` is its patches' side in pixels.
    pub fn read(name: &'static str, onnx: &'static [u8], side: usize) -> Result<Self, NetError> {
        let model = Model::load_static_slice(onnx)
            .map_err(|error| NetError::Unreadable { name, reason: error.to_string() })?;
        // One frame is read on one thread: others may be reading beside it.
        let pool = Arc::new(ThreadPool::with_num_threads(1));
        let options = RunOptions::default().with_thread_pool(Some(pool));
        Ok(Self { name, model, options, side })
    }

    /// Runs all patches at once; the first output's rows.
    pub fn rows(&self, patches: Vec<f32>) -> Result<Vec<Vec<f32>>, NetError> {
        let failed = |reason: String| NetError::Failed { name: self.name, reason };
        let count = patches.len() / (3 * self.side * self.side);
        if count == 0 {
            return Ok(Vec::new());
        }
        let input = NdTensor::from_data([count, 3, self.side, self.side], patches);
        let id = *self.model.input_ids().first().ok_or_else(|| failed("no input".into()))?;
        let outputs = self
            .model
            .run(vec![(id, input.into())], self.model.output_ids(), Some(self.options.clone()))
            .map_err(|error| failed(error.to_string()))?;
        let first = outputs.into_iter().next().ok_or_else(|| failed("no output".into()))?;
        let rows: NdTensor<f32, 2> =
            first.try_into().map_err(|_| failed("output of another shape".into()))?;
        Ok((0..count).map(|row| rows.slice(row).to_vec()).collect())
    }
}
