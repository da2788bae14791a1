//! Answers that many ask for at the same time: made once, and the last few held ready.
//!
//! A hundred pages that watch ask for the same parts and the same drawing at each rest.

use super::Problem;
use axum::body::Bytes;
use std::{collections::VecDeque, future::Future, sync::Arc};
use tokio::sync::Mutex;

/// Answers that are held: some tables' parts, some rests' drawings.
const HELD: usize = 24;

/// The last answers, by what was asked for. Cheap to clone; all clones hold the same.
pub(super) struct Lately<K> {
    held: Arc<Mutex<VecDeque<(K, Bytes)>>>,
}

impl<K> Clone for Lately<K> {
    fn clone(&self) -> Self {
        Self { held: Arc::clone(&self.held) }
    }
}

impl<K> Default for Lately<K> {
    fn default() -> Self {
        Self { held: Arc::default() }
    }
}

impl<K: PartialEq> Lately<K> {
    /// The answer that is held, or one that is made now; whoever asks meanwhile waits for it.
    ///
    /// # Errors
    /// Where it cannot be made; nothing is held then.
    pub(super) async fn of(
        &self,
        key: K,
        make: impl Future<Output = Result<Bytes, Problem>>,
    ) -> Result<Bytes, Problem> {
        let mut held = self.held.lock().await;
        if let Some((_, answer)) = held.iter().find(|(known, _)| *known == key) {
            return Ok(answer.clone());
        }
        let answer = make.await?;
        held.push_front((key, answer.clone()));
        held.truncate(HELD);
        Ok(answer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::{
        cell::Cell,
        sync::atomic::{AtomicUsize, Ordering},
    };

    #[tokio::test]
    async fn what_many_ask_for_at_once_is_made_once() {
        let (lately, made) = (Lately::default(), AtomicUsize::new(0));
        let make = |key: usize| {
            let made = &made;
            async move {
                tokio::task::yield_now().await;
                made.fetch_add(1, Ordering::Relaxed);
                Ok(Bytes::from(key.to_string()))
            }
        };
        let asked = (0..50).map(|number| lately.of(number % 2, make(number % 2)));
        let answers = futures_util::future::join_all(asked).await;
        assert_eq!(made.load(Ordering::Relaxed), 2);
        for (number, answer) in answers.into_iter().enumerate() {
            assert_eq!(answer.unwrap(), (number % 2).to_string());
        }
        for key in 2..2 + HELD {
            lately.of(key, make(key)).await.unwrap();
        }
        lately.of(0, make(0)).await.unwrap();
        assert_eq!(made.load(Ordering::Relaxed), 3 + HELD, "what was held longest was let go");
    }

    #[tokio::test]
    async fn what_could_not_be_made_is_made_again() {
        let (lately, tries) = (Lately::default(), Cell::new(0));
        let make = || async {
            tries.set(tries.get() + 1);
            if tries.get() == 1 { Err(Problem::not_found("x")) } else { Ok(Bytes::from("y")) }
        };
        assert!(lately.of(1, make()).await.is_err());
        assert_eq!(lately.of(1, make()).await.unwrap(), "y");
    }
}
