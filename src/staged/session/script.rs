//! The course of a made-up session: attempts, shots, racks and hands, in order, without times.
//!
//! Each attempt has a wished run and a wished end; the player plays toward them shot by shot, and
//! the rules say what came of it. Knows nothing of pictures.

use super::options::SessionOptions;
use super::player::{Played, Wish, shoot};
use super::rules::{Goes, Places, Verdict, rerack, verdict};
use crate::motion::Bed;
use crate::staged::random::Random;
use crate::table::{Rack, TablePoint, TableSize};
use serde::Serialize;

/// Why an attempt ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    Miss,
    Scratch,
    /// The player broke off.
    Stop,
}

/// A rest as the script has it.
#[derive(Debug, Clone)]
pub struct RestTale {
    pub note: String,
    /// From 1; none between attempts.
    pub attempt: Option<usize>,
    pub run: usize,
    /// What ended the attempt with this rest.
    pub cause: Option<Cause>,
    pub places: Places,
    /// Whether hands alone brought it about.
    pub by_hand: bool,
    pub lasts_s: f64,
}

/// A shot with the way it is prepared.
#[derive(Debug, Clone)]
pub struct ShotTale {
    pub attempt: usize,
    pub before: Places,
    pub played: Played,
    /// From leaning in to the hit.
    pub aims_s: f64,
    /// Leans in, stands up again and looks once more first.
    pub false_start: bool,
}

/// A ball that a hand takes from one place to another; none is off the table.
#[derive(Debug, Clone, Copy)]
pub struct Carry {
    pub number: u8,
    pub from: Option<TablePoint>,
    pub to: Option<TablePoint>,
    pub lasts_s: f64,
}

/// What a hand does in one go.
#[derive(Debug, Clone)]
pub struct HandsTale {
    pub before: Places,
    pub carries: Vec<Carry>,
    /// Whether the wooden triangle lies on the cloth meanwhile.
    pub triangle: bool,
}

/// One thing after another.
#[derive(Debug, Clone)]
pub enum Step {
    Rest(RestTale),
    Shot(Box<ShotTale>),
    Hands(HandsTale),
}

/// An attempt as it went.
#[derive(Debug, Clone, Copy)]
pub struct AttemptTale {
    pub run: usize,
    pub cause: Cause,
    /// Re-racks within it.
    pub reracks: usize,
}

/// A whole session.
#[derive(Debug, Clone)]
pub struct Script {
    pub steps: Vec<Step>,
    pub attempts: Vec<AttemptTale>,
}

impl Script {
    /// Plays a session.
    pub fn play(random: &mut Random, bed: &Bed, options: &SessionOptions) -> Self {
        let mut author =
            Author { bed, options, steps: Vec::new(), places: Vec::new(), attempt: 0, run: 0 };
        let mut attempts = Vec::new();
        for attempt in 1..=options.attempts {
            author.attempt = attempt;
            author.run = 0;
            author.open(random);
            attempts.push(author.attempt(random));
        }
        Self { steps: author.steps, attempts }
    }
}

struct Author<'a> {
    bed: &'a Bed,
    options: &'a SessionOptions,
    steps: Vec<Step>,
    places: Places,
    attempt: usize,
    run: usize,
}

