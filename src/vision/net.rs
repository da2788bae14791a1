//! Running the trained networks that are built into the program.

use rten::{Model, ModelOptions, RunOptions, ThreadPool, Value, op_registry};
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
        // Only what the files use: the runtime's other operators stay out of the program.
        let operators = op_registry!(
            Add, Concat, Conv, Div, Flatten, Gemm, MatMul, Mul, ReduceMax, ReduceMean, Relu,
            Reshape, Sqrt, Sub
        );
        let model = ModelOptions::with_ops(operators)
            .load_static_slice(onnx)
            .map_err(|error| NetError::Unreadable { name, reason: error.to_string() })?;
        // One frame is read on one thread: others may be reading beside it.
        let pool = Arc::new(ThreadPool::with_num_threads(1));
        let options = RunOptions::default().with_thread_pool(Some(pool));
        Ok(Self { name, model, options, side })
    }

    /// Side of a patch in pixels.
    pub fn side(&self) -> usize {
        self.side
    }

    /// Runs all patches at once; the first output's rows.
    pub fn rows(&self, patches: Vec<f32>) -> Result<Vec<Vec<f32>>, NetError> {
        Ok(self.outputs(patches)?.into_iter().next().unwrap_or_default())
    }

    /// Runs all patches at once; every output's rows, or no output where there is no patch.
    pub fn outputs(&self, patches: Vec<f32>) -> Result<Vec<Vec<Vec<f32>>>, NetError> {
        let count = patches.len() / (3 * self.side * self.side);
        if count == 0 {
            return Ok(Vec::new());
        }
        let input = NdTensor::from_data([count, 3, self.side, self.side], patches);
        let id = *self.model.input_ids().first().ok_or_else(|| self.faulty("no input"))?;
        let outputs = self
            .model
            .run(vec![(id, input.into())], self.model.output_ids(), Some(self.options.clone()))
            .map_err(|error| self.faulty(error.to_string()))?;
        let rows_of = |output: Value| {
            let rows: NdTensor<f32, 2> =
                output.try_into().map_err(|_| self.faulty("output of another shape"))?;
            if rows.size(0) == count {
                Ok((0..count).map(|row| rows.slice(row).to_vec()).collect())
            } else {
                Err(self.faulty("not one row a patch"))
            }
        };
        outputs.into_iter().map(rows_of).collect()
    }

    /// The error of a network that does not answer as it was built to.
    pub fn faulty(&self, reason: impl Into<String>) -> NetError {
        NetError::Failed { name: self.name, reason: reason.into() }
    }
}
