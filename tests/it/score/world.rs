//! A table at layout level with a player at it: where every ball lies, and rests read with noise.
//!
//! Knows nothing of how the score follows: what it says of itself is the truth.

use stillcloth::{
    layout::{Ball, BallKind, Layout},
    score::RestSeen,
    staged::Random,
    table::{DiamondPoint, FootEnd, Rack, TablePoint, TableSize},
};

/// How often a number is read wrong, and how often not at all.
const WRONG_NUMBERS: f64 = 0.03;
const UNREAD_NUMBERS: f64 = 0.1;

/// How often a camera that looks for it sees balls roll behind a stroke, and behind hands.
const ROLL_SEEN: f64 = 0.8;
const ROLL_SEEN_BY_HAND: f64 = 0.02;
/// How often a gap that a stroke lies in begins while its balls are seen to roll.
const LOST_ROLLING: f64 = 0.6;

/// What is amiss with the reading of one rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Misread {
    /// An object ball is not read.
    Lacks,
    LacksCue,
    /// The cue ball is read as an object ball.
    CueAsObject,
    /// The cue ball is read as an object ball, and one of those as the cue ball.
    CueSwapped,
}

pub struct World {
    pub random: Random,
    pub table: TableSize,
    pub balls: Vec<(u8, TablePoint)>,
    pub cue: Option<TablePoint>,
    pub clock_ms: i64,
    /// The rests as the program gets them.
    pub rests: Vec<RestSeen>,
    /// The numbers of those before which balls seemed to roll and did not.
    pub misled: Vec<i64>,
    /// So many rests will not be seen.
    pub hide: u32,
    /// What is amiss with the next reading.
    pub misread: Option<Misread>,
    /// Where the ball lies that was not read last.
    pub lacked: Option<TablePoint>,
    /// The table is not watched while rests are hidden.
    gap: bool,
    /// Whether there was a stroke since the last rest that was seen, and no hand was at the balls behind it:
    /// a camera tells of what rolled to the very rest.
    stroke: bool,
    /// When the first stroke since the last rest that was seen was played.
    first_stroke_ms: Option<i64>,
    /// Draws for what is seen to roll; none where the camera does not look for it.
    rolling: Option<Random>,
    noise_mm: f64,
    last_seen_ms: i64,
    foot: FootEnd,
    turned: bool,
}

impl World {
    pub fn new(seed: u64) -> Self {
        let mut random = Random::new(seed);
        let table = random.pick(TableSize::PRESETS);
        let noise_mm = random.between(0.3, 3.0);
        let open = random.chance(0.3);
        Self {
            table,
            balls: Vec::new(),
            cue: None,
            clock_ms: 1_700_000_000_000,
            rests: Vec::new(),
            misled: Vec::new(),
            hide: 0,
            misread: None,
            lacked: None,
            gap: false,
            stroke: false,
            first_stroke_ms: None,
            rolling: (!seed.is_multiple_of(3)).then(|| Random::stream(seed, 1)),
            noise_mm,
            last_seen_ms: 1_700_000_000_000,
            foot: if open { FootEnd::Open } else { FootEnd::Given },
            turned: open && random.chance(0.5),
            random,
        }
    }

    /// The number that the next rest seen will have.
    pub fn next_rest(&self) -> i64 {
        i64::try_from(self.rests.len()).unwrap() + 1
    }

    pub fn wait(&mut self, from_s: f64, to_s: f64) {
        self.clock_ms += (1000.0 * self.random.between(from_s, to_s)) as i64;
    }

    /// The next rests are not seen though the table is watched.
    pub fn miss_rests(&mut self, rests: u32) {
        self.hide = rests;
    }

    /// The table is not watched until so many rests have passed.
    pub fn look_away(&mut self, rests: u32) {
        self.hide = rests;
        self.gap = true;
    }

    /// Balls roll: there was a stroke.
    pub fn balls_roll(&mut self) {
        self.stroke = true;
        self.first_stroke_ms.get_or_insert(self.clock_ms);
    }

