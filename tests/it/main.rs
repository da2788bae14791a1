//! Every behaviour test of the project, in one binary, so that OpenCV is linked once.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a test that cannot go on has failed"
)]

mod access;
mod accuracy;
mod advising;
mod again;
mod bringing_in;
mod browser;
mod camera_pages;
mod client;
mod command;
mod command_line;
mod contest;
mod contest_edits;
mod contest_out;
mod disk;
mod events_out;
mod exported;
mod film;
mod frames_in;
mod killed;
mod kills;
mod layouts_out;
mod lost_sight;
mod merging;
mod network_cameras;
mod notes;
mod own_cameras;
mod own_hits;
mod page_checks;
mod pages;
mod pages_in_use;
mod pictures;
mod played;
mod playing;
mod practising;
mod printed_board;
mod pushed;
mod record;
mod record_told;
mod rests;
mod run_sheets;
mod score;
mod score_out;
mod serve_settings;
mod setting_up;
mod staging;
mod streams;
mod study;
mod teaching;
mod tidy;
mod true_frames;
mod trying;
mod watching;
mod webhooks;
mod wording;
