//! The script laid on a time axis: where every ball is and who is about at any second.

use super::options::SessionOptions;
use super::people::{Aim, Hand, LEAN_S, Visit, VisitKind, chalk_at, cue_of, lift_mm, nearest_rail};
use super::rules::Places;
use super::script::{HandsTale, RestTale, Script, ShotTale, Step};
use crate::motion::Shot;
use crate::staged::colour::from_hue;
use crate::staged::extras::Block;
use crate::staged::random::Random;
use crate::staged::scene::Scene;
use crate::table::{TablePoint, TableSize};
use nalgebra::Vector3;

/// Balls lying still, or what moves them.
#[derive(Debug, Clone)]
enum Change {
    Still,
    Roll(Box<Shot>),
    Hands(Vec<TimedCarry>),
}

#[derive(Debug, Clone, Copy)]
struct TimedCarry {
    number: u8,
    from: TablePoint,
    to: TablePoint,
    from_s: f64,
    to_s: f64,
    /// Whether it begins or ends off the table.
    comes: bool,
    goes: bool,
}

#[derive(Debug, Clone)]
struct Stretch {
    from_s: f64,
    places: Places,
    change: Change,
}

/// Where a ball is at a time.
#[derive(Debug, Clone, Copy)]
pub struct BallAt {
    pub number: u8,
    pub place: TablePoint,
    /// Above where it would lie.
    pub lift_mm: f64,
}

/// A rest with its times: from the last ball's halt to what moves a ball next.
#[derive(Debug, Clone)]
pub struct RestSpan {
    pub tale: RestTale,
    /// When the last ball stopped changing its place: one may turn on there until `still_s`.
    pub settled_s: f64,
    pub still_s: [f64; 2],
}

/// A shot with its times: from the hit to the last ball's halt.
#[derive(Debug, Clone)]
pub struct ShotSpan {
    pub attempt: usize,
    pub dropped: Vec<u8>,
    pub moves_s: [f64; 2],
    /// Index of the rest that follows.
    pub rest_after: usize,
}

/// The whole session in time.
#[derive(Debug)]
pub struct Timeline {
    stretches: Vec<Stretch>,
    pub visits: Vec<Visit>,
    pub rests: Vec<RestSpan>,
    pub shots: Vec<ShotSpan>,
    pub ends_s: f64,
    off_table: TablePoint,
}

impl Timeline {
    pub fn of(
        script: &Script,
        scene: &Scene,
        options: &SessionOptions,
        random: &mut Random,
    ) -> Self {
        let table = scene.table;
        let off_table =
            TablePoint::new(table.length_mm + scene.build.rail_edge_mm, table.width_mm / 2.0);
        let timeline = Self {
            stretches: Vec::new(),
            visits: Vec::new(),
            rests: Vec::new(),
            shots: Vec::new(),
            ends_s: 0.0,
            off_table,
        };
        let mut clock =
            Clock { timeline, table, now_s: options.stands_first_s, settled_s: 0.0, still_s: 0.0 };
        for step in &script.steps {
            match step {
                Step::Rest(tale) => clock.rest(tale),
                Step::Shot(tale) => clock.shot(tale, random),
                Step::Hands(tale) => clock.hands(tale),
            }
            if matches!(step, Step::Shot(_)) && random.chance(options.upsets.chalk_chance) {
                clock.chalk(scene, random);
            }
        }
        let now_s = clock.now_s;
        let mut timeline = clock.timeline;
        if let Some(last) = timeline.rests.last_mut() {
            last.still_s[1] = now_s;
        }
        timeline.ends_s = now_s;
        timeline.visits.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
        timeline
    }

    fn stretch(&self, at_s: f64) -> Option<&Stretch> {
        let next = self.stretches.partition_point(|stretch| stretch.from_s <= at_s);
        self.stretches.get(next.saturating_sub(1))
    }

