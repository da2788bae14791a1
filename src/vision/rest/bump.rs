//! Whether the camera still hangs where it hung: the noses against where they were.
//!
//! Input: a frame, the camera and table of the calibration. Output: how far the picture moved, in
//! pixels at the corner that moved most. Method: a few stations on each nose are fitted as in
//! calibrating; how far off each is from what the calibrated camera has there is noted once, since
//! cushions are not quite straight. Later offsets, less those, are explained by a shift, a turn and
//! a zoom of the picture, robustly, since a hand or a ball may lie on a nose. Not modelled: a tilt
//! by itself, which moves the noses apart unequally and so shows as a shift or zoom of part of it.

use super::super::noses::{self, Station};
use crate::camera::{Camera, PixelPoint};
use crate::table::TableSize;
use image::RgbImage;
use nalgebra::{Matrix4, Vector4};

/// Distance between stations along a nose, and how far from its place a nose is looked for.
const STATION_MM: f64 = 150.0;
const REACH_MM: f64 = 14.0;
/// Part of the stations that must be seen for a verdict.
const LEAST_SEEN: f64 = 0.4;
/// Residual at which a station has half its weight, in pixels.
const HALF_WEIGHT_PX: f64 = 0.6;

/// Where the noses were when the camera was calibrated.
pub(super) struct NoseMarks {
    camera: Camera,
    table: TableSize,
    corners_px: [PixelPoint; 4],
    offsets_px: Option<Vec<Option<f64>>>,
}

/// What has become of the noses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Noses {
    /// Seen; the corner that moved most is this many pixels from where it was.
    Off { px: f64 },
    /// Too few are seen to tell.
    Unseen,
}

impl NoseMarks {
    pub fn new(camera: &Camera, table: &TableSize, corners_px: [PixelPoint; 4]) -> Self {
        Self { camera: *camera, table: *table, corners_px, offsets_px: None }
    }

    /// Looks at the noses; the first time they are seen is what they are held to.
    pub fn check(&mut self, frame: &RgbImage) -> Noses {
        let stations = noses::check(frame, (&self.camera, &self.table), (STATION_MM, REACH_MM));
        let seen = stations.iter().filter(|s| s.offset_px.is_some()).count();
        if (seen as f64) < LEAST_SEEN * stations.len() as f64 {
            return Noses::Unseen;
        }
        let Some(marks) = &self.offsets_px else {
            let px = self.moved_px(&stations, &vec![Some(0.0); stations.len()]);
            self.offsets_px = Some(offsets_px(&stations));
            return px.map_or(Noses::Unseen, |px| Noses::Off { px });
        };
        self.moved_px(&stations, marks).map_or(Noses::Unseen, |px| Noses::Off { px })
    }

    /// Holds the noses to what a frame shows from now on.
    pub fn note(&mut self, frame: &RgbImage) {
        let stations = noses::check(frame, (&self.camera, &self.table), (STATION_MM, REACH_MM));
        self.offsets_px = Some(offsets_px(&stations));
    }

    /// How far the corner moved that moved most.
    fn moved_px(&self, stations: &[Station], marks: &[Option<f64>]) -> Option<f64> {
        let middle = self.middle();
        let rows: Vec<(Vector4<f64>, f64)> = stations
            .iter()
            .zip(marks)
            .filter_map(|(station, mark)| {
                let [nx, ny] = station.inward;
                let (x, y) = (station.here.x_px - middle[0], station.here.y_px - middle[1]);
                let row = Vector4::new(nx, ny, ny * x - nx * y, nx * x + ny * y);
                Some((row, station.offset_px? - (*mark)?))
            })
            .collect();
        if (rows.len() as f64) < LEAST_SEEN * stations.len() as f64 {
            return None;
        }
        let mut motion = Vector4::zeros();
        for _ in 0..8 {
            let (mut normal, mut right) = (Matrix4::zeros(), Vector4::zeros());
            for (row, offset) in &rows {
                let part = (offset - row.dot(&motion)) / HALF_WEIGHT_PX;
                let weight = 1.0 / (1.0 + part * part);
                normal += row * row.transpose() * weight;
                right += row * (offset * weight);
            }
            motion = normal.try_inverse()? * right;
        }
        let moved = self.corners_px.iter().map(|corner| {
            let (x, y) = (corner.x_px - middle[0], corner.y_px - middle[1]);
            let dx = motion[0] - motion[2] * y + motion[3] * x;
            let dy = motion[1] + motion[2] * x + motion[3] * y;
            dx.hypot(dy)
        });
        Some(moved.fold(0.0, f64::max))
    }

    fn middle(&self) -> [f64; 2] {
        let sum = |of: fn(&PixelPoint) -> f64| self.corners_px.iter().map(of).sum::<f64>() / 4.0;
        [sum(|p| p.x_px), sum(|p| p.y_px)]
    }
}

fn offsets_px(stations: &[Station]) -> Vec<Option<f64>> {
    stations.iter().map(|station| station.offset_px).collect()
}