    /// Hands move balls, or lay them out.
    pub fn laid_by_hand(&mut self) {
        self.stroke = false;
    }

    pub fn looking_away(&self) -> bool {
        self.gap
    }

    /// The table lies still; true where a rest was seen.
    pub fn rest(&mut self) -> bool {
        if self.hide > 0 {
            self.hide -= 1;
            return false;
        }
        self.see();
        // The program may see the same rest twice: somebody walked by.
        if self.random.chance(0.15) {
            self.wait(1.0, 9.0);
            self.see();
        }
        true
    }

    fn see(&mut self) {
        let away_ms = self.clock_ms - self.last_seen_ms;
        let unseen_ms = if self.gap { (away_ms - 800).max(1600) } else { 0 };
        let unseen_ms = unseen_ms.max((400.0 * self.random.unit()) as i64);
        let lost_rolling_ms = self.lost_rolling_ms();
        self.gap = false;
        self.last_seen_ms = self.clock_ms;
        let mut balls: Vec<Ball> = Vec::new();
        if let Some(cue) = self.cue {
            balls.push(self.read(BallKind::Cue, 0, cue));
        }
        for (number, at) in self.balls.clone() {
            balls.push(self.read(BallKind::Object, number, at));
        }
        if let Some(misread) = self.misread.take() {
            self.spoil(&mut balls, misread);
        }
        self.random.shuffle(&mut balls);
        let stroke = std::mem::take(&mut self.stroke);
        let seen = if stroke { ROLL_SEEN } else { ROLL_SEEN_BY_HAND };
        let rolled = self.rolling.as_mut().map(|random| random.chance(seen));
        if rolled.is_some_and(|rolled| rolled && !stroke) {
            self.misled.push(self.next_rest());
        }
        self.rests.push(RestSeen {
            id: self.next_rest(),
            at_unix_ms: self.clock_ms,
            unseen_ms: u64::try_from(unseen_ms).unwrap(),
            layout: Layout {
                table: self.table,
                foot: self.foot,
                obstructed: false,
                rolled,
                lost_rolling_ms,
                balls,
            },
        });
    }

    /// A gap that began while the balls of the first stroke rolled, as most do that hide a rest.
    fn lost_rolling_ms(&mut self) -> Option<u64> {
        let since = self.first_stroke_ms.take().filter(|_| self.gap)?;
        let random = self.rolling.as_mut()?;
        let (lost, rolled_ms) = (random.chance(LOST_ROLLING), random.between(2000.0, 8500.0));
        let ms = self.clock_ms - since + rolled_ms as i64;
        lost.then(|| ms.min(self.clock_ms - self.last_seen_ms).unsigned_abs())
    }

    /// The cue ball, where there is one, comes first, and the others as they stand in `self.balls`.
    fn spoil(&mut self, balls: &mut Vec<Ball>, misread: Misread) {
        let others = usize::from(self.cue.is_some());
        if balls.len() <= others {
            return;
        }
        let other = others + self.random.below(balls.len() - others);
        match misread {
            Misread::Lacks => {
                self.lacked = Some(self.balls[other - others].1);
                balls.remove(other);
            }
            Misread::LacksCue => {
                balls.drain(..others);
            }
            Misread::CueAsObject | Misread::CueSwapped if others == 0 => {}
            Misread::CueAsObject => (balls[0].kind, balls[0].number) = (BallKind::Object, None),
            Misread::CueSwapped => {
                (balls[0].kind, balls[0].number) = (BallKind::Object, None);
                (balls[other].kind, balls[other].number) = (BallKind::Cue, Some(0));
            }
        }
    }