    /// Every ball on or over the table.
    pub fn balls(&self, at_s: f64) -> Vec<BallAt> {
        let Some(stretch) = self.stretch(at_s) else { return Vec::new() };
        let lying = |(number, place): &(u8, TablePoint)| BallAt {
            number: *number,
            place: *place,
            lift_mm: 0.0,
        };
        match &stretch.change {
            Change::Still => stretch.places.iter().map(lying).collect(),
            Change::Roll(shot) => shot
                .places_at(at_s - stretch.from_s)
                .into_iter()
                .filter_map(|(ball, place)| {
                    let number = u8::try_from(ball).ok()?;
                    Some(BallAt { number, place: place?, lift_mm: 0.0 })
                })
                .collect(),
            Change::Hands(carries) => {
                let mut balls: Vec<BallAt> = stretch.places.iter().map(lying).collect();
                for carry in carries.iter().filter(|carry| carry.from_s <= at_s) {
                    balls.retain(|ball| ball.number != carry.number);
                    balls.extend(carry.ball(at_s));
                }
                balls
            }
        }
    }

    /// The visits under way.
    pub fn visits(&self, at_s: f64) -> impl Iterator<Item = &Visit> {
        self.visits.iter().filter(move |visit| (visit.from_s..visit.to_s).contains(&at_s))
    }
}

impl TimedCarry {
    fn ball(&self, at_s: f64) -> Option<BallAt> {
        let part = (at_s - self.from_s) / (self.to_s - self.from_s);
        if part >= 1.0 {
            let lies = BallAt { number: self.number, place: self.to, lift_mm: 0.0 };
            return (!self.goes).then_some(lies);
        }
        let mix = |a: f64, b: f64| a + (b - a) * part;
        let place =
            TablePoint::new(mix(self.from.x_mm, self.to.x_mm), mix(self.from.y_mm, self.to.y_mm));
        // Over the rail it is held high from the start, or to the end.
        let lift = if (self.comes && part < 0.5) || (self.goes && part > 0.5) {
            70.0
        } else {
            lift_mm(part)
        };
        Some(BallAt { number: self.number, place, lift_mm: lift })
    }
}

/// Lays step after step on the axis.
struct Clock {
    timeline: Timeline,
    table: TableSize,
    now_s: f64,
    /// Since when the balls have their places, and since when they lie still there.
    settled_s: f64,
    still_s: f64,
}

impl Clock {
    fn stretch(&mut self, from_s: f64, places: &Places, change: Change) {
        self.timeline.stretches.push(Stretch { from_s, places: places.clone(), change });
    }

    fn rest(&mut self, tale: &RestTale) {
        self.stretch(self.still_s, &tale.places, Change::Still);
        let still_s = [self.still_s, f64::INFINITY];
        self.timeline.rests.push(RestSpan {
            tale: tale.clone(),
            settled_s: self.settled_s,
            still_s,
        });
        self.now_s += tale.lasts_s;
    }

    /// The rest before ends: a ball is moved.
    fn stir(&mut self, at_s: f64) {
        if let Some(rest) = self.timeline.rests.last_mut() {
            rest.still_s[1] = rest.still_s[1].min(at_s);
        }
    }

    fn shot(&mut self, tale: &ShotTale, random: &mut Random) {
        let hit = tale.played.hit;
        let cue = cue_of(&tale.before).unwrap_or_else(|| self.table.head_spot());
        let (_, to_rail) = nearest_rail(&self.table, cue);
        let mut aim = Aim {
            cue,
            back: -Vector3::new(hit.aim_rad.cos(), hit.aim_rad.sin(), 0.0),
            aside: random.pick([-1.0, 1.0]),
            rise_mm: if to_rail < 150.0 { 160.0 } else { random.between(45.0, 120.0) },
            bridge_mm: random.between(180.0, 280.0),
            hit_s: None,
        };
        if tale.false_start {
            let to_s = self.now_s + 2.0 * LEAN_S + random.between(0.3, 1.5);
            self.visit(self.now_s, to_s, VisitKind::Aim(aim));
            self.now_s = to_s + random.between(0.2, 1.5);
        }
        let hit_s = self.now_s + LEAN_S + tale.aims_s;
        aim.hit_s = Some(hit_s);
        let up_s = hit_s + random.between(0.3, 1.1) + LEAN_S;
        self.visit(self.now_s, up_s, VisitKind::Aim(aim));
        self.stir(hit_s);
        let shot = tale.played.shot.clone();
        self.settled_s = hit_s + shot.settled_s();
        self.still_s = hit_s + shot.duration_s;
        self.timeline.shots.push(ShotSpan {
            attempt: tale.attempt,
            dropped: tale.played.dropped.clone(),
            moves_s: [hit_s, self.still_s],
            rest_after: self.timeline.rests.len(),
        });
        self.stretch(hit_s, &tale.before, Change::Roll(Box::new(shot)));
        self.now_s = self.still_s.max(up_s);
    }

