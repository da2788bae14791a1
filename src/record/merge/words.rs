//! Words on things, of which the last holds, from two records.

use std::{
    collections::{HashMap, HashSet},
    hash::Hash,
};

/// Words on things, the last on each of which holds: those that are here, and those that come in.
pub(super) struct Words<K> {
    known: HashSet<(K, i64, String)>,
    ours: HashMap<K, (i64, String)>,
    theirs: HashMap<K, (i64, String)>,
    /// The last that came in and was new, in the order in which things were first spoken of.
    brought: Vec<(K, (i64, String))>,
}

impl<K: Clone + Eq + Hash> Words<K> {
    pub(super) fn of(words: impl IntoIterator<Item = (K, i64, String)>) -> Self {
        let (mut known, mut ours) = (HashSet::new(), HashMap::new());
        for (thing, at, said) in words {
            ours.insert(thing.clone(), (at, said.clone()));
            known.insert((thing, at, said));
        }
        Self { known, ours, theirs: HashMap::new(), brought: Vec::new() }
    }

    /// Whether a word is new here.
    pub(super) fn bring(&mut self, thing: K, at: i64, said: String) -> bool {
        self.theirs.insert(thing.clone(), (at, said.clone()));
        if !self.known.insert((thing.clone(), at, said.clone())) {
            return false;
        }
        self.brought.retain(|(other, _)| *other != thing);
        self.brought.push((thing, (at, said)));
        true
    }

    /// The words to be said again: those that are to hold and would stand before others.
    pub(super) fn again(self) -> impl Iterator<Item = (K, i64, String)> {
        let Self { ours, theirs, brought, .. } = self;
        brought.into_iter().filter_map(move |(thing, last)| {
            let (ours, theirs) = (ours.get(&thing), theirs.get(&thing)?);
            let holds = ours.filter(|ours| ours.0 > theirs.0).unwrap_or(theirs);
            (*holds != last).then(|| (thing, holds.0, holds.1.clone()))
        })
    }
}
