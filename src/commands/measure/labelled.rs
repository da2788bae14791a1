//! Labelled frames: a picture with a JSON file of the same name beside it that says what is true.
//!
//! The label's format is that of `stillcloth stage` (`staged::Truth`); only what is compared is
//! read. Knows nothing of how frames are read or compared.

use serde::Deserialize;
use std::path::{Path, PathBuf};
use stillcloth::camera::{Camera, Lens, PixelPoint, Pose};
use stillcloth::table::{SpacePoint, TablePoint, TableSize};

/// What is true of a frame.
#[derive(Deserialize)]
pub struct Label {
    pub profile: String,
    pub table: TableSize,
    #[serde(default)]
    pub obstructed: bool,
    pub camera: TrueCamera,
    /// (0,0), (L,0), (L,W), (0,W) of the table frame at nose height.
    pub nose_corners_px: [[f64; 2]; 4],
    pub balls: Vec<TrueBall>,
}

#[derive(Deserialize)]
pub struct TrueBall {
    /// 0 is the cue ball.
    pub number: u8,
    pub x_mm: f64,
    pub y_mm: f64,
    /// The picture of its centre.
    pub px: [f64; 2],
}

#[derive(Deserialize, PartialEq)]
pub struct TrueCamera {
    width: u32,
    height: u32,
    f_px: f64,
    k1: f64,
    #[serde(default)]
    k2: f64,
    position_mm: [f64; 3],
    forward: [f64; 3],
    up: [f64; 3],
}

impl TrueBall {
    pub fn place(&self) -> TablePoint {
        TablePoint::new(self.x_mm, self.y_mm)
    }
}

impl Label {
    /// The true camera, as the rest of the program knows cameras.
    pub fn camera(&self) -> Camera {
        let told = &self.camera;
        let [x_mm, y_mm, z_mm] = told.position_mm;
        let mut lens = Lens::pinhole(told.width, told.height, told.f_px);
        (lens.k1, lens.k2) = (told.k1, told.k2);
        Camera { lens, pose: Pose::looking(SpacePoint { x_mm, y_mm, z_mm }, told.forward, told.up) }
    }

    pub fn nose_corners(&self) -> [PixelPoint; 4] {
        self.nose_corners_px.map(|[x_px, y_px]| PixelPoint::new(x_px, y_px))
    }
}

/// A picture file and its label.
pub struct Labelled {
    pub picture: PathBuf,
    /// The picture's path from the folder that is measured.
    pub name: String,
    /// In which row it counts: its profile, and the folder it lies in where that is another.
    pub group: String,
    pub label: Label,
}

/// All labelled frames of a folder and the folders in it, in the order of their names.
pub fn walk(folder: &Path) -> Result<Vec<Labelled>, String> {
    let mut found = Vec::new();
    let mut waiting = vec![folder.to_path_buf()];
    while let Some(inner) = waiting.pop() {
        let entries = std::fs::read_dir(&inner)
            .map_err(|error| format!("cannot look into {}: {error}", inner.display()))?;
        for entry in entries {
            let path = entry.map_err(|error| format!("{}: {error}", inner.display()))?.path();
            if path.is_dir() {
                waiting.push(path);
            } else if is_picture(&path) && path.with_extension("json").is_file() {
                found.push(labelled(folder, path)?);
            }
        }
    }
    found.sort_by(|a, b| a.picture.cmp(&b.picture));
    if found.is_empty() {
        return Err(format!(
            "no labelled frame in {}: a .jpg or .png with a .json of the same name beside it, as \
             `stillcloth stage` writes them",
            folder.display()
        ));
    }
    Ok(found)
}

fn is_picture(path: &Path) -> bool {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
    ["jpg", "jpeg", "png"].iter().any(|known| ending.eq_ignore_ascii_case(known))
}

fn labelled(folder: &Path, picture: PathBuf) -> Result<Labelled, String> {
    let beside = picture.with_extension("json");
    let text = std::fs::read_to_string(&beside)
        .map_err(|error| format!("cannot read the label {}: {error}", beside.display()))?;
    let label: Label = serde_json::from_str(&text)
        .map_err(|error| format!("{} is no label of a frame: {error}", beside.display()))?;
    let name = picture.strip_prefix(folder).unwrap_or(&picture).to_string_lossy().into_owned();
    let inner = Path::new(&name).parent().map(Path::to_string_lossy).unwrap_or_default();
    let group = if inner.is_empty() {
        label.profile.clone()
    } else {
        format!("{inner}: {}", label.profile)
    };
    Ok(Labelled { picture, name, group, label })
}
