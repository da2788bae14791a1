//! Whether something lies or reaches over the cloth that is no ball.
//!
//! Input: the bed seen from above, the balls on it, and the bed's usual look where it is known.
//! Output: what is in the way, if anything. Method: cells that differ from the cloth in hue, or are
//! much lighter or darker than a shadow leaves them, are gathered into connected parts, with the
//! balls and what is right around them left out. Where the usual look of a cell is known, less will
//! do, and the cushions and rails tell as well: a part that comes in over a nose is an arm or a
//! cue, however little of it is over the cloth. Spots, chalk marks and the cushions' shadows are
//! small, or thin and end on the cloth; an arm, a cue, a rack are not. Not modelled: what has the cloth's
//! own colour.

use super::bed::{BedView, CELL_MM, Cell, cell_place, largest, place_cell};
use super::region;
use super::shade::{NO_LIGHTER, is_darker, is_shaded};
use super::steady::SteadyBed;
use crate::table::{TablePoint, TableSize};

/// Difference in hue (logarithmic) that no shadow makes.
const OTHER_HUE: f32 = 0.22;
/// A cushion's deep shadow makes so much: what veils the picture, or a lamp of another colour, leaves the
/// cloth's darkest channel as it was.
const SHADED_HUE: f32 = 0.45;
/// Lighter than the cloth around, or darker than in a shadow (logarithmic brightness).
const LIGHTER: f32 = 0.3;
const DARKER: f32 = -1.5;
/// The same against the usual look of a cell.
const UNUSUAL_HUE: f32 = 0.13;
const UNUSUALLY_LIGHT: f32 = 0.18;
const UNUSUALLY_DARK: f32 = -0.9;
/// What has the cloth's own hue, to so much, is cloth that seems lighter beside balls and their shadows,
/// by 0.22; a sleeve has a hue of its own.
const SAME_HUE: f32 = 0.05;
/// Beyond the noses, where the cloth's light is only reckoned: a shadow on the cloth beside makes a rail
/// look lighter by 0.28.
const UNUSUALLY_LIGHT_RAIL: f32 = 0.4;
/// Cloth in any ordinary light differs less than this from the cloth around.
const PLAIN_HUE: f32 = 0.1;
const PLAIN_LIGHT: f32 = 0.15;
/// What differs by less in each colour is plain: its hue is by less than four thirds of it.
const BARE: f32 = 0.07;
/// Right around a ball its picture, its gloss and its darkest shadow differ from the cloth.
const AROUND_BALL: f64 = 1.6;
/// A little farther out a compressed picture still has some of its colour.
const COLOURED_BY_BALL: f64 = 2.2;
/// What lies this close to the noses is the cushions' doing, unless it is unusual.
const ALONG_NOSE_MM: f64 = 16.0;
/// A pocket's mouth, with its jaws and their shadows, reaches this far beyond the hole.
const MOUTH_MM: f64 = 36.0;
/// What lies in the hole shows up to this far beyond it, since the rails stand higher.
const HOLE_MM: f64 = 20.0;
/// A larger thing than this, in mm², obstructs.
const LEAST_AREA_MM2: f64 = 860.0;
/// And a smaller one, if it comes in over a nose from so far behind it and reaches so far in.
const LEAST_REACHING_MM2: f64 = 240.0;
const FROM_BEHIND_MM: f64 = 28.0;
const REACHES_IN_MM: f64 = 40.0;
/// Where the cushions' usual look is known, one so large that comes only just in obstructs; who stands
/// close beside a corner comes in by up to 14 mm and hides no ball.
const LEAST_KNOWN_MM2: f64 = 400.0;
const OVER_NOSE_MM: f64 = 18.0;
/// And so much of it lies behind the cushions.
const LEAST_BEHIND_MM2: f64 = 128.0;
/// From behind the nose to the knuckles of a hand that holds a cue.
const ARM_MM: f64 = 350.0;
/// A mark on the cloth, as the cue ball wears one between the head and the rack, is as thin as can be:
/// of its cells no more than this part have nothing else beside them.
const MOST_CORE: f64 = 0.4;
/// And it ends on the cloth, where a cue goes on over a rail.
const ENDS_INSIDE_MM: f64 = 60.0;
/// A line drawn along or across the table is no wider, and may run from nose to nose.
const LINE_MM: f64 = 24.0;
/// A line ends, and a cushion's shadow begins, at the nose, to the errors of fitting; a shadow reaches so
/// far in.
const AT_NOSE_MM: f64 = 6.0;
const SHADE_MM: f64 = 64.0;
/// A spot stuck to the cloth, on a line that runs through it, is no larger, and lies where spots do, but
/// for the way by which the cloth lies off the plane of the balls' centres aslant.
const MOST_OF_SPOT_MM2: f64 = 1300.0;
const ON_SPOT_MM: f64 = 24.0;
/// What is odd on the cloth and no smaller than a ball's gloss and no larger than a ball may be one.
const LEAST_OF_BALL_MM2: f64 = 130.0;
const MOST_OF_BALL_MM2: f64 = 2600.0;
/// Where a thing that touches a ball is seen between the two, in the ball's radii.
const NEXT_TO_BALL: f64 = 1.3;
/// It touches where it does so in more than this part of the directions around.
const TOUCHING: f64 = 0.05;

