//! A made-up player whose every rest is known: attempt after attempt of straight pool, as layouts,
//! for tests that need a true score and no pictures.

use jiff::Timestamp;
use stillcloth::{
    layout::{Ball, BallKind, Layout},
    table::{DiamondPoint, FootEnd, Rack, TableSize},
};

/// Runs of the player's attempts, over and over. The second and fourth go over a re-rack.
const RUNS: [u32; 5] = [3, 17, 1, 30, 8];

/// When the first rest was, in seconds since 1970; each further one comes ten seconds later.
const BEGAN_S: i64 = 1_900_000_000;
const PAUSE_S: i64 = 10;

/// One rest of the player's, counted from 0.
#[derive(Debug, Clone, PartialEq)]
pub struct Played {
    pub layout: Layout,
    /// Attempt (from 1) and run as they stand after it.
    pub attempt: u32,
    pub run: u32,
    /// The attempt ended with this rest.
    pub over: bool,
}

/// The time of a rest.
pub fn time_of(index: usize) -> Timestamp {
    Timestamp::from_second(BEGAN_S + PAUSE_S * i64::try_from(index).unwrap()).unwrap()
}

/// Which rest was at a time.
pub fn index_at(at: Timestamp) -> usize {
    usize::try_from((at.as_second() - BEGAN_S) / PAUSE_S).unwrap()
}

/// The player's rests, without end.
pub fn rests() -> impl Iterator<Item = Played> {
    of_runs(RUNS.into_iter().cycle())
}

/// The rests of attempts with these runs.
pub fn of_runs(runs: impl Iterator<Item = u32>) -> impl Iterator<Item = Played> {
    (1..).zip(runs).flat_map(|(attempt, run)| attempt_of(attempt, run))
}

fn attempt_of(attempt: u32, run: u32) -> Vec<Played> {
    let step = |layout, run, over| Played { layout, attempt, run, over };
    let mut cue = DiamondPoint { x: 1.0, y: 1.0 };
    let mut left: Vec<u8> = (1..=15).collect();
    let mut rests = vec![step(racked(&left, None, cue), 0, false)];
    for count in 1..=run {
        left.pop();
        cue = moved(cue);
        rests.push(step(spread(&left, cue), count, false));
        if left.len() == 1 && count < run {
            let last = left[0];
            left = (1..=15).filter(|number| *number != last).collect();
            rests.push(step(racked(&left, Some(last), cue), count, false));
            left.insert(0, last);
        }
    }
    // The miss moves a ball, and pockets none.
    let mut miss = spread(&left, moved(cue));
    miss.balls[1].x += 0.3;
    rests.push(step(miss, run, true));
    rests
}

/// Where the cue ball goes by the next shot: somewhere no other ball lies.
fn moved(cue: DiamondPoint) -> DiamondPoint {
    DiamondPoint { x: cue.x, y: if cue.y > 3.0 { 0.6 } else { cue.y + 0.7 } }
}

fn ball(number: u8, at: DiamondPoint) -> Ball {
    Ball {
        kind: if number == 0 { BallKind::Cue } else { BallKind::Object },
        number: Some(number),
        x: at.x,
        y: at.y,
        sigma_mm: 0.4,
        confidence: 0.99,
        number_confidence: 0.95,
    }
}

fn layout(balls: Vec<Ball>) -> Layout {
    Layout::of(TableSize::NINE_FOOT, FootEnd::Given, balls)
}

/// Where a ball lies once the rack is broken.
fn place_of(number: u8) -> DiamondPoint {
    let (column, row) = (f64::from(number % 5), f64::from(number / 5));
    DiamondPoint { x: 2.2 + 1.15 * column, y: 0.5 + 0.9 * row }
}

fn spread(left: &[u8], cue: DiamondPoint) -> Layout {
    let mut balls = vec![ball(0, cue)];
    balls.extend(left.iter().map(|number| ball(*number, place_of(*number))));
    layout(balls)
}

/// Fifteen in the rack, or fourteen and the last ball where it lay.
fn racked(numbers: &[u8], last: Option<u8>, cue: DiamondPoint) -> Layout {
    let table = TableSize::NINE_FOOT;
    let rack = Rack::on(&table);
    let places = if last.is_some() { rack.continuing() } else { rack.places() };
    let mut balls = vec![ball(0, cue)];
    balls.extend(last.map(|number| ball(number, place_of(number))));
    let diamond_mm = table.length_mm / 8.0;
    balls.extend(numbers.iter().zip(places).map(|(number, place)| {
        ball(*number, DiamondPoint { x: place.x_mm / diamond_mm, y: place.y_mm / diamond_mm })
    }));
    layout(balls)
}
