//! Keeping the story: attempts begun and ended, shots and racks entered, questions opened and
//! settled, each with the event that tells it.

use super::{
    Answer, Attempt, Cause, Over, Question, RackPlayed, RestSeen, ScoreEvent, ShotTaken, Step,
    Story,
};

/// The story with the rest that is being entered and the events that it brings.
#[derive(Debug)]
pub(super) struct Book<'a> {
    pub story: &'a mut Story,
    pub rest: &'a RestSeen,
    pub events: Vec<ScoreEvent>,
    /// The attempt that was on before this rest.
    pub before: Option<u32>,
    /// The attempt that was on at this rest last.
    pub concerned: Option<u32>,
}

impl<'a> Book<'a> {
    pub fn open(story: &'a mut Story, rest: &'a RestSeen) -> Self {
        let before = story.going_on().map(|attempt| attempt.id);
        Self { story, rest, events: Vec::new(), before, concerned: before }
    }

    /// The events with the rest itself before them.
    pub fn close(mut self, step: Step) -> Vec<ScoreEvent> {
        let run = self.concerned.and_then(|id| self.story.attempt(id)).map(|a| a.run);
        let told = ScoreEvent::Rest {
            rest: self.rest.id,
            at_unix_ms: self.rest.at_unix_ms,
            attempt: self.concerned,
            run,
            step,
        };
        self.events.insert(0, told);
        self.events
    }

    pub fn going_on(&mut self) -> Option<&mut Attempt> {
        self.story.attempts.last_mut().filter(|attempt| attempt.over.is_none())
    }

    pub fn begin(&mut self, start_seen: bool, run: u32) {
        let id = u32::try_from(self.story.attempts.len() + 1).unwrap_or(u32::MAX);
        let racked_rest = start_seen.then_some(self.rest.id);
        self.story.attempts.push(Attempt {
            id,
            began_rest: self.rest.id,
            began_unix_ms: self.rest.at_unix_ms,
            start_seen,
            run,
            shots: Vec::new(),
            racks: vec![RackPlayed { number: 1, racked_rest, closing_rest: None }],
            over: None,
            sure: start_seen,
        });
        self.concerned = Some(id);
        self.events.push(ScoreEvent::AttemptBegan { rest: self.rest.id, attempt: id, start_seen });
    }

    /// Ends the attempt that is on.
    pub fn end(&mut self, cause: Cause) {
        let (rest, at_unix_ms) = (self.rest.id, self.rest.at_unix_ms);
        let Some(attempt) = self.going_on() else { return };
        attempt.over = Some(Over { cause, rest, at_unix_ms });
        // It stays in memory for good.
        attempt.shots.shrink_to_fit();
        attempt.racks.shrink_to_fit();
        let (id, run) = (attempt.id, attempt.run);
        self.events.push(ScoreEvent::AttemptOver { rest, attempt: id, run, cause });
    }

    /// Enters one stroke, or several that no rest tells apart.
    pub fn shot(&mut self, potted: u32, shots: u32, numbers: Vec<u8>) {
        let rest = self.rest.id;
        let Some(attempt) = self.going_on() else { return };
        let rack = attempt.racks.last().map_or(1, |rack| rack.number);
        attempt.run = attempt.run.saturating_add(potted);
        // More than sixteen balls or shots between two rests there are not.
        let [counted, of] = [potted, shots].map(|count| u16::try_from(count).unwrap_or(u16::MAX));
        attempt.shots.push(ShotTaken { rest, rack, potted: counted, shots: of });
        let (id, run) = (attempt.id, attempt.run);
        self.events.push(ScoreEvent::Shot { rest, attempt: id, potted, run, numbers });
    }

    /// Enters that the table is racked again; `seen` where this rest shows the rack.
    pub fn re_rack(&mut self, closing_rest: Option<i64>, seen: bool) {
        let rest = self.rest.id;
        let Some(attempt) = self.going_on() else { return };
        if let Some(rack) = attempt.racks.last_mut() {
            rack.closing_rest = closing_rest;
        }
        let number = attempt.racks.last().map_or(0, |rack| rack.number).saturating_add(1);
        let racked_rest = seen.then_some(rest);
        attempt.racks.push(RackPlayed { number, racked_rest, closing_rest: None });
        let id = attempt.id;
        self.events.push(ScoreEvent::ReRack { rest, attempt: id, rack: number, closing_rest });
    }

    /// Takes points of the last shot back; what is left of it.
    pub fn take_back(&mut self, balls: u32) -> u32 {
        let rest = self.rest.id;
        let Some(attempt) = self.going_on() else { return 0 };
        let Some(shot) = attempt.shots.last_mut() else { return 0 };
        let balls = u16::try_from(balls.min(attempt.run)).unwrap_or(u16::MAX).min(shot.potted);
        shot.potted -= balls;
        attempt.run -= u32::from(balls);
        let (left, id, run) = (u32::from(shot.potted), attempt.id, attempt.run);
        self.events.push(ScoreEvent::Rescored { rest, attempt: id, run, over: None });
        left
    }

    /// Opens a question about the step into this rest.
    pub fn ask(&mut self, attempt: Option<u32>, text: String, answers: Vec<Answer>) {
        self.ask_about(self.rest.id, attempt, text, answers);
    }

    /// Opens a question about the step into this rest or an earlier one.
    pub fn ask_about(
        &mut self,
        rest: i64,
        attempt: Option<u32>,
        text: String,
        answers: Vec<Answer>,
    ) {
        if self.story.questions.iter().any(|question| question.rest == rest) {
            return;
        }
        let question = Question { rest, attempt, text, answers };
        self.story.questions.push(question.clone());
        for id in [attempt, self.concerned].into_iter().flatten() {
            self.story.judge(id);
        }
        self.events.push(ScoreEvent::Question { question });
    }

    /// Closes a question that later rests have made idle.
    pub fn settle(&mut self, rest: i64) {
        let Some(at) = self.story.questions.iter().position(|q| q.rest == rest) else { return };
        let question = self.story.questions.remove(at);
        self.events.push(ScoreEvent::Settled { rest });
        if let Some(id) = question.attempt {
            self.story.judge(id);
        }
    }
}
