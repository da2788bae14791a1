//! A made-up player: finds pots, hits them with errors, and tries until the wished thing happens.
//!
//! The session's course is directed: a wish says what the next shot shall bring, the player tries
//! hits in `motion` until one brings it, and the nearest to it is played. What counts is what then
//! happened. Not modelled: tactics; banks and combinations happen by luck only.

use super::rules::{Places, Verdict, verdict};
use crate::motion::{self, Bed, Hit, Outcome, Placed, Shot};
use crate::staged::random::Random;
use crate::table::{Rack, TablePoint};

/// What the next shot shall bring.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wish {
    Pot,
    /// Two balls at least.
    Two,
    /// One ball, and what is left lies where it or the cue ball is in the way of the rack.
    PotIntoRack,
    Miss,
    Scratch,
    ScratchWithPot,
}

/// A shot as it was played.
#[derive(Debug, Clone)]
pub struct Played {
    pub hit: Hit,
    pub shot: Shot,
    /// In the order in which they dropped.
    pub dropped: Vec<u8>,
    pub after: Places,
}

/// Hits tried at most for a wish.
const TRIES: usize = 70;

/// Plays a shot that brings what is wished, or the nearest to it; none without a cue ball.
pub fn shoot(bed: &Bed, places: &Places, wish: Wish, random: &mut Random) -> Option<Played> {
    let pots = pots(bed, places);
    let mut best: Option<(u32, Played)> = None;
    for _ in 0..TRIES {
        let hit = thought_up(bed, places, &pots, wish, random);
        let Some(played) = play(bed, places, hit) else { continue };
        let off = distance_from(bed, &played, wish);
        if best.as_ref().is_none_or(|(least, _)| off < *least) {
            best = Some((off, played));
        }
        if off == 0 {
            break;
        }
    }
    best.map(|(_, played)| played)
}

/// How far an outcome is from the wish: 0 for right.
fn distance_from(bed: &Bed, played: &Played, wish: Wish) -> u32 {
    let (objects, scratch) =
        (played.dropped.iter().filter(|n| **n != 0).count(), played.dropped.contains(&0));
    let of_pot = match verdict(&played.dropped) {
        Verdict::Pocketed(1) => 0,
        Verdict::Pocketed(_) => 1,
        Verdict::Miss => 5,
        Verdict::Scratch => 6,
    };
    match wish {
        Wish::Pot => of_pot,
        Wish::Two if objects >= 2 && !scratch => 0,
        Wish::Two => 1 + of_pot,
        Wish::PotIntoRack => {
            let rack = Rack::on(bed.table());
            let in_way = played.after.iter().any(|(_, place)| rack.holds_part_of(*place));
            of_pot + u32::from(!in_way)
        }
        Wish::Miss => u32::from(verdict(&played.dropped) != Verdict::Miss),
        Wish::Scratch => match (scratch, objects) {
            (true, 0) => 0,
            (true, _) => 1,
            (false, 0) => 2,
            (false, _) => 3,
        },
        Wish::ScratchWithPot => match (scratch, objects) {
            (true, 1..) => 0,
            (true, 0) => 1,
            (false, 0) => 2,
            (false, _) => 3,
        },
    }
}

fn play(bed: &Bed, places: &Places, hit: Hit) -> Option<Played> {
    let balls: Vec<Placed> =
        places.iter().map(|(n, place)| Placed { id: usize::from(*n), place: *place }).collect();
    let shot = motion::play(bed, &balls, 0, &hit).ok().filter(|shot| !shot.cut_short)?;
    let number = |ball: usize| u8::try_from(ball).unwrap_or(u8::MAX);
    let (mut dropped, mut after) = (Vec::new(), Vec::new());
    for rest in &shot.rest {
        match rest.outcome {
            Outcome::Lies(place) => after.push((number(rest.ball), place)),
            Outcome::Dropped { t_s, .. } => dropped.push((t_s, number(rest.ball))),
        }
    }
    dropped.sort_by(|a, b| a.0.total_cmp(&b.0));
    Some(Played { hit, shot, dropped: dropped.into_iter().map(|(_, n)| n).collect(), after })
}

/// A way to pocket a ball.
#[derive(Debug, Clone, Copy)]
struct Pot {
    aim_rad: f64,
    /// From the cue ball to where it meets the object ball, and on to the pocket.
    ways_mm: [f64; 2],
    cut_rad: f64,
}

