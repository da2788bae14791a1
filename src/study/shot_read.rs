//! What two rests tell of the shot between them: at which ball and pocket it was played, how thin the
//! cut was, how far both ways were.
//!
//! Input: the layouts before and after. Output: the likeliest ball and pocket with their measures, and
//! whether another ball may have been meant. Method: the ball meant is the one that went; after a miss
//! one of those that moved; with the rack standing the one beside it. The pocket is the one with the
//! widest aim that both ways leave open: its opening as seen from the ball over the way to it, times
//! what the meeting leaves of that at the cue ball. Not knowable from balls at rest: the pocket itself,
//! side spin, height and speed of the hit; a ball played off a cushion or by another ball is told as
//! played straight, or not at all where no straight way was open.

use crate::{
    layout::Layout,
    score::Changed,
    table::{PocketKind, Rack, TablePoint, TableSize},
};

/// Thinner cuts are not played straight, in degrees.
const THINNEST_DEG: f64 = 80.0;
/// A side pocket takes no ball that comes along its rail: at least so much of the opening is seen.
const LEAST_SEEN: f64 = 0.35;
/// How much of a diameter may be missing from an open way: readings are off by some millimetres.
const OPEN_PER_DIAMETER: f64 = 0.96;
/// The cue ball lies at a rail if no more than this part of its diameter is between them.
const AT_RAIL_PER_DIAMETER: f64 = 0.35;
/// Object balls in the triangle from which on the rack stands.
const STANDING: usize = 10;

/// The likeliest straight pot that was tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aim {
    /// As the table numbers its pockets.
    pub pocket: usize,
    /// Between the cue ball's way and the object ball's; above 0 where the ball is cut to the left.
    pub cut_deg: f64,
    /// The cue ball's way to the meeting, and the ball's to its pocket.
    pub to_ball_mm: f64,
    pub to_pocket_mm: f64,
    /// Whether no other ball can have been meant.
    pub sure: bool,
}

/// A shot as read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShotRead {
    /// None where no straight way to a pocket was open for a ball that it moved.
    pub aim: Option<Aim>,
    /// The cue ball lay at a rail.
    pub at_rail: bool,
    /// From where the cue ball lay to where it came to lie; none where it is gone.
    pub cue_way_mm: Option<f64>,
}

impl ShotRead {
    /// None where the cue ball did not move: no shot lies between.
    pub fn between(before: &Layout, after: &Layout) -> Option<Self> {
        let changed = Changed::between(before, after);
        let [Some(cue), cue_after] = changed.cue else { return None };
        if !changed.cue_moved {
            return None;
        }
        let table = &before.table;
        let near = |at: f64, most: f64| at.min(most - at);
        let to_rail = near(cue.x_mm, table.length_mm).min(near(cue.y_mm, table.width_mm));
        Some(Self {
            aim: aim(table, cue, &changed).map(|(_, aim)| aim),
            at_rail: to_rail < (0.5 + AT_RAIL_PER_DIAMETER) * table.ball_diameter_mm,
            cue_way_mm: cue_after.map(|after| cue.distance_mm(after)),
        })
    }
}

/// Where the likeliest ball lay that a shot was played at, and how it was aimed; none as in [`ShotRead`].
pub fn ball_meant(before: &Layout, after: &Layout) -> Option<(TablePoint, Aim)> {
    let changed = Changed::between(before, after);
    aim(&before.table, changed.cue[0]?, &changed)
}

fn aim(table: &TableSize, cue: TablePoint, changed: &Changed) -> Option<(TablePoint, Aim)> {
    let lay: Vec<TablePoint> =
        changed.still.iter().copied().chain(changed.left.iter().map(|(at, _)| *at)).collect();
    let (meant, sure) = meant(table, changed, &lay);
    let pots = meant.iter().flat_map(|ball| {
        let others: Vec<TablePoint> = lay.iter().copied().filter(|other| other != ball).collect();
        let pot = move |pocket| Some((*ball, pot(table, cue, *ball, pocket, &others)?));
        (0..table.pockets().len()).filter_map(pot)
    });
    let (ball, (_, aim)) = pots.max_by(|a, b| a.1.0.total_cmp(&b.1.0))?;
    Some((ball, Aim { sure, ..aim }))
}

