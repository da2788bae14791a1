//! Made-up sessions: several attempts on end, with what was seen of them and what they were.

use super::player::{Habits, Player, TrueAttempt};
use stillcloth::score::RestSeen;

pub struct Session {
    pub rests: Vec<RestSeen>,
    /// The attempts of which a rest was seen.
    pub truth: Vec<TrueAttempt>,
    /// The rests before which balls seemed to roll and did not.
    pub misled: Vec<i64>,
}

/// So many attempts played to their end, and one that is going on.
pub fn session(seed: u64, habits: Habits, attempts: usize) -> Session {
    let mut player = Player::new(seed, habits);
    for _ in 0..attempts {
        player.play();
    }
    player.leave_going_on();
    let truth = player.attempts.into_iter().filter(|a| a.first_rest.is_some()).collect();
    Session { rests: player.world.rests, truth, misled: player.world.misled }
}
