//! A layout set up again on the real table, and the shot from it played again and again.
//!
//! [`Guide`] tells for each ball of a wanted layout which way and how far the ball on the table
//! has to go; [`Practice`] follows rests from one set-up to the next and counts what the shots
//! between them came to; [`Scatter`] tells where the cue ball ends. All are pure: the same layouts
//! give the same answer.
//!
//! On `table` and `layout`: knows no camera, no time and no record, and nothing of the rules of
//! 14.1, which a shot that is practised does not follow. Not modelled: a wanted layout whose balls
//! touch, on a table of another size, where diamonds are shorter and the balls are not.

mod guide;
mod pairing;
mod practice;
mod scatter;

pub use guide::{Guide, IN_PLACE_MM, Partner, Wanted};
pub use practice::{Ending, Practice, Shot, Tally};
pub use scatter::{Ellipse, INSIDE, LEAST_PLACES, Scatter};

#[cfg(test)]
mod tests;
