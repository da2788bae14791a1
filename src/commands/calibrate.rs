//! `stillcloth calibrate`: finds the table in frames of one camera, reports and keeps it.

use super::frames::{self, TableArguments};
use super::output;
use serde::Serialize;
use std::error::Error;
use std::path::{Path, PathBuf};
use stillcloth::camera::{Calibration, Lens, PixelPoint};
use stillcloth::service::{self, CameraName};
use stillcloth::table::FootEnd;
use stillcloth::vision::{self, CalibrateOptions, overlay};

#[derive(clap::Args)]
pub struct Arguments {
    /// Pictures of the whole table from one camera that did not move
    #[arg(required = true, value_name = "FRAME")]
    frames: Vec<PathBuf>,
    #[command(flatten)]
    table: TableArguments,
    /// The four corners where the cushions' noses would meet, in pixels, in order around the table;
    /// a few pixels off do no harm
    #[arg(long, num_args = 4, value_name = "X,Y", value_parser = corner)]
    corners: Option<Vec<PixelPoint>>,
    /// The camera's lens, as `stillcloth lens` writes it; only where the camera hangs is solved then
    #[arg(long, value_name = "FILE.json")]
    lens: Option<PathBuf>,
    /// The calibration file to write [default: where `serve` looks for the camera's]
    #[arg(long, value_name = "FILE", conflicts_with_all = ["camera", "data"])]
    out: Option<PathBuf>,
    /// The camera that the frames are from: its calibration is kept where `serve` looks for it. It
    /// is taken up when `serve` starts [default: the first frame's name]
    #[arg(long, value_name = "NAME")]
    camera: Option<CameraName>,
    /// The data folder of `serve`
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
    /// A picture of noses, pockets, sights and grid over the first frame, to judge the calibration
    #[arg(long, value_name = "FILE.png")]
    overlay: Option<PathBuf>,
    /// Print the calibration as JSON
    #[arg(long)]
    json: bool,
}

/// The calibration and where it went.
#[derive(Serialize)]
struct Printed<'a> {
    #[serde(flatten)]
    calibration: &'a Calibration,
    saved: &'a Path,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    if let Some(path) = arguments.overlay.as_ref().filter(|path| !frames::ends_in(path, "png")) {
        return Err(format!("the overlay is a PNG picture: call {} .png", path.display()).into());
    }
    let mut pictures = Vec::new();
    for path in &arguments.frames {
        pictures.push(frames::open(path).map_err(|why| format!("{}: {why}", path.display()))?);
    }
    let corners_px = arguments.corners.as_deref().and_then(|corners| corners.try_into().ok());
    let lens = arguments.lens.as_deref().map(open_lens).transpose()?;
    let options = CalibrateOptions { corners_px, lens, ..arguments.table.options() };
    let calibration = vision::calibrate(&pictures, &options).map_err(|error| {
        let names: Vec<_> = arguments.frames.iter().map(|f| f.display().to_string()).collect();
        format!("{}: {error}", names.join(", "))
    })?;
    let out = arguments.out.clone().unwrap_or_else(|| usual_place(arguments));
    keep(&calibration, &out)?;
    if let (Some(path), Some(first)) = (&arguments.overlay, pictures.first()) {
        frames::save(&overlay::draw(first, &calibration, None), path)?;
    }
    let text = if arguments.json {
        let printed = Printed { calibration: &calibration, saved: &out };
        serde_json::to_string_pretty(&printed)? + "\n"
    } else {
        let mut text = report(&calibration);
        text += &row("saved", &out.display().to_string());
        if let Some(path) = &arguments.overlay {
            text += &row("overlay", &path.display().to_string());
        }
        text
    };
    Ok(output::write(&text)?)
}

fn open_lens(path: &Path) -> Result<Lens, String> {
    let text = std::fs::read_to_string(path)
        .map_err(|error| format!("cannot read the lens {}: {error}", path.display()))?;
    serde_json::from_str(&text).map_err(|error| {
        format!("{} is no lens: {error}. Make one with `stillcloth lens`", path.display())
    })
}

fn corner(text: &str) -> Result<PixelPoint, String> {
    let number = |part: &str| part.trim().parse::<f64>().ok().filter(|value| value.is_finite());
    let point = text.split_once(',').and_then(|(x, y)| Some((number(x)?, number(y)?)));
    let (x_px, y_px) =
        point.ok_or("a corner is two numbers of pixels with a comma between, as 201.2,861.5")?;
    Ok(PixelPoint::new(x_px, y_px))
}

/// Where the service looks for the camera's calibration.
fn usual_place(arguments: &Arguments) -> PathBuf {
    let first = || arguments.frames.first().map(|frame| CameraName::from_path(frame));
    let camera = arguments.camera.clone().or_else(first).unwrap_or_default();
    service::calibration_file(&arguments.data, &camera)
}

fn keep(calibration: &Calibration, out: &Path) -> Result<(), Box<dyn Error>> {
    if let Some(folder) = out.parent() {
        std::fs::create_dir_all(folder)
            .map_err(|error| format!("cannot make the folder {}: {error}", folder.display()))?;
    }
    Ok(calibration.save(out)?)
}

/// What the user should know of a calibration, in plain words.
fn report(calibration: &Calibration) -> String {
    let Calibration { table, table_given, foot, report, .. } = calibration;
    let by = if *table_given { "as given" } else { "taken from the frames (--table gives it)" };
    let named = if table.name() == table.to_string() {
        table.name()
    } else {
        format!("{}, {table}", table.name())
    };
    let foot = match foot {
        FootEnd::Given => "as given",
        FootEnd::Seen => "seen in the frames",
        FootEnd::Open => "open: layouts may be turned by 180° (--foot gives it)",
    };
    let plural = if report.frames == 1 { "" } else { "s" };
    let mut text = row("table", &format!("{named} between the noses, {by}"));
    text += &row("foot end", foot);
    text += &row(
        "fit",
        &format!(
            "{:.2} px from where the edges should be (RMS), in {} frame{plural}",
            report.reprojection_px, report.frames
        ),
    );
    text += &row(
        "camera",
        &format!(
            "{:.0} mm above the cloth, tilted {:.1}°, focal length {:.0} px",
            report.height_mm, report.tilt_deg, report.focal_px
        ),
    );
    text += &row(
        "resolution",
        &format!("{:.2} mm to the pixel at the worst corner", report.worst_corner_mm_per_px),
    );
    text += &row(
        "places",
        &format!("sure to {:.2} mm (one sigma) as far as the calibration goes", report.sigma_mm),
    );
    if report.weak.is_empty() {
        text += &row("weak", "nothing");
    }
    for weak in &report.weak {
        text += &row("weak", weak);
    }
    text
}

fn row(name: &str, words: &str) -> String {
    format!("{name:<11} {words}\n")
}
