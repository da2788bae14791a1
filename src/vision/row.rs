//! A whole ball set laid out in number order along a rail, for teaching its look.
//!
//! Input: the places of the balls on a table. Output: the number of each ball of the row. Method:
//! places alone, since the look is what is to be learned: the balls near one rail are the row; the
//! cue ball lies at one end, with clearly more room between it and the 1 than the row leaves at its
//! other end, and the numbers go up from there. Balls elsewhere on the table do not matter. Not
//! modelled: a row with a ball missing, which is refused, since nobody could say which.

use super::read::{ReadError, Reader};
use crate::table::{TablePoint, TableSize};
use image::RgbImage;
use thiserror::Error;

/// Balls of a whole set, the cue ball among them.
const SET: usize = 16;
/// A ball of the row lies at most this far from the nose, in diameters.
const MOST_FROM_NOSE: f64 = 2.5;
/// The cue ball's distance to the 1 is at least this many times that of the last two balls.
const LEAST_ROOM: f64 = 1.4;

/// Why no row of a ball set was found in a frame.
#[derive(Debug, Error)]
pub enum RowError {
    #[error(
        "{in_row} balls lie in a row along a rail, of {seen} seen on the table. Lay out the whole \
         set, sixteen balls, within two balls' widths of one rail: the cue ball, a gap, then 1 to 15"
    )]
    NotTheSet { in_row: usize, seen: usize },
    #[error(
        "the cue ball's end of the row cannot be told: the balls at the two ends lie {one_mm:.0} \
         and {other_mm:.0} mm from their neighbours. Leave twice as much room between the cue ball \
         and the 1 as between the others"
    )]
    NoCueEnd { one_mm: f64, other_mm: f64 },
    #[error(transparent)]
    Unread(#[from] ReadError),
}

/// Numbers (0 for the cue ball) and places of a set laid out in a row: the cue ball, a gap, then 1
/// to 15, within two balls' widths of one rail.
///
/// # Errors
/// [`RowError`] where the frame does not fit the calibration or shows no such row.
pub fn set_in_a_row(reader: &Reader, frame: &RgbImage) -> Result<Vec<(u8, TablePoint)>, RowError> {
    numbered(&reader.places(frame)?, &reader.calibration().table)
}

fn numbered(places: &[TablePoint], table: &TableSize) -> Result<Vec<(u8, TablePoint)>, RowError> {
    let (length_mm, width_mm) = (table.length_mm, table.width_mm);
    let reach_mm = MOST_FROM_NOSE * table.ball_diameter_mm;
    // How far a place is from each nose line.
    let from_nose: [&dyn Fn(TablePoint) -> f64; 4] =
        [&|p| p.y_mm, &|p| width_mm - p.y_mm, &|p| p.x_mm, &|p| length_mm - p.x_mm];
    let rows = from_nose.map(|from_nose| {
        let near = places.iter().filter(|place| from_nose(**place) <= reach_mm);
        near.copied().collect::<Vec<_>>()
    });
    let Some((rail, mut row)) = rows.into_iter().enumerate().max_by_key(|(_, row)| row.len())
    else {
        return Err(RowError::NotTheSet { in_row: 0, seen: places.len() });
    };
    if row.len() != SET {
        return Err(RowError::NotTheSet { in_row: row.len(), seen: places.len() });
    }
    let along = |place: &TablePoint| if rail < 2 { place.x_mm } else { place.y_mm };
    row.sort_by(|a, b| along(a).total_cmp(&along(b)));
    let one_mm = row[0].distance_mm(row[1]);
    let other_mm = row[SET - 1].distance_mm(row[SET - 2]);
    if other_mm > one_mm {
        row.reverse();
    }
    if one_mm.max(other_mm) < LEAST_ROOM * one_mm.min(other_mm) {
        return Err(RowError::NoCueEnd { one_mm, other_mm });
    }
    Ok((0..).zip(row).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: TableSize = TableSize::NINE_FOOT;

    /// A row along the long rail at y = 0, the cue ball first, and two balls elsewhere.
    fn row(room_mm: f64) -> Vec<TablePoint> {
        let numbers = (0..15).map(|i| TablePoint::new(400.0 + 64.0 * f64::from(i), 40.0));
        let others = [TablePoint::new(1200.0, 700.0), TablePoint::new(300.0, 900.0)];
        std::iter::once(TablePoint::new(400.0 - room_mm, 36.0))
            .chain(numbers)
            .chain(others)
            .collect()
    }

    #[test]
    fn numbers_go_up_from_the_cue_ball_along_any_rail_and_either_way() {
        let places = row(130.0);
        let across = |p: &TablePoint| TablePoint::new(p.y_mm, p.x_mm - 200.0);
        let turned = |p: &TablePoint| p.turned(&TABLE);
        for places in [
            places.clone(),
            places.iter().map(turned).collect(),
            places.iter().map(across).collect(),
            places.iter().map(across).map(|p| turned(&p)).collect(),
        ] {
            let mut shuffled = places.clone();
            shuffled.rotate_left(7);
            let expected: Vec<_> = (0..16).zip(places).collect();
            assert_eq!(numbered(&shuffled, &TABLE).unwrap(), expected);
        }
    }

    #[test]
    fn a_row_that_leaves_a_doubt_is_refused() {
        let even = numbered(&row(64.0), &TABLE);
        assert!(matches!(even, Err(RowError::NoCueEnd { .. })), "{even:?}");
        let mut short = row(130.0);
        short.remove(5);
        let refused = numbered(&short, &TABLE);
        assert!(
            matches!(refused, Err(RowError::NotTheSet { in_row: 15, seen: 17 })),
            "{refused:?}"
        );
        assert!(matches!(numbered(&[], &TABLE), Err(RowError::NotTheSet { in_row: 0, seen: 0 })));
    }
}
