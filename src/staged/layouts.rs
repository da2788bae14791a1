//! Where the balls of a made-up layout lie.
//!
//! All places are such that a real ball could rest there: clear of each other, of the cushions
//! and of the holes.

use super::build::Build;
use super::random::Random;
use crate::table::{Rack, TablePoint, TableSize};

/// The kinds of layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LayoutKind {
    /// Many balls anywhere.
    Scatter,
    /// A handful.
    Few,
    /// Groups of touching balls.
    Cluster,
    /// Balls frozen to the cushions and in the jaws.
    Rail,
    /// Fifteen in the triangle and the cue ball.
    Full,
    /// Fourteen in the triangle, apex empty, break ball and cue ball.
    Break,
}

impl LayoutKind {
    pub const ALL: [Self; 6] =
        [Self::Scatter, Self::Few, Self::Cluster, Self::Rail, Self::Full, Self::Break];

    pub const fn name(self) -> &'static str {
        match self {
            Self::Scatter => "scatter",
            Self::Few => "few",
            Self::Cluster => "cluster",
            Self::Rail => "rail",
            Self::Full => "full",
            Self::Break => "break",
        }
    }
}

/// Numbers and places of a random layout of a kind.
pub fn random_places(
    random: &mut Random,
    kind: LayoutKind,
    table: &TableSize,
    build: &Build,
) -> Vec<(u8, TablePoint)> {
    let mut field = Field { table, build, taken: Vec::new(), turned: random.chance(0.5) };
    match kind {
        LayoutKind::Scatter => {
            let count = 6 + random.below(11);
            field.scatter(random, count);
        }
        LayoutKind::Few => {
            let count = 1 + random.below(5);
            field.scatter(random, count);
        }
        LayoutKind::Cluster => field.clusters(random),
        LayoutKind::Rail => field.rails_and_jaws(random),
        LayoutKind::Full => {
            field.rack(random, 0);
            field.scatter(random, 1);
        }
        LayoutKind::Break => {
            field.rack(random, 1);
            field.scatter(random, 2);
        }
    }
    number(random, field.taken)
}

/// Hands out numbers: one ball is the cue ball, the last one placed as often as not.
fn number(random: &mut Random, mut places: Vec<TablePoint>) -> Vec<(u8, TablePoint)> {
    places.truncate(16);
    let mut numbers: Vec<u8> = (1..16).collect();
    random.shuffle(&mut numbers);
    places.reverse();
    let mut balls: Vec<(u8, TablePoint)> = std::iter::once(0).chain(numbers).zip(places).collect();
    balls.sort_by_key(|(number, _)| *number);
    balls
}

struct Field<'a> {
    table: &'a TableSize,
    build: &'a Build,
    taken: Vec<TablePoint>,
    /// The rack stands at the other end of the table frame's x.
    turned: bool,
}

/// Balls that touch are this far apart beyond their diameter: dust, and no rounding troubles.
const FROZEN_GAP_MM: f64 = 0.02;

