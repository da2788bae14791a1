//! Seeing: from a frame to a calibration and a layout.
//!
//! On `camera` and `layout`. Knows nothing of sources, storage or the network. A frame here is an
//! upright 8-bit RGB picture; turning bytes into one is `camera::picture`'s business.

mod ball_fit;
mod bed;
mod bundle;
mod calibrate;
mod evidence;
mod find;
pub mod lens_board;
mod noses;
pub mod overlay;
mod pixels;
mod pockets;
mod profile;
mod quad;
mod read;
mod region;
mod start;

pub use calibrate::{CalibrateError, CalibrateOptions, FootChoice, calibrate};
pub use read::{ReadError, Reader, Reading, Rejected, read};
#[doc(hidden)]
pub fn debug_noses(frame: &image::RgbImage, camera: &crate::camera::Camera, table: &crate::table::TableSize) {
    let z = table.nose_height_mm();
    for reach in [28.0, 6.0] {
    let seen = if reach > 10.0 { noses::look_borders(frame, camera, table, bundle::Border::ORDINARY, 12.0) } else {noses::look_closely(frame, camera, table, reach)};
    for nose in noses::Nose::all(table) {
        let mut v: Vec<f64> = seen.sightings.iter().filter(|s| s.line == nose.line).filter_map(|s| {
            let p = camera.table_from_picture(s.at, z)?;
            let along = match s.line { bundle::FixedCoordinate::X(_) => p.y_mm, bundle::FixedCoordinate::Y(_) => p.x_mm };
            if along < nose.from_mm || along > nose.to_mm { return None; }
            Some(match s.line { bundle::FixedCoordinate::X(x) => if x > 0.0 { x - p.x_mm } else { p.x_mm }, bundle::FixedCoordinate::Y(y) => if y > 0.0 { y - p.y_mm } else { p.y_mm } })
        }).collect();
        v.sort_by(f64::total_cmp);
        let q = |f: f64| v.get(((v.len() as f64 * f) as usize).min(v.len().saturating_sub(1))).copied().unwrap_or(f64::NAN);
        let ms = seen.sightings.iter().filter(|s| s.line == nose.line).map(|s| s.sigma_px).sum::<f64>() / seen.sightings.iter().filter(|s| s.line == nose.line).count() as f64;
        print!(" [{ms:.2} {:?} n{} {:.2} {:.2} {:.2}]", nose.line, v.len(), q(0.1), q(0.5), q(0.9));
    }
    println!();
    }
}
