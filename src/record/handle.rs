//! The handle to the record's thread.

use super::{CheckReport, NewRest, RecordError, Rest, RestQuery, store::Store};
use std::path::{Path, PathBuf};
use tokio::sync::{mpsc, oneshot, watch};

/// Questions that may wait for the thread; whoever asks more waits to ask.
const WAITING: usize = 64;

type Task = Box<dyn FnOnce(&mut Store) + Send>;

/// The record of a data folder. Cheap to clone; all clones speak to the same thread.
#[derive(Debug, Clone)]
pub struct Record {
    tasks: mpsc::Sender<Task>,
    last_id: watch::Receiver<i64>,
}

impl Record {
    /// Opens the record of a data folder, or begins one, and starts its thread.
    ///
    /// # Errors
    /// Where the folder cannot be used, or another process uses it.
    pub fn open(data: &Path) -> Result<Self, RecordError> {
        let mut store = Store::open(data)?;
        let (tasks, mut waiting) = mpsc::channel::<Task>(WAITING);
        let (announce, last_id) = watch::channel(store.last_id);
        let thread = std::thread::Builder::new().name("record".into());
        thread
            .spawn(move || {
                while let Some(task) = waiting.blocking_recv() {
                    task(&mut store);
                    // Only what is on disk is announced.
                    announce.send_if_modified(|last| {
                        let grown = *last != store.last_id;
                        *last = store.last_id;
                        grown
                    });
                }
            })
            .map_err(|source| RecordError::Folder { path: data.into(), source })?;
        Ok(Self { tasks, last_id })
    }

    /// The id of the newest rest that is on disk; 0 where there is none. Changes are announced.
    pub fn announcements(&self) -> watch::Receiver<i64> {
        self.last_id.clone()
    }

    /// Keeps a rest; when this returns, it is on disk. For threads that may wait.
    ///
    /// # Errors
    /// Where it could not be kept.
    pub fn append(&self, new: NewRest) -> Result<Rest, RecordError> {
        let (task, answer) = question(move |store| store.append(new));
        self.tasks.blocking_send(task).map_err(|_| RecordError::Closed)?;
        answer.blocking_recv().map_err(|_| RecordError::Closed)?
    }

    /// # Errors
    /// Where the record cannot be read.
    pub async fn by_id(&self, id: i64) -> Result<Option<Rest>, RecordError> {
        self.ask(move |store| store.by_id(id)).await
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

    /// Where a rest's frame lies on disk.
    ///
    /// # Errors
    /// Where the record has been closed.
    pub async fn picture_path(&self, rest: Rest) -> Result<PathBuf, RecordError> {
        self.ask(move |store| Ok(store.picture_path(&rest))).await
    }

    /// Reads everything back and reports what is not as it was written.
    ///
    /// # Errors
    /// Where the record cannot be read at all.
    pub async fn check(&self) -> Result<CheckReport, RecordError> {
        self.ask(|store| store.check()).await
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

type Answer<T> = oneshot::Receiver<Result<T, RecordError>>;

/// A task for the thread, and where its answer arrives.
fn question<T: Send + 'static>(
    what: impl FnOnce(&mut Store) -> Result<T, RecordError> + Send + 'static,
) -> (Task, Answer<T>) {
    let (reply, answer) = oneshot::channel();
    let task = move |store: &mut Store| {
        if reply.send(what(store)).is_err() {
            tracing::debug!("the record answered a question that nobody waits for any more");
        }
    };
    (Box::new(task), answer)
}