/// The balls that can have been meant, and whether it is one alone.
fn meant(table: &TableSize, changed: &Changed, lay: &[TablePoint]) -> (Vec<TablePoint>, bool) {
    let rack = Rack::on(table);
    let beside: Vec<TablePoint> =
        lay.iter().copied().filter(|ball| !rack.holds_part_of(*ball)).collect();
    if lay.len() >= STANDING + beside.len() {
        let one = beside.len() == 1;
        return (beside, one);
    }
    let gone = |number: &Option<u8>| number.is_some_and(|n| changed.numbers_gone.contains(&n));
    let went: Vec<TablePoint> =
        changed.left.iter().filter(|(_, number)| gone(number)).map(|(at, _)| *at).collect();
    let meant =
        if went.is_empty() { changed.left.iter().map(|(at, _)| *at).collect() } else { went };
    let one = meant.len() == 1;
    (meant, one)
}

/// A straight pot and how wide its aim is, in radians; none where a way is closed.
fn pot(
    table: &TableSize,
    cue: TablePoint,
    ball: TablePoint,
    pocket: usize,
    others: &[TablePoint],
) -> Option<(f64, Aim)> {
    let mouth = table.pockets()[pocket];
    let diameter_mm = table.ball_diameter_mm;
    let direction = ball.direction_to(mouth.centre);
    let meeting = ball.moved(direction, -diameter_mm);
    let cut_rad = turn(cue.direction_to(meeting), direction);
    if cut_rad.abs().to_degrees() > THINNEST_DEG {
        return None;
    }
    let seen = match mouth.kind {
        PocketKind::Side => direction.sin().abs(),
        PocketKind::Corner => 1.0,
    };
    let free = |from: TablePoint, to: TablePoint| {
        others
            .iter()
            .all(|other| other.distance_to_way_mm(from, to) > OPEN_PER_DIAMETER * diameter_mm)
    };
    // Behind the pocket's rim nothing is in the way.
    let to_rim = ball.distance_mm(mouth.centre) - mouth.radius_mm;
    let rim = ball.moved(direction, to_rim.max(0.0));
    if seen < LEAST_SEEN || !free(cue, meeting) || !free(ball, rim) {
        return None;
    }
    let (to_ball_mm, to_pocket_mm) = (cue.distance_mm(meeting), ball.distance_mm(mouth.centre));
    let opening = (seen * mouth.radius_mm).atan2(to_pocket_mm);
    let aim_rad = opening * diameter_mm * cut_rad.cos() / to_ball_mm.max(diameter_mm);
    let cut_deg = cut_rad.to_degrees();
    Some((aim_rad, Aim { pocket, cut_deg, to_ball_mm, to_pocket_mm, sure: false }))
}

