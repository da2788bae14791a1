//! Thinking about layouts: a bounded number at a time, what was found about kept rests held for a
//! while, and each fresh rest of a followed session thought about where the settings ask for it.
//!
//! A rest whose successor has come is no longer wanted: its search is given up, whoever began it.
//! Only the newest advice is held; what is gone is found again when asked for.

use super::{App, Problem, vitals::Part};
use crate::{
    advice::{self, Advice, AdviceError, Asked, Bound, Level, Player},
    layout::Layout,
    motion::Physics,
    record::{REST_KIND, Rest},
};
use axum::http::StatusCode;
use std::{
    collections::{BTreeMap, VecDeque},
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};
use tokio::{
    sync::Semaphore,
    task::{JoinError, JoinHandle},
};

/// Layouts that are thought about at a time for clients; the background has a turn of its own.
const AT_A_TIME: usize = 2;
/// Advice that is held.
const MOST_HELD: usize = 32;
/// How long a rest is thought about.
const TIME: Duration = Duration::from_secs(2);
/// The search's seed: the same question gets the same answer, as far as time lets it.
const SEED: u64 = 1;
/// Events that are looked at for fresh rests at a time.
const BATCH: u32 = 64;

/// A rest's id, and the advice on it.
type Held = (i64, Arc<Advice>);

/// Who thinks. Cheap to clone.
#[derive(Clone)]
pub(super) struct Advising {
    /// Of whom each fresh rest is thought about; of none where the settings do not ask for it.
    background: Option<Player>,
    turns: Arc<Semaphore>,
    held: Arc<Mutex<VecDeque<Held>>>,
}

impl Advising {
    pub(super) fn new(background: Option<Player>) -> Self {
        Self { background, turns: Arc::new(Semaphore::new(AT_A_TIME)), held: Arc::default() }
    }

    /// The player for whom each fresh rest is thought about, where the settings ask for it.
    pub(super) fn background(&self) -> Option<Player> {
        self.background
    }

    /// The player whom advice is for where nothing is said.
    pub(super) fn usual_player(&self) -> Player {
        self.background.unwrap_or(Level::Club.prior())
    }

    /// Advice on a layout of a table with such physics.
    ///
    /// # Errors
    /// Where too many are thought about already, or the layout cannot be.
    pub(super) async fn think(
        &self,
        (layout, physics): (Layout, Physics),
        player: Player,
        time: Duration,
    ) -> Result<Advice, Problem> {
        let turn = self.turns.clone().try_acquire_owned().map_err(|_| {
            Problem::new(
                StatusCode::SERVICE_UNAVAILABLE,
                "busy",
                format!("{AT_A_TIME} layouts are thought about already. Ask again a little later."),
            )
        })?;
        let thinking = tokio::task::spawn_blocking(move || {
            let found = think((&layout, &physics), player, Bound::within(time));
            drop(turn);
            found
        });
        Ok(thinking.await.map_err(|error| Problem::ours(&error))??)
    }

    /// What is held about a kept rest.
    pub(super) fn held(&self, rest: i64) -> Option<Arc<Advice>> {
        let held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        held.iter().find(|(id, _)| *id == rest).map(|(_, advice)| advice.clone())
    }

    /// Advice on a kept rest: what is held, or found now.
    ///
    /// # Errors
    /// As [`Self::think`].
    pub(super) async fn of_rest(
        &self,
        rest: &Rest,
        physics: Physics,
    ) -> Result<Arc<Advice>, Problem> {
        if let Some(advice) = self.held(rest.id) {
            return Ok(advice);
        }
        let layout = rest.layout.clone();
        let found = self.think((layout, physics), self.usual_player(), TIME).await?;
        Ok(self.hold(rest.id, found))
    }

    fn hold(&self, rest: i64, advice: Advice) -> Arc<Advice> {
        let advice = Arc::new(advice);
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        held.retain(|(id, _)| *id != rest);
        held.push_back((rest, advice.clone()));
        while held.len() > MOST_HELD {
            held.pop_front();
        }
        advice
    }
}

