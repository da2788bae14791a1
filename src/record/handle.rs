//! The handle to the record's thread.

use super::{
    Contest, Corrected, Delivery, DeliveryCounts, DeliveryOutcome, Due, EntryTaken, Event,
    HandKept, Kept, KnownListener, ListenerSetting, NewNote, NewRest, Note, Picture, Practice,
    RecordError, Rest, RestQuery, Retention, UserNote, event, followers, hand_kept, notes, outbox,
    store::Store,
};
use crate::{
    contest::{Entered, EntryState, Facts, Rules},
    score::{Correction, Step, Story},
    study::ShotLog,
};
use jiff::Timestamp;
use std::{collections::HashMap, path::Path};
use tokio::sync::{
    mpsc::{self, error::TryRecvError},
    oneshot, watch,
};

/// Questions that may wait for the thread; whoever asks more waits to ask.
const WAITING: usize = 64;

/// What the thread does, and how it tells whoever asked; told once what changed is announced, so
/// that nobody who has an answer finds the announcements behind it.
type Task = Box<dyn FnOnce(&mut Store) -> Reply + Send>;
type Reply = Box<dyn FnOnce()>;

/// The record of a data folder. Cheap to clone; all clones speak to the same thread.
#[derive(Debug, Clone)]
pub struct Record {
    tasks: mpsc::Sender<Task>,
    last_event: watch::Receiver<i64>,
}

impl Record {
    /// Opens the record of a data folder, or begins one, and starts its thread.
    ///
    /// # Errors
    /// Where the folder cannot be used, or another process uses it.
    pub fn open(data: &Path, retention: Retention) -> Result<Self, RecordError> {
        let store = Store::open(data, retention)?;
        let (tasks, waiting) = mpsc::channel::<Task>(WAITING);
        let (announce, last_event) = watch::channel(store.numbers.event);
        let thread = std::thread::Builder::new().name("record".into());
        thread
            .spawn(move || work_off(store, waiting, &announce))
            .map_err(|source| RecordError::Folder { path: data.into(), source })?;
        Ok(Self { tasks, last_event })
    }

    /// The id of the newest event that is on disk; 0 where there is none. Changes are announced.
    pub fn announcements(&self) -> watch::Receiver<i64> {
        self.last_event.clone()
    }

    /// Keeps a rest; when this returns, it and the events it caused are on disk. For threads that
    /// may wait.
    ///
    /// # Errors
    /// Where it could not be kept: nothing has changed then.
    pub fn append(&self, new: NewRest) -> Result<Kept, RecordError> {
        self.wait_for(move |store| store.append(new))
    }

    /// The same of a rest that lies in the past: no listener is told of it, and the table was not
    /// watched for as long as it says.
    ///
    /// # Errors
    /// Where it could not be kept: nothing has changed then.
    pub fn append_history(&self, new: NewRest) -> Result<Kept, RecordError> {
        self.wait_for(move |store| store.append_history(new))
    }

