//! The service as a whole: opened, bound, fed, run, stopped.

use super::{App, CameraName, Limits, Listener, LiveCamera, ReaderFactory, connections, router};
use crate::{
    camera::source::FrameSource,
    record::{Record, RecordError, Retention},
};
use std::{future::Future, net::SocketAddr, path::PathBuf};
use thiserror::Error;
use tokio::{net::TcpListener, task::JoinHandle};

/// What a service runs on.
pub struct Settings {
    /// Where the record and the calibrations are kept.
    pub data: PathBuf,
    pub retention: Retention,
    pub listen: SocketAddr,
    pub limits: Limits,
    /// A camera that the program feeds itself.
    pub camera: Option<(CameraName, FrameSource)>,
    pub listeners: Vec<Listener>,
}

/// Why a service did not start.
#[derive(Debug, Error)]
pub enum ServeError {
    #[error(transparent)]
    Record(#[from] RecordError),
    #[error("cannot listen on {address}: {source}. Give another with --listen")]
    Listen { address: SocketAddr, source: std::io::Error },
    #[error("no thread for the camera: {0}")]
    Camera(std::io::Error),
}

/// A service that is bound and ready to run.
pub struct Server {
    app: App,
    listener: TcpListener,
    address: SocketAddr,
    camera: Option<LiveCamera>,
    followed: Vec<JoinHandle<()>>,
}

impl Server {
    /// Opens the record, binds the address, and starts the camera and the listeners.
    ///
    /// # Errors
    /// Where the data folder or the address cannot be used.
    pub async fn start(settings: Settings, readers: ReaderFactory) -> Result<Self, ServeError> {
        let refused = |source| ServeError::Listen { address: settings.listen, source };
        let listener = TcpListener::bind(settings.listen).await.map_err(refused)?;
        let address = listener.local_addr().map_err(refused)?;
        let app =
            App::new(Record::open(&settings.data, settings.retention)?, readers, settings.limits);
        let followed =
            settings.listeners.into_iter().map(|listener| listener.follow(app.clone())).collect();
        let camera = settings
            .camera
            .map(|(name, source)| LiveCamera::start(&name, source, app.cameras()))
            .transpose()
            .map_err(ServeError::Camera)?;
        Ok(Self { app, listener, address, camera, followed })
    }

    /// The address that was bound, with its port.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Serves until `stop` is ready; then lets requests finish and stops the camera.
    pub async fn run(self, stop: impl Future<Output = ()> + Send) {
        let stopping = self.app.stopping.clone();
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
        if let Some(camera) = self.camera
            && tokio::task::spawn_blocking(move || camera.stop()).await.is_err()
        {
            tracing::error!("the camera could not be stopped");
        }
    }
}
