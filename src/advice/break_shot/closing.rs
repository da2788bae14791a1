//! The layout before a break shot: checked, its rack set in place, and turned to the planning side.
//!
//! Input: a layout of a cue ball and one object ball, the other fourteen racked or not yet there.
//! Output: their places in the table frame (mm) under ids of this folder, with the rack frozen: a
//! reading's millimetre between racked balls would be played as a loose rack. A rack that stands
//! off its spot as a whole is kept off it.
//!
//! Planning is done with the break ball on the side of y < W/2, and what is found is mirrored back:
//! a mirrored layout gets the mirrored advice by construction, though its errors are drawn alike.

use super::BreakError;
use crate::layout::{Ball, BallKind, Layout};
use crate::motion::{self, Bed, Hit, Placed};
use crate::table::{DiamondPoint, FootEnd, Rack, TablePoint, TableSize};

/// Ids in play: the cue ball, the break ball, and the rack's places from the second row on.
pub(super) const CUE: usize = 0;
pub(super) const BREAK_BALL: usize = 1;
pub(super) const RACK_FROM: usize = 2;

/// Farther off its place, a ball is no part of the rack, in millimetres.
const RACKED_WITHIN_MM: f64 = 14.0;
/// A ball this near a spot lies on it, in millimetres.
const ON_SPOT_MM: f64 = 10.0;
/// A rack of which fourteen balls were read is known to this as a whole, one that is yet to be set
/// by hand to that, in millimetres.
const READ_SIGMA_MM: f64 = 0.3;
const SET_SIGMA_MM: f64 = 1.0;
/// Places are kept to this, so that a mirrored layout has the same digits.
const GRID_PER_MM: f64 = 1e4;

/// What is planned on: the balls, and how to get back to the layout.
#[derive(Debug, Clone)]
pub(super) struct Closing {
    pub table: TableSize,
    /// Cue ball, break ball, then the rack's fourteen.
    pub balls: Vec<Placed>,
    pub side: Side,
    /// How far the rack may stand off its places as a whole: one standard deviation.
    pub rack_sigma_mm: f64,
    /// Numbers of the break ball and of the racked balls, in that order, where they are known.
    pub numbers: [Option<u8>; 15],
}

/// Whether what is planned is the layout's mirror image.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Side {
    pub mirrored: bool,
}

impl Side {
    pub fn place(self, place: TablePoint, table: &TableSize) -> TablePoint {
        let y_mm = if self.mirrored { table.width_mm - place.y_mm } else { place.y_mm };
        TablePoint::new(place.x_mm, y_mm)
    }

    pub fn hit(self, hit: &Hit) -> Hit {
        let sign = if self.mirrored { -1.0 } else { 1.0 };
        Hit { aim_rad: sign * hit.aim_rad, side: sign * hit.side + 0.0, ..*hit }
    }

    /// Pockets are numbered as [`TableSize::pockets`].
    pub fn pocket(self, pocket: usize) -> usize {
        match pocket {
            0..=3 if self.mirrored => 3 - pocket,
            4..=5 if self.mirrored => 9 - pocket,
            _ => pocket,
        }
    }

    /// A place among the rack's fifteen: rows run from small y to large y.
    pub fn rack_place(self, index: usize) -> usize {
        let row = (0..5).rev().find(|row| index >= row * (row + 1) / 2).unwrap_or(0);
        let first = row * (row + 1) / 2;
        if self.mirrored { first + row - (index - first) } else { index }
    }
}

pub(super) fn name(ball: &Ball, index: usize) -> String {
    match (ball.kind, ball.number) {
        (BallKind::Cue, _) => "the cue ball".into(),
        (BallKind::Object, Some(number)) => format!("ball {number}"),
        (BallKind::Object, None) => format!("the unread ball in place {} of the layout", index + 1),
    }
}

/// A ball of the layout in the table frame.
#[derive(Clone, Copy)]
struct Seen<'a> {
    ball: &'a Ball,
    index: usize,
    place: TablePoint,
}

impl Seen<'_> {
    fn name(&self) -> String {
        name(self.ball, self.index)
    }
}

