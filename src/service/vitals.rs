//! Which parts of the service have fallen over, for whoever asks after its health.
//!
//! A part is a thread or task that is to run as long as the service does. It holds its [`Part`];
//! where a panic ends it, that is noted for good.

use std::{
    collections::BTreeSet,
    sync::{Arc, Mutex, PoisonError},
};

/// The parts that have fallen over. Cheap to clone.
#[derive(Debug, Clone, Default)]
pub(super) struct Vitals {
    fallen: Arc<Mutex<BTreeSet<String>>>,
}

/// Held by a part while it runs.
#[derive(Debug)]
pub(super) struct Part {
    name: String,
    vitals: Vitals,
}

impl Vitals {
    /// A part begins to run; its name is told to people.
    pub(super) fn part(&self, name: impl Into<String>) -> Part {
        Part { name: name.into(), vitals: self.clone() }
    }

    /// The names of those that a panic has ended.
    pub(super) fn fallen(&self) -> Vec<String> {
        let fallen = self.fallen.lock().unwrap_or_else(PoisonError::into_inner);
        fallen.iter().cloned().collect()
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        if std::thread::panicking() {
            tracing::error!("{} has fallen over", self.name);
            let mut fallen = self.vitals.fallen.lock().unwrap_or_else(PoisonError::into_inner);
            fallen.insert(std::mem::take(&mut self.name));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_a_panic_ends_has_fallen() {
        let vitals = Vitals::default();
        for falls in [false, true] {
            let part = vitals.part(format!("falls: {falls}"));
            let thread = std::thread::spawn(move || {
                let _part = part;
                assert!(!falls, "as told");
            });
            assert_eq!(thread.join().is_err(), falls);
        }
        assert_eq!(vitals.fallen(), ["falls: true"]);
    }
}
