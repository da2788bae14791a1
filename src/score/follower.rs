//! The fold from rests to the story.

use super::{Correction, RestSeen, ScoreEvent, Step, Story};
use std::collections::HashMap;

/// Follows rests, one after the other, into the story.
#[derive(Debug, Clone, Default)]
pub struct Follower {
    story: Story,
}

impl Follower {
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes the next rest, with the user's word about the step into it, and tells what follows.
    pub fn take(&mut self, _rest: &RestSeen, _correction: Option<&Step>) -> Vec<ScoreEvent> {
        Vec::new()
    }

    /// What is known so far.
    pub fn story(&self) -> &Story {
        &self.story
    }
}

/// The story of all rests, in order, with all corrections, oldest first.
pub fn follow<'a>(
    rests: impl IntoIterator<Item = &'a RestSeen>,
    corrections: &[Correction],
) -> Story {
    let mut said: HashMap<i64, &Step> = HashMap::new();
    for correction in corrections {
        match &correction.says {
            Some(step) => said.insert(correction.rest, step),
            None => said.remove(&correction.rest),
        };
    }
    let mut follower = Follower::new();
    for rest in rests {
        follower.take(rest, said.get(&rest.id).copied());
    }
    follower.story
}