    /// The SHA-256 of the picture of each rest of a camera, with its time. For threads that may wait.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub fn pictures_of(&self, camera: &str) -> Result<Vec<(String, Timestamp)>, RecordError> {
        let camera = camera.to_string();
        self.wait_for(move |store| store.pictures_of(&camera))
    }

    /// Announces something about a camera that belongs to no rest; when this returns, it is on
    /// disk. For threads that may wait.
    ///
    /// # Errors
    /// Where it could not be kept: nothing has changed then.
    pub fn note(&self, note: Note) -> Result<Event, RecordError> {
        self.wait_for(move |store| store.note(note))
    }

    /// Keeps what the user says about a rest, and tells what it changed; when this returns, all of
    /// it is on disk. `instead_of` is what the user saw to be said of it before, if that matters.
    ///
    /// # Errors
    /// Where there is no such rest, something else was said of it meanwhile, or it could not be
    /// kept: nothing has changed then.
    pub async fn correct(
        &self,
        correction: Correction,
        instead_of: Option<Option<Step>>,
        at: Timestamp,
    ) -> Result<Corrected, RecordError> {
        self.ask(move |store| store.correct(correction, instead_of, at)).await
    }

    /// Keeps that a practice begins or is over, and tells what that changed; when this returns, all
    /// of it is on disk.
    ///
    /// # Errors
    /// Where it could not be kept: nothing has changed then.
    pub async fn practise(
        &self,
        practice: Practice,
        at: Timestamp,
    ) -> Result<Corrected, RecordError> {
        self.ask(move |store| store.practise(practice, at)).await
    }

    /// Whether a shot is practised before a camera now, and nothing counts.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn practises(&self, camera: String) -> Result<bool, RecordError> {
        self.ask(move |store| store.practises(&camera)).await
    }

    /// Follows the rests of every camera on record, so that nobody who asks has to wait for it: five
    /// million rests take half a minute. Whatever else the record is asked for goes between two cameras.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn follow_ahead(&self) -> Result<(), RecordError> {
        for camera in self.ask(|store| followers::cameras(&store.connection)).await? {
            self.story(camera, |_| ()).await?;
        }
        Ok(())
    }

    /// What is known of a camera's attempts, for as long as `look` looks at it. Where the camera
    /// has not been asked for since the start, its rests are followed first.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn story<T: Send + 'static>(
        &self,
        camera: String,
        look: impl FnOnce(&Story) -> T + Send + 'static,
    ) -> Result<T, RecordError> {
        self.study(camera, |story, _| look(story)).await
    }

    /// The same with what the rests tell the study.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn study<T: Send + 'static>(
        &self,
        camera: String,
        look: impl FnOnce(&Story, &ShotLog) -> T + Send + 'static,
    ) -> Result<T, RecordError> {
        self.ask(move |store| {
            let score = store.followers.take(&store.connection, &camera)?;
            let seen = look(score.follower.story(), &score.log);
            store.followers.put_back(&camera, score);
            Ok(seen)
        })
        .await
    }

    /// The user's last word on each rest of a camera that is not taken back, by the rest's id.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn corrections(&self, camera: String) -> Result<HashMap<i64, Step>, RecordError> {
        self.ask(move |store| followers::corrections(&store.connection, &camera)).await
    }

    /// Keeps what the user wrote about a rest or an attempt; when this returns, it is on disk.
    ///
    /// # Errors
    /// Where there is no such rest, another note was written meanwhile, or it could not be kept:
    /// nothing has changed then.
    pub async fn write_note(&self, note: NewNote, at: Timestamp) -> Result<UserNote, RecordError> {
        self.ask(move |store| store.write_note(note, at)).await
    }

    /// The notes of a camera that stand, in the order in which they were written.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn notes(&self, camera: String) -> Result<Vec<UserNote>, RecordError> {
        self.ask(move |store| notes::standing(&store.connection, &camera)).await
    }

    /// Events after an id, oldest first, at most 1000.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn events_after(&self, id: i64, limit: u32) -> Result<Vec<Event>, RecordError> {
        self.ask(move |store| event::events_after(&store.connection, id, limit)).await
    }

    /// The listeners of the settings, the disabled ones too.
    ///
    /// # Errors
    /// Where the record has been closed.
    pub async fn listeners(&self) -> Result<Vec<KnownListener>, RecordError> {
        self.ask(|store| Ok(store.listeners.clone())).await
    }

    /// Makes the listeners those of the settings; each event from now on is to be delivered to
    /// them. What waits for one that stays goes on waiting.
    ///
    /// # Errors
    /// Where it could not be written.
    pub async fn set_listeners(
        &self,
        settings: Vec<ListenerSetting>,
    ) -> Result<Vec<KnownListener>, RecordError> {
        self.ask(move |store| {
            store.listeners = store.write(|transaction, _| {
                outbox::set_listeners(transaction, &settings, Timestamp::now())
            })?;
            Ok(store.listeners.clone())
        })
        .await
    }

    /// What a listener is to get at a time, in the order of events, and when to look again.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn due_deliveries(
        &self,
        listener: i64,
        now: Timestamp,
        limit: u32,
    ) -> Result<Due, RecordError> {
        self.ask(move |store| outbox::due_deliveries(&store.connection, listener, now, limit)).await
    }

    /// Writes down how a try to deliver went.
    ///
    /// # Errors
    /// Where it could not be written; the delivery stays due then.
    pub async fn note_delivery(
        &self,
        delivery: Delivery,
        outcome: DeliveryOutcome,
        now: Timestamp,
    ) -> Result<(), RecordError> {
        self.ask(move |store| {
            store.listeners = store.write(|transaction, _| {
                outbox::note_delivery(transaction, &delivery, outcome, now)?;
                outbox::listeners(transaction)
            })?;
            Ok(())
        })
        .await
    }

    /// Hand-kept attempts that count with those of a camera, in the order in which they were brought.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn hand_kept(&self, camera: String) -> Result<Vec<HandKept>, RecordError> {
        self.ask(move |store| hand_kept::of_camera(&store.connection, &camera)).await
    }

    /// All contests, oldest first.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn contests(&self) -> Result<Vec<Contest>, RecordError> {
        self.ask(|store| store.contests()).await
    }

    /// A contest with its entries as they stand, oldest first.
    ///
    /// # Errors
    /// Where there is none of this id, or the record cannot be read.
    pub async fn contest(&self, id: i64) -> Result<(Contest, Vec<Entered>), RecordError> {
        self.ask(move |store| store.contest(id)).await
    }

    /// Opens a contest; when this returns, it is on disk.
    ///
    /// # Errors
    /// Where it could not be kept.
    pub async fn open_contest(&self, rules: Rules, at: Timestamp) -> Result<Contest, RecordError> {
        self.ask(move |store| store.open_contest(rules, at)).await
    }

    /// Keeps an entry of a contest with its signed file, unless it cannot stand beside one that counts.
    ///
    /// # Errors
    /// Where there is no such contest, or it could not be kept.
    pub async fn enter(
        &self,
        contest: i64,
        facts: Facts,
        file: Option<String>,
        at: Timestamp,
    ) -> Result<EntryTaken, RecordError> {
        self.ask(move |store| store.enter(contest, facts, file.as_deref(), at)).await
    }

    /// Says whether an entry of a contest counts, and why not.
    ///
    /// # Errors
    /// Where there is no such entry, or it could not be kept.
    pub async fn say_of_entry(
        &self,
        contest: i64,
        entry: i64,
        said: (EntryState, String),
        at: Timestamp,
    ) -> Result<EntryTaken, RecordError> {
        self.ask(move |store| store.say_of_entry(contest, entry, said, at)).await
    }

    /// The signed file of an entry; none where it was made by hand.
    ///
    /// # Errors
    /// Where there is no such entry, or the record cannot be read.
    pub async fn entry_file(
        &self,
        contest: i64,
        entry: i64,
    ) -> Result<Option<String>, RecordError> {
        self.ask(move |store| store.entry_file(contest, entry)).await
    }

    /// Bytes free on the record's disk; `u64::MAX` where that is not known.
    ///
    /// # Errors
    /// Where the record has been closed.
    pub async fn free_bytes(&self) -> Result<u64, RecordError> {
        self.ask(|store| Ok(store.free_bytes())).await
    }

    /// How many deliveries stand how, over all listeners.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn delivery_counts(&self) -> Result<DeliveryCounts, RecordError> {
        self.ask(|store| outbox::delivery_counts(&store.connection)).await
    }

    /// # Errors
    /// Where the record cannot be read.
    pub async fn by_id(&self, id: i64) -> Result<Option<Rest>, RecordError> {
        self.ask(move |store| event::rest_by_id(&store.connection, id)).await
    }

    /// The newest rests, newest first, of one camera or of all.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn newest(
        &self,
        camera: Option<String>,
        limit: u32,
    ) -> Result<Vec<Rest>, RecordError> {
        self.ask(move |store| store.newest(camera.as_deref(), limit)).await
    }

    /// The rests a query asks for, oldest first.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn list(&self, query: RestQuery) -> Result<Vec<Rest>, RecordError> {
        self.ask(move |store| store.list(&query)).await
    }

    /// What became of a rest's frame, and where it lies.
    ///
    /// # Errors
    /// Where the record cannot be read.
    pub async fn picture(&self, rest: Rest) -> Result<Picture, RecordError> {
        self.ask(move |store| store.picture(&rest)).await
    }

    /// Asks from a thread that may wait.
    fn wait_for<T: Send + 'static>(
        &self,
        what: impl FnOnce(&mut Store) -> Result<T, RecordError> + Send + 'static,
    ) -> Result<T, RecordError> {
        let (task, answer) = question(what);
        self.tasks.blocking_send(task).map_err(|_| RecordError::Closed)?;
        answer.blocking_recv().map_err(|_| RecordError::Closed)?
    }

    async fn ask<T: Send + 'static>(
        &self,
        what: impl FnOnce(&mut Store) -> Result<T, RecordError> + Send + 'static,
    ) -> Result<T, RecordError> {
        let (task, answer) = question(what);
        self.tasks.send(task).await.map_err(|_| RecordError::Closed)?;
        answer.await.map_err(|_| RecordError::Closed)?
    }
}

