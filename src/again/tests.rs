//! Set-ups and shots, made up at random, whose truth is known.

use super::*;
use crate::{
    layout::{Ball, BallKind, Layout},
    random::Random,
    table::{DiamondPoint, FootEnd, TableSize},
};
use proptest::prelude::*;

const TABLE: TableSize = TableSize::NINE_FOOT;

fn ball(number: Option<u8>, at: DiamondPoint) -> Ball {
    Ball {
        kind: if number == Some(0) { BallKind::Cue } else { BallKind::Object },
        number,
        x: at.x,
        y: at.y,
        sigma_mm: 0.5,
        confidence: 0.99,
        number_confidence: if number.is_some() { 0.95 } else { 0.0 },
    }
}

fn layout(balls: Vec<Ball>) -> Layout {
    Layout::of(TABLE, FootEnd::Given, balls)
}

fn turned(layout: &Layout) -> Layout {
    let turn = |ball: &Ball| Ball { x: 8.0 - ball.x, y: 4.0 - ball.y, ..ball.clone() };
    let balls = layout.balls.iter().map(turn).collect();
    Layout { foot: FootEnd::Open, balls, ..layout.clone() }
}

/// Places that lie at least 0.35 diamonds apart, two balls' diameters.
fn places() -> impl Strategy<Value = Vec<DiamondPoint>> {
    let cells: Vec<(u8, u8)> = (0..15).flat_map(|x| (0..7).map(move |y| (x, y))).collect();
    let jitter = proptest::collection::vec((0.0..0.15_f64, 0.0..0.15_f64), cells.len());
    (Just(cells).prop_shuffle(), jitter).prop_map(|(cells, jitter)| {
        let place = |((x, y), (dx, dy)): ((u8, u8), (f64, f64))| DiamondPoint {
            x: 0.3 + 0.5 * f64::from(x) + dx,
            y: 0.3 + 0.5 * f64::from(y) + dy,
        };
        cells.into_iter().zip(jitter).map(place).collect()
    })
}

/// A layout with the cue ball and so many others, and further places that are free.
fn some_layout() -> impl Strategy<Value = (Layout, Vec<DiamondPoint>)> {
    (1..=15_usize, places()).prop_map(|(count, mut places)| {
        let free = places.split_off(count + 1);
        let number = |at: usize| u8::try_from(at).ok();
        let balls = places.into_iter().enumerate().map(|(at, place)| ball(number(at), place));
        (layout(balls.collect()), free)
    })
}

fn without_numbers(layout: &Layout) -> Layout {
    let unread = |ball: &Ball| match ball.kind {
        BallKind::Cue => ball.clone(),
        BallKind::Object => Ball { number: None, number_confidence: 0.0, ..ball.clone() },
    };
    Layout { balls: layout.balls.iter().map(unread).collect(), ..layout.clone() }
}

/// What lies there once everything was done that the guide asks for.
fn followed(guide: &Guide) -> Layout {
    let there = |wanted: &Wanted| {
        let number = match (wanted.kind, wanted.partner) {
            (BallKind::Object, Some(Partner { another: Some(another), .. })) => Some(another),
            _ => wanted.number,
        };
        let from = wanted.partner.map_or(wanted.at, |partner| partner.at);
        let [dx, dy] = wanted.partner.map_or([0.0; 2], |partner| partner.by_mm);
        let at = crate::table::TablePoint::new(from.x_mm + dx, from.y_mm + dy);
        ball(number, DiamondPoint::from_table(at, &guide.table))
    };
    layout(guide.wanted.iter().map(there).collect())
}

