//! One player at one table, who asks what to do: the entry to everything that is advised.
//!
//! Holds what is worth keeping between questions: the windows of the pockets from places that were
//! looked at before. What is asked is checked once, here.

use super::player::{Player, PlayerError};
use super::window::Windows;
use crate::layout::Layout;
use crate::motion::{self, Bed, PhysicsError, Placed, StartError};
use crate::table::TableSizeError;
use thiserror::Error;

/// Gives advice to one player at one table.
pub struct Advisor<'a> {
    pub(super) bed: &'a Bed,
    pub(super) player: Player,
    pub(super) seed: u64,
    pub(super) windows: Windows<'a>,
}

/// Why no advice can be given.
#[derive(Debug, Error, PartialEq)]
pub enum AdviceError {
    #[error(transparent)]
    Player(#[from] PlayerError),
    #[error(transparent)]
    Start(#[from] StartError),
    #[error(transparent)]
    Physics(#[from] PhysicsError),
    #[error(transparent)]
    Table(#[from] TableSizeError),
}

impl<'a> Advisor<'a> {
    /// The same seed, player and layout get the same advice.
    ///
    /// # Errors
    /// [`PlayerError`] for errors that nobody makes.
    pub fn new(bed: &'a Bed, player: Player, seed: u64) -> Result<Self, PlayerError> {
        player.check()?;
        Ok(Self { bed, player, seed, windows: Windows::of(bed) })
    }

    /// The balls of a layout, checked, and moved apart where they overlap a little.
    ///
    /// # Errors
    /// [`StartError`] names the ball that cannot be.
    pub fn balls(&self, layout: &Layout) -> Result<Vec<Placed>, StartError> {
        motion::apart(self.bed, &Placed::all_of(layout)?)
    }
}