impl Field<'_> {
    fn diameter_mm(&self) -> f64 {
        self.table.ball_diameter_mm
    }

    /// Distance of a ball's centre from a nose it touches: the nose is above the centre.
    fn nose_reach_mm(&self) -> f64 {
        let radius = self.table.ball_radius_mm();
        let above = self.table.nose_height_mm() - radius;
        (radius * radius - above * above).sqrt() + FROZEN_GAP_MM
    }

    fn free(&self, place: TablePoint) -> bool {
        let reach = self.nose_reach_mm();
        let depth = self.build.cushion_depth_mm;
        let clear_of_balls = self
            .taken
            .iter()
            .all(|other| other.distance_mm(place) >= self.diameter_mm() + 0.9 * FROZEN_GAP_MM);
        let within = |v: f64, size: f64| v > -20.0 && v < size + 20.0;
        clear_of_balls
            && within(place.x_mm, self.table.length_mm)
            && within(place.y_mm, self.table.width_mm)
            && !self.build.over_hole(place, 2.0)
            && self
                .build
                .cushions(self.table)
                .iter()
                .all(|run| run.distance_mm(place, depth) >= reach - 0.1 * FROZEN_GAP_MM)
    }

    fn add(&mut self, place: TablePoint) -> bool {
        let free = self.free(place);
        if free {
            self.taken.push(place);
        }
        free
    }

    fn anywhere(&self, random: &mut Random) -> TablePoint {
        let reach = self.nose_reach_mm();
        TablePoint::new(
            random.between(reach, self.table.length_mm - reach),
            random.between(reach, self.table.width_mm - reach),
        )
    }

    fn scatter(&mut self, random: &mut Random, count: usize) {
        let wanted = self.taken.len() + count;
        for _ in 0..400 {
            if self.taken.len() >= wanted {
                return;
            }
            let place = self.anywhere(random);
            self.add(place);
        }
    }

    /// The rack's places without its first `skipped`.
    fn rack(&mut self, random: &mut Random, skipped: usize) {
        let slack = if random.chance(0.5) { 0.02 } else { 0.4 };
        for place in Rack::on(self.table).places().iter().skip(skipped) {
            let mut place = *place;
            place.x_mm += random.between(-slack, slack) * 0.2;
            // Loose racks stand a little apart.
            let foot = self.table.foot_spot();
            let loose = 1.0 + slack / 100.0;
            place = TablePoint::new(
                foot.x_mm + (place.x_mm - foot.x_mm) * loose,
                foot.y_mm + (place.y_mm - foot.y_mm) * loose,
            );
            let place = if self.turned { place.turned(self.table) } else { place };
            self.taken.push(place);
        }
    }

    fn clusters(&mut self, random: &mut Random) {
        let pitch = self.diameter_mm() + FROZEN_GAP_MM;
        for _ in 0..2 + random.below(4) {
            let first = self.anywhere(random);
            if !self.add(first) {
                continue;
            }
            let mut group = vec![first];
            let wanted = 2 + random.below(4);
            for _ in 0..40 {
                if group.len() >= wanted {
                    break;
                }
                let from = group[random.below(group.len())];
                let turn = random.between(0.0, std::f64::consts::TAU);
                let gap = if random.chance(0.25) { random.between(0.0, 4.0) } else { 0.0 };
                let place = TablePoint::new(
                    from.x_mm + (pitch + gap) * turn.cos(),
                    from.y_mm + (pitch + gap) * turn.sin(),
                );
                if self.add(place) {
                    group.push(place);
                }
            }
        }
        let singles = 1 + random.below(3);
        self.scatter(random, singles);
    }

    fn rails_and_jaws(&mut self, random: &mut Random) {
        let reach = self.nose_reach_mm();
        let (l, w) = (self.table.length_mm, self.table.width_mm);
        for _ in 0..3 + random.below(7) {
            let off = reach + if random.chance(0.25) { random.between(0.0, 3.0) } else { 0.0 };
            let place = match random.below(4) {
                0 => TablePoint::new(off, random.between(reach, w - reach)),
                1 => TablePoint::new(l - off, random.between(reach, w - reach)),
                2 => TablePoint::new(random.between(reach, l - reach), off),
                _ => TablePoint::new(random.between(reach, l - reach), w - off),
            };
            self.add(place);
        }
        for _ in 0..random.below(3) {
            let pocket = self.build.pockets[random.below(6)];
            for _ in 0..300 {
                let away = pocket.radius_mm + random.between(2.0, 30.0);
                let turn = random.between(0.0, std::f64::consts::TAU);
                let place = TablePoint::new(
                    pocket.centre.x_mm + away * turn.cos(),
                    pocket.centre.y_mm + away * turn.sin(),
                );
                if self.add(place) {
                    break;
                }
            }
        }
        let others = 1 + random.below(4);
        self.scatter(random, others);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_layout_could_lie_on_a_table() {
        for seed in 0..60_u64 {
            let mut random = Random::new(seed);
            let table = random.pick(TableSize::PRESETS);
            let build = Build::random(&mut random, &table);
            let kind = random.pick(LayoutKind::ALL);
            let balls = random_places(&mut random, kind, &table, &build);
            assert!(balls.first().is_some_and(|(number, _)| *number == 0), "no cue ball: {kind:?}");
            for (k, (number, place)) in balls.iter().enumerate() {
                assert!(!build.over_hole(*place, 0.0), "{seed}: {number} would drop");
                for (other, elsewhere) in &balls[..k] {
                    let gap = place.distance_mm(*elsewhere) - table.ball_diameter_mm;
                    assert!(gap > -0.05 && number != other, "{seed} {kind:?}: {gap}");
                }
                for run in build.cushions(&table) {
                    assert!(run.distance_mm(*place, build.cushion_depth_mm) > 27.0);
                }
            }
        }
    }

    #[test]
    fn full_and_break_hold_what_they_say() {
        let (table, mut random) = (TableSize::NINE_FOOT, Random::new(9));
        let build = Build::random(&mut random, &table);
        let rack = Rack::on(&table);
        for (kind, racked) in [(LayoutKind::Full, 15), (LayoutKind::Break, 14)] {
            let balls = random_places(&mut random, kind, &table, &build);
            let at_home = |p: TablePoint| rack.places().iter().any(|q| q.distance_mm(p) < 2.0);
            let count =
                balls.iter().filter(|(_, p)| at_home(*p) || at_home(p.turned(&table))).count();
            assert_eq!((count, balls.len()), (racked, 16));
        }
    }
}