proptest! {
    #[test]
    fn whoever_does_what_the_guide_asks_for_has_set_the_layout_up(
        (wanted, _) in some_layout(),
        (seen, _) in some_layout(),
    ) {
        for seen in [&seen, &without_numbers(&seen)] {
            let guide = Guide::of(&wanted, seen);
            let partners = guide.wanted.iter().filter(|ball| ball.partner.is_some()).count();
            prop_assert_eq!(partners, wanted.balls.len().min(seen.balls.len()));
            prop_assert_eq!(partners + guide.extra.len(), seen.balls.len());
            let then = Guide::of(&wanted, &followed(&guide));
            prop_assert!(then.is_done(), "{then:?}");
        }
    }

    #[test]
    fn a_ball_whose_number_is_known_stands_for_its_own(
        (wanted, free) in some_layout(),
        order in any::<u64>(),
    ) {
        // All of its balls are on the table, elsewhere and in another order.
        let mut seen = wanted.clone();
        for (ball, place) in seen.balls.iter_mut().zip(&free) {
            (ball.x, ball.y) = (place.x, place.y);
        }
        Random::new(order).shuffle(&mut seen.balls);
        let guide = Guide::of(&wanted, &seen);
        for (ball, wish) in wanted.balls.iter().zip(&guide.wanted) {
            let own = seen.balls.iter().find(|seen| seen.number == ball.number).unwrap();
            let partner = wish.partner.unwrap();
            prop_assert!(partner.at.distance_mm(seen.centre_of(own)) < 1e-6);
            prop_assert_eq!(partner.another, None);
        }
        // The order in which balls are seen does not matter, nor does a turn that nothing tells.
        let mut reversed = seen.clone();
        reversed.balls.reverse();
        prop_assert_eq!(&Guide::of(&wanted, &reversed), &guide);
    }

    #[test]
    fn balls_are_told_to_go_where_they_came_from(
        (wanted, _) in some_layout(),
        pushes in proptest::collection::vec((-60.0..60.0_f64, -60.0..60.0_f64), 16),
        numbered in any::<bool>(),
        turn in any::<bool>(),
    ) {
        let mut seen = wanted.clone();
        for (ball, (along, across)) in seen.balls.iter_mut().zip(&pushes) {
            // Less than half of the way to any other's place, so that nothing is in doubt.
            ball.x += along * 8.0 / TABLE.length_mm;
            ball.y += across * 4.0 / TABLE.width_mm;
        }
        let seen = if numbered { seen } else { without_numbers(&seen) };
        let guide = Guide::of(&wanted, &if turn { turned(&seen) } else { seen });
        // A symmetric layout lies as well the other way round.
        prop_assume!(guide.turned == turn);
        let sum: f64 = pushes.iter().take(wanted.balls.len()).map(|(x, y)| x.hypot(*y)).sum();
        let asked: f64 = guide.wanted.iter().map(|b| b.partner.unwrap().distance_mm()).sum();
        prop_assert!(asked <= sum + 1e-6, "no longer a way than back: {asked} {sum}");
    }

    #[test]
    fn every_shot_is_counted_and_nothing_else(
        (wanted, free) in some_layout(),
        steps in proptest::collection::vec((0..7_usize, any::<prop::sample::Index>()), 1..30),
        read in any::<bool>(),
    ) {
        let numbers = |layout: &Layout| if read { layout.clone() } else { without_numbers(layout) };
        let mut practice = Practice::new(wanted.clone(), Vec::new());
        let mut truth = Tally::default();
        let mut rest = 0;
        let mut take = |practice: &mut Practice, seen: &Layout| {
            rest += 1;
            practice.take(rest, &numbers(seen));
        };
        for (kind, at) in steps {
            take(&mut practice, &wanted);
            prop_assert!(practice.is_ready());
            let mut after = wanted.clone();
            let away = |ball: &mut Ball, place: &DiamondPoint| (ball.x, ball.y) = (place.x, place.y);
            let object = 1 + at.index(wanted.balls.len() - 1);
            let [cue_to, object_to] = [free[0], free[1]];
            match kind {
                0 => {
                    away(&mut after.balls[0], &cue_to);
                    after.balls.remove(object);
                    truth.made += 1;
                }
                1 => {
                    away(&mut after.balls[0], &cue_to);
                    away(&mut after.balls[object], &object_to);
                    truth.missed += 1;
                }
                2 => {
                    after.balls.remove(object);
                    after.balls.remove(0);
                    truth.scratched += 1;
                }
                // By hand: the cue ball alone, an object ball alone, one taken, one added.
                3 => away(&mut after.balls[0], &cue_to),
                4 => away(&mut after.balls[object], &object_to),
                5 => drop(after.balls.remove(object)),
                _ => {
                    away(&mut after.balls[0], &cue_to);
                    after.balls.push(ball(None, object_to));
                }
            }
            take(&mut practice, &after);
            prop_assert_eq!(practice.tally(), truth);
            prop_assert!(!practice.is_ready());
        }
        prop_assert_eq!(practice.scatter().places.len(), truth.made);
    }
}

