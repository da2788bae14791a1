//! Whether two readings show one layout.
//!
//! Input: two layouts of one camera. Output: yes or no. Method: each ball must have a partner where
//! it was, to the errors of reading; the errors of one camera at one place are much alike from
//! frame to frame, so a few millimetres are a move. Numbers say less than places, since balls do
//! not change places exactly by themselves: one number read otherwise is a misreading, two read
//! otherwise and surely are balls exchanged by hand. Knows nothing of pictures.

use super::super::read::BEYOND_DOUBT;
use crate::layout::{Ball, BallKind, Layout};
use crate::table::TablePoint;

/// A ball that is this far from where it was has moved, whatever the sigmas.
const MOVED_MM: f64 = 3.0;
const SURELY_MOVED_MM: f64 = 8.0;
/// Standard deviations of both readings together that pass for an error.
const ERRORS: f64 = 2.0;
/// A number read this surely is one.
const SURE: f64 = 0.9;
/// What is read as the cue ball so surely is it, wherever it lies.
const SURELY_CUE: f64 = 0.95;
/// Where a ball lies just where one lay, as nineteen of twenty do that have not moved, the cue ball has
/// come there by chance: it has to be surer.
const JUST_THERE_MM: f64 = 0.8;
const SURELY_CUE_THERE: f64 = 0.985;
/// So many balls do not all move by the same way but in a picture.
const LEAST_SHIFTED: usize = 3;
/// A hand covers, or passes for, no more balls.
const A_FEW: usize = 3;
/// So many numbers surely changed are an exchange.
const EXCHANGED: usize = 2;

/// Whether two readings of one still table agree: every ball in its place, and its number another
/// only where it is hard to read. (A number that is read now so and now so may never agree, however
/// long the balls lie.)
pub(super) fn agree(a: &Layout, b: &Layout) -> bool {
    partners(a, b, MOVED_MM).is_some_and(|pairs| pairs.iter().all(|(a, b)| alike(a, b)))
}

/// Whether two readings of one still table have the same places, whatever lies there.
pub(super) fn same_places(a: &Layout, b: &Layout) -> bool {
    partners(a, b, MOVED_MM).is_some()
}

/// Halves the sureness of each name in a layout that another reading of it contradicts: of the two one
/// is wrong.
pub(super) fn doubt(layout: &mut Layout, other: &Layout) {
    let agreed = partners(layout, other, MOVED_MM)
        .map(|pairs| pairs.iter().map(|(a, b)| alike(a, b)).collect::<Vec<_>>());
    for (ball, agreed) in layout.balls.iter_mut().zip(agreed.unwrap_or_default()) {
        if !agreed {
            ball.number_confidence /= 2.0;
        }
    }
}

/// Whether two readings of a ball give it one name, or hardly any.
fn alike(a: &Ball, b: &Ball) -> bool {
    let sure = a.number_confidence >= SURE && b.number_confidence >= SURE;
    a.kind == b.kind && (a.number == b.number || !sure)
}

/// Whether a layout is still the one that was announced.
pub(super) fn same(announced: &Layout, now: &Layout, camera_moved: bool) -> bool {
    let least_mm = if camera_moved { SURELY_MOVED_MM } else { MOVED_MM };
    partners(announced, now, least_mm).is_some_and(|pairs| {
        let sure = |ball: &Ball| ball.number_confidence >= SURE;
        let exchanged =
            pairs.iter().filter(|(a, b)| a.number != b.number && sure(a) && sure(b)).count();
        exchanged < EXCHANGED
    })
}

