//! What would change most if the player had a tenth less error of one kind: reckoned on request, in the
//! background, from positions of the record and hits played there.
//!
//! The player's aim is fitted to the latest shots of the record; speed and tip are those of the level that
//! advice is for, since balls at rest do not tell them. One search runs at a time; what was found is held
//! until the next. It takes a minute or two and is given up where the service stops.

use super::{App, Problem};
use crate::{
    advice::{self, Advisor, Level, Player, Skill, SkillsAt, Tried, fit_aim},
    layout::Layout,
    motion::{Bed, Physics, Placed},
    score::Story,
    study::{LatestShots, RunGain, ShotLog, Tally, ball_meant},
};
use axum::http::StatusCode;
use serde::Serialize;
use std::sync::{
    Arc, Mutex, PoisonError,
    atomic::{AtomicU32, Ordering},
};
use utoipa::ToSchema;

/// The latest shots that the aim is fitted to, and the positions that are played.
const FITTED: usize = 300;
const PLAYED: usize = 80;
/// Fewer tell nothing.
const LEAST: usize = 20;
/// The seed of all that is played.
const SEED: u64 = 1;

/// A shot with the layouts around it.
struct Around {
    before: Layout,
    after: Layout,
    missed: bool,
}

/// How far a search is.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum SkillsState {
    /// Nobody has asked yet.
    NotAsked,
    Running {
        camera: String,
        /// Positions played of how many.
        done: u32,
        of: u32,
    },
    Found {
        camera: String,
        #[serde(flatten)]
        #[schema(value_type = Object)]
        found: Box<SkillsFound>,
    },
    /// Why nothing was found.
    Nothing { camera: String, why: String },
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SkillsFound {
    /// The player as reckoned with.
    pub player: Player,
    /// 95 % of what the aim's error may be, in radians, and the shots that tell it.
    pub aim_rad: [f64; 2],
    pub fitted_shots: usize,
    pub positions: usize,
    /// What a tenth less error of each kind would make of a run.
    pub skills: Vec<SkillGain>,
}

/// One skill.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SkillGain {
    pub skill: Skill,
    #[serde(flatten)]
    pub gain: RunGain,
}

/// Who searches. Cheap to clone.
#[derive(Clone)]
pub(super) struct Skills {
    state: Arc<Mutex<SkillsState>>,
    done: Arc<AtomicU32>,
}

impl Skills {
    pub(super) fn new() -> Self {
        Self { state: Arc::new(Mutex::new(SkillsState::NotAsked)), done: Arc::default() }
    }

    pub(super) fn state(&self) -> SkillsState {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner).clone();
        if let SkillsState::Running { done, .. } = &mut state {
            *done = self.done.load(Ordering::Relaxed);
        }
        state
    }

    fn set(&self, state: SkillsState) {
        *self.state.lock().unwrap_or_else(PoisonError::into_inner) = state;
    }

    /// Takes the turn; false where a search runs already.
    fn begin(&self, camera: &str) -> bool {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        if matches!(*state, SkillsState::Running { .. }) {
            return false;
        }
        self.done.store(0, Ordering::Relaxed);
        *state = SkillsState::Running { camera: camera.into(), done: 0, of: PLAYED as u32 };
        true
    }
}

/// Begins a search on a camera's record; one that runs is left to go on.
pub(super) fn begin(app: &App, camera: &str) -> SkillsState {
    if !app.skills.begin(camera) {
        return app.skills.state();
    }
    let (app, camera) = (app.clone(), camera.to_string());
    let skills = app.skills.clone();
    tokio::spawn(async move {
        let state = match search(&app, &camera).await {
            Ok(found) => SkillsState::Found { camera, found: Box::new(found) },
            Err(why) => SkillsState::Nothing { camera, why: why.detail },
        };
        app.skills.set(state);
    });
    skills.state()
}