#[test]
fn a_shot_that_is_left_out_does_not_count() {
    let wanted = layout(vec![
        ball(Some(0), DiamondPoint { x: 2.0, y: 1.0 }),
        ball(Some(3), DiamondPoint { x: 5.0, y: 2.0 }),
    ]);
    let missed = layout(vec![
        ball(Some(0), DiamondPoint { x: 3.0, y: 2.0 }),
        ball(Some(3), DiamondPoint { x: 6.0, y: 3.0 }),
    ]);
    let mut practice = Practice::new(wanted.clone(), vec![2]);
    for (rest, seen) in (1..).zip([&wanted, &missed, &wanted, &missed]) {
        practice.take(rest, seen);
    }
    assert_eq!(practice.shots().iter().map(|shot| shot.counts).collect::<Vec<_>>(), [false, true]);
    assert_eq!(practice.tally(), Tally { missed: 1, ..Tally::default() });
}

#[test]
fn what_lies_hidden_is_not_judged() {
    let wanted = layout(vec![
        ball(Some(0), DiamondPoint { x: 2.0, y: 1.0 }),
        ball(Some(3), DiamondPoint { x: 5.0, y: 2.0 }),
    ]);
    let mut hidden = wanted.clone();
    hidden.balls.remove(0);
    hidden.obstructed = true;
    let mut practice = Practice::new(wanted.clone(), Vec::new());
    practice.take(1, &wanted);
    practice.take(2, &hidden);
    assert!(practice.is_ready() && practice.shots().is_empty());
}

#[test]
fn another_ball_in_its_place_is_in_place_and_told() {
    let place = DiamondPoint { x: 5.0, y: 2.0 };
    let guide = Guide::of(&layout(vec![ball(Some(3), place)]), &layout(vec![ball(Some(9), place)]));
    assert!(guide.is_done());
    assert_eq!(guide.wanted[0].partner.unwrap().another, Some(9));
    let nothing = layout(Vec::new());
    assert!(!Guide::of(&nothing, &nothing).is_done(), "nothing is not set up");
}

#[test]
fn the_chance_told_is_as_wide_as_the_shots_are_few() {
    assert_eq!(Tally::default().chance(), None);
    let width = |made, missed| {
        let (low, high) = Tally { made, missed, scratched: 0 }.chance().unwrap();
        assert!((0.0..=1.0).contains(&low) && (0.0..=1.0).contains(&high) && low < high);
        high - low
    };
    assert!(width(1, 0) > 0.7 && width(6, 4) > width(60, 40) && width(600, 400) < 0.07);
    // From Wilson's formula by hand: 5 of 10.
    let (low, high) = Tally { made: 5, missed: 5, scratched: 0 }.chance().unwrap();
    assert!((low - 0.2366).abs() < 1e-3 && (high - 0.7634).abs() < 1e-3, "{low} {high}");
}

#[test]
fn nine_in_ten_further_places_lie_inside_the_ellipse() {
    let mut random = Random::new(11);
    for places in [LEAST_PLACES, 8, 30] {
        let (mut inside, trials) = (0, 4000);
        for _ in 0..trials {
            // Long and narrow, and aslant.
            let mut place = || {
                let (along, across) = (90.0 * random.normal(), 25.0 * random.normal());
                crate::table::TablePoint::new(700.0, 500.0)
                    .moved(0.6, along)
                    .moved(0.6 + std::f64::consts::FRAC_PI_2, across)
            };
            let ellipse = Scatter::of((0..places).map(|_| place()).collect()).ellipse.unwrap();
            let next = place();
            let (dx, dy) = (next.x_mm - ellipse.middle.x_mm, next.y_mm - ellipse.middle.y_mm);
            let (sin, cos) = ellipse.turned_rad.sin_cos();
            let along = (dx * cos + dy * sin) / ellipse.half_mm[0];
            let across = (dy * cos - dx * sin) / ellipse.half_mm[1];
            inside += usize::from(along.hypot(across) <= 1.0);
        }
        let part = inside as f64 / f64::from(trials);
        // Three standard deviations of the count.
        assert!((part - INSIDE).abs() < 0.0145, "{places} places: {part}");
    }
    assert_eq!(Scatter::of(Vec::new()).ellipse, None);
}
