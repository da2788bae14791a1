//! The break shot's advice: mirrored, repeatable, honest about its hits, and refused in words.

use super::measure::stun;
use super::meeting::spin_at_break_ball;
use super::next_shot::Ways;
use super::*;
use crate::advice::Level;
use crate::advice::window::Windows;
use crate::layout::{Ball, BallKind};
use crate::motion::{Physics, Placed};
use crate::table::{FootEnd, Rack, TablePoint, TableSize};
use std::time::Duration;

const TABLE: TableSize = TableSize::NINE_FOOT;

fn bed() -> Bed {
    Bed::new(&TABLE, &Physics::default()).unwrap()
}

fn ball(kind: BallKind, number: u8, x: f64, y: f64) -> Ball {
    Ball {
        kind,
        number: Some(number),
        x,
        y,
        sigma_mm: 0.5,
        confidence: 1.0,
        number_confidence: 1.0,
    }
}

fn two(cue: (f64, f64), free: (f64, f64)) -> Layout {
    let balls =
        vec![ball(BallKind::Cue, 0, cue.0, cue.1), ball(BallKind::Object, 7, free.0, free.1)];
    Layout::of(TABLE, FootEnd::Given, balls)
}

/// The same with the other fourteen racked, as they are read.
fn racked(cue: (f64, f64), free: (f64, f64)) -> Layout {
    let mut layout = two(cue, free);
    let numbers = (1..=15_u8).filter(|number| *number != 7);
    for (place, number) in Rack::on(&TABLE).continuing().iter().zip(numbers) {
        let off = f64::from(number % 3) * 0.001;
        let place = DiamondPoint::from_table(*place, &TABLE);
        layout.balls.push(ball(BallKind::Object, number, place.x + off, place.y));
    }
    layout
}

fn beside_the_rack() -> Layout {
    racked((4.9, 2.5), (6.25, 2.65))
}

fn advised(layout: &Layout, level: Level) -> BreakAdvice {
    advise(&bed(), &level.prior(), layout, 5, &Bound::default()).unwrap()
}

#[test]
fn every_choice_has_its_hits_and_a_reason_comes_with_the_best() {
    let advice = advised(&beside_the_rack(), Level::Club);
    assert!(advice.whole && advice.choices.len() >= 4, "{}", advice.choices.len());
    assert!(advice.choices.iter().all(|choice| choice.figures.hits >= LEAST_HITS));
    let worth = |choice: &BreakChoice| choice.figures.worth_balls.mean;
    assert!(advice.choices.windows(2).all(|pair| worth(&pair[0]) >= worth(&pair[1])));
    assert!(advice.why.contains("the cue ball meets ball"), "{}", advice.why);
    assert!(advice.why.contains("instead of"), "{}", advice.why);
    let best = advice.recommended().unwrap();
    let meeting = best.meeting.as_ref().unwrap();
    assert!(meeting.ball.is_some() && (2..=5).contains(&meeting.row));
    // The cue ball touches the ball it meets.
    let (at, ball_at) = (meeting.at.on_table(&TABLE), meeting.ball_at.on_table(&TABLE));
    assert!((at.distance_mm(ball_at) - TABLE.ball_diameter_mm).abs() < 0.1);
}

#[test]
fn a_deadline_that_is_over_still_leaves_two_choices_of_all_their_hits() {
    let over = Bound::within(Duration::ZERO);
    let advice = advise(&bed(), &Level::Club.prior(), &beside_the_rack(), 5, &over).unwrap();
    assert!(!advice.whole && advice.runner_up().is_some());
    assert!(advice.choices.iter().all(|choice| choice.figures.hits >= LEAST_HITS));
}

#[test]
fn the_same_seed_gives_the_same_advice() {
    let layout = beside_the_rack();
    let advice = advised(&layout, Level::Club);
    assert_eq!(advice, advised(&layout, Level::Club));
    let mut shuffled = layout;
    shuffled.balls.reverse();
    let again = advised(&shuffled, Level::Club);
    assert_eq!(advice.why, again.why);
}

