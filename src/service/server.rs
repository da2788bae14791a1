//! The service as a whole: opened, bound, fed, run, stopped.

use super::{
    AccessError, AccessSettings, App, CameraName, Invitation, Limits, ReaderFactory, Watching,
    access::Access,
    advising,
    connections::{self, Door},
    health_notes, router,
    webhooks::{self, Courier, Listener, ListenerError, ListenersError, NewSecret, TRY_TIME},
};
use crate::{
    advice::Player,
    camera::source::FrameSource,
    record::{Record, RecordError, Retention},
};
use std::{future::Future, net::SocketAddr, path::PathBuf};
use thiserror::Error;
use tokio::{net::TcpListener, sync::watch, task::JoinHandle};

/// What a service runs on.
pub struct Settings {
    /// Where the record and the calibrations are kept.
    pub data: PathBuf,
    pub retention: Retention,
    pub listen: SocketAddr,
    pub access: AccessSettings,
    pub limits: Limits,
    /// Cameras that the program watches itself, and those whose frames will be pushed.
    pub cameras: Vec<(CameraName, FrameSource)>,
    pub watching: Watching,
    pub listeners: Vec<Listener>,
    /// The player for whom each fresh rest is thought about; none thinks only when asked.
    pub advice: Option<Player>,
}

/// Why a service did not start.
#[derive(Debug, Error)]
pub enum ServeError {
    #[error(transparent)]
    Record(#[from] RecordError),
    #[error("cannot listen on {address}: {source}. Give another with --listen")]
    Listen { address: SocketAddr, source: std::io::Error },
    #[error(transparent)]
    Access(#[from] AccessError),
    #[error(transparent)]
    Listeners(#[from] ListenersError),
    #[error("a listener in the record cannot be used: {0}")]
    Listener(#[from] ListenerError),
    #[error("no thread for the camera {camera}: {source}")]
    Camera { camera: CameraName, source: std::io::Error },
}

/// A service that is bound and ready to run.
pub struct Server {
    app: App,
    listener: TcpListener,
    address: SocketAddr,
    /// The couriers, and who writes down the cameras' health.
    tasks: Vec<JoinHandle<()>>,
    new_secrets: Vec<NewSecret>,
}

impl Server {
    /// Opens the record, binds the address, and starts the cameras and the listeners.
    ///
    /// # Errors
    /// Where the data folder or the address cannot be used.
    pub async fn start(settings: Settings, readers: ReaderFactory) -> Result<Self, ServeError> {
        let refused = |source| ServeError::Listen { address: settings.listen, source };
        let listener = TcpListener::bind(settings.listen).await.map_err(refused)?;
        let address = listener.local_addr().map_err(refused)?;
        let access = Access::open(&settings.access, &settings.data, address)?;
        let mut app = App::new(
            Record::open(&settings.data, settings.retention)?,
            readers,
            settings.limits,
            settings.watching,
        )
        .opened(access);
        app.keep_cloths_in(&settings.data);
        app.advise_each_rest(settings.advice);
        let advising = app.vitals.part("thinking about fresh rests");
        let advising = tokio::spawn(advising::follow(app.clone(), advising));
        let (couriers, new_secrets) = send_couriers(&app, &settings.listeners).await?;
        let part = app.vitals.part("telling of the cameras' health");
        let health_notes = tokio::spawn(health_notes::write_down(app.clone(), part));
        for (camera, source) in settings.cameras {
            if let Err(source) = app.cameras.start(&camera, source) {
                app.cameras.stop();
                return Err(ServeError::Camera { camera, source });
            }
        }
        let record = app.record.clone();
        tokio::spawn(async move {
            if let Err(error) = record.follow_ahead().await {
                tracing::error!("the rests on record could not be followed ahead: {error}");
            }
        });
        let mut tasks = couriers;
        tasks.push(health_notes);
        tasks.push(tokio::spawn(app.access.clone().keep_fresh(app.stopping.subscribe())));
        tasks.push(advising);
        Ok(Self { app, listener, address, tasks, new_secrets })
    }

    /// The address that was bound, with its port.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// How another device comes here and is paired; none where only this machine reaches the
    /// service.
    pub fn invitation(&self) -> Option<Invitation> {
        self.app.access.invitation()
    }

    /// The secrets of listeners that had none. They are not told again.
    pub fn new_secrets(&self) -> &[NewSecret] {
        &self.new_secrets
    }

    /// Serves until `stop` is ready; then lets requests finish and stops the cameras.
    pub async fn run(self, stop: impl Future<Output = ()> + Send) {
        let stopping = self.app.stopping.clone();
        let cameras = self.app.cameras.clone();
        let door = Door { tls: self.app.access.acceptor(), write_time: self.app.limits.write_time };
        let serving =
            connections::serve(self.listener, router(self.app), door, stopping.subscribe());
        let stopped = async {
            stop.await;
            stopping.send_replace(true);
        };
        tokio::join!(serving, stopped);
        for task in self.tasks {
            if task.await.is_err() {
                tracing::error!("a task had ended in a panic");
            }
        }
        if tokio::task::spawn_blocking(move || cameras.stop()).await.is_err() {
            tracing::error!("the cameras could not be stopped");
        }
    }
}

/// Takes the listeners on and sets a courier on its way for each that is not gone.
async fn send_couriers(
    app: &App,
    listeners: &[Listener],
) -> Result<(Vec<JoinHandle<()>>, Vec<NewSecret>), ServeError> {
    let (known, new_secrets) = webhooks::take_on(&app.record, listeners).await?;
    let mut couriers = Vec::new();
    for listener in known {
        if listener.disabled_at.is_some() {
            tracing::warn!(
                "a listener has said that it is gone for good and gets nothing; to take it on \
                 again, start once without it: {}",
                listener.url.parse::<webhooks::ListenerUrl>()?
            );
            continue;
        }
        let courier = Courier::new(app.record.clone(), &listener, app.metrics.clone(), TRY_TIME)?;
        let part = app.vitals.part(format!("listener {}", courier.url()));
        couriers.push(tokio::spawn(courier.run(part, app.stopping.subscribe())));
    }
    Ok((couriers, new_secrets))
}

/// Returns when the service stops.
pub(super) async fn stopped(stopping: &mut watch::Receiver<bool>) {
    // An error means that nobody is left who could stop it: as good as stopped.
    let _ = stopping.wait_for(|stopping| *stopping).await;
}