/// Tells the cue ball by where balls lay at the last rest: a ball that has not moved is the one that
/// lay there. Where the cue ball is gone, another white one is easily taken for it.
pub(super) fn know_again(last: &Layout, now: &mut Layout) {
    let last_cue = last.balls.iter().find(|ball| ball.kind == BallKind::Cue);
    let sure = |ball: &&Ball| ball.number_confidence >= SURE;
    for index in 0..now.balls.len() {
        let ball = &now.balls[index];
        let Some(was) = unmoved(last, now.centre_of(ball)) else { continue };
        let just_there = last.centre_of(was).distance_mm(now.centre_of(ball)) < JUST_THERE_MM;
        let surely = if just_there { SURELY_CUE_THERE } else { SURELY_CUE };
        let doubtful = ball.kind == BallKind::Cue && ball.number_confidence < surely;
        let elsewhere = last_cue.filter(sure).is_some();
        let surer = was.number_confidence > ball.number_confidence;
        if doubtful && was.kind == BallKind::Object && (elsewhere || surer) {
            let taken = |number| now.balls.iter().any(|other| other.number == Some(number));
            let number = was.number.filter(|number| !taken(*number));
            let number_confidence = number.map_or(0.0, |_| was.number_confidence);
            let ball = &mut now.balls[index];
            (ball.kind, ball.number, ball.number_confidence) =
                (BallKind::Object, number, number_confidence);
        }
    }
    if now.balls.iter().any(|ball| ball.kind == BallKind::Cue) {
        return;
    }
    let Some(cue) = last_cue.filter(sure) else { return };
    let place = last.centre_of(cue);
    let there = |ball: &Ball| now.centre_of(ball).distance_mm(place) < MOVED_MM;
    if let Some(index) = now.balls.iter().position(|ball| there(ball) && !sure(&ball)) {
        let ball = &mut now.balls[index];
        (ball.kind, ball.number, ball.number_confidence) =
            (BallKind::Cue, Some(0), cue.number_confidence);
    }
}

/// What differs from the layout that was announced where no ball moved: no stroke does that, but a hand
/// or a reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Unmoved {
    /// Balls more, each of them not surely one.
    More(Vec<usize>),
    /// Balls fewer.
    Fewer,
}

pub(super) fn but_for_a_few(announced: &Layout, now: &Layout) -> Option<Unmoved> {
    let lay = |ball: &Ball| unmoved(announced, now.centre_of(ball)).is_some();
    let balls = now.balls.iter().enumerate();
    let more: Vec<usize> = balls.filter(|(_, ball)| !lay(ball)).map(|(at, _)| at).collect();
    let (were, are, new) = (announced.balls.len(), now.balls.len(), more.len());
    if new > 0 {
        let unsure = more.iter().all(|at| now.balls[*at].confidence < BEYOND_DOUBT);
        return (unsure && new <= A_FEW && are == were + new).then_some(Unmoved::More(more));
    }
    (1..=A_FEW).contains(&were.saturating_sub(are)).then_some(Unmoved::Fewer)
}

/// The ball that lay at a place.
fn unmoved(last: &Layout, at: TablePoint) -> Option<&Ball> {
    last.balls.iter().find(|was| last.centre_of(was).distance_mm(at) < MOVED_MM)
}

/// Whether all balls lie beside where they were announced, by the same way: then the camera moved.
pub(super) fn shifted(announced: &Layout, now: &Layout) -> bool {
    if announced.balls.len() != now.balls.len() || now.balls.len() < LEAST_SHIFTED {
        return false;
    }
    let ways: Vec<[f64; 2]> = announced
        .balls
        .iter()
        .filter_map(|ball| {
            let was = announced.centre_of(ball);
            let nearest = now
                .balls
                .iter()
                .map(|ball| now.centre_of(ball))
                .min_by(|a, b| a.distance_mm(was).total_cmp(&b.distance_mm(was)))?;
            Some([nearest.x_mm - was.x_mm, nearest.y_mm - was.y_mm])
        })
        .collect();
    let middle = |axis: usize| {
        let mut along: Vec<f64> = ways.iter().map(|way| way[axis]).collect();
        along.sort_by(f64::total_cmp);
        along.get(along.len() / 2).copied().unwrap_or_default()
    };
    let [x, y] = [0, 1].map(middle);
    let alike = ways.iter().filter(|way| (way[0] - x).hypot(way[1] - y) < SURELY_MOVED_MM).count();
    x.hypot(y) > MOVED_MM && alike * 10 >= ways.len() * 9
}

