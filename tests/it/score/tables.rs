//! Layouts for single sentences: a table racked, broken, closed, and what a hand or a shot changes; and
//! what the score makes of them.

use stillcloth::{
    layout::{Ball, BallKind, Layout},
    score::{Cause, RestSeen, Story, follow},
    table::{DiamondPoint, FootEnd, Rack, TablePoint, TableSize},
};

const TABLE: TableSize = TableSize::NINE_FOOT;

/// Where the balls lie, in millimetres.
#[derive(Debug, Clone)]
pub struct Lying {
    pub cue: Option<TablePoint>,
    pub objects: Vec<(u8, TablePoint)>,
}

/// These layouts as rests, half a minute apart, each read a little differently.
pub fn rests(tables: &[Lying]) -> Vec<RestSeen> {
    let rest = |(at, lying): (usize, &Lying)| {
        let off_mm = if at % 2 == 0 { 0.0 } else { 1.5 };
        let ball = |kind, number, place: TablePoint| {
            let read = TablePoint::new(place.x_mm + off_mm, place.y_mm - off_mm);
            let DiamondPoint { x, y } = DiamondPoint::from_table(read, &TABLE);
            let (confidence, number_confidence) = (0.99, 0.99);
            let number = Some(number);
            Ball { kind, number, x, y, sigma_mm: 1.0, confidence, number_confidence }
        };
        let mut balls: Vec<Ball> =
            lying.objects.iter().map(|(n, p)| ball(BallKind::Object, *n, *p)).collect();
        balls.extend(lying.cue.map(|place| ball(BallKind::Cue, 0, place)));
        let id = at as i64 + 1;
        let layout = Layout::of(TABLE, FootEnd::Given, balls);
        RestSeen { id, at_unix_ms: 30_000 * id, unseen_ms: 0, layout }
    };
    tables.iter().enumerate().map(rest).collect()
}

/// What the score tells of these layouts.
pub fn story(table: &[Lying]) -> Story {
    follow(&rests(table), &[])
}

/// Each attempt's run, and what ended it.
pub fn runs(story: &Story) -> Vec<(u32, Option<Cause>)> {
    story.attempts.iter().map(|a| (a.run, a.over.map(|over| over.cause))).collect()
}

/// The rests that questions are open about.
pub fn asked(story: &Story) -> Vec<i64> {
    story.questions.iter().map(|question| question.rest).collect()
}

fn racked(loose: Option<TablePoint>) -> Vec<(u8, TablePoint)> {
    let rack = Rack::on(&TABLE);
    let places: Vec<TablePoint> = match loose {
        Some(at) => rack.continuing().iter().copied().chain([at]).collect(),
        None => rack.places().to_vec(),
    };
    (1..=15).zip(places).collect()
}

/// Fourteen racked, one loose, the cue ball beside.
pub fn opening() -> Lying {
    let loose = TablePoint::new(1980.0, 360.0);
    Lying { cue: Some(TablePoint::new(1610.0, 650.0)), objects: racked(Some(loose)) }
}

/// All fifteen racked.
pub fn fifteen() -> Lying {
    Lying { cue: Some(TablePoint::new(600.0, 640.0)), objects: racked(None) }
}

/// So many balls all over the table.
pub fn broken(balls: u8) -> Lying {
    let place = |n: u8| {
        let (row, column) = (f64::from(n % 5), f64::from(n / 5));
        TablePoint::new(250.0 + 430.0 * row + 37.0 * column, 200.0 + 330.0 * column + 23.0 * row)
    };
    let objects = (0..balls).map(|n| (n + 1, place(n))).collect();
    Lying { cue: Some(TablePoint::new(1100.0, 130.0)), objects }
}

/// So many balls fewer, and the cue ball somewhere else.
pub fn without(mut lying: Lying, balls: usize) -> Lying {
    lying.objects.truncate(lying.objects.len() - balls);
    lying.cue = lying.cue.map(|cue| TablePoint::new(cue.x_mm + 317.0, cue.y_mm + 41.0));
    lying
}

pub fn with_cue(lying: Lying, x_mm: f64, y_mm: f64) -> Lying {
    Lying { cue: Some(TablePoint::new(x_mm, y_mm)), ..lying }
}

pub fn no_cue(lying: Lying) -> Lying {
    Lying { cue: None, ..lying }
}

/// The cue ball and one other moved.
pub fn moved(mut lying: Lying) -> Lying {
    lying.objects[0].1 = TablePoint::new(140.0, 1130.0);
    with_cue(lying, 330.0, 1180.0)
}

/// One ball and the cue ball, out of the rack's way.
pub fn closing() -> Lying {
    let last = TablePoint::new(1400.0, 300.0);
    Lying { cue: Some(TablePoint::new(1000.0, 900.0)), objects: vec![(15, last)] }
}

/// Racked again behind [`closing`].
pub fn re_racked() -> Lying {
    Lying { cue: closing().cue, objects: racked(Some(closing().objects[0].1)) }
}