impl Author<'_> {
    fn table(&self) -> &TableSize {
        self.bed.table()
    }

    fn rest(&mut self, random: &mut Random, note: String, cause: Option<Cause>) {
        let by_hand = matches!(self.steps.last(), Some(Step::Hands(_)));
        let lasts_s = 1.05 + self.options.waiting * random.between(0.2, 2.5);
        let tale = RestTale {
            note,
            attempt: Some(self.attempt),
            run: self.run,
            cause,
            places: self.places.clone(),
            by_hand,
            lasts_s,
        };
        self.steps.push(Step::Rest(tale));
    }

    /// A rest that belongs to no attempt.
    fn rest_between(&mut self, random: &mut Random, note: &str) {
        self.rest(random, note.into(), None);
        if let Some(Step::Rest(tale)) = self.steps.last_mut() {
            tale.attempt = None;
        }
    }

    /// Hands bring the balls to new places, the rack's first.
    fn hands(&mut self, random: &mut Random, to: Places, triangle: bool) {
        let old = |number: u8| self.places.iter().find(|(n, _)| *n == number).map(|(_, p)| *p);
        let rack = Rack::on(self.table());
        let slow = self.options.waiting.max(0.5);
        let mut carries = Vec::new();
        for (number, _) in self.places.iter().filter(|(n, _)| to.iter().all(|(m, _)| m != n)) {
            let lasts_s = slow * random.between(0.3, 0.6);
            carries.push(Carry { number: *number, from: old(*number), to: None, lasts_s });
        }
        for (number, place) in &to {
            if old(*number).is_some_and(|there| there.distance_mm(*place) < 1e-9) {
                continue;
            }
            let racked = triangle && rack.holds_part_of(*place);
            let lasts_s =
                slow * if racked { random.between(0.12, 0.3) } else { random.between(0.6, 1.2) };
            carries.push(Carry { number: *number, from: old(*number), to: Some(*place), lasts_s });
        }
        // What lies where the rack goes must have gone before the rack's balls come.
        carries.sort_by_key(|carry| {
            let racked = carry.to.is_some_and(|place| triangle && rack.holds_part_of(place));
            let in_way = carry.from.is_some_and(|place| rack.holds_part_of(place));
            (carry.to.is_some() && (racked || !in_way), !racked)
        });
        if !carries.is_empty() {
            self.steps.push(Step::Hands(HandsTale {
                before: self.places.clone(),
                carries,
                triangle,
            }));
        }
        self.places = to;
        self.places.sort_by_key(|(number, _)| *number);
    }

    /// Sets up an opening rack, in one go or with a pause; the first one stands there already.
    fn open(&mut self, random: &mut Random) {
        let rack = opening_rack(random, self.table());
        if self.steps.is_empty() {
            self.places = rack;
        } else if random.chance(0.15) && self.places.len() > 3 {
            let mut halfway = self.places.clone();
            halfway.truncate(2);
            self.hands(random, halfway, false);
            self.rest_between(random, "being cleared");
            self.hands(random, rack, true);
        } else {
            self.hands(random, rack, true);
        }
        self.rest(random, "opening rack".into(), None);
    }

    fn attempt(&mut self, random: &mut Random) -> AttemptTale {
        let wished_run = match random.below(100) {
            0..12 => 0,
            12..50 => 1 + random.below(6),
            50..78 => 7 + random.below(8),
            _ => 15 + random.below(26),
        };
        let end = random.pick([
            End::Wish(Wish::Miss),
            End::Wish(Wish::Miss),
            End::Wish(Wish::Miss),
            End::Wish(Wish::Scratch),
            End::Wish(Wish::ScratchWithPot),
            End::Stop,
        ]);
        let mut reracks = 0;
        let cause = loop {
            let wish = match (self.run < wished_run, end) {
                (false, End::Stop) => break Cause::Stop,
                (false, End::Wish(wish)) => wish,
                (true, _) => self.next_wish(random),
            };
            let Some(played) = shoot(self.bed, &self.places, wish, random) else {
                break Cause::Stop;
            };
            let verdict = verdict(&played.dropped);
            self.shot(random, played);
            match verdict {
                Verdict::Miss => {
                    self.rest(random, "miss".into(), Some(Cause::Miss));
                    break Cause::Miss;
                }
                Verdict::Scratch => {
                    self.scratched(random);
                    break Cause::Scratch;
                }
                Verdict::Pocketed(count) => {
                    self.run += count;
                    self.rest(random, format!("pocketed {count}"), None);
                    if self.places.iter().filter(|(n, _)| *n != 0).count() <= 1 {
                        self.rerack(random);
                        reracks += 1;
                    } else if random.chance(self.options.upsets.nudged_chance) {
                        self.nudge(random);
                    }
                }
            }
        };
        AttemptTale { run: self.run, cause, reracks }
    }

    fn next_wish(&self, random: &mut Random) -> Wish {
        let objects = self.places.iter().filter(|(n, _)| *n != 0).count();
        match random.unit() {
            u if objects == 2 && u < 0.5 => Wish::PotIntoRack,
            u if u > 0.95 => Wish::Two,
            _ => Wish::Pot,
        }
    }

    fn shot(&mut self, random: &mut Random, played: Played) {
        let after = played.after.clone();
        let tale = ShotTale {
            attempt: self.attempt,
            before: std::mem::replace(&mut self.places, after),
            played,
            aims_s: 0.9 + self.options.waiting * random.between(0.3, 3.0),
            false_start: random.chance(0.06),
        };
        self.steps.push(Step::Shot(Box::new(tale)));
    }

    fn scratched(&mut self, random: &mut Random) {
        self.rest(random, "cue ball pocketed".into(), Some(Cause::Scratch));
        if random.chance(0.5) {
            let mut places = self.places.clone();
            places.push((0, in_hand(random, self.table(), &self.places)));
            self.hands(random, places, false);
            self.rest_between(random, "cue ball placed by hand");
        }
    }

    fn nudge(&mut self, random: &mut Random) {
        let objects = self.places.iter().filter(|(n, _)| *n != 0).count();
        let chosen = random.below(objects);
        let Some((number, from)) = self.places.iter().filter(|(n, _)| *n != 0).nth(chosen).copied()
        else {
            return;
        };
        let others: Places = self.places.iter().filter(|(n, _)| *n != number).copied().collect();
        for _ in 0..40 {
            let turn = random.between(0.0, std::f64::consts::TAU);
            let away = random.between(10.0, 70.0);
            let to = TablePoint::new(from.x_mm + away * turn.cos(), from.y_mm + away * turn.sin());
            if is_clear(self.table(), &others, to, 3.0) {
                let mut places = others;
                places.push((number, to));
                self.hands(random, places, false);
                self.rest(random, "moved by hand".into(), None);
                return;
            }
        }
    }

    fn rerack(&mut self, random: &mut Random) {
        let table = *self.table();
        let last = self.places.iter().find(|(n, _)| *n != 0).copied();
        let Some((_, cue)) = self.places.iter().find(|(n, _)| *n == 0).copied() else { return };
        let rule = rerack(&table, last.map(|(_, place)| place), cue);
        let mut places = Places::new();
        let mut numbers: Vec<u8> = (1..16).collect();
        random.shuffle(&mut numbers);
        if let Some((number, place)) = last
            && rule.last != Goes::Racked
        {
            numbers.retain(|n| *n != number);
            let place = if let Goes::To(spot) = rule.last { spot } else { place };
            places.push((number, place));
        }
        let rack = rack_places(random, &table);
        let apex_empty = numbers.len() == 14;
        let homes = rack.iter().skip(usize::from(apex_empty));
        places.extend(numbers.into_iter().zip(homes.copied()));
        let cue = match rule.cue {
            Goes::To(spot) => spot,
            Goes::InHand => in_hand(random, &table, &places),
            Goes::Stays | Goes::Racked => cue,
        };
        places.push((0, cue));
        self.hands(random, places, true);
        self.rest(random, "re-rack".into(), None);
    }
}

