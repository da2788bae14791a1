//! Shots that are on: the aim found makes the ball, and chances are what the physics says.

use super::*;
use crate::advice::{Kind, ShotOn, outcome};
use crate::random::Random;

fn shots(level: Level, places: &[(f64, f64)]) -> Vec<ShotOn> {
    advisor(&bed(), level).shots(&balls(places))
}

fn direct(shots: &[ShotOn], ball: usize, pocket: usize) -> Option<&ShotOn> {
    shots.iter().find(|s| s.ball == ball && s.pocket == pocket && s.way == Kind::Direct)
}

/// Balls strewn over the bed.
fn strewn(count: usize, random: &mut Random) -> Vec<Placed> {
    let mut places: Vec<(f64, f64)> = Vec::new();
    while places.len() < count {
        let at = (random.between(60.0, 2480.0), random.between(60.0, 1210.0));
        if places.iter().all(|p| (p.0 - at.0).hypot(p.1 - at.1) > 60.0) {
            places.push(at);
        }
    }
    balls(&places)
}

#[test]
fn a_straight_hanger_is_near_certain() {
    let shots = shots(Level::Club, &[(2200.0, 930.0), (2440.0, 1170.0)]);
    let hanger = direct(&shots, 1, 2).unwrap();
    assert!(hanger.probability + hanger.scratch > 0.98, "{hanger:?}");
    assert!(hanger.cut_deg < 1.0 && hanger.clearance_mm.is_none());
}

#[test]
fn a_blocked_pot_is_not_offered() {
    let places = [(800.0, 400.0), (1400.0, 700.0), (1900.0, 960.0)];
    let open = shots(Level::Expert, &places[..2]);
    assert!(direct(&open, 1, 2).is_some());
    let blocked = shots(Level::Expert, &places);
    assert!(direct(&blocked, 1, 2).is_none(), "{blocked:?}");
}

#[test]
fn a_better_player_has_the_higher_chance() {
    let places = [(700.0, 400.0), (1800.0, 800.0), (600.0, 1000.0)];
    let chance = |level| direct(&shots(level, &places), 1, 2).unwrap().probability;
    let chances = Level::ALL.map(chance);
    assert!(chances[0] < chances[1] && chances[1] < chances[2], "{chances:?}");
}

#[test]
fn the_aim_found_pockets_the_ball() {
    let bed = bed();
    let mut random = Random::new(11);
    let (mut shown, mut made) = (0, 0);
    for _ in 0..40 {
        let balls = strewn(6, &mut random);
        let mut advisor = advisor(&bed, Level::Club);
        for shot in advisor.directs(&balls).into_iter().filter(|shot| shot.chance > 0.2) {
            let hit = advisor.natural_hit(&balls, &shot).unwrap();
            let (played, _) = outcome::play(&bed, &balls, &hit).unwrap();
            shown += 1;
            made += usize::from(played.has_dropped(shot.ball, shot.pocket));
        }
    }
    assert!(shown > 100 && made * 100 >= shown * 98, "{made} of {shown}");
}

#[test]
fn the_fast_chance_is_that_of_played_shots() {
    let bed = bed();
    let mut random = Random::new(12);
    let mut errors = Random::new(3);
    let (mut sum, mut square, mut count) = (0.0, 0.0, 0.0);
    for level in Level::ALL {
        for _ in 0..12 {
            let balls = strewn(5, &mut random);
            let mut advisor = advisor(&bed, level);
            for shot in advisor.directs(&balls).into_iter().filter(|shot| shot.chance > 0.1) {
                let hit = advisor.natural_hit(&balls, &shot).unwrap();
                let mut dropped = 0;
                for _ in 0..150 {
                    let hit = level.prior().played(&hit, &mut errors);
                    let (played, _) = outcome::play(&bed, &balls, &hit).unwrap();
                    dropped += u32::from(played.has_dropped(shot.ball, shot.pocket));
                }
                let off = shot.chance - f64::from(dropped) / 150.0;
                sum += off;
                square += off * off;
                count += 1.0;
            }
        }
    }
    let (mean, spread): (f64, f64) = (sum / count, (square / count).sqrt());
    assert!(count > 80.0 && mean.abs() < 0.03 && spread < 0.1, "{count} {mean} {spread}");
}

#[test]
fn a_mirrored_layout_has_mirrored_shots() {
    let bed = bed();
    let mut random = Random::new(13);
    let twin = [3, 2, 1, 0, 5, 4];
    for _ in 0..10 {
        let balls = strewn(6, &mut random);
        let mut advisor = advisor(&bed, Level::Club);
        let here = advisor.directs(&balls);
        let there = advisor.directs(&mirrored(&balls));
        assert_eq!(here.len(), there.len());
        for shot in here {
            let same = there.iter().find(|s| s.ball == shot.ball && s.pocket == twin[shot.pocket]);
            let same = same.unwrap();
            assert!((same.chance - shot.chance).abs() < 1e-6, "{shot:?} {same:?}");
            let hit = advisor.natural_hit(&balls, &shot).unwrap();
            let mirror = advisor.natural_hit(&mirrored(&balls), same).unwrap();
            assert!((hit.aim_rad + mirror.aim_rad).abs() < 1e-4, "{hit:?} {mirror:?}");
        }
    }
}

#[test]
fn a_dead_combination_is_found() {
    // Two frozen balls in line with the corner pocket, struck from the side.
    let corner = TablePoint::new(2540.0, 1270.0);
    let last = TablePoint::new(2200.0, 1000.0);
    let before = last.moved(corner.direction_to(last), 57.15);
    let places = [(1500.0, 700.0), (before.x_mm, before.y_mm), (last.x_mm, last.y_mm)];
    let shots = shots(Level::Club, &places);
    let dead = shots.iter().find(|s| s.way == Kind::Combination { first: 1 } && s.ball == 2);
    assert!(dead.is_some_and(|shot| shot.probability > 0.6), "{shots:#?}");
}

#[test]
fn a_bank_is_found_where_no_pot_is_open() {
    // The ball hides behind another from its only near pocket.
    let shots = shots(Level::Expert, &[(1700.0, 700.0), (1270.0, 300.0)]);
    assert!(shots.iter().any(|shot| matches!(shot.way, Kind::Bank { .. })), "{shots:#?}");
}
