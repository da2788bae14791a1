//! When a delivery that failed is tried again.
//!
//! Input: how often it was tried, when (UTC), what the listener's answer asked for, and a random
//! number. Output: the time of the next try, or that there is none. Method: the pauses that the
//! Standard Webhooks specification 1.0.0 gives as its example, ten tries over 75 hours, each pause
//! drawn from ±10 % around its length so that what failed together does not come back together.
//! `Retry-After` (RFC 9110, section 10.2.3) moves a try later, never earlier, and by a day at the
//! most. Not modelled: how long the listener has been failing over all its deliveries.

use jiff::{SignedDuration, Timestamp, fmt::rfc2822::DateTimeParser};

/// Pauses after the first try, the second, and so on, in seconds; none after the last.
const PAUSES_S: [i64; 9] =
    [5, 5 * 60, 30 * 60, 2 * 3600, 5 * 3600, 10 * 3600, 14 * 3600, 20 * 3600, 24 * 3600];

/// The share by which a pause may be longer or shorter.
const JITTER: f64 = 0.1;

/// `Retry-After` is obeyed up to this, in seconds.
const MAX_RETRY_AFTER_S: i64 = 24 * 3600;

/// Tries in all.
pub const TRIES: u32 = PAUSES_S.len() as u32 + 1;

/// When to try again after the `tries`-th try, made at `now`, has failed; none where that was the
/// last. `random` lies in 0..1.
pub fn next_try(
    tries: u32,
    now: Timestamp,
    asked_for: Option<SignedDuration>,
    random: f64,
) -> Option<Timestamp> {
    let pause_s = *PAUSES_S.get(tries.checked_sub(1)? as usize)?;
    let jitter = 1.0 + JITTER * (2.0 * random.clamp(0.0, 1.0) - 1.0);
    let pause = SignedDuration::from_secs(pause_s).mul_f64(jitter);
    now.checked_add(pause.max(asked_for.unwrap_or_default())).ok()
}

/// The pause that a `Retry-After` asks for: seconds, or a date. None where it is neither, or lies
/// in the past.
pub fn retry_after(text: &str, now: Timestamp) -> Option<SignedDuration> {
    let text = text.trim();
    let asked_for = if !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit()) {
        // More digits than a number holds ask for very long.
        SignedDuration::from_secs(text.parse().unwrap_or(i64::MAX))
    } else {
        // An HTTP date is in the form of mail's dates, and always in GMT.
        DateTimeParser::new().parse_timestamp(text).ok()?.duration_since(now)
    };
    asked_for.is_positive().then(|| asked_for.min(SignedDuration::from_secs(MAX_RETRY_AFTER_S)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    #[test]
    fn ten_tries_take_about_three_days_and_pauses_grow() {
        let begin = at("2030-05-17T18:00:00Z");
        for random in [0.0, 0.5, 1.0] {
            let mut tries = 1;
            let mut now = begin;
            let mut pause_before = SignedDuration::ZERO;
            while let Some(next) = next_try(tries, now, None, random) {
                let pause = next.duration_since(now);
                assert!(pause > pause_before, "after try {tries}: {pause:?}");
                (now, pause_before, tries) = (next, pause, tries + 1);
            }
            assert_eq!(tries, TRIES);
            assert_eq!(TRIES, 10);
            let days = now.duration_since(begin).as_secs_f64() / 86_400.0;
            assert!((2.8..3.5).contains(&days), "{days}");
        }
    }

    #[test]
    fn pauses_differ_by_a_tenth() {
        let now = at("2030-05-17T18:00:00Z");
        let pause_s =
            |random| next_try(2, now, None, random).unwrap().duration_since(now).as_secs_f64();
        assert!((pause_s(0.0) - 270.0).abs() < 1e-6);
        assert!((pause_s(0.5) - 300.0).abs() < 1e-6);
        assert!((pause_s(1.0) - 330.0).abs() < 1e-6);
    }

    #[test]
    fn a_listener_can_put_a_try_off_but_not_hasten_or_bury_it() {
        let now = at("2030-05-17T18:00:00Z");
        let next = |text: &str| {
            let pause = retry_after(text, now);
            next_try(1, now, pause, 0.5).unwrap().duration_since(now).as_secs()
        };
        assert_eq!(next("120"), 120);
        assert_eq!(next(" 1 "), 5, "sooner than the schedule has it");
        assert_eq!(next("Fri, 17 May 2030 18:10:00 GMT"), 600);
        assert_eq!(next("Fri, 17 May 2030 17:00:00 GMT"), 5, "in the past");
        assert_eq!(next("999999999999999999999"), 86_400);
        for nonsense in ["", "soon", "-3", "1.5"] {
            assert_eq!(next(nonsense), 5, "{nonsense}");
        }
        assert_eq!(next_try(TRIES, now, retry_after("120", now), 0.5), None);
    }
}
