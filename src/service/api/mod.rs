//! The addresses under `/api`, one file for each thing a client can ask for.

pub(super) mod advice;
pub(super) mod again;
mod contest_view;
pub(super) mod contests;
pub(super) mod corrections;
pub(super) mod events;
pub(super) mod frames;
pub(super) mod hits;
pub(super) mod layouts;
pub(super) mod nearest;
pub(super) mod notes;
pub(super) mod pairing;
pub(super) mod pictures;
pub(super) mod posted;
pub(super) mod practice;
mod published;
pub(super) mod readings;
pub(super) mod schemas;
pub(super) mod score;
pub(super) mod setup;
mod setup_view;
pub(super) mod sheets;
pub(super) mod skills;
pub(super) mod state;
pub(super) mod stream;
mod view;

pub(super) use view::RestView;
