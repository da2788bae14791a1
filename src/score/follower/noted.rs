//! A state to come back to: a follower without the attempts that are over, which take most of its room.

use super::Follower;
use crate::score::{Attempt, Story};

impl Follower {
    /// The state with the attempts that are over left out, and how many those are: to be put back by
    /// [`with_those_over`](Self::with_those_over).
    pub fn without_those_over(&self) -> (usize, Self) {
        let Story { attempts, questions } = &self.story;
        let over = attempts.len() - usize::from(self.story.going_on().is_some());
        let story = Story { attempts: attempts[over..].to_vec(), questions: questions.clone() };
        (over, Self { story, ..self.without_story() })
    }

    /// The state with those put back that were over then, whatever has been asked about them since.
    #[must_use]
    pub fn with_those_over(mut self, over: impl Iterator<Item = Attempt>) -> Self {
        let over: Vec<Attempt> = over.collect();
        let ids: Vec<u32> = over.iter().map(|attempt| attempt.id).collect();
        self.put_before(over);
        for id in ids {
            self.story.judge(id);
        }
        self
    }

    /// Puts attempts before its own.
    pub(super) fn put_before(&mut self, mut over: Vec<Attempt>) {
        over.append(&mut self.story.attempts);
        self.story.attempts = over;
    }

    fn without_story(&self) -> Self {
        Self {
            story: Story::default(),
            phase: self.phase,
            base: self.base.clone(),
            unseen_ms: self.unseen_ms,
            facing: self.facing,
            taken: self.taken,
            lifted: self.lifted,
            last_shot: self.last_shot.clone(),
            pace: self.pace,
            scratched: self.scratched.clone(),
            doubts: self.doubts.clone(),
            laid: self.laid.clone(),
            last_rest: self.last_rest,
            aside: self.aside.clone(),
        }
    }
}
