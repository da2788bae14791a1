//! A rest that the record refused, as on a full disk: held until it is kept, or until the next rest takes
//! its place.
//!
//! In: new rests, and how to keep one. Out: what was kept. Method: the last rest that was refused is tried
//! again, since the balls still lie so; one that is lost for good leaves a gap as long as the time since the
//! rest kept before it, which the next one tells.

use crate::record::{Kept, NewRest, RecordError};
use jiff::Timestamp;
use std::time::Duration;

/// What is held is tried again this often.
const TRIED_EVERY: Duration = Duration::from_secs(1);

/// Of one camera.
#[derive(Debug, Default)]
pub(super) struct Unkept {
    held: Option<NewRest>,
    tried_at: Duration,
    last_kept: Option<Timestamp>,
    /// How long nothing was kept before a rest that was lost.
    lost_ms: u64,
}

impl Unkept {
    /// Whether a rest waits to be kept.
    pub(super) fn is_held(&self) -> bool {
        self.held.is_some()
    }

    /// Keeps what is held, if it can be now, and then a new rest, which is held where it is refused: what
    /// came of the one and of the other.
    pub(super) fn keep(
        &mut self,
        new: NewRest,
        append: impl Fn(NewRest) -> Result<Kept, RecordError>,
    ) -> (Option<Kept>, Result<Kept, RecordError>) {
        let earlier = self.held.take().and_then(|held| self.keep_or_lose(held, &append).ok());
        let now = self.append(&new, &append);
        self.held = now.is_err().then_some(new);
        (earlier, now)
    }

    /// Keeps a rest that its sender will send again, or not: it is not held.
    pub(super) fn keep_or_lose(
        &mut self,
        new: NewRest,
        append: impl Fn(NewRest) -> Result<Kept, RecordError>,
    ) -> Result<Kept, RecordError> {
        let kept = self.append(&new, &append);
        if kept.is_err() {
            self.lose(&new);
        }
        kept
    }

    /// Tries what is held once more, if it is time; `at` is the camera's monotonic time.
    pub(super) fn try_again(
        &mut self,
        at: Duration,
        append: impl Fn(NewRest) -> Result<Kept, RecordError>,
    ) -> Option<Kept> {
        if at.abs_diff(self.tried_at) < TRIED_EVERY {
            return None;
        }
        let held = self.held.take()?;
        self.tried_at = at;
        let kept = self.append(&held, &append).ok();
        self.held = kept.is_none().then_some(held);
        kept
    }

    fn append(
        &mut self,
        new: &NewRest,
        append: &impl Fn(NewRest) -> Result<Kept, RecordError>,
    ) -> Result<Kept, RecordError> {
        let unseen_ms = new.unseen_ms.max(self.lost_ms);
        let kept = append(NewRest { unseen_ms, ..new.clone() })?;
        (self.last_kept, self.lost_ms) = (Some(kept.rest.at), 0);
        Ok(kept)
    }

    fn lose(&mut self, rest: &NewRest) {
        let since = self.last_kept.map(|kept| rest.at.duration_since(kept));
        let since = since.and_then(|since| Duration::try_from(since).ok()).unwrap_or_default();
        let since_ms = u64::try_from(since.as_millis()).unwrap_or(u64::MAX);
        self.lost_ms = self.lost_ms.max(rest.unseen_ms).max(since_ms);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Rest;
    use std::cell::{Cell, RefCell};

    /// A record whose disk is full at times.
    #[derive(Default)]
    struct Disk {
        full: Cell<bool>,
        kept: RefCell<Vec<(i64, u64)>>,
    }

    impl Disk {
        fn append(&self, new: NewRest) -> Result<Kept, RecordError> {
            if self.full.get() {
                return Err(RecordError::DiskFull { path: "data".into(), free_bytes: 0 });
            }
            self.kept.borrow_mut().push((new.at.as_second(), new.unseen_ms));
            let NewRest { at, unseen_ms, camera, layout, format, .. } = new;
            let id = self.kept.borrow().len() as i64;
            let picture_sha256 = String::new();
            let rest = Rest { id, at, unseen_ms, camera, layout, picture_sha256, format };
            Ok(Kept { rest, events: Vec::new() })
        }
    }

    fn rest(at_s: i64) -> NewRest {
        let at = Timestamp::from_second(at_s).unwrap();
        NewRest { unseen_ms: 300, ..NewRest::of_nothing(&[1], at) }
    }

    #[test]
    fn a_refused_rest_is_kept_as_soon_as_there_is_room() {
        let (disk, mut unkept) = (Disk::default(), Unkept::default());
        disk.full.set(true);
        let (earlier, now) = unkept.keep(rest(10), |new| disk.append(new));
        assert!(earlier.is_none() && now.is_err() && unkept.is_held());
        let again = |unkept: &mut Unkept, ms| {
            unkept.try_again(Duration::from_millis(ms), |new| disk.append(new)).is_some()
        };
        assert!(!again(&mut unkept, 12_000));
        disk.full.set(false);
        assert!(!again(&mut unkept, 12_500), "not at every frame");
        assert!(again(&mut unkept, 13_000));
        assert!(!unkept.is_held() && !again(&mut unkept, 15_000));
        assert_eq!(*disk.kept.borrow(), [(10, 300)]);
    }

    #[test]
    fn what_is_held_is_kept_before_the_next_rest() {
        let (disk, mut unkept) = (Disk::default(), Unkept::default());
        disk.full.set(true);
        assert!(unkept.keep(rest(10), |new| disk.append(new)).1.is_err());
        disk.full.set(false);
        let (earlier, now) = unkept.keep(rest(20), |new| disk.append(new));
        assert!(earlier.is_some() && now.is_ok());
        assert_eq!(*disk.kept.borrow(), [(10, 300), (20, 300)]);
    }

    #[test]
    fn a_rest_lost_for_good_leaves_a_gap_that_the_next_one_tells() {
        let (disk, mut unkept) = (Disk::default(), Unkept::default());
        for (at_s, full) in [(10, false), (20, true), (28, true), (40, false)] {
            disk.full.set(full);
            assert_eq!(unkept.keep(rest(at_s), |new| disk.append(new)).1.is_err(), full);
        }
        assert_eq!(*disk.kept.borrow(), [(10, 300), (28, 10_000), (40, 300)]);
    }

    #[test]
    fn one_that_is_not_held_leaves_a_gap_too() {
        let (disk, mut unkept) = (Disk::default(), Unkept::default());
        let mut sent = |at_s: i64, full: bool| {
            disk.full.set(full);
            unkept.keep_or_lose(rest(at_s), |new| disk.append(new)).is_ok()
        };
        assert!(sent(40, false) && !sent(50, true) && sent(60, false));
        assert_eq!(*disk.kept.borrow(), [(40, 300), (60, 10_000)]);
    }
}