/// Something over the cloth.
pub(super) struct Obstruction {
    /// Its cells.
    mask: Vec<bool>,
}

/// What of a bed is odd beside the balls on it, in connected parts.
pub(super) struct Odd {
    /// Each cell's part, none being 0.
    labels: Vec<u32>,
    /// What the parts are like.
    parts: Vec<Part>,
}

impl Odd {
    /// Looks at a bed with balls on it.
    pub fn beside(
        view: &BedView,
        (balls, table): (&[TablePoint], &TableSize),
        steady: &SteadyBed,
    ) -> Self {
        let covered = ball_cover(view, balls, AROUND_BALL * table.ball_radius_mm());
        let coloured = ball_cover(view, balls, COLOURED_BY_BALL * table.ball_radius_mm());
        let mut odd = vec![false; view.difference.len()];
        for ((index, odd), difference) in odd.iter_mut().enumerate().zip(&view.difference) {
            // Most of a bed is bare cloth.
            if covered[index] || (is_bare(difference) && view.cells[index].inside_mm > 0.0) {
                continue;
            }
            let difference = *difference;
            let Cell { inside_mm, beyond_rim_mm } = view.cells[index];
            let in_a_mouth = beyond_rim_mm < MOUTH_MM;
            *odd = match steady.usual(index) {
                _ if coloured[index] && inside_mm > ALONG_NOSE_MM => is_odd_in_light(difference),
                Some(usual) => {
                    let on_cloth = inside_mm > 0.0;
                    is_unusual(difference, usual, on_cloth)
                        && !(on_cloth && is_shade(difference, view.cloth))
                }
                // Before anything is known of the rails: cushions have the cloth's hue.
                None => {
                    let in_light = inside_mm > ALONG_NOSE_MM && is_odd_in_light(difference);
                    (in_light || is_odd_in_hue(difference)) && !in_a_mouth
                }
            };
        }
        let (labels, areas) = region::label(&odd, (view.columns, view.rows));
        let spots = [table.head_spot(), table.centre_spot(), table.foot_spot()];
        let mut parts = vec![Part::default(); areas.len()];
        for (index, label) in labels.iter().enumerate().filter(|(_, label)| **label > 0) {
            let Cell { inside_mm, beyond_rim_mm } = view.cells[index];
            let known = steady.usual(index).is_some();
            // Over a hole an arm hangs together, but what lies in the hole is none.
            if beyond_rim_mm > HOLE_MM {
                let place =
                    cell_place((index % view.columns) as f64, (index / view.columns) as f64);
                let part = &mut parts[*label as usize];
                part.add(inside_mm, known);
                part.lies_at(place);
                part.core += usize::from(is_core(&labels, view.columns, index));
                part.lighter += usize::from(!is_darker(view.difference[index]));
            }
        }
        for part in &mut parts {
            part.on_spot = part
                .middle()
                .is_some_and(|at| spots.iter().any(|s| s.distance_mm(at) < ON_SPOT_MM));
        }
        Self { labels, parts }
    }

    /// What is in the way, if anything.
    pub fn obstruction(&self) -> Option<Obstruction> {
        self.made_of(Part::obstructs)
    }