/// The thread's life: one task after the other, and old pictures are let go when none waits.
fn work_off(mut store: Store, mut waiting: mpsc::Receiver<Task>, announce: &watch::Sender<i64>) {
    loop {
        let task = if store.keeper.is_due() {
            match waiting.try_recv() {
                Ok(task) => Some(task),
                Err(TryRecvError::Empty) => None,
                Err(TryRecvError::Disconnected) => return,
            }
        } else {
            match waiting.blocking_recv() {
                Some(task) => Some(task),
                None => return,
            }
        };
        let reply = match task {
            Some(task) => Some(task(&mut store)),
            None => {
                store.let_some_pictures_go();
                None
            }
        };
        // Only what is on disk is announced.
        announce.send_if_modified(|last| {
            let grown = *last != store.numbers.event;
            *last = store.numbers.event;
            grown
        });
        if let Some(reply) = reply {
            reply();
        }
    }
}

type Answer<T> = oneshot::Receiver<Result<T, RecordError>>;

/// A task for the thread, and where its answer arrives.
fn question<T: Send + 'static>(
    what: impl FnOnce(&mut Store) -> Result<T, RecordError> + Send + 'static,
) -> (Task, Answer<T>) {
    let (reply, answer) = oneshot::channel();
    let task = move |store: &mut Store| -> Reply {
        let result = what(store);
        Box::new(move || {
            if reply.send(result).is_err() {
                tracing::debug!("the record answered a question that nobody waits for any more");
            }
        })
    };
    (Box::new(task), answer)
}
