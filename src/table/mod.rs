//! The table: its sizes, pockets, spots, rack and coordinates. Knows nothing else of the project.
//!
//! Lengths are millimetres in the table frame (see the crate's conventions). Sizes and openings
//! are those of the published equipment specifications of the trade.

mod foot;
mod noses;
mod points;
mod rack;
mod size;

pub use foot::FootEnd;
pub use points::{DiamondPoint, SpacePoint, TablePoint};
pub use rack::Rack;
pub use size::{BALL_DIAMETER_MM, Pocket, PocketKind, TableSize, TableSizeError, pocket_name};

#[cfg(test)]
mod tests;