    fn made_of(&self, belongs: fn(&Part) -> bool) -> Option<Obstruction> {
        let belong: Vec<bool> = self.parts.iter().map(belongs).collect();
        belong.contains(&true).then(|| {
            let belongs = |label: &u32| *label > 0 && belong[*label as usize];
            Obstruction { mask: self.labels.iter().map(belongs).collect() }
        })
    }

    /// The middles of what is odd on the cloth and may be a ball that nothing else showed: of a red ball
    /// on red cloth little more than its gloss and its number.
    pub fn perhaps_balls(&self) -> Vec<TablePoint> {
        self.parts.iter().filter_map(Part::perhaps_ball).collect()
    }
}

/// What comes in over a nose, if anything, which no ball does, wherever the balls may be; knows
/// nothing before the bed's usual look is known.
pub(super) fn comes_in(
    view: &BedView,
    table: &TableSize,
    steady: &SteadyBed,
) -> Option<Obstruction> {
    Odd::beside(view, (&[], table), steady).made_of(Part::comes_in)
}

/// What lies over the rails, if anything, however little of it shows on the cloth; knows nothing before the
/// rails' usual look is known.
pub(super) fn over_rails(
    view: &BedView,
    table: &TableSize,
    steady: &SteadyBed,
) -> Option<Obstruction> {
    Odd::beside(view, (&[], table), steady).made_of(Part::lies_over_rail)
}

/// Whether all cells around one are of the same part.
fn is_core(labels: &[u32], columns: usize, index: usize) -> bool {
    let row = |middle: usize| labels.get(middle.wrapping_sub(1)..middle.wrapping_add(2));
    [index.wrapping_sub(columns), index, index + columns]
        .into_iter()
        .all(|middle| row(middle).is_some_and(|row| row.iter().all(|at| *at == labels[index])))
}

impl Obstruction {
    /// The bed's cells that show it.
    pub fn cells(&self) -> impl Iterator<Item = usize> {
        self.mask.iter().enumerate().filter(|(_, shows)| **shows).map(|(cell, _)| cell)
    }

    /// Whether this thing is within an arm's reach of a place.
    pub fn is_near(&self, view: &BedView, at: TablePoint) -> bool {
        disc(view, at, ARM_MM).any(|(cell, _)| self.mask[cell])
    }

    /// Whether this thing reaches up to a ball.
    pub fn touches(&self, view: &BedView, at: TablePoint, table: &TableSize) -> bool {
        const DIRECTIONS: u32 = 36;
        let cell = |radii: f64, direction: u32| {
            let angle = f64::from(direction) / f64::from(DIRECTIONS) * std::f64::consts::TAU;
            let (sin, cos) = angle.sin_cos();
            let r_mm = radii * table.ball_radius_mm();
            let place = TablePoint::new(at.x_mm + r_mm * cos, at.y_mm + r_mm * sin);
            let [x, y] = place_cell(place).map(f64::round);
            let inside = x >= 0.0 && y >= 0.0 && x < view.columns as f64 && y < view.rows as f64;
            inside.then(|| y as usize * view.columns + x as usize)
        };
        let reached = (0..DIRECTIONS).filter(|direction| {
            // Nearer than that, what has another hue than the cloth alone is taken for the ball's doing.
            let thing =
                cell(COLOURED_BY_BALL + 0.2, *direction).is_some_and(|cell| self.mask[cell]);
            let between = [NEXT_TO_BALL, AROUND_BALL + 0.2].map(|radii| cell(radii, *direction));
            thing && between.iter().all(|at| at.is_some_and(|cell| is_odd(view.difference[cell])))
        });
        reached.count() as f64 > TOUCHING * f64::from(DIRECTIONS)
    }
}

/// A connected part of what is odd.
#[derive(Debug, Clone, Copy, Default)]
struct Part {
    cells: usize,
    /// Cells with others of it all around.
    core: usize,
    /// Cells over the cloth: away from the noses, or of a known usual look.
    on_cloth: usize,
    /// Cells of a known usual look, cushions and rails among them.
    known: usize,
    /// Cells of a known usual look that lie far behind a nose.
    behind: usize,
    /// Cells lighter than the cloth in any colour.
    lighter: usize,
    deepest_mm: f64,
    /// The sums of its cells' places along and across, in millimetres.
    places: (f64, f64),
    /// From where to where they lie, along and across.
    spans: Option<[(f64, f64); 2]>,
    /// Whether its middle lies where tables have a spot.
    on_spot: bool,
    /// How near it comes to the noses, below 0 where it goes on behind them.
    nearest_mm: Option<f64>,
}

