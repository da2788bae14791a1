//! The service: frames in by HTTP or from a camera of its own, layouts out to whoever listens.
//!
//! Vision runs on one thread for each camera, HTTP on tokio; the two meet in bounded queues. Every
//! rest is in the record before anyone hears of it, and whoever follows, be it a page, a program
//! or a configured listener, follows the record by its ids, so a slow one misses nothing and
//! holds up nobody. Stands on all other floors.

mod api;
mod app;
mod camera_name;
mod cameras;
mod connections;
mod frozen;
mod health;
mod keeper;
mod listeners;
mod live;
mod newest;
mod page;
mod pipeline;
mod problem;
mod reader;
mod rests;
mod router;
mod seer;
mod server;
mod settings_file;
mod status;
mod still;
mod turns;
mod unseen;

pub use app::{App, Limits};
pub use camera_name::{CameraName, CameraNameError};
pub use cameras::Cameras;
pub use health::{Health, Patience};
pub use listeners::{Listener, ListenerError};
pub use live::Watching;
pub use pipeline::FrameError;
pub use problem::Problem;
pub use reader::{
    FrameReader, ReaderError, ReaderFactory, Standpoint, TableReader, calibration_file,
};
pub use router::{openapi, router};
pub use server::{ServeError, Server, Settings};
pub use settings_file::{CameraSection, ListenerSection, SettingsError, SettingsFile};
pub use status::{CameraState, CameraStatus, StatusBoard};
