//! `stillcloth serve`: the service.

use std::{
    collections::BTreeMap,
    error::Error,
    io::IsTerminal,
    net::{Ipv4Addr, SocketAddr},
    path::PathBuf,
    sync::Arc,
};
use stillcloth::{
    camera::{
        Calibration,
        source::{FrameSource, SourceError},
    },
    service::{
        AccessSettings, CameraName, Invitation, Limits, OwnCertificate, ReaderFactory, Server,
        Settings, SettingsFile, TableReader, Watching,
        webhooks::{Listener, NewSecret},
    },
    staged::session::Demo,
    table::TableSize,
    vision::CalibrateOptions,
};
use tokio::signal::unix::{SignalKind, signal};

#[derive(clap::Args)]
pub struct Arguments {
    /// A settings file in TOML with the same names as these options, and [[cameras]] (name, source,
    /// table, calibration), [[listeners]] (url, secret) and [advice] (player: beginner, club or
    /// expert, for whom each rest is thought about). What is given here as well counts here.
    #[arg(long, value_name = "FILE.toml")]
    settings: Option<PathBuf>,

    /// A camera to watch: demo, a folder of pictures, a video file, a webcam's number or path, an
    /// address (rtsp://…, http://… for MJPEG, https://…), or pushed for one that sends its frames by
    /// WebSocket. With a name before it as in table-1=0; may be given several times. Without one,
    /// cameras may send frames all the same.
    #[arg(long, value_name = "[NAME=]SOURCE")]
    camera: Vec<String>,

    /// Where the record, the frames and the calibrations are kept [default: data]
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,

    /// The address to listen on [default: 127.0.0.1:8014, with --lan 0.0.0.0:8014]
    #[arg(long, value_name = "ADDRESS:PORT")]
    listen: Option<SocketAddr>,

    /// Open the service to the network: all may look on, encrypted (https), and a device that was
    /// paired once may change something
    #[arg(long)]
    lan: bool,

    /// A name by which the service is reached, besides this machine's own; may be given several
    /// times
    #[arg(long, value_name = "NAME")]
    host: Vec<String>,

    /// A certificate of your own for --lan, with those that lead to its authority, in PEM; one is
    /// made otherwise
    #[arg(long, value_name = "FILE.pem", requires = "key")]
    certificate: Option<PathBuf>,

    /// The private key of that certificate, in PEM
    #[arg(long, value_name = "FILE.pem", requires = "certificate")]
    key: Option<PathBuf>,

    /// A program that gets each event by HTTP POST; may be given several times.
    #[arg(long, value_name = "http(s)://…")]
    listener: Vec<Listener>,

    /// The tables' size: 9ft, 8ft, 7ft, or length x width between the noses in mm. Taken from the
    /// frames where it is not given.
    #[arg(long, value_name = "SIZE")]
    table: Option<TableSize>,
}

const USUAL_PORT: u16 = 8014;

/// What is known of a camera's table and place beforehand.
#[derive(Clone)]
struct Known {
    table: Option<TableSize>,
    calibration: Option<PathBuf>,
}

/// A camera as it was asked for.
struct Wanted {
    name: CameraName,
    source: String,
    table: Option<TableSize>,
    calibration: Option<PathBuf>,
}

pub fn run(arguments: Arguments) -> Result<(), Box<dyn Error>> {
    let file = arguments.settings.as_deref().map(SettingsFile::load).transpose()?;
    let file = file.unwrap_or_default();
    let data = arguments.data.or(file.data).unwrap_or_else(|| "data".into());
    let table = arguments.table.or(file.table);
    let listeners = if arguments.listener.is_empty() { file.listeners } else { arguments.listener };
    let wanted = if arguments.camera.is_empty() {
        let section = |camera: stillcloth::service::CameraSection| Wanted {
            name: camera.name,
            source: camera.source,
            table: camera.table,
            calibration: camera.calibration,
        };
        file.cameras.into_iter().map(section).collect()
    } else {
        arguments.camera.iter().map(|text| wanted(text)).collect()
    };
    let (cameras, known) = open(wanted)?;
    let certificate = match (arguments.certificate.or(file.certificate), arguments.key.or(file.key))
    {
        (Some(certificate), Some(key)) => Some(OwnCertificate { certificate, key }),
        (None, None) => None,
        _ => return Err("a certificate and its key go together: give both".into()),
    };
    let access = AccessSettings {
        lan: arguments.lan || file.lan,
        hosts: if arguments.host.is_empty() { file.hosts } else { arguments.host },
        certificate,
    };
    let usual = if access.lan { Ipv4Addr::UNSPECIFIED } else { Ipv4Addr::LOCALHOST };
    let usual = SocketAddr::from((usual, USUAL_PORT));
    let settings = Settings {
        data: data.clone(),
        retention: file.pictures,
        listen: arguments.listen.or(file.listen).unwrap_or(usual),
        access,
        limits: Limits::default(),
        cameras,
        watching: Watching::default(),
        listeners,
        advice: file.advice.map(|advice| advice.player.prior()),
    };
    serve(settings, readers(data, table, known))
}

