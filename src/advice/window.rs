//! Into which directions a ball must run to drop into a pocket.
//!
//! Input: a ball's place, a pocket. Output: an interval of directions (radians in the table frame,
//! not wrapped), or none. Method: the ball is rolled alone over the bed, at a pace that leaves it
//! [`PACE_M_S`] at the pocket, over a fan of directions across the mouth; the edges of the longest
//! run of directions that drop are found by halving. So jaws and rails take part as `motion` has
//! them. What lies in the way is cut away by [`Window::without`]. Not modelled: that a harder pace
//! narrows a mouth, the spin that a hit leaves on the ball. Degenerates: a ball that no direction
//! pockets, such as one far down a rail from a side pocket, has none.

use crate::motion::{self, Bed, Hit, Outcome, Placed};
use crate::table::TablePoint;
use std::collections::HashMap;
use std::f64::consts::TAU;

/// Speed of the rolled ball at the pocket, m/s: an ordinary pot.
pub(super) const PACE_M_S: f64 = 0.8;
/// Directions on each side of the middle of the fan.
const FAN: i32 = 6;
const HALVINGS: usize = 6;
/// Widest half of a fan, in radians: a ball in the jaws.
const MOST_HALF_RAD: f64 = 1.3;
/// Windows kept at most; after that the memory starts anew.
const MOST_KEPT: usize = 4000;

/// An interval of directions, in radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Window {
    pub low_rad: f64,
    pub high_rad: f64,
}

impl Window {
    pub fn middle_rad(&self) -> f64 {
        0.5 * (self.low_rad + self.high_rad)
    }

    pub fn width_rad(&self) -> f64 {
        self.high_rad - self.low_rad
    }

    /// The larger part that is left without the directions within `half_rad` of `around_rad`.
    pub fn without(self, around_rad: f64, half_rad: f64) -> Option<Self> {
        let around = self.middle_rad() + turn(self.middle_rad(), around_rad);
        let below = (around - half_rad).min(self.high_rad) - self.low_rad;
        let above = self.high_rad - (around + half_rad).max(self.low_rad);
        if below.max(above) <= 0.0 {
            return None;
        }
        Some(if below >= above {
            Self { high_rad: self.low_rad + below, ..self }
        } else {
            Self { low_rad: self.high_rad - above, ..self }
        })
    }
}

/// The turn from one direction to another, in −π..π.
pub(super) fn turn(from_rad: f64, to_rad: f64) -> f64 {
    let turn = (to_rad - from_rad).rem_euclid(TAU);
    if turn > TAU / 2.0 { turn - TAU } else { turn }
}

/// Cells in which a neighbour's window is taken over, in mm: at a rail and elsewhere.
const CELLS_MM: (f64, f64) = (10.0, 40.0);
/// How near to a rail the small cells begin, in mm.
const AT_RAIL_MM: f64 = 80.0;

/// The windows of all pockets from places on one bed, found once and kept.
pub(super) struct Windows<'a> {
    bed: &'a Bed,
    kept: HashMap<[u64; 2], [Option<Window>; 6]>,
}

impl<'a> Windows<'a> {
    pub fn of(bed: &'a Bed) -> Self {
        Self { bed, kept: HashMap::new() }
    }

    /// From a place, alone on the table, by the window of its cell: the same points of the mouth.
    pub fn about(&mut self, place: TablePoint) -> [Option<Window>; 6] {
        let middle = cell(self.bed, place);
        let mouths = self.bed.table().pockets();
        let mut windows = self.from(middle);
        for (window, mouth) in windows.iter_mut().zip(mouths) {
            let Some(window) = window else { continue };
            let way_mm = middle.distance_mm(mouth.centre);
            let seen = |direction: f64| {
                direction + turn(direction, place.direction_to(middle.moved(direction, way_mm)))
            };
            *window = Window { low_rad: seen(window.low_rad), high_rad: seen(window.high_rad) };
        }
        windows
    }