/// Each ball of one layout with the ball of the other in its place; none where one has none.
fn partners<'a>(a: &'a Layout, b: &'a Layout, least_mm: f64) -> Option<Vec<(&'a Ball, &'a Ball)>> {
    if a.balls.len() != b.balls.len() {
        return None;
    }
    let mut free: Vec<&Ball> = b.balls.iter().collect();
    a.balls
        .iter()
        .map(|ball| {
            let (at, off_mm) = free
                .iter()
                .map(|other| a.centre_of(ball).distance_mm(b.centre_of(other)))
                .enumerate()
                .min_by(|x, y| x.1.total_cmp(&y.1))?;
            let errors_mm = ERRORS * ball.sigma_mm.hypot(free[at].sigma_mm);
            (off_mm < errors_mm.clamp(least_mm, SURELY_MOVED_MM))
                .then(|| (ball, free.swap_remove(at)))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::{DiamondPoint, FootEnd, TableSize};

    fn layout(places_mm: &[(f64, f64)]) -> Layout {
        let table = TableSize::NINE_FOOT;
        let ball = |(x_mm, y_mm): &(f64, f64)| {
            let place = DiamondPoint::from_table(TablePoint::new(*x_mm, *y_mm), &table);
            Ball {
                kind: BallKind::Object,
                number: None,
                x: place.x,
                y: place.y,
                sigma_mm: 1.0,
                confidence: 1.0,
                number_confidence: 0.0,
            }
        };
        let balls = places_mm.iter().map(ball).collect();
        Layout::of(table, FootEnd::Given, balls)
    }

    #[test]
    fn a_number_that_is_hard_to_read_may_come_out_otherwise_and_a_sure_one_may_not() {
        let read = |number: u8, number_confidence: f64, kind: BallKind| {
            let mut read = layout(&[(300.0, 400.0), (900.0, 250.0)]);
            let ball = &mut read.balls[1];
            (ball.number, ball.number_confidence, ball.kind) =
                (Some(number), number_confidence, kind);
            read
        };
        let unsure = read(14, 0.4, BallKind::Object);
        assert!(agree(&unsure, &read(15, 0.95, BallKind::Object)));
        assert!(!agree(&read(14, 0.95, BallKind::Object), &read(15, 0.95, BallKind::Object)));
        assert!(!agree(&unsure, &read(0, 0.7, BallKind::Cue)), "the cue ball is another matter");
        assert!(!agree(&unsure, &layout(&[(300.0, 400.0), (900.0, 262.0)])), "a ball has moved");
    }

    #[test]
    fn a_name_that_is_contradicted_is_doubted_and_no_other() {
        let read = |cue: u8, number_confidence: f64| {
            let mut read = layout(&[(300.0, 400.0), (900.0, 250.0)]);
            for (ball, number) in read.balls.iter_mut().zip([4, cue]) {
                ball.kind = if number == 0 { BallKind::Cue } else { BallKind::Object };
                (ball.number, ball.number_confidence) = (Some(number), number_confidence);
            }
            read
        };
        let (white, other) = (read(0, 0.95), read(12, 0.92));
        assert!(same_places(&white, &other) && !agree(&white, &other));
        let mut doubted = white.clone();
        doubt(&mut doubted, &other);
        let sure: Vec<f64> = doubted.balls.iter().map(|ball| ball.number_confidence).collect();
        assert_eq!(sure, [0.95, 0.475]);
        doubt(&mut doubted, &layout(&[(300.0, 400.0)]));
        assert_eq!(doubted.balls[0].number_confidence, 0.95, "another layout contradicts nothing");
    }

    #[test]
    fn a_ball_that_has_not_moved_is_the_one_that_lay_there() {
        let read = |balls: &[((f64, f64), u8, f64)]| {
            let mut read = layout(&balls.iter().map(|(place, ..)| *place).collect::<Vec<_>>());
            for (ball, (_, number, number_confidence)) in read.balls.iter_mut().zip(balls) {
                ball.kind = if *number == 0 { BallKind::Cue } else { BallKind::Object };
                (ball.number, ball.number_confidence) = (Some(*number), *number_confidence);
            }
            read
        };
        let known = |last: &Layout, mut now: Layout| {
            know_again(last, &mut now);
            now.balls.iter().map(|ball| (ball.kind, ball.number)).collect::<Vec<_>>()
        };
        let (here, there, away) = ((300.0, 400.0), (900.0, 250.0), (1500.0, 1000.0));
        let last = read(&[(here, 0, 0.98), (there, 10, 0.74)]);
        // The cue ball is gone, and the ten is taken for it.
        let ten = (BallKind::Object, Some(10));
        assert_eq!(known(&last, read(&[(there, 0, 0.87)])), [ten]);
        assert_eq!(known(&last, read(&[(there, 0, 0.97)])), [ten], "it lies just where it lay");
        // A cue ball that came to lie near there is surely read as one; one that lies elsewhere too.
        let (cue, near) = ((BallKind::Cue, Some(0)), (901.0, 251.0));
        assert_eq!(known(&last, read(&[(near, 0, 0.97)])), [cue]);
        assert_eq!(known(&last, read(&[(there, 0, 0.99)])), [cue]);
        assert_eq!(known(&last, read(&[(away, 0, 0.7), (there, 10, 0.7)])), [cue, ten]);
        // The cue ball has not moved, and is taken for another.
        assert_eq!(known(&last, read(&[(here, 9, 0.5)])), [cue]);
        let nine = (BallKind::Object, Some(9));
        assert_eq!(known(&last, read(&[(here, 9, 0.95)])), [nine]);
    }

    #[test]
    fn a_ball_more_or_fewer_among_those_that_lay_there_is_doubted_unless_it_is_surely_one() {
        let (lay, more) = ([(300.0, 400.0), (900.0, 250.0)], [(60.0, 1223.0), (90.0, 1160.0)]);
        let last = layout(&lay);
        let with = |confidence: f64, lay: [(f64, f64); 2]| {
            let mut now = layout(&[lay[0], lay[1], more[0], more[1]]);
            now.balls[2].confidence = confidence;
            now.balls[3].confidence = 0.98;
            but_for_a_few(&last, &now)
        };
        assert_eq!(with(0.993, lay), Some(Unmoved::More(vec![2, 3])));
        assert_eq!(with(0.999, lay), None);
        let moved = [(340.0, 400.0), lay[1]];
        assert_eq!(with(0.993, moved), None, "a shot brought them there");
        assert_eq!(but_for_a_few(&last, &last), None);
        assert_eq!(but_for_a_few(&last, &layout(&lay[..1])), Some(Unmoved::Fewer));
        assert_eq!(but_for_a_few(&last, &layout(&moved[..1])), None, "a shot left one there");
    }

    #[test]
    fn a_common_way_is_the_cameras_and_a_balls_own_way_is_not() {
        let lie = [(300.0, 400.0), (900.0, 250.0), (1500.0, 1000.0), (2100.0, 635.0)];
        let by = |x: f64, y: f64| lie.map(|place| (place.0 + x, place.1 + y));
        assert!(shifted(&layout(&lie), &layout(&by(20.0, -3.0))));
        assert!(!shifted(&layout(&lie), &layout(&by(1.0, 1.0))), "the errors of reading");
        let mut moved = lie;
        moved[2].0 += 40.0;
        assert!(!shifted(&layout(&lie), &layout(&moved)));
        assert!(!shifted(&layout(&lie[..2]), &layout(&by(20.0, 0.0)[..2])), "too few to tell");
    }
}