impl Pot {
    /// The smaller, the easier.
    fn difficulty(&self) -> f64 {
        self.ways_mm[0] * self.ways_mm[1] / self.cut_rad.cos().max(0.1).powi(2)
    }
}

/// The open pots of a layout, the easiest first.
fn pots(bed: &Bed, places: &Places) -> Vec<Pot> {
    let table = bed.table();
    let diameter = table.ball_diameter_mm;
    let Some((_, cue)) = places.iter().find(|(number, _)| *number == 0) else { return Vec::new() };
    let mut pots = Vec::new();
    for (number, ball) in places.iter().filter(|(number, _)| *number != 0) {
        for pocket in table.pockets() {
            let middle = table.centre_spot();
            // Into the mouth, a little before the hole's middle.
            let goal = pocket.centre.moved(pocket.centre.direction_to(middle), 25.0);
            let to_pocket = ball.distance_mm(goal);
            let ghost = ball.moved(goal.direction_to(*ball), diameter);
            let to_ghost = cue.distance_mm(ghost);
            let aim = [ghost.x_mm - cue.x_mm, ghost.y_mm - cue.y_mm];
            let on = [goal.x_mm - ball.x_mm, goal.y_mm - ball.y_mm];
            let cos = (aim[0] * on[0] + aim[1] * on[1]) / (to_ghost * to_pocket).max(1.0);
            let others = |but: u8| places.iter().filter(move |(n, _)| *n != 0 && *n != but);
            let clear = others(*number).all(|(_, p)| {
                p.distance_to_way_mm(*ball, goal) > diameter
                    && p.distance_to_way_mm(*cue, ghost) > diameter
            });
            if clear && cos > 0.25 && to_ghost > 5.0 {
                let ways_mm = [to_ghost, to_pocket];
                pots.push(Pot { aim_rad: aim[1].atan2(aim[0]), ways_mm, cut_rad: cos.acos() });
            }
        }
    }
    pots.sort_by(|a, b| a.difficulty().total_cmp(&b.difficulty()));
    pots
}

/// A hit that may bring what is wished.
fn thought_up(bed: &Bed, places: &Places, pots: &[Pot], wish: Wish, random: &mut Random) -> Hit {
    let height = random.between(-0.75, 0.75);
    let side = if random.chance(0.5) { 0.0 } else { random.between(-0.5, 0.5) };
    let shape = |aim_rad, speed_m_s| Hit { aim_rad, speed_m_s, height, side, elevation_rad: 0.05 };
    let racked = racked(bed, places) > 8;
    // The easy ones mostly; any when nothing works.
    let choice = (random.unit().powi(2) * pots.len() as f64) as usize;
    let Some(pot) = pots.get(choice) else {
        let speed = if racked { random.between(4.0, 8.0) } else { random.between(1.0, 4.0) };
        return shape(at_a_ball(places, random), speed);
    };
    let way_m = (pot.ways_mm[0] + 1.4 * pot.ways_mm[1] / pot.cut_rad.cos().max(0.2)) / 1000.0;
    let least = (2.0 * 0.1 * way_m * 3.0).sqrt();
    let speed = match (racked, random.chance(0.12)) {
        (true, _) => random.between(3.5, 7.5),
        (false, true) => random.between(3.0, 5.5),
        (false, false) => least * random.between(0.95, 1.8) + 0.3,
    };
    let wide = if wish == Wish::Miss { random.pick([0.012, 0.03]) } else { 0.003 };
    shape(pot.aim_rad + wide * random.normal(), speed)
}

/// How many balls lie on the rack's places.
fn racked(bed: &Bed, places: &Places) -> usize {
    let rack = Rack::on(bed.table());
    places.iter().filter(|(n, p)| *n != 0 && rack.holds_part_of(*p)).count()
}

/// The direction to some part of some ball.
fn at_a_ball(places: &Places, random: &mut Random) -> f64 {
    let cue = places.iter().find(|(number, _)| *number == 0).map(|(_, place)| *place);
    let objects: Vec<TablePoint> =
        places.iter().filter(|(number, _)| *number != 0).map(|(_, place)| *place).collect();
    let (Some(cue), Some(ball)) = (cue, objects.get(random.below(objects.len()))) else {
        return random.between(0.0, std::f64::consts::TAU);
    };
    let (dx, dy) = (ball.x_mm - cue.x_mm, ball.y_mm - cue.y_mm);
    dy.atan2(dx) + random.between(-50.0, 50.0) / dx.hypot(dy).max(60.0)
}