impl Closing {
    /// The balls of a layout before a break shot.
    ///
    /// # Errors
    /// [`BreakError`] in words, with the ball at fault, for a layout that is none.
    pub fn of(bed: &Bed, layout: &Layout) -> Result<Self, BreakError> {
        let table = *bed.table();
        if layout.foot == FootEnd::Open {
            return Err(BreakError::FootOpen);
        }
        if layout.table != table {
            return Err(BreakError::OtherTable { layout: layout.table.name(), bed: table.name() });
        }
        let seen: Vec<Seen<'_>> = layout
            .balls
            .iter()
            .enumerate()
            .map(|(index, ball)| Seen { ball, index, place: layout.centre_of(ball) })
            .collect();
        let cues = seen.iter().filter(|seen| seen.ball.kind == BallKind::Cue).count();
        if cues != 1 {
            return Err(BreakError::CueBalls { count: cues });
        }
        // Balls that lie outside, in a pocket, twice or in each other are refused in motion's words.
        let gentle = Hit::centre(0.0, 1e-3);
        motion::play(bed, &Placed::all_of(layout).map_err(motion::PlayError::from)?, 0, &gentle)?;
        let (cue, objects): (Vec<_>, Vec<_>) =
            seen.into_iter().partition(|seen| seen.ball.kind == BallKind::Cue);
        let rack = Rack::on(&table);
        let (free, racked) = match objects.len() {
            1 => (objects[0], None),
            15 => split(&rack, &objects)?,
            count => return Err(BreakError::Count { count }),
        };
        in_the_way(&table, &rack, &cue[0], &free)?;
        Ok(Self::set(&table, cue[0].place, free, racked.as_deref()))
    }

    /// The same from two places: fourteen racked on the spot, places as given.
    pub fn between(table: &TableSize, cue: TablePoint, break_ball: TablePoint) -> Self {
        let mut closing = Self {
            table: *table,
            balls: Vec::with_capacity(16),
            side: side_of(table, break_ball, cue),
            rack_sigma_mm: SET_SIGMA_MM,
            numbers: [None; 15],
        };
        closing.place(cue, break_ball, TablePoint::new(0.0, 0.0));
        closing
    }