async fn search(app: &App, camera: &str) -> Result<SkillsFound, Problem> {
    let look = |story: &Story, log: &ShotLog| LatestShots::of(story, log, FITTED);
    let latest = app.record.study(camera.into(), look).await?;
    let mut shots = Vec::with_capacity(latest.shots.len());
    for (before, after, missed) in &latest.shots {
        let rests = (app.record.by_id(*before).await?, app.record.by_id(*after).await?);
        if let (Some(before), Some(after)) = rests {
            shots.push(Around { before: before.layout, after: after.layout, missed: *missed });
        }
    }
    let player = app.advising.usual_player();
    let (done, stopping) = (app.skills.done.clone(), app.stopping.subscribe());
    let play = move || {
        let goes_on = || {
            done.fetch_add(1, Ordering::Relaxed);
            !*stopping.borrow()
        };
        found(&shots, player, latest.tally, goes_on)
    };
    tokio::task::spawn_blocking(play).await.map_err(|error| Problem::ours(&error))?
}

fn too_few(shots: usize) -> Problem {
    let detail = format!(
        "{shots} shots of the record can be told from their rests; it takes {LEAST} to tell a skill."
    );
    Problem::new(StatusCode::UNPROCESSABLE_ENTITY, "too_few", detail)
}

/// All of it, from the latest shots; `goes_on` is asked after each position.
fn found(
    shots: &[Around],
    usual: Player,
    tally: Tally,
    goes_on: impl Fn() -> bool,
) -> Result<SkillsFound, Problem> {
    let table = shots.last().map(|shot| shot.before.table).ok_or_else(|| too_few(0))?;
    let bed = Bed::new(&table, &Physics::default()).map_err(advice::AdviceError::from)?;
    let mut advisor = Advisor::new(&bed, usual, SEED).map_err(advice::AdviceError::from)?;
    let tried: Vec<Tried> = shots.iter().filter_map(|shot| tried(&mut advisor, shot)).collect();
    if tried.len() < LEAST {
        return Err(too_few(tried.len()));
    }
    let fitted = fit_aim(&usual, &tried);
    let player = Player { aim_rad: fitted.aim_rad, ..usual };
    let mut advisor = Advisor::new(&bed, player, SEED).map_err(advice::AdviceError::from)?;
    let mut said: Vec<SkillsAt> = Vec::new();
    for shot in shots.iter().rev().filter(|shot| shot.before.table == table).take(PLAYED) {
        if let Ok(balls) = advisor.balls(&shot.before) {
            said.extend(advisor.skills_at(&balls));
        }
        if !goes_on() {
            return Err(Problem::new(StatusCode::SERVICE_UNAVAILABLE, "stopping", "Stopping."));
        }
    }
    if said.len() < LEAST {
        return Err(too_few(said.len()));
    }
    let skills = (0_usize..).zip(Skill::ALL).filter_map(|(at, skill)| {
        let more: Vec<f64> = said.iter().map(|said| said.more[at]).collect();
        Some(SkillGain { skill, gain: RunGain::of(&more, tally)? })
    });
    Ok(SkillsFound {
        player,
        aim_rad: [fitted.low_rad, fitted.high_rad],
        fitted_shots: tried.len(),
        positions: said.len(),
        skills: skills.collect(),
    })
}

/// A shot as the fit takes it.
fn tried(advisor: &mut Advisor<'_>, shot: &Around) -> Option<Tried> {
    let (at, aim) = ball_meant(&shot.before, &shot.after)?;
    let balls = advisor.balls(&shot.before).ok()?;
    let radius_mm = shot.before.table.ball_radius_mm();
    let ball = balls.iter().find(|ball: &&Placed| ball.place.distance_mm(at) < radius_mm)?;
    advisor.tried(&balls, ball.id, aim.pocket, !shot.missed)
}

impl SkillsFound {
    /// All of it in sentences, the skill that would change most first.
    pub(super) fn in_words(&self) -> Vec<String> {
        let degrees = |rad: f64| format!("{:.2}", rad.to_degrees());
        let [low, high] = self.aim_rad.map(degrees);
        let aim_rad = self.player.aim_rad;
        let alike = |level: &Level| Player { aim_rad, ..level.prior() } == self.player;
        let level = Level::ALL.into_iter().find(alike);
        let whose =
            level.map_or("as set".into(), |level| format!("those of a {} player", level.name()));
        let mut said = vec![format!(
            "Reckoned by playing {} positions of your record with errors like yours: an aim off by {}° \
             ({low} to {high}), fitted to {} of your shots; speed and spin are {whose}.",
            self.positions,
            degrees(self.player.aim_rad),
            self.fitted_shots,
        )];
        let mut skills: Vec<&SkillGain> = self.skills.iter().collect();
        let by = |gain: &&SkillGain| gain.gain.goes_on.value;
        skills.sort_by(|a, b| by(b).total_cmp(&by(a)));
        said.extend(skills.into_iter().map(|SkillGain { skill, gain }| {
            let name = match skill {
                Skill::Aim => "aim",
                Skill::Speed => "speed",
                Skill::Spin => "spin",
            };
            let then = gain.run_then;
            format!(
                "With a tenth less error of {name} a mean run of {:.1} balls would be one of {:.1} \
                 ({:.1} to {:.1}).",
                gain.run_now, then.value, then.low, then.high,
            )
        }));
        said
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        layout::{Ball, BallKind},
        random::Random,
        table::{FootEnd, TableSize},
    };
    use std::cell::Cell;