fn think(
    (layout, physics): (&Layout, &Physics),
    player: Player,
    bound: Bound,
) -> Result<Advice, AdviceError> {
    advice::advise(layout, physics, &Asked { player, seed: SEED, bound })
}

impl From<AdviceError> for Problem {
    fn from(error: AdviceError) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, "no_advice", format!("{error}."))
    }
}

/// What a search's task ends with.
type Found = Result<Result<Advice, AdviceError>, JoinError>;

/// A search under way.
struct Search {
    rest: Rest,
    given_up: Arc<AtomicBool>,
    task: JoinHandle<Result<Advice, AdviceError>>,
}

/// Thinks about each fresh rest, one after the other, until the service stops.
pub(super) async fn follow(app: App, part: Part) {
    let _part = part;
    let Some(player) = app.advising.background else { return };
    let mut stopping = app.stopping.subscribe();
    let mut announcements = app.feed.announcements();
    let mut last = *announcements.borrow_and_update();
    // The newest rest of each camera that waits for its turn.
    let mut waiting: BTreeMap<String, Rest> = BTreeMap::new();
    let mut search: Option<Search> = None;
    loop {
        if search.is_none()
            && let Some((_, rest)) = waiting.pop_first()
        {
            let physics = app.physics_of(&rest.camera);
            search = Some(begin(rest, physics, player));
        }
        tokio::select! {
            changed = announcements.changed() => {
                if changed.is_err() {
                    return;
                }
                for rest in fresh(&app, &mut last).await {
                    if let Some(stale) = search.as_ref().filter(|s| s.rest.camera == rest.camera) {
                        stale.given_up.store(true, Ordering::Relaxed);
                    }
                    waiting.insert(rest.camera.clone(), rest);
                }
            }
            found = ended(&mut search) => {
                if let Some(done) = search.take() {
                    note(&app, &done, found);
                }
            }
            () = super::server::stopped(&mut stopping) => {
                if let Some(stale) = &search {
                    stale.given_up.store(true, Ordering::Relaxed);
                }
                return;
            }
        }
    }
}

/// The fresh rests that can be thought about, oldest first.
async fn fresh(app: &App, last: &mut i64) -> Vec<Rest> {
    let mut rests = Vec::new();
    loop {
        let events = match app.record.events_after(*last, BATCH).await {
            Ok(events) => events,
            Err(error) => {
                tracing::error!("fresh rests could not be looked up for advice: {error}");
                return rests;
            }
        };
        let Some(newest) = events.last() else { return rests };
        *last = newest.id;
        let of_rest = events.into_iter().filter(|event| event.kind == REST_KIND);
        rests.extend(of_rest.filter_map(|event| event.rest));
    }
}

fn begin(rest: Rest, physics: Physics, player: Player) -> Search {
    let given_up = Arc::new(AtomicBool::new(false));
    let bound = Bound { given_up: Some(given_up.clone()), ..Bound::within(TIME) };
    let layout = rest.layout.clone();
    let task = tokio::task::spawn_blocking(move || think((&layout, &physics), player, bound));
    Search { rest, given_up, task }
}

/// What came of a search, once it has ended; never where there is none.
async fn ended(search: &mut Option<Search>) -> Found {
    match search {
        Some(search) => (&mut search.task).await,
        None => std::future::pending().await,
    }
}

fn note(app: &App, done: &Search, found: Found) {
    let Search { rest, given_up, .. } = done;
    match found {
        Ok(Ok(advice)) if !given_up.load(Ordering::Relaxed) => {
            app.advising.hold(rest.id, advice);
        }
        Ok(Ok(_)) => {}
        // A table without a cue ball is no fault.
        Ok(Err(error)) => tracing::debug!(rest = rest.id, "no advice: {error}"),
        Err(error) => tracing::error!(rest = rest.id, "advice failed inside the program: {error}"),
    }
}