#[test]
fn a_mirrored_layout_gets_the_mirrored_advice() {
    let layout = beside_the_rack();
    let mut mirrored = layout.clone();
    for ball in &mut mirrored.balls {
        ball.y = 4.0 - ball.y;
    }
    let (one, other) = (advised(&layout, Level::Club), advised(&mirrored, Level::Club));
    assert_eq!(one.choices.len(), other.choices.len());
    for (one, other) in one.choices.iter().zip(&other.choices) {
        assert_eq!((one.pocket, other.pocket), (2, 1));
        assert_eq!(one.figures, other.figures);
        assert!((one.hit.aim_rad + other.hit.aim_rad).abs() < 1e-9);
        assert!((one.hit.side + other.hit.side).abs() < 1e-12);
        let (one, other) = (one.meeting.as_ref().unwrap(), other.meeting.as_ref().unwrap());
        assert_eq!(one.ball, other.ball);
        assert!((one.at.y + other.at.y - 4.0).abs() < 1e-6);
    }
}

#[test]
fn a_better_player_has_the_higher_chance() {
    let layout = beside_the_rack();
    let best = Level::ALL.map(|level| advised(&layout, level).choices[0].figures);
    for pair in best.windows(2) {
        assert!(pair[0].pocketed.mean <= pair[1].pocketed.mean, "{best:?}");
        assert!(pair[0].worth_balls.mean < pair[1].worth_balls.mean, "{best:?}");
    }
    assert!(best[0].pocketed.mean < best[2].pocketed.mean);
}

fn refused(layout: &Layout) -> String {
    advise(&bed(), &Level::Club.prior(), layout, 1, &Bound::default()).unwrap_err().to_string()
}

