//! What the balls' numbers say of whether those on the table are still the ones of the rack before.
//!
//! In: the numbers that were read for sure, and how sure. Out: how many times likelier they are if no
//! ball came back than if all fifteen were racked anew, and some of any fifteen are left. A number is
//! misread now and then, the seldomer the surer it is; what cannot be told gives 1.

use super::{
    change::still,
    seen::{BallSeen, Seen},
};

/// A number is another than at the rest before in no larger a part of its doubt: of 20,000 balls of 60
/// made-up films that had moved, 5 in 100 of those with a doubt of about 0.15, 1 in 100 with 0.075, 2 in
/// 1000 with 0.035 and none of 17,000 with less than 0.01.
const MISREAD_OF_DOUBT: f64 = 0.3;
/// The surest number is misread so often.
const MISREAD_AT_LEAST: f64 = 2e-3;
/// No evidence of this kind counts for more.
const AT_MOST: f64 = 1000.0;
/// One number alone speaks no stronger against something: it is soon misread.
const ONE_AGAINST: f64 = 0.25;
/// Balls of a set.
const OBJECT_BALLS: f64 = 15.0;

/// How many times likelier the numbers now are if the balls are those that were left before.
///
/// Numbers drawn without replacement, as by the hypergeometric distribution.
pub(super) fn favour_same(before: &Seen, now: &Seen) -> f64 {
    let old = numbers(before);
    let unsure = before.objects.len().saturating_sub(old.len());
    // Any number at all can stand for a ball whose own was not sure.
    let unsure = unsure as f64 / before.objects.len().max(1) as f64;
    let misread_before = mean_misread(&old);
    let (mut favour, mut left_old, mut left) = (1.0_f64, old.len() as f64, OBJECT_BALLS);
    for (number, misread) in numbers(now) {
        if left < 1.0 {
            break;
        }
        let is_old = has(&old, number);
        let odd = (misread + misread_before + unsure).min(1.0);
        let by_chance =
            (if is_old { left_old } else { left - left_old }).max(MISREAD_AT_LEAST) / left;
        favour *= if is_old { 1.0 - odd } else { odd } / by_chance;
        left_old = (left_old - f64::from(u8::from(is_old))).max(0.0);
        left -= 1.0;
    }
    favour.clamp(AT_MOST.recip(), AT_MOST)
}

/// How many times likelier the number of a ball beside the rack is if it is one of those left
/// before than if it is any of a set.
pub(super) fn favour_left(before: &Seen, ball: &BallSeen) -> f64 {
    let old = numbers(before);
    let Some(number) = ball.number.filter(|_| old.len() == before.objects.len()) else {
        return 1.0;
    };
    let misread = misread(ball) + mean_misread(&old);
    let part = (old.len() as f64 / OBJECT_BALLS).clamp(misread, 1.0 - misread);
    let favour = if has(&old, number) { (1.0 - misread) / part } else { misread / (1.0 - part) };
    favour.max(ONE_AGAINST)
}

/// How many times likelier the numbers of the balls that lie where they lay are if those are the same
/// balls than if others were put there.
pub(super) fn favour_untouched(before: &Seen, now: &Seen) -> f64 {
    let mut favour = 1.0_f64;
    for old in &before.objects {
        let Some(there) = now.objects.iter().find(|ball| still(old, ball)) else { continue };
        if let Some((was, is)) = old.number.zip(there.number) {
            let by_chance = OBJECT_BALLS.recip();
            let misread = misread(old) + misread(there);
            favour *=
                if was == is { (1.0 - misread) / by_chance } else { misread / (1.0 - by_chance) };
        }
    }
    favour.clamp(AT_MOST.recip(), AT_MOST)
}

/// How many times likelier the numbers now are if all these balls were there before than if one of
/// them is back that was not: its number would have to be read as that of the ball that went.
pub(super) fn favour_none_back(before: &Seen, now: &Seen) -> f64 {
    let (old, new) = (numbers(before), numbers(now));
    let known =
        old.len() == before.objects.len() && new.iter().all(|(number, _)| has(&old, *number));
    if !known || now.objects.is_empty() {
        return 1.0;
    }
    let unsure = (now.objects.len() - new.len()) as f64 / now.objects.len() as f64;
    let misread = mean_misread(&old) + mean_misread(&new);
    (unsure + (1.0 - unsure) * misread / OBJECT_BALLS).recip().min(AT_MOST)
}

