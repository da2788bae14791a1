//! The fitted aim error against players whose error is known.

use super::*;
use crate::advice::{fit_aim, outcome};
use crate::motion::Hit;
use crate::random::Random;

const REPEATS: usize = 40;
const SHOTS: usize = 500;

/// The same shots are tried in every repeat: places, the hit that is meant, ball and pocket.
fn meant(advisor: &mut Advisor, random: &mut Random) -> Vec<(Vec<Placed>, Hit, (usize, usize))> {
    let mut shots = Vec::new();
    while shots.len() < SHOTS {
        let mut at = || (random.between(60.0, 2480.0), random.between(60.0, 1210.0));
        let (cue, ball) = (at(), at());
        if (cue.0 - ball.0).hypot(cue.1 - ball.1) < 150.0 {
            continue;
        }
        let balls = balls(&[cue, ball]);
        let directs = advisor.directs(&balls);
        let likeliest = directs.iter().max_by(|a, b| a.chance.total_cmp(&b.chance));
        let Some(shot) = likeliest else { continue };
        let hit = advisor.natural_hit(&balls, shot).unwrap();
        shots.push((balls, hit, (shot.ball, shot.pocket)));
    }
    shots
}

#[test]
fn the_aim_error_is_fitted_within_15_percent_from_500_shots() {
    let bed = bed();
    let mut random = Random::new(21);
    let (mut near, mut covered, mut all) = (0, 0, 0);
    for (truth, prior) in [(Level::Beginner, Level::Club), (Level::Club, Level::Beginner)] {
        let player = truth.prior();
        // The other errors are known.
        let prior = Player { aim_rad: prior.prior().aim_rad, ..player };
        let mut advisor = Advisor::new(&bed, player, 1).unwrap();
        let shots = meant(&mut advisor, &mut random);
        for _ in 0..REPEATS / 2 {
            let mut tried = Vec::new();
            for (balls, hit, (ball, pocket)) in &shots {
                let hit = player.played(hit, &mut random);
                let (played, _) = outcome::play(&bed, balls, &hit).unwrap();
                let made = played.has_dropped(*ball, *pocket);
                tried.extend(advisor.tried(balls, *ball, *pocket, made));
            }
            let fitted = fit_aim(&prior, &tried);
            near += usize::from((fitted.aim_rad / player.aim_rad - 1.0).abs() < 0.15);
            covered += usize::from((fitted.low_rad..=fitted.high_rad).contains(&player.aim_rad));
            all += 1;
        }
    }
    assert!(near * 100 >= all * 95, "within 15 %: {near} of {all}");
    assert!(covered * 100 >= all * 85, "in the interval: {covered} of {all}");
}

#[test]
fn without_shots_the_fit_is_the_prior() {
    let prior = Level::Club.prior();
    let fitted = fit_aim(&prior, &[]);
    assert!((fitted.aim_rad / prior.aim_rad - 1.0).abs() < 0.01);
    assert!(fitted.low_rad < 0.3 * prior.aim_rad && fitted.high_rad > 3.0 * prior.aim_rad);
}
