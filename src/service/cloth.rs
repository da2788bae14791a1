//! How fast each camera's cloth is, learned from the balls that roll out on it while it is played on.
//!
//! Each ball that is seen to roll to its rest gives a value; what is taken is the middle of the last
//! ones, since single ones are off by a good part. Kept in the data folder beside the calibrations, and
//! what cannot be read there is begun anew.

use super::CameraName;
use crate::{
    motion::{LeftToRoll, Physics, rolling_resistance},
    vision::RollingBall,
};
use serde::{Deserialize, Serialize};
use std::{
    collections::BTreeMap,
    fs, io,
    path::{Path, PathBuf},
    sync::{Arc, Mutex, MutexGuard, PoisonError},
};

/// So many of the last rolls count, and so many are needed before any does.
const COUNTED: usize = 100;
pub(super) const NEEDED: usize = 12;
/// Places over less time, or nearer to the rest, tell too little.
const LEAST_TIME_S: f64 = 0.6;
const LEAST_LEFT_M: f64 = 0.22;
/// A value surer than this part of itself counts.
const LEAST_SURE: f64 = 0.15;
/// The middle of many normal values is off by so much of their spread, over the root of their number;
/// their spread is so many times the middle of how far they are from it.
const OF_MIDDLE: f64 = 1.2533;
const OF_ABSOLUTE: f64 = 1.4826;

/// What was learned of a cloth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Learned {
    /// Per weight, as in [`Physics`].
    pub rolling_resistance: f64,
    /// One standard error of it.
    pub sigma: f64,
    pub rolls: usize,
}

/// The rolling resistances of the last rolls on one cloth, oldest first.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Rolls {
    rolling_resistances: Vec<f64>,
}

impl Rolls {
    fn add(&mut self, value: f64) {
        self.rolling_resistances.push(value);
        let over = self.rolling_resistances.len().saturating_sub(COUNTED);
        self.rolling_resistances.drain(..over);
    }

    fn learned(&self) -> Option<Learned> {
        let rolls = self.rolling_resistances.len();
        let rolling_resistance = middle(self.rolling_resistances.clone())?;
        let off = |value: &f64| (value - rolling_resistance).abs();
        let spread = OF_ABSOLUTE * middle(self.rolling_resistances.iter().map(off).collect())?;
        let sigma = OF_MIDDLE * spread / (rolls as f64).sqrt();
        Some(Learned { rolling_resistance, sigma, rolls })
    }
}

fn middle(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// The cloths of all cameras. Cheap to clone.
#[derive(Clone, Default)]
pub(super) struct Cloths(Arc<Inner>);

#[derive(Default)]
struct Inner {
    /// Where they are kept; nowhere where there is none.
    folder: Option<PathBuf>,
    rolls: Mutex<BTreeMap<String, Rolls>>,
}

impl Cloths {
    /// The cloths that are kept in a data folder.
    pub fn kept_in(data: &Path) -> Self {
        Self(Arc::new(Inner { folder: Some(data.join("calibrations")), ..Inner::default() }))
    }

    /// Takes in how a ball rolled to its rest, if that tells something of the cloth.
    pub fn note(&self, camera: &CameraName, way: &[RollingBall]) {
        let Some(value) = told_by(way) else { return };
        let rolls = {
            let mut all = self.locked();
            let rolls = all.entry(camera.to_string()).or_insert_with(|| self.load(camera));
            rolls.add(value);
            rolls.clone()
        };
        if let Err(error) = self.save(camera, &rolls) {
            tracing::warn!(%camera, "what was learned of the cloth was not kept: {error}");
        }
    }

    /// What was learned of a camera's cloth so far; none before the first roll.
    pub fn learned(&self, camera: &str) -> Option<Learned> {
        if let Some(rolls) = self.locked().get(camera) {
            return rolls.learned();
        }
        // Whoever asks may name any camera: nothing is kept of one that no ball rolled for.
        self.load(&camera.parse().ok()?).learned()
    }

    /// The physics of a camera's table: those of an ordinary one, with what was learned.
    pub fn physics(&self, camera: &str) -> Physics {
        let usual = Physics::default();
        let learned = self.learned(camera).filter(|learned| learned.rolls >= NEEDED);
        let physics = learned.map_or(usual, |Learned { rolling_resistance, .. }| Physics {
            rolling_resistance,
            ..usual
        });
        // A file may say anything.
        if physics.check().is_ok() { physics } else { usual }
    }

    fn locked(&self) -> MutexGuard<'_, BTreeMap<String, Rolls>> {
        self.0.rolls.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn file(&self, camera: &CameraName) -> Option<PathBuf> {
        self.0.folder.as_ref().map(|folder| folder.join(format!("{camera}.cloth.json")))
    }

    fn load(&self, camera: &CameraName) -> Rolls {
        let Some(file) = self.file(camera) else { return Rolls::default() };
        let text = match fs::read_to_string(&file) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Rolls::default(),
            text => text,
        };
        let rolls = text.and_then(|text| Ok(serde_json::from_str(&text)?));
        rolls.unwrap_or_else(|error| {
            tracing::warn!(file = %file.display(), "a cloth is learned anew: {error}");
            Rolls::default()
        })
    }

    fn save(&self, camera: &CameraName, rolls: &Rolls) -> io::Result<()> {
        let Some(file) = self.file(camera) else { return Ok(()) };
        file.parent().map_or(Ok(()), fs::create_dir_all)?;
        let unfinished = file.with_extension("part");
        fs::write(&unfinished, serde_json::to_string(rolls)? + "\n")?;
        fs::rename(unfinished, file)
    }
}

