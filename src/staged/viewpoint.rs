//! Where a made-up camera hangs and what lens it has.
//!
//! Focal lengths lie between 0.5 and 1.3 picture widths; the six noses are always wholly in the
//! picture.

use super::build::Build;
use super::random::Random;
use crate::camera::{Camera, Lens, PixelPoint, Pose};
use crate::table::{SpacePoint, TableSize};
use serde::Serialize;

/// How a camera looks at the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, clap::ValueEnum)]
#[serde(rename_all = "snake_case")]
pub enum Profile {
    /// Almost straight down, good lens, mostly 1920 × 1080.
    Near,
    /// A wide lens, tilted up to 14°, mostly 1280 × 720.
    Wide,
    /// From beyond a long rail, tilted 20 to 30°.
    Oblique,
}

impl Profile {
    pub const ALL: [Self; 3] = [Self::Near, Self::Wide, Self::Oblique];

    pub const fn name(self) -> &'static str {
        match self {
            Self::Near => "near",
            Self::Wide => "wide",
            Self::Oblique => "oblique",
        }
    }
}

/// The table's length in a picture is at least this part of the picture's longer side.
const SMALLEST_TABLE: f64 = 0.58;

/// A random camera of a profile that sees the whole table.
pub fn random_camera(
    random: &mut Random,
    profile: Profile,
    table: &TableSize,
    build: &Build,
) -> Camera {
    let mut last = None;
    for _ in 0..200 {
        let (camera, good) = attempt(random, profile, table, build);
        if good {
            return camera;
        }
        last = Some(camera);
    }
    last.unwrap_or_else(|| attempt(random, profile, table, build).0)
}

/// One try, and whether it is fit for use: focal length, size of the table, no fold in view.
fn attempt(
    random: &mut Random,
    profile: Profile,
    table: &TableSize,
    build: &Build,
) -> (Camera, bool) {
    let [width_px, height_px] = picture_size(random, profile);
    let pose = pose(random, profile, table, width_px < height_px);
    let mut lens = Lens::pinhole(width_px, height_px, 1.0);
    lens.k1 = match profile {
        Profile::Near => random.between(-0.05, 0.005),
        Profile::Wide => random.between(-0.22, 0.0),
        Profile::Oblique => random.between(-0.1, 0.0),
    };
    if lens.k1 < -0.1 && random.chance(0.4) {
        lens.k2 = random.between(0.0, 0.03);
    }
    let camera = Camera { lens, pose };
    let Some(reach) = extent(&camera, table, build.rail_edge_mm) else { return (camera, false) };
    let Some(nose_reach) = extent(&camera, table, 20.0) else { return (camera, false) };
    // The rails just fit, or leave room around; now and then the outer edge is cut off.
    let fill = if random.chance(0.12) { 1.04 } else { random.between(0.8, 0.99) };
    lens.focal_px = (fill / reach).min(0.98 / nose_reach);
    let longer_px = f64::from(width_px.max(height_px));
    let camera = Camera { lens, pose };
    let mm_per_px = camera.mm_per_px(table.centre_spot(), 0.0).unwrap_or(f64::INFINITY);
    let large = table.length_mm / mm_per_px > SMALLEST_TABLE * longer_px;
    let usual = (0.5..1.3).contains(&(lens.focal_px / longer_px));
    (camera, large && usual && sees_to_its_corners(&lens))
}

/// Whether the lens does not fold within the picture; the principal point is in the middle.
fn sees_to_its_corners(lens: &Lens) -> bool {
    lens.normal_from_picture(PixelPoint::new(0.0, 0.0)).is_some()
}

fn picture_size(random: &mut Random, profile: Profile) -> [u32; 2] {
    let [w, h] = match profile {
        Profile::Near => random.pick([
            [1920, 1080],
            [1920, 1080],
            [1920, 1080],
            [1920, 1080],
            [1600, 1200],
            [1536, 864],
        ]),
        Profile::Wide | Profile::Oblique => random.pick([
            [1280, 720],
            [1280, 720],
            [1280, 720],
            [1280, 720],
            [1280, 960],
            [1366, 768],
            [1021, 577],
        ]),
    };
    if random.chance(0.07) { [h, w] } else { [w, h] }
}

/// Table-frame direction `turn_rad` around the vertical.
fn level(turn_rad: f64) -> [f64; 2] {
    [turn_rad.cos(), turn_rad.sin()]
}

