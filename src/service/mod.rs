//! The service: frames in by HTTP or from a camera of its own, events out to whoever listens.
//!
//! Vision runs on one thread for each camera, HTTP on tokio; the two meet in bounded queues. Every
//! event is in the record before anyone hears of it, and whoever follows, be it a page, a program
//! or a configured listener, follows the record by its ids, so a slow one misses nothing and
//! holds up nobody. Stands on all other floors.

mod access;
mod advising;
mod announcement;
mod api;
mod app;
mod ball_set;
mod camera_name;
mod cameras;
mod cloth;
mod connections;
mod feed;
mod following;
mod frozen;
mod health;
mod health_notes;
mod keeper;
mod lately;
mod live;
mod metrics;
mod newest;
mod page;
mod patience;
mod photo_series;
mod pipeline;
mod problem;
mod reader;
mod router;
mod schemas;
mod seer;
mod sending;
mod sent;
mod server;
mod setting_up;
mod settings_file;
mod sight;
mod skills;
mod status;
mod turns;
mod unkept;
mod unseen;
mod vitals;
pub mod webhooks;

pub use access::{AccessError, AccessSettings, Invitation, OwnCertificate};
pub use app::{App, Limits};
pub use ball_set::{BallSetError, ball_set_beside, load_ball_set, save_ball_set};
pub use camera_name::{CameraName, CameraNameError};
pub use cameras::Cameras;
pub use following::{Followed, Following, Told};
pub use health::{Health, Patience};
pub use live::Watching;
pub use metrics::{Delivery, Metrics};
pub use photo_series::{Photo, PhotoError, PhotoFate, PhotoSeries, PhotoTimes};
pub use pipeline::FrameError;
pub use problem::Problem;
pub use reader::{FrameReader, ReaderError, ReaderFactory, TableReader, calibration_file};
pub use router::{openapi, router};
pub use schemas::EVENT_SCHEMAS;
pub use server::{ServeError, Server, Settings};
pub use settings_file::{AdviceSection, CameraSection, SettingsError, SettingsFile};
pub use status::{CameraState, CameraStatus, StatusBoard};

use sent::Sent;