    fn layout(balls: &[(f64, f64)]) -> Layout {
        let ball = |(at, &(x, y)): (usize, &(f64, f64))| Ball {
            kind: if at == 0 { BallKind::Cue } else { BallKind::Object },
            number: Some(at as u8),
            x,
            y,
            sigma_mm: 0.5,
            confidence: 0.99,
            number_confidence: 0.95,
        };
        let balls = balls.iter().enumerate().map(ball).collect();
        Layout::of(TableSize::NINE_FOOT, FootEnd::Given, balls)
    }

    /// Shots into the foot corners, every fifth of them missed.
    fn shots(count: u32) -> Vec<Around> {
        let mut random = Random::new(2);
        let shot = |at| {
            let cue = (4.0 + random.unit(), 1.0 + random.unit());
            let (meant, other) = ((6.5 + random.unit(), 3.0), (1.0 + random.unit(), 2.0));
            let missed = at % 5 == 0;
            let after = if missed {
                layout(&[(3.0, 3.4), (5.0, 3.1), other])
            } else {
                let mut after = layout(&[(3.0, 3.4), other]);
                after.balls[1].number = Some(2);
                after
            };
            Around { before: layout(&[cue, meant, other]), after, missed }
        };
        (0..count).map(shot).collect()
    }

    const TALLY: Tally = Tally { faced: 24, missed: 5 };

    #[test]
    fn each_skill_is_told_with_what_it_would_make_of_a_run() {
        let (shots, asked) = (shots(24), Cell::new(0));
        let goes_on = || {
            asked.set(asked.get() + 1);
            true
        };
        let found = found(&shots, Level::Club.prior(), TALLY, goes_on).unwrap();
        assert_eq!((asked.get(), found.skills.len()), (24, 3));
        assert!(found.fitted_shots >= LEAST && found.positions >= LEAST, "{found:?}");
        let [low, high] = found.aim_rad;
        assert!(low < found.player.aim_rad && found.player.aim_rad < high);
        let of = |skill| found.skills.iter().find(|gain| gain.skill == skill).unwrap().gain;
        // Who misses one in five straight pots misses them by aim.
        assert!(of(Skill::Aim).goes_on.low > 0.0, "{found:?}");
        assert!(of(Skill::Aim).goes_on.value > of(Skill::Speed).goes_on.value);
        let words = found.in_words();
        assert!(
            words[1].starts_with("With a tenth less error of aim a mean run of 3.8 balls"),
            "{words:?}"
        );
    }

    #[test]
    fn too_little_is_said_and_a_service_that_stops_waits_for_nothing() {
        let few = found(&shots(9), Level::Club.prior(), TALLY, || true).unwrap_err();
        assert!(few.detail.contains("it takes 20"), "{}", few.detail);
        assert!(found(&[], Level::Club.prior(), TALLY, || true).is_err());
        let stopped = found(&shots(24), Level::Club.prior(), TALLY, || false).unwrap_err();
        assert_eq!(stopped.kind, "stopping");
    }

    #[test]
    fn one_search_runs_at_a_time_and_tells_how_far_it_is() {
        let skills = Skills::new();
        assert_eq!(skills.state(), SkillsState::NotAsked);
        assert!(skills.begin("table") && !skills.begin("other"));
        skills.done.store(7, Ordering::Relaxed);
        let of = PLAYED as u32;
        assert_eq!(skills.state(), SkillsState::Running { camera: "table".into(), done: 7, of });
        skills.set(SkillsState::Nothing { camera: "table".into(), why: "none".into() });
        assert!(skills.begin("other"));
    }
}
