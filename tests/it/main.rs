//! Every behaviour test of the project, in one binary, so that OpenCV is linked once.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a test that cannot go on has failed"
)]

mod accuracy;
mod client;
mod command_line;
mod disk;
mod frames_in;
mod killed;
mod kills;
mod layouts_out;
mod own_cameras;
mod pages;
mod pictures;
mod played;
mod record;
mod staging;
mod tidy;
mod true_frames;