    fn hands(&mut self, tale: &HandsTale) {
        let off = self.timeline.off_table;
        let from_s = self.now_s;
        let mut at_s = from_s + LEAN_S;
        let radius = self.table.ball_radius_mm();
        let palm = |p: TablePoint, lift: f64| {
            Vector3::new(p.x_mm - 8.0, p.y_mm, 2.0 * radius + lift + 12.0)
        };
        let first = tale.carries.iter().find_map(|c| c.from.or(c.to)).unwrap_or(off);
        let back = if tale.triangle { Vector3::x() } else { nearest_rail(&self.table, first).0 };
        let away = |p: Vector3<f64>| p + back * 900.0 + Vector3::z() * 150.0;
        let mut stops = vec![(from_s, away(palm(first, 60.0)))];
        let mut timed = Vec::new();
        let start_s = at_s;
        for carry in &tale.carries {
            // What comes from off the table is brought in over the nearest rail.
            let beside =
                |p: TablePoint| TablePoint::new(p.x_mm + back.x * 500.0, p.y_mm + back.y * 500.0);
            let outside = carry.to.or(carry.from).map_or(off, beside);
            let outside = if tale.triangle { off } else { outside };
            let (from, to) = (carry.from.unwrap_or(outside), carry.to.unwrap_or(outside));
            let to_s = at_s + carry.lasts_s;
            timed.push(TimedCarry {
                number: carry.number,
                from,
                to,
                from_s: at_s,
                to_s,
                comes: carry.from.is_none(),
                goes: carry.to.is_none(),
            });
            stops.push((at_s, palm(from, 10.0)));
            stops.push((at_s + carry.lasts_s / 2.0, {
                palm(from, 75.0).lerp(&palm(to, 75.0), 0.5)
            }));
            stops.push((to_s - 0.02, palm(to, 10.0)));
            at_s = to_s;
        }
        let to_s = at_s + LEAN_S;
        let last = stops.last().map_or_else(Vector3::zeros, |(_, palm)| *palm);
        stops.push((to_s, away(last)));
        self.visit(from_s, to_s, VisitKind::Hand(Hand { back, stops }));
        if tale.triangle {
            self.visit(from_s, to_s, VisitKind::Triangle);
        }
        self.stir(start_s);
        self.stretch(start_s, &tale.before, Change::Hands(timed));
        (self.settled_s, self.still_s) = (at_s, at_s);
        self.now_s = to_s;
    }

    /// Chalk is set down while the player stands at the table, and lies there for a while.
    fn chalk(&mut self, scene: &Scene, random: &mut Random) {
        let top = scene.build.rail_top_mm(&scene.table);
        let along = [random.unit(), random.unit()];
        let block = Block {
            middle_mm: chalk_at(&scene.table, top, scene.build.cushion_depth_mm, along),
            half_mm: Vector3::repeat(11.0),
            turn_rad: random.between(0.0, 3.0),
            colour: from_hue(0.59, 0.6, 0.7),
        };
        let from_s = self.now_s - LEAN_S;
        self.visit(from_s, from_s + random.between(8.0, 90.0), VisitKind::Chalk(block));
    }

    fn visit(&mut self, from_s: f64, to_s: f64, kind: VisitKind) {
        self.timeline.visits.push(Visit { from_s, to_s, kind });
    }
}