/// The turn from one direction to another, in −π..π.
fn turn(from_rad: f64, to_rad: f64) -> f64 {
    use std::f64::consts::{PI, TAU};
    (to_rad - from_rad + PI).rem_euclid(TAU) - PI
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        layout::{Ball, BallKind},
        table::FootEnd,
    };

    fn layout(balls: &[(u8, f64, f64)]) -> Layout {
        let ball = |&(number, x_mm, y_mm): &(u8, f64, f64)| Ball {
            kind: if number == 0 { BallKind::Cue } else { BallKind::Object },
            number: Some(number),
            x: x_mm / 317.5,
            y: y_mm / 317.5,
            sigma_mm: 0.5,
            confidence: 0.99,
            number_confidence: 0.95,
        };
        let balls = balls.iter().map(ball).collect();
        Layout::of(TableSize::NINE_FOOT, FootEnd::Given, balls)
    }

    /// A ball 400 mm straight before the upper foot pocket, the cue ball 600 mm behind it.
    fn straight_in() -> [(u8, f64, f64); 2] {
        let pocket = TableSize::NINE_FOOT.pockets()[2].centre;
        let back = std::f64::consts::FRAC_PI_4 + std::f64::consts::PI;
        let (ball, cue) = (pocket.moved(back, 400.0), pocket.moved(back, 1000.0 + 57.15));
        [(0, cue.x_mm, cue.y_mm), (9, ball.x_mm, ball.y_mm)]
    }

    #[test]
    fn a_made_ball_tells_its_cut_and_both_ways() {
        let [cue, ball] = straight_in();
        let before = layout(&[cue, ball, (3, 300.0, 1000.0)]);
        let after = layout(&[(0, 2000.0, 700.0), (3, 300.0, 1000.0)]);
        let read = ShotRead::between(&before, &after).unwrap();
        let aim = read.aim.unwrap();
        assert_eq!((aim.pocket, aim.sure, read.at_rail), (2, true, false));
        assert!(aim.cut_deg.abs() < 0.1 && (aim.to_ball_mm - 600.0).abs() < 0.1, "{aim:?}");
        assert!((aim.to_pocket_mm - 400.0).abs() < 0.1);
    }

    #[test]
    fn a_cut_to_the_left_is_above_nothing_and_mirrored_below() {
        let cut = |side: f64| {
            let before =
                layout(&[(0, 1400.0, 635.0 - side * 60.0), (9, 2000.0, 635.0 + side * 250.0)]);
            let after = layout(&[(0, 1600.0, 635.0)]);
            ShotRead::between(&before, &after).unwrap().aim.unwrap()
        };
        let (left, right) = (cut(1.0), cut(-1.0));
        assert!(left.cut_deg > 5.0, "{left:?}");
        assert!((left.cut_deg + right.cut_deg).abs() < 1e-9);
        assert_eq!((left.pocket, right.pocket), (2, 1));
    }

    #[test]
    fn after_a_miss_the_ball_that_moved_was_meant() {
        let [cue, ball] = straight_in();
        let other = (3, 300.0, 1000.0);
        let before = layout(&[cue, ball, other]);
        let after = layout(&[(0, 2000.0, 700.0), (9, 2300.0, 600.0), other]);
        let read = ShotRead::between(&before, &after).unwrap();
        assert!(read.aim.is_some_and(|aim| aim.sure && aim.pocket == 2));
        // Two that moved: the easier one, and not for sure.
        let after = layout(&[(0, 2000.0, 700.0), (9, 2300.0, 600.0), (3, 400.0, 900.0)]);
        let read = ShotRead::between(&before, &after).unwrap();
        assert!(read.aim.is_some_and(|aim| !aim.sure && aim.pocket == 2));
        // Nothing but the cue ball moved: nobody knows what was meant.
        let after = layout(&[(0, 2000.0, 700.0), ball, other]);
        assert_eq!(ShotRead::between(&before, &after).unwrap().aim, None);
    }

    #[test]
    fn with_the_rack_standing_the_ball_beside_it_was_meant() {
        let rack = Rack::on(&TableSize::NINE_FOOT);
        let racked = rack.continuing().iter().zip(1..).map(|(at, n)| (n, at.x_mm, at.y_mm));
        let mut balls: Vec<(u8, f64, f64)> = racked.collect();
        balls.extend([(15, 1950.0, 900.0), (0, 1500.0, 700.0)]);
        let before = layout(&balls);
        for ball in &mut balls[8..14] {
            ball.1 -= 300.0;
        }
        // Missed: the break ball and some of the rack lie elsewhere.
        balls[14].1 = 2300.0;
        balls[15].1 = 1700.0;
        let read = ShotRead::between(&before, &layout(&balls)).unwrap();
        assert!(read.aim.is_some_and(|aim| aim.sure), "{read:?}");
    }

    #[test]
    fn a_closed_way_is_no_aim_and_a_resting_cue_ball_no_shot() {
        let [cue, ball] = straight_in();
        let pocket = TableSize::NINE_FOOT.pockets()[2].centre;
        let between = pocket.moved(std::f64::consts::FRAC_PI_4 + std::f64::consts::PI, 200.0);
        let closes = (5, between.x_mm, between.y_mm);
        let before = layout(&[cue, ball, closes]);
        let after = layout(&[(0, 900.0, 300.0), closes]);
        let read = ShotRead::between(&before, &after).unwrap();
        assert!(read.aim.is_none_or(|aim| aim.pocket != 2), "{read:?}");
        assert_eq!(ShotRead::between(&before, &layout(&[cue, closes])), None);
        assert_eq!(ShotRead::between(&layout(&[ball]), &after), None);
        // Gone from the table is moved too.
        let scratch = ShotRead::between(&before, &layout(&[ball, closes])).unwrap();
        assert_eq!(scratch.cue_way_mm, None);
    }

    #[test]
    fn a_cue_ball_on_the_rail_is_said() {
        let at = |y_mm| {
            let before = layout(&[(0, 900.0, y_mm), (9, 2000.0, 900.0)]);
            ShotRead::between(&before, &layout(&[(0, 1200.0, 300.0)])).unwrap().at_rail
        };
        assert!(at(29.0) && !at(80.0));
    }
}
