//! For each ball of a wanted layout which way and how far the ball on the table has to go.

use super::pairing::{Lying, pair};
use crate::{
    layout::{BallKind, Layout},
    table::{FootEnd, TablePoint, TableSize},
};

/// A ball this near to where it is wanted is in its place, in millimetres. Readings are good to one
/// or two, and a shot does not tell five.
pub const IN_PLACE_MM: f64 = 5.0;

/// A ball on the table that stands for a wanted one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Partner {
    /// Where it lies.
    pub at: TablePoint,
    /// How far it has to go along the table and across it, in millimetres.
    pub by_mm: [f64; 2],
    /// Its number, where that is surely another than the wanted one.
    pub another: Option<u8>,
}

impl Partner {
    /// How far it has to go, in millimetres.
    pub fn distance_mm(&self) -> f64 {
        self.by_mm[0].hypot(self.by_mm[1])
    }
}

/// A ball of the wanted layout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    pub kind: BallKind,
    pub number: Option<u8>,
    /// Where it is to lie.
    pub at: TablePoint,
    /// The ball that stands for it; none where one has to be put on the table.
    pub partner: Option<Partner>,
}

impl Wanted {
    pub fn is_in_place(&self) -> bool {
        self.partner.is_some_and(|partner| partner.distance_mm() <= IN_PLACE_MM)
    }
}

/// A table held against a wanted layout. All places are in the wanted layout's table frame, on a
/// table of the size that is seen, in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub struct Guide {
    pub table: TableSize,
    /// In the order of the wanted layout.
    pub wanted: Vec<Wanted>,
    /// Balls that have to go: what they are, their numbers where known, where they lie.
    pub extra: Vec<(BallKind, Option<u8>, TablePoint)>,
    /// What is seen is turned by 180° against the wanted layout, as it may be where either does not
    /// know its foot.
    pub turned: bool,
}

impl Guide {
    /// Holds what is seen against what is wanted.
    pub fn of(wanted: &Layout, seen: &Layout) -> Self {
        let as_seen = Self::turned_or_not(wanted, seen, false);
        if wanted.foot != FootEnd::Open && seen.foot != FootEnd::Open {
            return as_seen.0;
        }
        let turned = Self::turned_or_not(wanted, seen, true);
        if turned.1 < as_seen.1 { turned.0 } else { as_seen.0 }
    }

    /// The guide one way round, and what it costs.
    fn turned_or_not(wanted: &Layout, seen: &Layout, turned: bool) -> (Self, f64) {
        let table = seen.table;
        let wishes: Vec<Lying> = wanted
            .balls
            .iter()
            .map(|ball| Lying::new(ball, ball.place().on_table(&table)))
            .collect();
        let balls = lying(seen, turned);
        let (partners, cost) = pair(&wishes, &balls);
        let partner = |wish: &Lying, ball: &Lying| Partner {
            at: ball.at,
            by_mm: [wish.at.x_mm - ball.at.x_mm, wish.at.y_mm - ball.at.y_mm],
            another: ball.number.filter(|number| {
                wish.kind == BallKind::Object && wish.number.is_some_and(|own| own != *number)
            }),
        };
        let wanted = wishes.iter().zip(&partners).map(|(wish, index)| Wanted {
            kind: wish.kind,
            number: wish.number,
            at: wish.at,
            partner: index.map(|index| partner(wish, &balls[index])),
        });
        let left = balls.iter().enumerate().filter(|(at, _)| !partners.contains(&Some(*at)));
        let extra = left.map(|(_, ball)| (ball.kind, ball.number, ball.at));
        (Self { table, wanted: wanted.collect(), extra: extra.collect(), turned }, cost)
    }

    /// How many wanted balls are in their places.
    pub fn in_place(&self) -> usize {
        self.wanted.iter().filter(|ball| ball.is_in_place()).count()
    }

    /// Whether the layout is set up: every ball in its place, and none besides.
    pub fn is_done(&self) -> bool {
        !self.wanted.is_empty() && self.extra.is_empty() && self.in_place() == self.wanted.len()
    }
}

/// The balls of a layout, turned by 180° or as they are seen.
pub(super) fn lying(seen: &Layout, turned: bool) -> Vec<Lying> {
    let place = |at: TablePoint| if turned { at.turned(&seen.table) } else { at };
    seen.balls.iter().map(|ball| Lying::new(ball, place(seen.centre_of(ball)))).collect()
}