    fn set(
        table: &TableSize,
        cue: TablePoint,
        free: Seen<'_>,
        racked: Option<&[Seen<'_>]>,
    ) -> Self {
        let mut closing = Self {
            table: *table,
            balls: Vec::with_capacity(16),
            side: side_of(table, free.place, cue),
            rack_sigma_mm: if racked.is_some() { READ_SIGMA_MM } else { SET_SIGMA_MM },
            numbers: [None; 15],
        };
        closing.numbers[0] = free.ball.number;
        let mut shift = TablePoint::new(0.0, 0.0);
        if let Some(racked) = racked {
            let rack = Rack::on(table);
            let places = rack.continuing();
            let count = places.len() as f64;
            for (index, (seen, place)) in racked.iter().zip(places).enumerate() {
                shift.x_mm += (seen.place.x_mm - place.x_mm) / count;
                shift.y_mm += (seen.place.y_mm - place.y_mm) / count;
                let planned = closing.side.rack_place(index + 1);
                closing.numbers[planned] = seen.ball.number;
            }
            if closing.side.mirrored {
                shift.y_mm = -shift.y_mm;
            }
        }
        closing.place(cue, free.place, shift);
        closing
    }

    fn place(&mut self, cue: TablePoint, break_ball: TablePoint, shift: TablePoint) {
        let kept = |value: f64| (value * GRID_PER_MM).round() / GRID_PER_MM;
        let on_grid = |place: TablePoint| {
            let place = self.side.place(place, &self.table);
            TablePoint::new(kept(place.x_mm), kept(place.y_mm))
        };
        let free = [(CUE, on_grid(cue)), (BREAK_BALL, on_grid(break_ball))];
        let free = free.map(|(id, place)| Placed { id, place });
        let (x, y) = (kept(shift.x_mm), kept(shift.y_mm));
        let rack = Rack::on(&self.table);
        let racked = rack.continuing().iter().enumerate().map(|(index, place)| Placed {
            id: RACK_FROM + index,
            place: TablePoint::new(place.x_mm + x, place.y_mm + y),
        });
        self.balls = free.into_iter().chain(racked).collect();
    }

    pub fn cue(&self) -> TablePoint {
        self.balls[CUE].place
    }

    pub fn break_ball(&self) -> TablePoint {
        self.balls[BREAK_BALL].place
    }

    /// The number of a ball in play, where it is known.
    pub fn number(&self, id: usize) -> Option<u8> {
        id.checked_sub(BREAK_BALL).and_then(|index| self.numbers.get(index).copied().flatten())
    }

    /// A planned place in the layout's own coordinates.
    pub fn in_layout(&self, place: TablePoint) -> DiamondPoint {
        DiamondPoint::from_table(self.side.place(place, &self.table), &self.table)
    }
}

/// On the long string the cue ball says which side it is.
fn side_of(table: &TableSize, break_ball: TablePoint, cue: TablePoint) -> Side {
    let middle_mm = 0.5 * table.width_mm;
    let off = |place: TablePoint| place.y_mm - middle_mm;
    let deciding = if off(break_ball).abs() > 1e-6 { off(break_ball) } else { off(cue) };
    Side { mirrored: deciding > 1e-6 }
}

/// The one free ball, and the fourteen in the order of their places.
fn split<'a>(
    rack: &Rack,
    objects: &[Seen<'a>],
) -> Result<(Seen<'a>, Option<Vec<Seen<'a>>>), BreakError> {
    let at = |place: TablePoint| {
        let off = |seen: &&Seen<'a>| seen.place.distance_mm(place);
        let nearest = objects.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.map(|seen| (*seen, off(&seen)))
    };
    let racked: Vec<Option<Seen<'a>>> = rack
        .continuing()
        .iter()
        .map(|place| at(*place).filter(|(_, off_mm)| *off_mm <= RACKED_WITHIN_MM))
        .map(|found| found.map(|(seen, _)| seen))
        .collect();
    let apex = at(rack.places()[0]).filter(|(_, off_mm)| *off_mm <= RACKED_WITHIN_MM);
    let in_place = |seen: &Seen<'a>| racked.iter().flatten().any(|r| r.index == seen.index);
    let free: Vec<Seen<'a>> = objects.iter().filter(|seen| !in_place(seen)).copied().collect();
    if let Some((seen, _)) = apex {
        return Err(match free.len() {
            1 => BreakError::NoFreeBall { apex: seen.name() },
            _ => BreakError::OnApex { name: seen.name() },
        });
    }
    let Some(empty) = racked.iter().position(Option::is_none) else {
        return Ok((free[0], Some(racked.into_iter().flatten().collect())));
    };
    let place = rack.continuing()[empty];
    let mut nearest = free;
    nearest.sort_by(|a, b| a.place.distance_mm(place).total_cmp(&b.place.distance_mm(place)));
    let [first, second, ..] = nearest[..] else {
        return Err(BreakError::Count { count: objects.len() });
    };
    let off_mm = first.place.distance_mm(place);
    Err(if rack.holds_part_of(first.place) {
        BreakError::OffPlace { name: first.name(), off_mm }
    } else {
        BreakError::TwoFree { name: first.name(), other: second.name() }
    })
}

/// Balls that lie in the way of the rack are placed by the rules before anybody shoots.
fn in_the_way(
    table: &TableSize,
    rack: &Rack,
    cue: &Seen<'_>,
    free: &Seen<'_>,
) -> Result<(), BreakError> {
    let head = table.head_spot();
    let on_head_spot = |seen: &Seen<'_>| seen.place.distance_mm(head) < ON_SPOT_MM;
    let (cue_in, free_in) = (rack.holds_part_of(cue.place), rack.holds_part_of(free.place));
    let name = free.name();
    let (name, goes) = match (free_in, cue_in) {
        (false, false) => return Ok(()),
        (true, true) => {
            (name, "all fifteen are racked and the cue ball is in hand behind the head string")
        }
        (true, false) if on_head_spot(cue) => (name, "it goes to the centre spot"),
        (true, false) => (name, "it goes to the head spot"),
        (false, true) if on_head_spot(free) => (cue.name(), "it goes to the centre spot"),
        (false, true) if free.place.x_mm < head.x_mm => (cue.name(), "it goes to the head spot"),
        (false, true) => (cue.name(), "it is in hand behind the head string"),
    };
    Err(BreakError::InTheRack { name, goes })
}