/// The rolling resistance that a ball's way to its rest tells of.
fn told_by(way: &[RollingBall]) -> Option<f64> {
    let seen = |ball: &RollingBall| LeftToRoll {
        t_s: ball.at.as_secs_f64(),
        left_m: ball.left_mm / 1000.0,
    };
    let seen: Vec<LeftToRoll> = way.iter().map(seen).collect();
    let (first, last) = (seen.first()?, seen.last()?);
    if last.t_s - first.t_s < LEAST_TIME_S || first.left_m < LEAST_LEFT_M {
        return None;
    }
    let (value, sigma) = rolling_resistance(&seen, Physics::default().gravity_m_s2).ok()?;
    let physics = Physics { rolling_resistance: value, ..Physics::default() };
    (sigma < LEAST_SURE * value && physics.check().is_ok()).then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    /// A ball that rolls out on a cloth, seen with an error of some millimetres.
    fn way(resistance: f64, off_mm: f64) -> Vec<RollingBall> {
        let seen = |tenth: u32| {
            let to_come_s = 3.0 - 0.2 * f64::from(tenth);
            let left_mm = 500.0 * resistance * 9.81 * to_come_s * to_come_s;
            let off_mm = if tenth.is_multiple_of(2) { off_mm } else { -off_mm };
            RollingBall {
                at: Duration::from_millis(u64::from(200 * tenth)),
                left_mm: left_mm + off_mm,
            }
        };
        (0..8).map(seen).collect()
    }

    fn data(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("stillcloth-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        folder
    }

    #[test]
    fn a_cloth_is_known_by_the_middle_of_many_rolls_and_after_a_restart() {
        let data = data("cloth");
        let camera: CameraName = "hall".parse().unwrap();
        let cloths = Cloths::kept_in(&data);
        assert_eq!(cloths.learned("hall"), None);
        for roll in 0..NEEDED {
            assert_eq!(cloths.physics("hall"), Physics::default(), "after {roll} rolls");
            // One in six was no roll of this cloth's.
            let resistance = if roll % 6 == 5 { 0.03 } else { 0.0073 };
            cloths.note(&camera, &way(resistance, 1.5));
        }
        let again = Cloths::kept_in(&data);
        for cloths in [&cloths, &again] {
            let learned = cloths.learned("hall").unwrap();
            assert_eq!(learned.rolls, NEEDED);
            assert!((learned.rolling_resistance / 0.0073 - 1.0).abs() < 0.02, "{learned:?}");
            let physics = cloths.physics("hall");
            assert_eq!(physics.rolling_resistance, learned.rolling_resistance);
            assert_eq!(cloths.physics("another"), Physics::default());
        }
        fs::write(data.join("calibrations/hall.cloth.json"), "{\"rolling_resistances\":[\"a\"]}")
            .unwrap();
        assert_eq!(Cloths::kept_in(&data).learned("hall"), None, "begun anew");
        fs::remove_dir_all(data).unwrap();
    }

    #[test]
    fn a_new_cloth_takes_the_place_of_the_old_one() {
        let camera: CameraName = "hall".parse().unwrap();
        let cloths = Cloths::default();
        for resistance in [0.012, 0.008] {
            for _ in 0..COUNTED {
                cloths.note(&camera, &way(resistance, 0.5));
            }
            let learned = cloths.learned("hall").unwrap();
            assert_eq!(learned.rolls, COUNTED);
            assert!((learned.rolling_resistance / resistance - 1.0).abs() < 0.02, "{learned:?}");
        }
    }

    #[test]
    fn what_is_seen_too_short_or_too_near_or_does_not_slow_down_tells_nothing() {
        let whole = way(0.01, 0.0);
        assert!(told_by(&whole).is_some_and(|value| (value - 0.01).abs() < 1e-6));
        assert_eq!(told_by(&whole[..3]), None, "too few");
        assert_eq!(told_by(&whole[5..]), None, "too near");
        assert_eq!(told_by(&way(0.01, 60.0)), None, "too rough");
        let mut faster = whole;
        faster.reverse();
        for (ball, tenth) in faster.iter_mut().zip(0..) {
            ball.at = Duration::from_millis(200 * tenth);
        }
        assert_eq!(told_by(&faster), None, "it does not slow down");
        assert_eq!(told_by(&[]), None);
    }
}
