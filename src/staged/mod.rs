//! Made-up frames of a pocket-billiard table, with exact truth: for tests, measuring and the demo
//! camera.
//!
//! [`Scene::random`] thinks up a table, its looks, a layout and a camera from a seed;
//! [`Scene::render`] draws it; [`Scene::truth`] is its label. A scene is plain data: change the
//! balls and render again for the next rest of a session. The same seed gives the same scene and
//! picture whatever the number of threads; other machines may differ in the last bit of a sine.
//!
//! [`Painter`] draws many frames of one table quickly; [`session`] plays whole sessions with it.
//!
//! On `table`, `camera` and `motion`. Must not know `vision`: what is measured with these frames may not
//! help to make them.

mod build;
mod colour;
mod extras;
mod layouts;
mod looks;
mod quick;
mod render;
mod scene;
mod self_play;
pub mod session;
mod truth;
mod viewpoint;
mod write;

use crate::random;

pub use build::{Build, CushionRun, SightShape};
pub use colour::Colour;
pub use extras::{Block, Extra, Joint, Limb};
pub use layouts::LayoutKind;
pub use looks::{
    BallSet, Cloth, CueMark, Film, Floor, Lamp, LightKind, Lighting, Looks, Rails, Room,
};
pub use quick::{Exposure, Moment, Painter, Prop, SeenBall};
pub use random::Random;
pub use scene::{Scene, StagedBall, random_orientation};
pub use self_play::{Planner, off_by, self_play};
pub use truth::{BallTruth, CameraTruth, TableTruth, Truth};
pub use viewpoint::Profile;
pub use write::{StageError, StagedFrame, write_frame, write_scene};
