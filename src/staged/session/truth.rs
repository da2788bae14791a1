//! What is true of a made-up session, written beside its frames as JSON.
//!
//! Times in seconds of the stream, places in millimetres of the table frame with the foot toward
//! large x, pixels with the first pixel's centre at (0.5, 0.5).

use super::script::{Cause, Script};
use super::timeline::{RestSpan, Timeline};
use super::trouble::{FrameTime, Trouble};
use crate::camera::Camera;
use crate::staged::scene::Scene;
use crate::staged::truth::CameraTruth;
use serde::Serialize;

/// All that is true of a session.
#[derive(Debug, Clone, Serialize)]
pub struct SessionTruth {
    pub seed: u64,
    pub fps: f64,
    pub ends_s: f64,
    pub table: TableSpan,
    /// Which way the foot lies: always toward large x.
    pub foot: &'static str,
    /// The run of every attempt.
    pub runs: Vec<usize>,
    pub attempts: Vec<AttemptTruth>,
    pub rests: Vec<RestTruth>,
    pub shots: Vec<ShotTruth>,
    /// The camera, and from when on; more than one where it was knocked.
    pub cameras: Vec<CameraSince>,
    /// Spells of dimmed and of switched light, and pauses of the stream.
    pub dimmed_s: Vec<[f64; 2]>,
    pub switched_s: Vec<[f64; 2]>,
    pub pauses_s: Vec<[f64; 2]>,
}

/// The table's size.
#[derive(Debug, Clone, Serialize)]
pub struct TableSpan {
    pub length_mm: f64,
    pub width_mm: f64,
}

/// An attempt.
#[derive(Debug, Clone, Serialize)]
pub struct AttemptTruth {
    /// From 1.
    pub attempt: usize,
    pub run: usize,
    pub cause: Cause,
    pub reracks: usize,
    /// From its opening rack to the rest that ended it, or to when it was broken off.
    pub from_s: f64,
    pub over_s: f64,
    /// Whether each of its shots was followed by a rest that could be seen.
    pub all_seen: bool,
}

/// A rest: the balls lie still until one is moved.
#[derive(Debug, Clone, Serialize)]
pub struct RestTruth {
    pub rest: usize,
    /// When the last ball stopped changing its place, obstructed or not; it may turn on there.
    pub settled_s: f64,
    /// The balls' standstill, obstructed or not.
    pub still_from_s: f64,
    pub still_to_s: f64,
    /// First and last moment of it with nothing over the cloth.
    pub from_s: f64,
    pub to_s: f64,
    /// First and last frame that shows it so; none where no frame does.
    pub seen_s: Option<[f64; 2]>,
    /// Whether there were frames of it over [`SEEN_S`] at least without a break.
    pub visible: bool,
    pub note: String,
    /// None between attempts.
    pub attempt: Option<usize>,
    /// Points of the attempt so far.
    pub run: usize,
    /// What ended the attempt with this rest.
    pub cause: Option<Cause>,
    /// Whether hands alone brought it about.
    pub by_hand: bool,
    pub balls: Vec<PlaceTruth>,
}

/// A rest counts as visible when it is seen this long in a row, in seconds.
pub const SEEN_S: f64 = 0.6;

/// A ball at rest.
#[derive(Debug, Clone, Serialize)]
pub struct PlaceTruth {
    /// 0 is the cue ball.
    pub number: u8,
    pub x_mm: f64,
    pub y_mm: f64,
}

/// A shot.
#[derive(Debug, Clone, Serialize)]
pub struct ShotTruth {
    pub attempt: usize,
    pub from_s: f64,
    pub to_s: f64,
    /// In the order in which they dropped.
    pub pocketed: Vec<u8>,
    /// Index of the rest that follows.
    pub rest_after: usize,
    /// The rest before it or after it was never visible: it cannot be told for sure.
    pub questionable: bool,
}

/// Where the camera is from a time on.
#[derive(Debug, Clone, Serialize)]
pub struct CameraSince {
    pub from_s: f64,
    pub camera: CameraTruth,
    /// (0,0), (L,0), (L,W), (0,W) of the table frame at nose height.
    pub nose_corners_px: Vec<[f64; 2]>,
}

/// What a truth is put together from.
pub struct Sources<'a> {
    pub seed: u64,
    pub fps: f64,
    pub scene: &'a Scene,
    pub script: &'a Script,
    pub timeline: &'a Timeline,
    pub trouble: &'a Trouble,
    pub frames: &'a [FrameTime],
}

