//! Partners for rows among columns, so that the sum of costs is least.
//!
//! Method: the assignment problem by shortest augmenting paths with potentials (Kuhn 1955; Jonker &
//! Volgenant, Computing 38 (1987) 325), O(n²m). Ties go to the lower column.

/// The column of each row of a cost table with at least as many columns as rows, no column twice,
/// with the least sum.
pub(crate) fn cheapest(cost: &[Vec<f64>], columns: usize) -> Vec<usize> {
    let rows = cost.len();
    // Row and column 0 are the search's own; what is given counts from 1.
    let mut row_potential = vec![0.0; rows + 1];
    let mut column_potential = vec![0.0; columns + 1];
    let mut row_of = vec![0; columns + 1];
    for row in 1..=rows {
        row_of[0] = row;
        let mut at = 0;
        let mut reach = vec![f64::INFINITY; columns + 1];
        let mut from = vec![0; columns + 1];
        let mut done = vec![false; columns + 1];
        while row_of[at] != 0 {
            done[at] = true;
            let here = row_of[at];
            let (mut step, mut next) = (f64::INFINITY, 0);
            for column in 1..=columns {
                if done[column] {
                    continue;
                }
                let reduced =
                    cost[here - 1][column - 1] - row_potential[here] - column_potential[column];
                if reduced < reach[column] {
                    (reach[column], from[column]) = (reduced, at);
                }
                if reach[column] < step {
                    (step, next) = (reach[column], column);
                }
            }
            if next == 0 {
                // Only where costs are no numbers: the row stays without a column.
                break;
            }
            for column in 0..=columns {
                if done[column] {
                    row_potential[row_of[column]] += step;
                    column_potential[column] -= step;
                } else {
                    reach[column] -= step;
                }
            }
            at = next;
        }
        while at != 0 {
            row_of[at] = row_of[from[at]];
            at = from[at];
        }
    }
    let mut chosen = vec![columns; rows];
    for (column, &row) in row_of.iter().enumerate().skip(1) {
        if row > 0 {
            chosen[row - 1] = column - 1;
        }
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The least sum over all ways, by trying them.
    fn by_force(cost: &[Vec<f64>], row: usize, used: u32) -> f64 {
        let Some(own) = cost.get(row) else { return 0.0 };
        own.iter()
            .enumerate()
            .filter(|(column, _)| used & (1 << column) == 0)
            .map(|(column, price)| price + by_force(cost, row + 1, used | 1 << column))
            .fold(f64::INFINITY, f64::min)
    }

    proptest! {
        #[test]
        fn no_way_is_cheaper(
            cost in (1..=5_usize, 5..=7_usize).prop_flat_map(|(rows, columns)| {
                proptest::collection::vec(proptest::collection::vec(-1.0..1.0_f64, columns), rows)
            })
        ) {
            let chosen = cheapest(&cost, cost[0].len());
            let sum: f64 = chosen.iter().zip(&cost).map(|(&column, own)| own[column]).sum();
            prop_assert!((sum - by_force(&cost, 0, 0)).abs() < 1e-9);
            let mut once = chosen.clone();
            once.sort_unstable();
            once.dedup();
            prop_assert_eq!(once.len(), chosen.len());
        }
    }
}
