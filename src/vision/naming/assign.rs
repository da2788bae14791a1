//! One name for each ball of a layout, so that the most are right.
//!
//! Input: each ball's probabilities over 17 classes. Output: a class for each ball, no number
//! twice, no ball as often as needed, with the largest sum of probabilities: the expected count
//! of right names. Ties go to the lower class.

use super::belief::{NO_BALL, Odds};
use crate::assignment::cheapest;

/// The class of each ball.
pub(super) fn most_right(beliefs: &[Odds]) -> Vec<usize> {
    // Each ball has a column of its own for no ball, behind those of the sixteen balls.
    let columns = NO_BALL + beliefs.len();
    let cost: Vec<Vec<f64>> = beliefs
        .iter()
        .enumerate()
        .map(|(ball, own)| {
            let column = |column: usize| match column {
                number if number < NO_BALL => -own[number],
                own_column if own_column == NO_BALL + ball => -own[NO_BALL],
                // Another's column: never better than its own.
                _ => 1.0,
            };
            (0..columns).map(column).collect()
        })
        .collect();
    cheapest(&cost, columns).into_iter().map(|column| column.min(NO_BALL)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::belief::NOTHING;
    use super::*;

    #[test]
    fn two_balls_that_both_look_like_the_three() {
        let mut sure = [0.0; 17];
        (sure[3], sure[11]) = (0.9, 0.1);
        let mut unsure = [0.0; 17];
        (unsure[3], unsure[11]) = (0.6, 0.4);
        assert_eq!(most_right(&[unsure, sure]), [11, 3]);
        assert_eq!(most_right(&[unsure]), [3]);
        assert!(most_right(&[]).is_empty());
    }

    #[test]
    fn no_ball_as_often_as_needed() {
        assert_eq!(most_right(&[NOTHING; 20]), [NO_BALL; 20]);
        assert_eq!(most_right(&[[f64::NAN; 17]]), [NO_BALL]);
    }
}
