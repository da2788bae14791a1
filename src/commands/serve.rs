//! `stillcloth serve`: the service.

use std::{error::Error, net::SocketAddr, path::PathBuf, sync::Arc};
use stillcloth::{
    camera::source::FrameSource,
    record::Retention,
    service::{
        CameraName, Limits, ReaderFactory, Server, Settings, Standpoint, TableReader,
        webhooks::{Listener, NewSecret},
    },
    table::TableSize,
    vision::CalibrateOptions,
};
use tokio::signal::unix::{SignalKind, signal};

#[derive(clap::Args)]
pub struct Arguments {
    /// A camera to watch: demo, a folder of pictures, or a video file. Without one, frames are
    /// taken by HTTP alone.
    #[arg(long, value_name = "demo|FOLDER|VIDEO")]
    camera: Option<String>,

    /// Where the record, the frames and the calibrations are kept.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,

    /// The address to listen on.
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:8014")]
    listen: SocketAddr,

    /// A program that gets each event by HTTP POST; may be given several times.
    #[arg(long, value_name = "http(s)://…")]
    listener: Vec<Listener>,

    /// The table's size: 9ft, 8ft, 7ft, or length x width between the noses in mm. Taken from the
    /// frames where it is not given.
    #[arg(long, value_name = "SIZE")]
    table: Option<TableSize>,
}

pub fn run(arguments: Arguments) -> Result<(), Box<dyn Error>> {
    let camera = arguments.camera.as_deref().map(open_camera).transpose()?;
    let demo = camera
        .as_ref()
        .filter(|(_, source)| matches!(source, FrameSource::Demo(_)))
        .map(|(name, _)| name.clone());
    let settings = Settings {
        data: arguments.data.clone(),
        retention: Retention::default(),
        listen: arguments.listen,
        limits: Limits::default(),
        camera,
        listeners: arguments.listener,
    };
    let readers = readers(arguments.data, arguments.table, demo);
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .thread_name("http")
        .enable_all()
        .build()?;
    runtime.block_on(async {
        let server = Server::start(settings, readers).await?;
        let address = server.address();
        for NewSecret { url, secret } in server.new_secrets() {
            println!("events to {url} are signed with {}", secret.reveal());
            println!("  (kept in the data folder, and not shown again)");
        }
        if !address.ip().is_loopback() {
            tracing::warn!("whoever reaches {address} can see the table and send frames");
        }
        tracing::info!("open http://{address}/ to see the table");
        let (mut interrupt, mut terminate) =
            (signal(SignalKind::interrupt())?, signal(SignalKind::terminate())?);
        server
            .run(async {
                tokio::select! {
                    _ = interrupt.recv() => {}
                    _ = terminate.recv() => {}
                }
                tracing::info!("stopping");
            })
            .await;
        Ok(())
    })
}

fn open_camera(text: &str) -> Result<(CameraName, FrameSource), Box<dyn Error>> {
    let source = FrameSource::open(text)?;
    let name = CameraName::from_path(text.as_ref());
    Ok((name, source))
}

/// The demo's frames come from several standpoints, every other camera's from one.
fn readers(data: PathBuf, table: Option<TableSize>, demo: Option<CameraName>) -> ReaderFactory {
    Arc::new(move |camera| {
        let options = CalibrateOptions { table, ..CalibrateOptions::default() };
        let standpoint = match &demo {
            Some(demo) if demo == camera => Standpoint::Changing,
            _ => Standpoint::Fixed,
        };
        Box::new(TableReader::new(&data, camera, options, standpoint))
    })
}
