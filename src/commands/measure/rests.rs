//! The rests of a made-up session beside those that were told.

use serde::Serialize;
use stillcloth::{
    score::ScoreEvent,
    service::Told,
    staged::session::{RestTruth, SessionTruth},
};

/// How the rests of a session were told.
#[derive(Serialize)]
pub struct RestFigures {
    /// Rests that could be seen.
    pub visible: usize,
    /// How long after it came each visible rest was told, in seconds.
    late_s: Vec<f64>,
    /// Rests told that were none, or told again.
    invented: usize,
    /// What went wrong, in words.
    pub odd: Vec<String>,
}

/// A rest may be told so long after its last moment: the frame was taken before.
const SLACK_S: f64 = 0.2;
/// And so long before its first: a ball's last 3 mm, within the errors of reading, take this long.
const CREEP_S: f64 = 0.25;

/// Holds what was told against the truth.
pub fn hold_rests(truth: &SessionTruth, told: &[Told]) -> RestFigures {
    let mut figures = RestFigures { visible: 0, late_s: Vec::new(), invented: 0, odd: Vec::new() };
    let mut caught: Vec<Option<f64>> = vec![None; truth.rests.len()];
    let rests = told.iter().filter(|told| matches!(told.event, ScoreEvent::Rest { .. }));
    for told in rests {
        let balls = told.layout.as_ref().map_or(0, |layout| layout.balls.len());
        let during = |rest: &&RestTruth| {
            (rest.settled_s - CREEP_S..=rest.still_to_s + SLACK_S).contains(&told.at_s)
        };
        let at = truth.rests.iter().rev().find(during).map(|rest| rest.rest);
        let first = at.and_then(|at| caught.get_mut(at)).filter(|late| late.is_none());
        match first {
            Some(late) => *late = Some(told.at_s),
            None => {
                figures.invented += 1;
                figures.odd.push(format!(
                    "{:.1} s: a rest with {balls} balls was told{}",
                    told.at_s,
                    at.map_or(" while balls moved".into(), |at| format!(", again in rest {at}"))
                ));
            }
        }
    }
    for (rest, told_s) in truth.rests.iter().zip(caught).filter(|(rest, _)| rest.visible) {
        figures.visible += 1;
        match told_s {
            Some(told_s) => figures.late_s.push((told_s - rest.from_s).max(0.0)),
            None => figures.odd.push(format!(
                "{:.1} to {:.1} s: rest {} ({}) was not told",
                rest.from_s, rest.to_s, rest.rest, rest.note
            )),
        }
    }
    figures
}

impl RestFigures {
    pub fn caught(&self) -> usize {
        self.late_s.len()
    }

    /// A table of one row over all sessions.
    pub fn row<'a>(all: impl Iterator<Item = &'a Self>) -> String {
        let (mut visible, mut invented, mut late_s) = (0, 0, Vec::new());
        for figures in all {
            visible += figures.visible;
            invented += figures.invented;
            late_s.extend_from_slice(&figures.late_s);
        }
        late_s.sort_by(f64::total_cmp);
        let at = |part: f64| {
            let last = late_s.len().saturating_sub(1) as f64;
            late_s.get((part * last).round() as usize).map_or("-".into(), |s| format!("{s:.2} s"))
        };
        let columns = ["visible rests", "caught", "invented", "told late: median", "95 %", "most"];
        let cells = [
            visible.to_string(),
            late_s.len().to_string(),
            invented.to_string(),
            at(0.5),
            at(0.95),
            at(1.0),
        ];
        format!(
            "\n| {} |\n|{}\n| {} |\n",
            columns.join(" | "),
            " --- |".repeat(6),
            cells.join(" | ")
        )
    }
}