impl SessionTruth {
    /// Puts the truth together; `clear` says whether nothing is over the cloth at a time.
    pub fn of(sources: &Sources, clear: impl Fn(f64) -> bool) -> Self {
        let Sources { scene, timeline, trouble, .. } = sources;
        let rests: Vec<RestTruth> = timeline
            .rests
            .iter()
            .enumerate()
            .map(|(index, span)| rest(index, span, sources, &clear))
            .collect();
        let visible = |index: usize| rests.get(index).is_some_and(|rest| rest.visible);
        let shots: Vec<ShotTruth> = timeline
            .shots
            .iter()
            .map(|shot| ShotTruth {
                attempt: shot.attempt,
                from_s: shot.moves_s[0],
                to_s: shot.moves_s[1],
                pocketed: shot.dropped.clone(),
                rest_after: shot.rest_after,
                questionable: !visible(shot.rest_after)
                    || !visible(shot.rest_after.saturating_sub(1)),
            })
            .collect();
        let spells = |spells: &[super::trouble::Spell]| {
            spells.iter().map(|spell| [spell.from_s, spell.to_s]).collect()
        };
        Self {
            seed: sources.seed,
            fps: sources.fps,
            ends_s: timeline.ends_s,
            table: TableSpan { length_mm: scene.table.length_mm, width_mm: scene.table.width_mm },
            foot: "x = length",
            runs: sources.script.attempts.iter().map(|attempt| attempt.run).collect(),
            attempts: attempts(sources.script, &rests, &shots),
            rests,
            shots,
            cameras: trouble.cameras.iter().map(|(at, c)| camera_since(*at, c, scene)).collect(),
            dimmed_s: spells(&trouble.dimmed),
            switched_s: spells(&trouble.switched),
            pauses_s: trouble.pauses.clone(),
        }
    }
}

/// The step with which a rest is searched for obstruction.
const STEP_S: f64 = 0.02;

fn rest(
    index: usize,
    span: &RestSpan,
    sources: &Sources,
    clear: &impl Fn(f64) -> bool,
) -> RestTruth {
    let [still_from_s, still_to_s] = span.still_s;
    let steps = ((still_to_s - still_from_s) / STEP_S).floor().max(0.0) as u32;
    let moment = |k: u32| still_from_s + f64::from(k) * STEP_S;
    let from_s = (0..=steps).map(moment).find(|at| clear(*at)).unwrap_or(still_to_s);
    let to_s = (0..=steps).rev().map(moment).find(|at| clear(*at)).unwrap_or(from_s);
    let first = sources.frames.partition_point(|frame| frame.shows_s < from_s);
    let (mut seen, mut since, mut visible) = (None, None, false);
    for frame in sources.frames.iter().skip(first).take_while(|frame| frame.shows_s <= to_s) {
        if !clear(frame.shows_s) {
            since = None;
            continue;
        }
        let from: f64 = *since.get_or_insert(frame.shows_s);
        visible |= frame.shows_s - from >= SEEN_S;
        let start = seen.map_or(frame.shows_s, |[start, _]: [f64; 2]| start);
        seen = Some([start, frame.shows_s]);
    }
    let tale = &span.tale;
    RestTruth {
        rest: index,
        settled_s: span.settled_s,
        still_from_s,
        still_to_s,
        from_s,
        to_s,
        seen_s: seen,
        visible,
        note: tale.note.clone(),
        attempt: tale.attempt,
        run: tale.run,
        cause: tale.cause,
        by_hand: tale.by_hand,
        balls: tale
            .places
            .iter()
            .map(|(number, p)| PlaceTruth { number: *number, x_mm: p.x_mm, y_mm: p.y_mm })
            .collect(),
    }
}

fn attempts(script: &Script, rests: &[RestTruth], shots: &[ShotTruth]) -> Vec<AttemptTruth> {
    script
        .attempts
        .iter()
        .enumerate()
        .map(|(index, tale)| {
            let attempt = index + 1;
            let own = || rests.iter().filter(|rest| rest.attempt == Some(attempt));
            let over_s = match tale.cause {
                Cause::Stop => own().next_back().map(|rest| rest.still_to_s),
                _ => own().next_back().map(|rest| rest.from_s),
            };
            AttemptTruth {
                attempt,
                run: tale.run,
                cause: tale.cause,
                reracks: tale.reracks,
                from_s: own().next().map_or(0.0, |rest| rest.from_s),
                over_s: over_s.unwrap_or(0.0),
                all_seen: shots.iter().filter(|s| s.attempt == attempt).all(|s| !s.questionable),
            }
        })
        .collect()
}

fn camera_since(from_s: f64, camera: &Camera, scene: &Scene) -> CameraSince {
    let placed = Scene { camera: *camera, ..scene.clone() };
    let truth = placed.truth("");
    CameraSince { from_s, camera: truth.camera, nose_corners_px: truth.nose_corners_px }
}