/// The chance that a ball's number is misread.
fn misread(ball: &BallSeen) -> f64 {
    (MISREAD_OF_DOUBT * ball.number_doubt).max(MISREAD_AT_LEAST)
}

fn mean_misread(numbers: &[(u8, f64)]) -> f64 {
    numbers.iter().map(|(_, misread)| misread).sum::<f64>() / numbers.len().max(1) as f64
}

fn has(numbers: &[(u8, f64)], number: u8) -> bool {
    numbers.iter().any(|(other, _)| *other == number)
}

/// The numbers that were read, none twice, each with the chance that it is misread.
fn numbers(seen: &Seen) -> Vec<(u8, f64)> {
    let read = |ball: &BallSeen| ball.number.map(|number| (number, misread(ball)));
    let mut numbers: Vec<(u8, f64)> = seen.objects.iter().filter_map(read).collect();
    numbers.sort_unstable_by_key(|(number, _)| *number);
    numbers.dedup_by_key(|(number, _)| *number);
    numbers
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::{TablePoint, TableSize};

    fn balls(numbers: impl IntoIterator<Item = Option<u8>>) -> Seen {
        let ball = |(at, number)| BallSeen {
            doubt: 0.0,
            at: TablePoint::new(100.0 * f64::from(at), 300.0),
            sigma_mm: 1.0,
            number,
            number_doubt: 0.05,
        };
        let objects = (1_u8..).zip(numbers).map(ball).collect();
        Seen { table: TableSize::NINE_FOOT, cue: None, cue_doubt: 0.0, objects, racked: None }
    }

    fn sure(numbers: impl IntoIterator<Item = u8>) -> Seen {
        balls(numbers.into_iter().map(Some))
    }

    #[test]
    fn the_same_numbers_but_one_speak_for_the_same_rack() {
        // By counting: of all ways to choose twelve of fifteen, 13 leave out the two that were gone.
        let favour = favour_same(&sure(1..=13), &sure(1..=12));
        let counted = 0.97_f64.powi(12) / (13.0 / 455.0);
        assert!((favour / counted - 1.0).abs() < 1e-9, "{favour} {counted}");
        assert!(favour_same(&sure(1..=12), &sure(1..=12)) > 100.0);
    }

    #[test]
    fn numbers_that_were_gone_speak_for_a_new_rack() {
        assert!(favour_same(&sure(1..=12), &sure(4..=15)) < 0.05);
        assert!(favour_same(&sure(1..=3), &sure([7, 8, 9, 10])) < 0.01);
    }

    #[test]
    fn what_is_not_read_says_nothing() {
        assert_eq!(favour_same(&balls([None; 12]), &balls([None; 11])), 1.0);
        assert_eq!(favour_same(&sure(1..=12), &balls([None; 11])), 1.0);
        let favour = favour_same(&balls([None; 12]), &sure(1..=11));
        assert!((0.9..=1.1).contains(&favour), "{favour}");
    }

    #[test]
    fn one_misread_number_does_not_decide() {
        let favour = favour_same(&sure(1..=13), &sure((1..=11).chain([15])));
        assert!((0.1..10.0).contains(&favour), "{favour}");
    }

    #[test]
    fn numbers_that_stay_in_their_places_speak_against_racking_anew() {
        assert!(favour_untouched(&sure(1..=14), &sure(1..=14)) > 100.0);
        assert!(favour_untouched(&sure(1..=14), &sure((1..=14).rev())) < 0.01);
        assert_eq!(favour_untouched(&sure(1..=14), &balls([None; 14])), 1.0);
    }

    #[test]
    fn numbers_that_were_all_there_speak_against_a_ball_that_is_back() {
        assert!(favour_none_back(&sure(1..=9), &sure(1..=9)) > 100.0);
        assert_eq!(favour_none_back(&sure(1..=9), &sure(2..=10)), 1.0);
        let one_unsure = balls((1..=8).map(Some).chain([None]));
        let favour = favour_none_back(&sure(1..=9), &one_unsure);
        assert!((5.0..9.0).contains(&favour), "{favour}");
        assert_eq!(favour_none_back(&one_unsure, &sure(1..=9)), 1.0);
    }

    #[test]
    fn the_ball_beside_the_rack_is_the_last_one_or_any() {
        let (left, other) = (sure([5]).objects[0], sure([9]).objects[0]);
        assert!(favour_left(&sure([5]), &left) > 10.0);
        assert!(favour_left(&sure([5]), &other) < 0.5);
        assert_eq!(favour_left(&balls([None]), &other), 1.0);
    }
}