    /// From a place, alone on the table.
    pub fn from(&mut self, place: TablePoint) -> [Option<Window>; 6] {
        let key = [place.x_mm.to_bits(), place.y_mm.to_bits()];
        if let Some(windows) = self.kept.get(&key) {
            return *windows;
        }
        if self.kept.len() >= MOST_KEPT {
            self.kept.clear();
        }
        let windows = std::array::from_fn(|pocket| window(self.bed, place, pocket));
        self.kept.insert(key, windows);
        windows
    }
}

/// A ball that leaves a place rolling, at a speed that leaves it `pace_m_s` after `way_mm`.
pub(super) fn rolled(bed: &Bed, direction_rad: f64, way_mm: f64, pace_m_s: f64) -> Hit {
    let physics = bed.physics();
    let slows_m_s2 = physics.rolling_resistance * physics.gravity_m_s2;
    Hit {
        // Two fifths of the radius above the middle set a ball rolling.
        height: (0.4 / physics.tip_reach_per_radius).min(1.0),
        ..Hit::centre(direction_rad, (pace_m_s.powi(2) + 2.0 * slows_m_s2 * way_mm / 1000.0).sqrt())
    }
}

/// The middle of the cell in which a place lies. Cells are laid from the table's middle, so that a
/// mirrored place has the mirrored cell.
fn cell(bed: &Bed, place: TablePoint) -> TablePoint {
    let table = bed.table();
    let to_rail = |value: f64, most: f64| value.min(most - value);
    let near = to_rail(place.x_mm, table.length_mm).min(to_rail(place.y_mm, table.width_mm));
    let cell_mm = if near < AT_RAIL_MM { CELLS_MM.0 } else { CELLS_MM.1 };
    let middle = |value: f64, most: f64| {
        let cells = ((value - 0.5 * most) / cell_mm).floor() + 0.5;
        let radius = table.ball_radius_mm();
        (0.5 * most + cells * cell_mm).clamp(radius, most - radius)
    };
    TablePoint::new(middle(place.x_mm, table.length_mm), middle(place.y_mm, table.width_mm))
}

fn window(bed: &Bed, place: TablePoint, pocket: usize) -> Option<Window> {
    let mouth = bed.table().pockets()[pocket];
    let way_mm = place.distance_mm(mouth.centre);
    let middle = place.direction_to(mouth.centre);
    let half_rad = (1.2 * mouth.radius_mm).atan2(way_mm).min(MOST_HALF_RAD);
    let ball = [Placed { id: 1, place }];
    let drops = |direction_rad: f64| {
        let hit = rolled(bed, direction_rad, way_mm, PACE_M_S);
        let shot = motion::play(bed, &ball, 1, &hit).ok();
        shot.is_some_and(
            |shot| matches!(shot.rest[0].outcome, Outcome::Dropped { pocket: it, .. } if it == pocket),
        )
    };
    let step = half_rad / f64::from(FAN);
    let fan: Vec<bool> = (-FAN..=FAN).map(|k| drops(middle + step * f64::from(k))).collect();
    let (first, last) = longest_run(&fan)?;
    let at = |k: usize| middle + step * (k as f64 - f64::from(FAN));
    let low_rad = if first == 0 { at(0) } else { edge(at(first), at(first - 1), drops) };
    let high_rad =
        if last + 1 == fan.len() { at(last) } else { edge(at(last), at(last + 1), drops) };
    Some(Window { low_rad, high_rad })
}

/// First and last of the longest run of true.
pub(super) fn longest_run(fan: &[bool]) -> Option<(usize, usize)> {
    let mut best: Option<(usize, usize)> = None;
    let mut first = 0;
    for (k, drops) in fan.iter().enumerate() {
        if !drops {
            first = k + 1;
        } else if best.is_none_or(|(from, to)| k - first > to - from) {
            best = Some((first, k));
        }
    }
    best
}

/// The edge between a direction that does it and one that does not.
pub(super) fn edge(mut does: f64, mut does_not: f64, it: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..HALVINGS {
        let between = 0.5 * (does + does_not);
        if it(between) {
            does = between;
        } else {
            does_not = between;
        }
    }
    does
}