#[derive(Clone, Copy)]
enum End {
    Wish(Wish),
    Stop,
}

/// The rack's places as a hand leaves them: a tenth of a millimetre loose here and there.
fn rack_places(random: &mut Random, table: &TableSize) -> [TablePoint; 15] {
    let loose = 1.0 + random.between(0.0002, 0.003);
    let foot = table.foot_spot();
    Rack::on(table).places().map(|place| {
        TablePoint::new(
            foot.x_mm + (place.x_mm - foot.x_mm) * loose,
            foot.y_mm + (place.y_mm - foot.y_mm) * loose,
        )
    })
}

/// Fourteen racked, a break ball and the cue ball; now and then all fifteen.
fn opening_rack(random: &mut Random, table: &TableSize) -> Places {
    let mut numbers: Vec<u8> = (1..16).collect();
    random.shuffle(&mut numbers);
    let homes = rack_places(random, table);
    let full = random.chance(0.12);
    let mut places: Places =
        numbers.iter().copied().zip(homes.into_iter().skip(usize::from(!full))).collect();
    if !full && let Some(number) = numbers.last() {
        let (ball, cue) = break_shot(random, table, &places);
        places.extend([(*number, ball), (0, cue)]);
    } else {
        let cue = in_hand(random, table, &places);
        places.push((0, cue));
    }
    places.sort_by_key(|(number, _)| *number);
    places
}

/// A break ball beside the rack and a cue ball from where pocketing it meets the rack.
fn break_shot(random: &mut Random, table: &TableSize, racked: &Places) -> (TablePoint, TablePoint) {
    let (foot, diameter) = (table.foot_spot(), table.ball_diameter_mm);
    let mut placed = (table.head_spot(), table.centre_spot());
    for _ in 0..400 {
        let side = random.pick([-1.0, 1.0]);
        let ball = TablePoint::new(
            foot.x_mm + random.between(-30.0, 200.0),
            foot.y_mm + side * random.between(120.0, 330.0),
        );
        let pocket =
            TablePoint::new(table.length_mm, if side > 0.0 { table.width_mm } else { 0.0 });
        let way = (pocket.y_mm - ball.y_mm).atan2(pocket.x_mm - ball.x_mm);
        // From the outside, so that the cue ball goes on to the rack.
        let approach = way - side * random.between(15.0, 50.0_f64).to_radians();
        let away = random.between(200.0, 750.0);
        let cue = TablePoint::new(
            ball.x_mm - diameter * way.cos() - away * approach.cos(),
            ball.y_mm - diameter * way.sin() - away * approach.sin(),
        );
        placed = (ball, cue);
        let clear = is_clear(table, racked, ball, 5.0)
            && is_clear(table, racked, cue, 5.0)
            && cue.distance_mm(ball) > 2.0 * diameter;
        if clear {
            break;
        }
    }
    placed
}

/// A clear place behind the head string.
fn in_hand(random: &mut Random, table: &TableSize, others: &Places) -> TablePoint {
    let mut place = table.head_spot();
    for _ in 0..200 {
        place = TablePoint::new(
            random.between(80.0, table.length_mm / 4.0 - 15.0),
            random.between(120.0, table.width_mm - 120.0),
        );
        if is_clear(table, others, place, 8.0) {
            break;
        }
    }
    place
}

/// Whether a ball fits in a place with some room to the others, the noses and the pockets.
fn is_clear(table: &TableSize, others: &Places, place: TablePoint, room_mm: f64) -> bool {
    let reach = table.ball_radius_mm() + room_mm;
    let within = |v: f64, size: f64| (reach..size - reach).contains(&v);
    within(place.x_mm, table.length_mm)
        && within(place.y_mm, table.width_mm)
        && others.iter().all(|(_, p)| p.distance_mm(place) > table.ball_diameter_mm + room_mm)
        && table.beyond_rim_mm(place) > room_mm
}
