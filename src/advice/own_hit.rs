//! A hit of the player's own: what becomes of it as it is meant, and of how many played with the
//! player's errors the same.
//!
//! Input: balls and a hit. Output: [`OwnHit`], with what it comes to in sentences. Nothing is searched
//! for or compared; what is better is advice's.

use super::advisor::Advisor;
use super::estimate::Estimate;
use super::outcome::{self, CUE, Played};
use super::said::{capital, hundred};
use crate::motion::{self, Hit, Placed, PlayError, Shot, ball_name};
use crate::random::Random;
use crate::table::{DiamondPoint, TablePoint, TableSize, pocket_name};

/// Hits played with errors: a share is known to ten in a hundred, and a break shot takes a tenth of a
/// second.
const TIMES: usize = 100;

/// What becomes of a hit.
#[derive(Debug, Clone)]
pub struct OwnHit {
    /// The hit as it is meant, played to rest.
    pub shot: Shot,
    /// Where the cue ball first meets a ball.
    pub meeting: Option<TablePoint>,
    /// Share of the hits played with errors in which the first ball that is meant to drop does so in
    /// the same pocket and the cue ball stays; none where no ball is meant to drop.
    pub made: Option<Estimate>,
    /// Share in which the cue ball drops.
    pub scratch: Estimate,
    /// Where the cue ball came to rest in those that were made; in all, where no ball is meant to drop.
    pub lies: Vec<TablePoint>,
    /// All that in sentences.
    pub said: Vec<String>,
}

impl Advisor<'_> {
    /// Plays a hit as it is meant, and with the player's errors.
    ///
    /// # Errors
    /// [`PlayError`] names the ball or the field that cannot be.
    pub fn own_hit(&self, balls: &[Placed], hit: &Hit) -> Result<OwnHit, PlayError> {
        let shot = motion::play(self.bed, balls, CUE, hit)?;
        let meant = outcome::of(&shot);
        let mut random = Random::new(self.seed);
        let hits: Vec<Hit> = (0..TIMES).map(|_| self.player.played(hit, &mut random)).collect();
        let play = |hit: &Hit| outcome::play(self.bed, balls, hit).map(|(played, _)| played);
        let plays: Vec<Played> = hits.iter().filter_map(play).collect();
        let goal = meant.dropped.first().copied();
        let as_meant = |played: &&Played| match goal {
            Some(goal) => played.makes(goal),
            None => !played.scratch,
        };
        let made = goal.map(|goal| Estimate::share(plays.iter().map(|played| played.makes(goal))));
        let scratch = Estimate::share(plays.iter().map(|played| played.scratch));
        let lies = plays.iter().filter(as_meant).filter_map(Played::cue).collect();
        let mut said = if shot.cut_short {
            vec!["Too much happens in this hit: it is not followed to its end.".into()]
        } else {
            vec![dropped_words(&meant), cue_words(&meant, self.bed.table())]
        };
        said.push(share_words(made, scratch));
        let meeting = outcome::cue_in(outcome::first_meeting(&shot));
        Ok(OwnHit { shot, meeting, made, scratch, lies, said })
    }
}

fn dropped_words(meant: &Played) -> String {
    let drops = |&(ball, pocket): &(usize, usize)| {
        format!("{} drops into the {}", ball_name(ball), pocket_name(pocket))
    };
    match meant.dropped.as_slice() {
        [] => "No object ball drops.".into(),
        all => format!("{}.", capital(&all.iter().map(drops).collect::<Vec<_>>().join(", "))),
    }
}

fn cue_words(meant: &Played, table: &TableSize) -> String {
    match meant.cue().filter(|_| !meant.scratch) {
        Some(at) => {
            let at = DiamondPoint::from_table(at, table);
            format!("The cue ball comes to rest at {:.1}, {:.1}.", at.x, at.y)
        }
        None => "The cue ball drops: a scratch.".into(),
    }
}

fn share_words(made: Option<Estimate>, scratch: Estimate) -> String {
    let scratched = match hundred(scratch.mean) {
        0.0 => "the cue ball never drops".into(),
        share => format!("the cue ball drops in {share:.0}"),
    };
    match made {
        Some(made) => format!(
            "Of 100 hits with this player's errors {:.0} make it; {scratched}.",
            hundred(made.mean)
        ),
        None => format!("Of 100 hits with this player's errors {scratched}."),
    }
}