    fn read(&mut self, kind: BallKind, number: u8, at: TablePoint) -> Ball {
        let noise = |random: &mut Random, sigma: f64| sigma * random.normal();
        let at = if self.turned { at.turned(&self.table) } else { at };
        let read = TablePoint::new(
            at.x_mm + noise(&mut self.random, self.noise_mm),
            at.y_mm + noise(&mut self.random, self.noise_mm),
        );
        let place = DiamondPoint::from_table(read, &self.table);
        let (number, number_confidence) = if kind == BallKind::Cue {
            (Some(0), 1.0)
        } else if self.random.chance(UNREAD_NUMBERS) {
            (None, 0.0)
        } else if self.random.chance(WRONG_NUMBERS) {
            (Some(1 + self.random.below(15) as u8), self.random.between(0.3, 0.99))
        } else {
            (Some(number), self.random.between(0.6, 1.0))
        };
        Ball {
            kind,
            number,
            x: place.x,
            y: place.y,
            sigma_mm: self.noise_mm,
            confidence: 0.99,
            number_confidence,
        }
    }

    /// A place where a ball can lie without touching another, and not in a pocket.
    pub fn free_place(&mut self) -> TablePoint {
        loop {
            let at = self.place_in([0.0, self.table.length_mm], [0.0, self.table.width_mm]);
            if let Some(at) = at {
                return at;
            }
        }
    }

    /// The same about the foot, where balls are laid out for racking.
    pub fn place_near_foot(&mut self) -> TablePoint {
        let l = self.table.length_mm;
        for _ in 0..200 {
            if let Some(at) = self.place_in([0.66 * l, l], [0.0, self.table.width_mm]) {
                return at;
            }
        }
        self.free_place()
    }

    fn place_in(&mut self, x_mm: [f64; 2], y_mm: [f64; 2]) -> Option<TablePoint> {
        let r = self.table.ball_radius_mm();
        let at = TablePoint::new(
            self.random.between(x_mm[0].max(r), x_mm[1].min(self.table.length_mm - r)),
            self.random.between(y_mm[0].max(r), y_mm[1].min(self.table.width_mm - r)),
        );
        self.is_free(at).then_some(at)
    }

    pub fn is_free(&self, at: TablePoint) -> bool {
        let others = self.balls.iter().map(|(_, other)| *other).chain(self.cue);
        others.into_iter().all(|other| other.distance_mm(at) > self.table.ball_diameter_mm)
            && self.table.pockets().iter().all(|p| p.centre.distance_mm(at) > p.radius_mm)
    }

    /// Puts these balls into the triangle, apex empty for fourteen, somewhat loose and off.
    pub fn rack(&mut self, numbers: &[u8]) {
        self.laid_by_hand();
        let rack = Rack::on(&self.table);
        let places = &rack.places()[15 - numbers.len()..];
        let shift = [self.random.between(-4.0, 4.0), self.random.between(-3.0, 3.0)];
        let mut numbers = numbers.to_vec();
        self.random.shuffle(&mut numbers);
        for (number, place) in numbers.into_iter().zip(places) {
            let at = TablePoint::new(
                place.x_mm + shift[0] + self.random.between(-0.7, 0.7),
                place.y_mm + shift[1] + self.random.between(-0.7, 0.7),
            );
            self.balls.push((number, at));
        }
    }

    /// Takes a ball away, whichever; its number.
    pub fn take_any(&mut self) -> Option<(u8, TablePoint)> {
        if self.balls.is_empty() {
            return None;
        }
        let at = self.random.below(self.balls.len());
        Some(self.balls.swap_remove(at))
    }

    /// Lets some of the object balls come to rest elsewhere.
    pub fn scatter(&mut self, balls: usize) {
        let mut order: Vec<usize> = (0..self.balls.len()).collect();
        self.random.shuffle(&mut order);
        for at in order.into_iter().take(balls) {
            let place = self.free_place();
            self.balls[at].1 = place;
        }
    }

    /// Numbers that are not on the table.
    pub fn off_table(&self) -> Vec<u8> {
        (1..=15).filter(|n| self.balls.iter().all(|(number, _)| number != n)).collect()
    }
}