impl Part {
    fn add(&mut self, inside_mm: f64, known: bool) {
        self.cells += 1;
        self.on_cloth += usize::from(inside_mm > ALONG_NOSE_MM || known && inside_mm > 0.0);
        self.known += usize::from(known);
        self.behind += usize::from(known && -inside_mm > FROM_BEHIND_MM);
        self.deepest_mm = self.deepest_mm.max(inside_mm);
        self.nearest_mm = Some(self.nearest_mm.map_or(inside_mm, |mm| mm.min(inside_mm)));
    }

    fn lies_at(&mut self, place: TablePoint) {
        let at = [place.x_mm, place.y_mm];
        self.places.0 += place.x_mm;
        self.places.1 += place.y_mm;
        let spans = self.spans.get_or_insert(at.map(|at| (at, at)));
        for ((from, to), at) in spans.iter_mut().zip(at) {
            (*from, *to) = (from.min(at), to.max(at));
        }
    }

    fn obstructs(&self) -> bool {
        let area_mm2 = area_mm2(self.on_cloth);
        let reaches_in = self.nearest_mm.is_some_and(|mm| mm < -FROM_BEHIND_MM)
            && self.deepest_mm > REACHES_IN_MM
            && area_mm2 > LEAST_REACHING_MM2;
        let over_cloth = area_mm2 > LEAST_AREA_MM2 && self.deepest_mm > OVER_NOSE_MM;
        let lies_on_cloth = self.is_mark() || self.is_shade() || self.is_spot();
        (over_cloth && !lies_on_cloth) || reaches_in || self.comes_in()
    }

    /// The mean of its cells' places.
    fn middle(&self) -> Option<TablePoint> {
        let count = self.cells as f64;
        (self.cells > 0).then(|| TablePoint::new(self.places.0 / count, self.places.1 / count))
    }

    fn is_spot(&self) -> bool {
        self.on_spot && area_mm2(self.cells) < MOST_OF_SPOT_MM2
    }

    /// Where a ball lies if it is one.
    fn perhaps_ball(&self) -> Option<TablePoint> {
        let of_ball = LEAST_OF_BALL_MM2..MOST_OF_BALL_MM2;
        let fits = self.on_cloth == self.cells && of_ball.contains(&area_mm2(self.cells));
        self.middle().filter(|_| fits)
    }

    /// Whether it is thin and ends on the cloth, or is a line drawn on it.
    fn is_mark(&self) -> bool {
        let thin = (self.core as f64) < MOST_CORE * self.cells as f64;
        let narrow = |spans: [(f64, f64); 2]| spans.iter().any(|(from, to)| to - from < LINE_MM);
        let ends_mm = if self.spans.is_some_and(narrow) { -AT_NOSE_MM } else { ENDS_INSIDE_MM };
        thin && self.nearest_mm.is_some_and(|mm| mm > ends_mm)
    }

    /// Whether it is a cushion's shadow: in light of two colours it has a hue of its own, but adds nothing
    /// in any colour, and neither comes in over the nose nor leaves it.
    fn is_shade(&self) -> bool {
        let along = self.nearest_mm.is_some_and(|mm| mm > -AT_NOSE_MM);
        along && self.deepest_mm < SHADE_MM && self.lighter == 0
    }

    /// Whether it comes in over a nose whose usual look is known.
    fn comes_in(&self) -> bool {
        self.lies_over_rail() && self.deepest_mm > OVER_NOSE_MM
    }

    fn lies_over_rail(&self) -> bool {
        area_mm2(self.behind) > LEAST_BEHIND_MM2 && area_mm2(self.known) > LEAST_KNOWN_MM2
    }
}

fn area_mm2(cells: usize) -> f64 {
    cells as f64 * CELL_MM * CELL_MM
}

/// The cells within a distance of any of the balls.
pub(super) fn ball_cover(view: &BedView, balls: &[TablePoint], reach_mm: f64) -> Vec<bool> {
    let mut covered = vec![false; view.difference.len()];
    for ball in balls {
        for (index, _) in disc(view, *ball, reach_mm) {
            covered[index] = true;
        }
    }
    covered
}