fn pose(random: &mut Random, profile: Profile, table: &TableSize, portrait: bool) -> Pose {
    let middle = table.centre_spot();
    let (lowest, highest): (f64, f64) = match profile {
        Profile::Near => (2000.0, 3200.0),
        Profile::Wide => (1600.0, 2900.0),
        Profile::Oblique => (1600.0, 2900.0),
    };
    let size = table.length_mm / 2540.0;
    let height = random.between(lowest.max(1900.0 * size), highest);
    let tilt_deg = match profile {
        Profile::Near => 6.0 * random.unit(),
        Profile::Wide => 14.0 * random.unit(),
        Profile::Oblique => random.between(20.0, 30.0),
    };
    // The camera stands on the side it looks away from; oblique ones beyond a long rail.
    let side = random.pick([-1.0, 1.0]);
    let heading_rad = match profile {
        Profile::Oblique => {
            -side * std::f64::consts::FRAC_PI_2 + 0.25 * random.normal().clamp(-1.5, 1.5)
        }
        _ => random.between(0.0, std::f64::consts::TAU),
    };
    let heading = level(heading_rad);
    let lean = tilt_deg.to_radians().tan();
    let forward = [heading[0] * lean, heading[1] * lean, -1.0];
    // Aim near the table's middle.
    let aim = [middle.x_mm + 60.0 * random.normal(), middle.y_mm + 40.0 * random.normal()];
    let position = SpacePoint {
        x_mm: aim[0] - heading[0] * lean * height,
        y_mm: aim[1] - heading[1] * lean * height,
        z_mm: height,
    };
    let upward_rad = match profile {
        Profile::Oblique => heading_rad + roll_rad(random, 0.05),
        _ => {
            let across = side * std::f64::consts::FRAC_PI_2;
            let turned = if portrait { std::f64::consts::FRAC_PI_2 } else { 0.0 };
            across + turned + roll_rad(random, 0.12)
        }
    };
    let upward_rad = if portrait && profile == Profile::Oblique {
        upward_rad + std::f64::consts::FRAC_PI_2
    } else {
        upward_rad
    };
    let [ux, uy] = level(upward_rad);
    Pose::looking(position, forward, [ux, uy, 0.0])
}

/// Mostly a few degrees, at times anything.
fn roll_rad(random: &mut Random, any: f64) -> f64 {
    if random.chance(any) {
        random.between(0.0, std::f64::consts::TAU)
    } else if random.chance(0.1) {
        std::f64::consts::PI + 0.04 * random.normal()
    } else {
        0.06 * random.normal()
    }
}

/// How far a rectangle `beyond_mm` outside the noses reaches in a picture of focal length 1, as a
/// part of the half picture: the largest over width and height; none where the lens folds or a
/// corner is behind the camera.
fn extent(camera: &Camera, table: &TableSize, beyond_mm: f64) -> Option<f64> {
    let PixelPoint { x_px: cx, y_px: cy } = camera.lens.centre_px;
    let (l, w) = (table.length_mm, table.width_mm);
    let along = |k: i32, size: f64| -beyond_mm + (size + 2.0 * beyond_mm) * f64::from(k) / 8.0;
    let mut reach: f64 = 0.0;
    for k in 0..=8 {
        for (x, y) in [
            (along(k, l), -beyond_mm),
            (along(k, l), w + beyond_mm),
            (-beyond_mm, along(k, w)),
            (l + beyond_mm, along(k, w)),
        ] {
            let point = SpacePoint { x_mm: x, y_mm: y, z_mm: table.nose_height_mm() };
            let seen = camera.pose.camera_from_table(point);
            let (nx, ny) = (seen.x / seen.z, seen.y / seen.z);
            let r2 = nx * nx + ny * ny;
            let slope = 1.0 + r2 * (3.0 * camera.lens.k1 + 5.0 * r2 * camera.lens.k2);
            if seen.z < 100.0 || slope < 0.3 {
                return None;
            }
            let p = camera.lens.picture_from_normal([nx, ny]);
            reach = reach.max((p.x_px - cx).abs() / cx).max((p.y_px - cy).abs() / cy);
        }
    }
    (reach > 0.0).then_some(reach)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cameras_keep_to_their_profile_and_see_all_noses() {
        for seed in 0..150_u64 {
            let mut random = Random::new(seed);
            let profile = Profile::ALL[random.below(3)];
            let table = random.pick(TableSize::PRESETS);
            let build = Build::random(&mut random, &table);
            let camera = random_camera(&mut random, profile, &table, &build);
            let tilt = camera.pose.tilt_rad().to_degrees();
            let tilts = match profile {
                Profile::Near => 0.0..6.0,
                Profile::Wide => 0.0..14.0,
                Profile::Oblique => 20.0..30.01,
            };
            assert!(tilts.contains(&tilt), "{seed} {profile:?}: {tilt}");
            let widths =
                camera.lens.focal_px / f64::from(camera.lens.width_px.max(camera.lens.height_px));
            assert!((0.5..1.3).contains(&widths), "{seed} {profile:?}: focal {widths}");
            for corner in table.corners() {
                let seen = camera.project(corner.at_height(table.nose_height_mm()));
                let inside = seen.is_some_and(|p| {
                    (0.0..f64::from(camera.lens.width_px)).contains(&p.x_px)
                        && (0.0..f64::from(camera.lens.height_px)).contains(&p.y_px)
                });
                assert!(inside, "{seed} {profile:?}: {seen:?}");
            }
        }
    }
}
