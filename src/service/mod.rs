//! The service: frames in by HTTP or from a camera of its own, layouts out to whoever listens.
//!
//! Vision runs on one thread for each camera, HTTP on tokio; the two meet in bounded queues. Every
//! rest is in the record before anyone hears of it, and whoever follows, be it a page, a program
//! or a configured listener, follows the record by its ids, so a slow one misses nothing and
//! holds up nobody. Stands on all other floors.

mod api;
mod app;
mod ball_set;
mod camera_name;
mod cameras;
mod connections;
mod listeners;
mod live;
mod page;
mod pipeline;
mod problem;
mod reader;
mod router;
mod server;
mod status;
mod still;
mod turns;

pub use app::{App, Limits};
pub use ball_set::{BallSetError, ball_set_beside, load_ball_set, save_ball_set};
pub use camera_name::{CameraName, CameraNameError};
pub use cameras::Cameras;
pub use listeners::{Listener, ListenerError};
pub use live::LiveCamera;
pub use pipeline::FrameError;
pub use problem::Problem;
pub use reader::{FrameReader, ReaderError, ReaderFactory, Standpoint, TableReader};
pub use router::{openapi, router};
pub use server::{ServeError, Server, Settings};
pub use status::{CameraState, CameraStatus, StatusBoard};