/// The cells within a distance of a place, and where they lie.
pub(super) fn disc(
    view: &BedView,
    centre: TablePoint,
    reach_mm: f64,
) -> impl Iterator<Item = (usize, TablePoint)> {
    let (columns, rows) = (view.columns as i64, view.rows as i64);
    let reach = (reach_mm / CELL_MM).ceil() as i64;
    let [x, y] = place_cell(centre).map(|at| at.round() as i64);
    let around = move |at: i64, most: i64| (at - reach).max(0)..=(at + reach).min(most - 1);
    around(y, rows)
        .flat_map(move |row| around(x, columns).map(move |column| (row, column)))
        .map(move |(row, column)| {
            ((row * columns + column) as usize, cell_place(column as f64, row as f64))
        })
        .filter(move |(_, place)| place.distance_mm(centre) < reach_mm)
}

/// Brightness against the cloth, logarithmic.
fn light(difference: [f32; 3]) -> f32 {
    (difference[0] + difference[1] + difference[2]) / 3.0
}

/// How far the hue is from the cloth's, logarithmic.
fn hue(difference: [f32; 3]) -> f32 {
    let light = light(difference);
    difference.iter().map(|d| (d - light).abs()).fold(0.0, f32::max)
}

fn is_odd(difference: [f32; 3]) -> bool {
    hue(difference) > OTHER_HUE || is_odd_in_light(difference)
}

/// Whether a cell has another hue than the cloth, and not by being in a deep shadow.
fn is_odd_in_hue(difference: [f32; 3]) -> bool {
    hue(difference) > if is_darker(difference) { SHADED_HUE } else { OTHER_HUE }
}

fn is_odd_in_light(difference: [f32; 3]) -> bool {
    !(DARKER..=LIGHTER).contains(&light(difference))
}

/// Whether a cell looks like the cloth around it, at a glance: what is so is plain.
fn is_bare(difference: &[f32; 3]) -> bool {
    largest(difference) < BARE
}

/// Whether a cell looks like cloth in ordinary light or a soft shadow.
pub(super) fn is_plain(difference: [f32; 3]) -> bool {
    hue(difference) < PLAIN_HUE && (UNUSUALLY_DARK..PLAIN_LIGHT).contains(&light(difference))
}

/// Whether a cell is neither what it usually is nor plain cloth.
pub(super) fn is_unusual(difference: [f32; 3], usual: [f32; 3], on_cloth: bool) -> bool {
    if on_cloth && (is_plain(difference) || is_less_shade(difference, usual)) {
        return false;
    }
    let change = [0, 1, 2].map(|i| difference[i] - usual[i]);
    // Where lamps differ in colour, a shadow takes the light of one of them.
    let other_hue = if is_darker(change) { OTHER_HUE } else { UNUSUAL_HUE };
    let lightest = match on_cloth {
        true if hue(change) < SAME_HUE => LIGHTER,
        true => UNUSUALLY_LIGHT,
        false => UNUSUALLY_LIGHT_RAIL,
    };
    hue(change) > other_hue || !(UNUSUALLY_DARK..=lightest).contains(&light(change))
}

/// Whether a cell is cloth in a shadow that is no deeper than shadows are.
fn is_shade(difference: [f32; 3], cloth: [f32; 3]) -> bool {
    light(difference) > UNUSUALLY_DARK && is_shaded(difference, cloth)
}

/// Whether a cell shows the cloth as it usually looks there, or in a shadow, however deep.
pub(super) fn is_cloth(view: &BedView, cell: usize, steady: &SteadyBed) -> bool {
    let difference = view.difference[cell];
    let usual = steady.usual(cell).unwrap_or_default();
    !is_unusual(difference, usual, true) || is_shaded(difference, view.cloth)
}

/// Whether a cell that usually lies in a shadow is in as deep a one or a lesser one, as when a lamp is
/// switched: in no colour lighter than the cloth, nor darker than usual.
fn is_less_shade(difference: [f32; 3], usual: [f32; 3]) -> bool {
    let no_darker = difference.iter().zip(usual).all(|(now, usual)| *now > usual - NO_LIGHTER);
    is_darker(difference) && is_darker(usual) && no_darker
}

#[cfg(test)]
mod tests;
