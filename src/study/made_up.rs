//! For tests: stories with their rests, in which every shot is one ball cut into a corner.

use super::ShotLog;
use crate::{
    layout::{Ball, BallKind, Layout},
    score::{Attempt, Cause, Over, RackPlayed, RestSeen, ShotTaken, Story, potted},
    table::{FootEnd, TableSize},
};

/// A shot that is to be: how it is cut (degrees, above 0 to the left) and whether it drops.
#[derive(Clone, Copy)]
pub struct Meant {
    pub cut_deg: f64,
    pub made: bool,
}

/// Attempts that are played one after the other.
#[derive(Default)]
pub struct MadeUp {
    pub story: Story,
    pub log: ShotLog,
    rest: i64,
}

fn layout(balls: &[(f64, f64)]) -> Layout {
    let ball = |(at, &(x_mm, y_mm)): (usize, &(f64, f64))| Ball {
        kind: if at == 0 { BallKind::Cue } else { BallKind::Object },
        number: Some(at as u8),
        x: x_mm / 317.5,
        y: y_mm / 317.5,
        sigma_mm: 0.5,
        confidence: 0.99,
        number_confidence: 0.95,
    };
    let balls = balls.iter().enumerate().map(ball).collect();
    Layout::of(TableSize::NINE_FOOT, FootEnd::Given, balls)
}

impl MadeUp {
    fn see(&mut self, at_unix_ms: i64, balls: &[(f64, f64)]) {
        self.rest += 1;
        let layout = layout(balls);
        self.log.take(&RestSeen { id: self.rest, at_unix_ms, unseen_ms: 0, layout });
    }

    /// Plays an attempt that begins at a time; its last shot is a miss if it does not drop.
    pub fn play(&mut self, began_unix_ms: i64, shots: &[Meant]) {
        let began_rest = self.rest + 1;
        let mut taken = Vec::new();
        for shot in shots {
            let table = TableSize::NINE_FOOT;
            // Half a metre before the foot pocket of the far rail, the cue ball half a metre behind
            // the meeting, turned away by the cut.
            let pocket = table.pockets()[2].centre;
            let back = std::f64::consts::FRAC_PI_4 + std::f64::consts::PI;
            let ball = pocket.moved(back, 500.0);
            let meeting = ball.moved(back, table.ball_diameter_mm);
            let cue = meeting.moved(back - shot.cut_deg.to_radians(), 500.0);
            let (cue, ball) = ((cue.x_mm, cue.y_mm), (ball.x_mm, ball.y_mm));
            self.see(began_unix_ms, &[cue, ball, (300.0, 300.0)]);
            let lies = [(cue.0 + 150.0, cue.1 - 100.0), (300.0, 300.0), (900.0, 200.0)];
            self.see(began_unix_ms, &lies[..if shot.made { 2 } else { 3 }]);
            let rest = self.rest;
            taken.push(ShotTaken { rest, rack: 1, potted: u16::from(shot.made), shots: 1 });
        }
        let run = potted(&taken);
        let missed = shots.last().is_some_and(|shot| !shot.made);
        let cause = if missed { Cause::Miss } else { Cause::Stopped };
        self.story.attempts.push(Attempt {
            id: self.story.attempts.len() as u32 + 1,
            began_rest,
            began_unix_ms,
            start_seen: true,
            run,
            shots: taken,
            racks: vec![RackPlayed { number: 1, racked_rest: None, closing_rest: None }],
            over: Some(Over { cause, rest: self.rest, at_unix_ms: began_unix_ms + 60_000 }),
            sure: true,
        });
    }
}