fn serve(settings: Settings, readers: ReaderFactory) -> Result<(), Box<dyn Error>> {
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
        match server.invitation() {
            Some(invitation) => invite(&invitation),
            None => tracing::info!("open http://{address}/ to see the table"),
        }
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

/// Tells how other devices come here. The key is shown to whoever sits before the terminal, and to
/// no log.
fn invite(invitation: &Invitation) {
    tracing::info!("open {} on any device of this network", invitation.watch_link());
    if let Some(fingerprint) = invitation.fingerprint() {
        let page = invitation.certificate_link();
        tracing::info!("how a device learns to trust it: {page}, fingerprint {fingerprint}");
    }
    if !std::io::stdout().is_terminal() {
        let file = invitation.key_file().display();
        tracing::info!("the key that pairs a device is in {file}");
        return;
    }
    let link = invitation.phone_link();
    if let Ok(code) = qrcode::QrCode::new(&link) {
        // Black on white, whatever the terminal's own colours: a code the other way round is not
        // read by every phone.
        let drawn = code.render::<qrcode::render::unicode::Dense1x2>().build();
        drawn.lines().for_each(|line| println!("\x1b[30;107m{line}\x1b[0m"));
    }
    println!("A phone that scans this is paired and can be the camera: {link}");
    println!("Any other device is paired by {}\n", invitation.pairing_link());
}

/// A camera of the command line: with a name before it, or named after its source.
fn wanted(text: &str) -> Wanted {
    let named = text.split_once('=').and_then(|(name, source)| Some((name.parse().ok()?, source)));
    let (name, source) = named.unwrap_or_else(|| (CameraName::from_source(text), text));
    Wanted { name, source: source.into(), table: None, calibration: None }
}

/// The demo, or a camera that is there.
fn source_named(text: &str) -> Result<FrameSource, SourceError> {
    if text == "demo" { Ok(FrameSource::Stream(Arc::new(Demo))) } else { FrameSource::open(text) }
}

type Opened = (Vec<(CameraName, FrameSource)>, BTreeMap<CameraName, Known>);

/// What cannot go well is said before anything starts.
fn open(wanted: Vec<Wanted>) -> Result<Opened, Box<dyn Error>> {
    let (mut cameras, mut all_known) = (Vec::new(), BTreeMap::new());
    for Wanted { name, source, table, calibration } in wanted {
        let source = source_named(&source).map_err(|error| format!("camera {name}: {error}"))?;
        if let Some(file) = &calibration {
            Calibration::load(file).map_err(|error| format!("camera {name}: {error}"))?;
        }
        let known = Known { table, calibration };
        if all_known.insert(name.clone(), known).is_some() {
            return Err(format!(
                "two cameras are called {name}: give each a name, as in --camera table-1=SOURCE"
            )
            .into());
        }
        cameras.push((name, source));
    }
    Ok((cameras, all_known))
}

fn readers(
    data: PathBuf,
    table: Option<TableSize>,
    known: BTreeMap<CameraName, Known>,
) -> ReaderFactory {
    Arc::new(move |camera| {
        let known = known.get(camera);
        let table = known.and_then(|known| known.table).or(table);
        let options = CalibrateOptions { table, ..CalibrateOptions::default() };
        let reader = TableReader::new(&data, camera, options);
        match known.and_then(|known| known.calibration.clone()) {
            Some(calibration) => Box::new(reader.beginning_with(calibration)),
            None => Box::new(reader),
        }
    })
}
