//! Every behaviour test of the project, in one binary, so that OpenCV is linked once.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a test that cannot go on has failed"
)]

mod accuracy;
mod advising;
mod client;
mod command_line;
mod disk;
mod events_out;
mod frames_in;
mod killed;
mod kills;
mod layouts_out;
mod network_cameras;
mod own_cameras;
mod pages;
mod pictures;
mod played;
mod pushed;
mod record;
mod rests;
mod score;
mod score_out;
mod serve_settings;
mod staging;
mod streams;
mod teaching;
mod tidy;
mod true_frames;
mod trying;
mod watching;
mod webhooks;