#[test]
fn what_is_no_break_shot_is_refused_in_words() {
    let whole = beside_the_rack();
    let with = |change: &dyn Fn(&mut Layout)| {
        let mut layout = whole.clone();
        change(&mut layout);
        refused(&layout)
    };
    let rack = Rack::on(&TABLE);
    let apex = DiamondPoint::from_table(rack.places()[0], &TABLE);
    type Change<'a> = &'a dyn Fn(&mut Layout);
    let cases: [(Change<'_>, &str); 11] = [
        (&|l| l.balls.retain(|b| b.kind == BallKind::Object), "0 cue balls"),
        (&|l| (l.balls[1].x, l.balls[1].y) = (apex.x, apex.y), "ball 7 on the apex"),
        (&|l| l.balls[2].y += 0.12, "ball 1 "),
        (&|l| l.balls[2].x = 2.0, "ball 7 and ball 1 both lie outside"),
        (&|l| l.balls.truncate(9), "8 object balls"),
        (&|l| l.foot = FootEnd::Open, "foot is not known"),
        (&|l| l.balls[3].number = Some(7), "ball 7 lies on the table twice"),
        (&|l| l.balls[1].x = f64::NAN, "ball 7 lies at NaN"),
        (&|l| l.balls[1].x = 9.0, "ball 7 lies at"),
        (&|l| l.balls[0].x = l.balls[1].x + 0.02, "overlap"),
        (&|l| l.table = TableSize::EIGHT_FOOT, "a table of 8 ft"),
    ];
    for (change, words) in cases {
        let said = with(change);
        assert!(said.contains(words), "'{words}' is missing in: {said}");
    }
}

#[test]
fn balls_in_the_way_of_the_rack_go_where_the_rules_say() {
    let in_rack = (6.3, 2.05);
    let cases = [
        (in_rack, (6.5, 1.9), "ball 7 lies in the rack: by the rules all fifteen are racked"),
        ((1.0, 1.0), in_rack, "ball 7 lies in the rack: by the rules it goes to the head spot"),
        ((2.0, 2.0), in_rack, "ball 7 lies in the rack: by the rules it goes to the centre spot"),
        (in_rack, (1.0, 1.0), "the cue ball lies in the rack: by the rules it goes to the head"),
        (in_rack, (5.0, 1.0), "the cue ball lies in the rack: by the rules it is in hand"),
        (in_rack, (2.0, 2.0), "the cue ball lies in the rack: by the rules it goes to the centre"),
    ];
    for (cue, free, words) in cases {
        let said = refused(&two(cue, free));
        assert!(said.starts_with(words), "{said}");
    }
}

#[test]
fn an_intact_rack_has_no_loose_ball() {
    let rack = Rack::on(&TABLE);
    let ways = Ways::new(&TABLE, 0.002);
    assert_eq!(ways.loose(rack.continuing()), 0);
    let scattered = [TablePoint::new(700.0, 400.0), TablePoint::new(1500.0, 900.0)];
    assert_eq!(ways.loose(&scattered), 2);
}

#[test]
fn the_quick_windows_are_those_that_motion_has() {
    let (bed, ways) = (bed(), Ways::new(&TABLE, 0.002));
    let (mut ratios, mut taken, mut both) = (Vec::new(), 0, 0);
    for i in 0..12 {
        for j in 0..5 {
            let place = TablePoint::new(150.0 + 203.0 * f64::from(i), 130.0 + 251.0 * f64::from(j));
            for (pocket, played) in Windows::of(&bed).from(place).into_iter().enumerate() {
                let quick = ways.half_window_rad(place, pocket);
                taken += usize::from(played.is_some() || quick.is_some());
                let Some((quick, played)) = quick.zip(played) else { continue };
                both += 1;
                ratios.push(quick / (0.5 * played.width_rad()));
            }
        }
    }
    ratios.sort_by(f64::total_cmp);
    let (low, median, high) =
        (ratios[ratios.len() / 10], ratios[ratios.len() / 2], ratios[ratios.len() * 9 / 10]);
    assert!((0.9..1.1).contains(&median), "{low} {median} {high}");
    assert!(low > 0.7 && high < 1.4, "{low} {median} {high}");
    assert!(f64::from(both) > 0.9 * taken as f64, "{both} of {taken}");
}

#[test]
fn the_medium_stun_meets_the_break_ball_without_spin() {
    let (bed, table) = (bed(), TABLE);
    let balls = [(0, 1000.0), (1, 1700.0)];
    let placed = balls.map(|(id, x_mm)| Placed { id, place: TablePoint::new(x_mm, 600.0) });
    let hit = stun(bed.physics(), 700.0 - table.ball_diameter_mm).at(0.0);
    let shot = crate::motion::play(&bed, &placed, 0, &hit).unwrap();
    assert_eq!(spin_at_break_ball(&shot, table.ball_diameter_mm), Spin::Stun);
    let meets = shot.events.iter().find(|event| event.balls.len() == 2).unwrap();
    assert!(meets.balls[0].spin_before_rad_s[1].abs() < 0.5, "{:?}", meets.balls[0]);
}

#[test]
fn advice_beats_the_medium_stun() {
    let measured = against_stun(&bed(), &Level::Club.prior(), 12, 3, |_| {}).unwrap();
    let (loose, next) = (measured.gain_loose_balls, measured.gain_next_shot);
    assert_eq!(measured.layouts, 12);
    assert!(loose.mean > loose.plus_minus && next.mean > next.plus_minus, "{measured:?}");
}

#[test]
fn the_map_is_drawn_with_its_best_places() {
    let figures = advised(&beside_the_rack(), Level::Club).choices[0].figures;
    let place = |x: f64, y: f64, worth: f64| {
        let mut figures = figures;
        figures.worth_balls.mean = worth;
        BreakPlace {
            break_ball: DiamondPoint { x, y },
            cue_ball: DiamondPoint { x: x - 1.0, y },
            pocket: 1,
            hit: Hit::centre(0.0, 4.0),
            figures,
        }
    };
    let places = vec![place(5.0, 1.0, 2.0), place(6.1, 1.2, 6.0), place(6.2, 1.2, 5.0)];
    let map = BreakMap { table: TABLE, spacing: 0.3, places, whole: true };
    let svg = map.svg();
    // Three places, two of them apart enough to be numbered, and two in the legend.
    assert_eq!(svg.matches("class=\"spot\"").count(), 3 + 2 + 2);
    assert_eq!(svg.matches("class=\"cue-place\"").count(), 2 + 1);
    assert!(svg.contains("Break ball at 6.10, 1.20 with the cue ball at 5.10, 1.20"), "{svg}");
}
