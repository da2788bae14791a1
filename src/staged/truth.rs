//! The label of a made-up frame: exactly where everything is.
//!
//! Written as JSON; millimetres in the table frame, pixels with the first pixel's centre at
//! (0.5, 0.5). `balls` are those at rest on the cloth; a pocketed ball is a distractor.

use super::extras::Extra;
use super::scene::Scene;
use crate::camera::Camera;
use crate::table::{Pocket, TablePoint};
use nalgebra::Vector3;
use serde::Serialize;

/// All that is true of a frame.
#[derive(Debug, Clone, Serialize)]
pub struct Truth {
    /// File name of the picture.
    pub frame: String,
    pub profile: &'static str,
    pub table: TableTruth,
    pub cloth: &'static str,
    pub light: &'static str,
    pub kind: &'static str,
    pub obstructed: bool,
    pub distractors: Vec<String>,
    pub camera: CameraTruth,
    /// (0,0), (L,0), (L,W), (0,W) of the table frame at nose height.
    pub nose_corners_px: Vec<[f64; 2]>,
    pub balls: Vec<BallTruth>,
}

/// The table's measures.
#[derive(Debug, Clone, Serialize)]
pub struct TableTruth {
    pub length_mm: f64,
    pub width_mm: f64,
    pub ball_diameter_mm: f64,
    pub nose_height_mm: f64,
    /// x, y and radius: four corners, then the two side pockets.
    pub pockets_mm: Vec<[f64; 3]>,
}

/// The camera's lens and place.
#[derive(Debug, Clone, Serialize)]
pub struct CameraTruth {
    pub width: u32,
    pub height: u32,
    pub f_px: f64,
    pub k1: f64,
    pub k2: f64,
    pub position_mm: [f64; 3],
    pub forward: [f64; 3],
    pub up: [f64; 3],
}

/// One ball at rest.
#[derive(Debug, Clone, Serialize)]
pub struct BallTruth {
    pub number: u8,
    pub x_mm: f64,
    pub y_mm: f64,
    /// The picture of its centre.
    pub px: [f64; 2],
}

impl Scene {
    /// The label of this scene's picture, kept under the name `frame`.
    pub fn truth(&self, frame: &str) -> Truth {
        let table = &self.table;
        Truth {
            frame: frame.into(),
            profile: self.profile.name(),
            table: TableTruth {
                length_mm: table.length_mm,
                width_mm: table.width_mm,
                ball_diameter_mm: table.ball_diameter_mm,
                nose_height_mm: table.nose_height_mm(),
                pockets_mm: pockets(&self.build.pockets),
            },
            cloth: self.looks.cloth.name,
            light: self.looks.lighting.kind.name(),
            kind: self.kind.name(),
            obstructed: self.obstructed(),
            distractors: self.extras.iter().filter_map(Extra::name).collect(),
            camera: camera_truth(&self.camera),
            nose_corners_px: table
                .corners()
                .into_iter()
                .map(|corner| self.pixel(corner, table.nose_height_mm()))
                .collect(),
            balls: self
                .balls
                .iter()
                .map(|ball| BallTruth {
                    number: ball.number,
                    x_mm: ball.place.x_mm,
                    y_mm: ball.place.y_mm,
                    px: self.pixel(ball.place, table.ball_radius_mm()),
                })
                .collect(),
        }
    }

    /// The picture of a place; far outside the picture where it is behind the camera.
    fn pixel(&self, place: TablePoint, z_mm: f64) -> [f64; 2] {
        self.camera.project(place.at_height(z_mm)).map_or([-1e6, -1e6], |p| [p.x_px, p.y_px])
    }
}

/// Corners at y = 0, corners at y = W, then the side pockets.
fn pockets(pockets: &[Pocket; 6]) -> Vec<[f64; 3]> {
    let [a, b, c, d, e, f] = pockets;
    [a, b, d, c, e, f].map(|p| [p.centre.x_mm, p.centre.y_mm, p.radius_mm]).into()
}

fn camera_truth(camera: &Camera) -> CameraTruth {
    let back = camera.pose.rotation.inverse();
    let position = camera.pose.position();
    CameraTruth {
        width: camera.lens.width_px,
        height: camera.lens.height_px,
        f_px: camera.lens.focal_px,
        k1: camera.lens.k1,
        k2: camera.lens.k2,
        position_mm: [position.x_mm, position.y_mm, position.z_mm],
        forward: (back * Vector3::z()).into(),
        up: (back * -Vector3::y()).into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Pose;
    use crate::staged::viewpoint::Profile;
    use crate::table::SpacePoint;

    #[test]
    fn the_camera_can_be_rebuilt_from_its_label() {
        let scene = Scene::random(31, Profile::Oblique);
        let truth = scene.truth("a.jpg");
        let [x_mm, y_mm, z_mm] = truth.camera.position_mm;
        let position = SpacePoint { x_mm, y_mm, z_mm };
        let pose = Pose::looking(position, truth.camera.forward, truth.camera.up);
        let camera = Camera { pose, ..scene.camera };
        for (ball, label) in scene.balls.iter().zip(&truth.balls) {
            let place = ball.place.at_height(scene.table.ball_radius_mm());
            let seen = camera.project(place).expect("in front of the camera");
            assert!((seen.x_px - label.px[0]).hypot(seen.y_px - label.px[1]) < 1e-6);
        }
    }
}
