//! The service as a whole: opened, bound, fed, run, stopped.

use super::{App, CameraName, Limits, Listener, ReaderFactory, Watching, connections, router};
use crate::{
    camera::source::FrameSource,
    record::{Record, RecordError},
};
use std::{future::Future, net::SocketAddr, path::PathBuf};
use thiserror::Error;
use tokio::{net::TcpListener, task::JoinHandle};

/// What a service runs on.
pub struct Settings {
    /// Where the record and the calibrations are kept.
    pub data: PathBuf,
    pub listen: SocketAddr,
    pub limits: Limits,
    /// Cameras that the program watches itself, and those whose frames will be pushed.
    pub cameras: Vec<(CameraName, FrameSource)>,
    pub watching: Watching,
    pub listeners: Vec<Listener>,
}

/// Why a service did not start.
#[derive(Debug, Error)]
pub enum ServeError {
    #[error(transparent)]
    Record(#[from] RecordError),
    #[error("cannot listen on {address}: {source}. Give another with --listen")]
    Listen { address: SocketAddr, source: std::io::Error },
    #[error("no thread for the camera {camera}: {source}")]
    Camera { camera: CameraName, source: std::io::Error },
}

/// A service that is bound and ready to run.
pub struct Server {
    app: App,
    listener: TcpListener,
    address: SocketAddr,
    followed: Vec<JoinHandle<()>>,
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
        let app =
            App::new(Record::open(&settings.data)?, readers, settings.limits, settings.watching);
        let followed =
            settings.listeners.into_iter().map(|listener| listener.follow(app.clone())).collect();
        for (camera, source) in settings.cameras {
            if let Err(source) = app.cameras.start(&camera, source) {
                app.cameras.stop();
                return Err(ServeError::Camera { camera, source });
            }
        }
        Ok(Self { app, listener, address, followed })
    }

    /// The address that was bound, with its port.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Serves until `stop` is ready; then lets requests finish and stops the cameras.
    pub async fn run(self, stop: impl Future<Output = ()> + Send) {
        let stopping = self.app.stopping.clone();
        let cameras = self.app.cameras.clone();
        let serving = connections::serve(self.listener, router(self.app), stopping.subscribe());
        let stopped = async {
            stop.await;
            stopping.send_replace(true);
        };
        tokio::join!(serving, stopped);
        for task in self.followed {
            if task.await.is_err() {
                tracing::error!("a listener's task had ended in a panic");
            }
        }
        if tokio::task::spawn_blocking(move || cameras.stop()).await.is_err() {
            tracing::error!("the cameras could not be stopped");
        }
    }
}
