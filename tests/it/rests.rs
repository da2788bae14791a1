//! From frames to rests: a staged table filmed by hand, with all that happens around one.
//!
//! Three pictures are rendered; films are made from them by moving one ball's picture, by what
//! lights and cameras do to a whole picture, and by a little noise, since no two frames are alike.

use image::{Rgb, RgbImage, codecs::jpeg::JpegEncoder};
use std::{sync::OnceLock, time::Duration};
use stillcloth::{
    camera::{Calibration, CalibrationReport, PixelPoint},
    staged::{Profile, Scene},
    table::{DiamondPoint, FootEnd, TablePoint},
    vision::{Look, Reader, RestWatch, TableState},
};

/// Ten frames a second.
const TENTH: Duration = Duration::from_millis(100);

/// A table with a camera over it.
struct Stage {
    scene: Scene,
    calibration: Calibration,
    /// As it lies, without the last ball, and with a player.
    whole: RgbImage,
    without: RgbImage,
    player: RgbImage,
}

fn stage() -> &'static Stage {
    static STAGE: OnceLock<Stage> = OnceLock::new();
    STAGE.get_or_init(|| {
        let seeds = (40..).map(|seed| Scene::random(seed, Profile::Near));
        let fits = |scene: &Scene| {
            let lens = scene.camera.lens;
            let balls = scene.balls.len();
            scene.obstructed() && lens.width_px == 1920 && (5..10).contains(&balls)
        };
        let mut scene = seeds.into_iter().find(fits).unwrap();
        let lens = &mut scene.camera.lens;
        (lens.width_px, lens.height_px, lens.focal_px) = (720, 405, lens.focal_px * 0.375);
        lens.centre_px = PixelPoint::new(360.0, 202.5);
        // The ball that is moved about lies by itself, with room to the right.
        let last = scene.balls.len() - 1;
        scene.balls[last].place = clear_place(&scene);
        let player = scene.render();
        scene.extras.retain(|extra| !extra.obstructs());
        let whole = scene.render();
        let mut fewer = scene.clone();
        fewer.balls.pop();
        let calibration = calibration(&scene);
        Stage { without: fewer.render(), calibration, scene, whole, player }
    })
}

/// The middle of the widest gap between the balls but the last, away from the rails.
fn clear_place(scene: &Scene) -> TablePoint {
    let (l, w) = (scene.table.length_mm, scene.table.width_mm);
    let others = &scene.balls[..scene.balls.len() - 1];
    let mut best = (0.0, scene.table.centre_spot());
    for (i, j) in (2..10).flat_map(|i| (2..7).map(move |j| (f64::from(i), f64::from(j)))) {
        let place = TablePoint::new(l * i / 14.0, w * j / 9.0);
        let gap = others.iter().map(|b| b.place.distance_mm(place)).fold(f64::MAX, f64::min);
        if gap > best.0 {
            best = (gap, place);
        }
    }
    best.1
}

/// A scene's camera, as if it had been calibrated without an error.
pub fn calibration(scene: &Scene) -> Calibration {
    let z_mm = scene.table.nose_height_mm();
    Calibration {
        table: scene.table,
        table_given: true,
        foot: FootEnd::Given,
        camera: scene.camera,
        nose_corners_px: scene
            .table
            .corners()
            .map(|corner| scene.camera.project(corner.at_height(z_mm)).unwrap()),
        report: CalibrationReport {
            frames: 1,
            reprojection_px: 0.2,
            height_mm: scene.camera.pose.position().z_mm,
            tilt_deg: 0.0,
            focal_px: scene.camera.lens.focal_px,
            worst_corner_mm_per_px: 4.0,
            sigma_mm: 0.5,
            weak: Vec::new(),
        },
    }
}

/// The pixel at a continuous place, held to the picture.
fn at(picture: &RgbImage, x: f64, y: f64) -> [f64; 3] {
    let (w, h) = (f64::from(picture.width()) - 1.0, f64::from(picture.height()) - 1.0);
    let (x, y) = (x.clamp(0.0, w), y.clamp(0.0, h));
    let (left, top) = (x.floor(), y.floor());
    let pixel = |x: f64, y: f64| picture.get_pixel(x.min(w) as u32, y.min(h) as u32).0;
    let (fx, fy) = (x - left, y - top);
    let corners = [
        pixel(left, top),
        pixel(left + 1.0, top),
        pixel(left, top + 1.0),
        pixel(left + 1.0, top + 1.0),
    ];
    let parts = [(1.0 - fx) * (1.0 - fy), fx * (1.0 - fy), (1.0 - fx) * fy, fx * fy];
    [0, 1, 2].map(|c| corners.iter().zip(parts).map(|(p, part)| f64::from(p[c]) * part).sum())
}

fn picture(like: &RgbImage, colour: impl Fn(f64, f64) -> [f64; 3]) -> RgbImage {
    RgbImage::from_fn(like.width(), like.height(), |x, y| {
        Rgb(colour(f64::from(x), f64::from(y)).map(|v| v.round().clamp(0.0, 255.0) as u8))
    })
}

impl Stage {
    /// The table with the last ball rolled along x by so many millimetres.
    fn rolled(&self, by_mm: f64) -> RgbImage {
        let ball = self.scene.balls.last().unwrap().place;
        self.lying_at(TablePoint::new(ball.x_mm + by_mm, ball.y_mm))
    }

    /// The table with the last ball elsewhere.
    fn lying_at(&self, place: TablePoint) -> RgbImage {
        let z_mm = self.scene.table.ball_radius_mm();
        let seen = |place: TablePoint| self.scene.camera.project(place.at_height(z_mm)).unwrap();
        let (from, to) = (seen(self.scene.balls.last().unwrap().place), seen(place));
        let (dx, dy) = (to.x_px - from.x_px, to.y_px - from.y_px);
        picture(&self.whole, |x, y| {
            let bare = at(&self.without, x, y);
            if (x - to.x_px).hypot(y - to.y_px) > 60.0 {
                return bare;
            }
            let (ball, behind) =
                (at(&self.whole, x - dx, y - dy), at(&self.without, x - dx, y - dy));
            [0, 1, 2].map(|c| bare[c] + ball[c] - behind[c])
        })
    }
}

/// The same picture from a camera that was pushed.
fn shifted(of: &RgbImage, (dx, dy): (f64, f64)) -> RgbImage {
    picture(of, |x, y| at(of, x - dx, y - dy))
}

/// The same picture in other light, channel by channel.
fn lit(of: &RgbImage, gains: [f64; 3]) -> RgbImage {
    picture(of, |x, y| {
        let colour = at(of, x, y);
        [0, 1, 2].map(|c| colour[c] * gains[c])
    })
}

/// A frame of a film: the picture with noise of its own.
fn frame(of: &RgbImage, number: u64) -> RgbImage {
    let mut state = number.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
    let mut noisy = of.clone();
    for value in noisy.iter_mut() {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let step = (state >> 60) as i16 % 5 - 2;
        *value = (i16::from(*value) + step).clamp(0, 255) as u8;
    }
    noisy
}

/// A frame of a camera whose dark places are some seven times noisier than its bright ones.
fn noisy_in_the_dark(of: &RgbImage, number: u64) -> RgbImage {
    let mut noisy = frame(of, number);
    let grey = RgbImage::from_pixel(of.width(), of.height(), Rgb([128; 3]));
    let noises: Vec<RgbImage> = (1..=6).map(|k| frame(&grey, 1000 * number + k)).collect();
    for (i, value) in noisy.iter_mut().enumerate().filter(|(i, _)| of.as_raw()[*i] < 36) {
        let steps = noises.iter().map(|noise| i16::from(noise.as_raw()[i]) - 128).sum::<i16>();
        *value = (i16::from(*value) + 3 * steps).clamp(0, 255) as u8;
    }
    noisy
}

/// A frame as a camera compresses it.
fn compressed(of: &RgbImage, number: u64) -> RgbImage {
    let mut file = Vec::new();
    JpegEncoder::new_with_quality(&mut file, 80).encode_image(&frame(of, number)).unwrap();
    image::load_from_memory(&file).unwrap().into_rgb8()
}

/// A watch with its film so far.
struct Film {
    watch: RestWatch,
    now: Duration,
    /// When rests were announced, and how many balls they had.
    rests: Vec<(Duration, usize)>,
    /// Whether balls were seen to roll before each.
    rolled: Vec<Option<bool>>,
    recalibrated: Vec<Calibration>,
}

impl Film {
    fn begin() -> Self {
        let reader = Reader::new(stage().calibration.clone()).unwrap();
        let (rests, rolled, recalibrated) = (Vec::new(), Vec::new(), Vec::new());
        Self { watch: RestWatch::new(reader), now: Duration::ZERO, rests, rolled, recalibrated }
    }

    fn see(&mut self, frame: &RgbImage, at: Duration) -> Look {
        self.now = at;
        let look = self.watch.look(frame, at).unwrap();
        self.rests.extend(look.rest.iter().map(|rest| (at, rest.layout.balls.len())));
        self.rolled.extend(look.rest.iter().map(|rest| rest.layout.rolled));
        self.recalibrated.extend(look.recalibrated.clone());
        look
    }

    /// Shows a picture for a time; the states it was in.
    fn show(&mut self, picture: &RgbImage, tenths: u32) -> Vec<TableState> {
        self.show_as(frame, picture, tenths)
    }

    /// The same by a camera of another kind.
    fn show_as(
        &mut self,
        camera: fn(&RgbImage, u64) -> RgbImage,
        picture: &RgbImage,
        tenths: u32,
    ) -> Vec<TableState> {
        let states = (0..tenths).map(|_| {
            let at = self.now + TENTH;
            self.see(&camera(picture, at.as_millis() as u64), at).state
        });
        states.collect()
    }
}

#[test]
fn a_still_table_is_one_rest_within_half_a_second() {
    let (stage, mut film) = (stage(), Film::begin());
    let states = film.show(&stage.whole, 30);
    assert_eq!(film.rests.len(), 1, "{states:?}");
    let (at, balls) = film.rests[0];
    assert_eq!(balls, stage.scene.balls.len());
    assert!(at <= Duration::from_millis(600), "{at:?}");
    assert_eq!(states.last(), Some(&TableState::Resting));
}

#[test]
fn a_ball_that_rolls_at_five_millimetres_a_second_is_no_rest_until_it_lies() {
    let (stage, mut film) = (stage(), Film::begin());
    for tenth in 0..40 {
        film.show(&stage.rolled(0.5 * f64::from(tenth)), 1);
    }
    assert_eq!(film.rests, [], "while it rolls");
    let lies = film.now;
    film.show(&stage.rolled(20.0), 15);
    assert_eq!(film.rests.len(), 1);
    assert!(film.rests[0].0 - lies <= Duration::from_millis(800), "{:?}", film.rests[0].0 - lies);
}

#[test]
fn a_rolling_ball_that_a_film_holds_for_three_tenths_is_no_rest() {
    let (stage, mut film) = (stage(), Film::begin());
    for jump in 0..8 {
        film.show(&stage.rolled(40.0 * f64::from(jump)), 3);
    }
    assert_eq!(film.rests, []);
}

/// A ball moves, and lies still for four frames; what then tells of a rest, and when that was.
fn broken_into(then: &RgbImage, later: Duration) -> Option<Option<Duration>> {
    let (stage, mut film) = (stage(), Film::begin());
    film.show(&stage.whole, 10);
    film.show(&stage.rolled(40.0), 1);
    film.show(&stage.rolled(80.0), 4);
    assert_eq!(film.rests.len(), 1, "not yet told");
    let (lay, at) = (film.now, film.now + later);
    let look = film.see(&frame(then, 99), at);
    if let Some(passed) = &look.passed {
        assert_eq!(passed.at, lay);
        assert_eq!(passed.picture.dimensions(), then.dimensions());
    }
    look.rest.map(|_| look.passed.map(|passed| passed.at))
}

#[test]
fn a_rest_that_somebody_breaks_into_is_told_with_its_own_time() {
    let stage = stage();
    assert!(matches!(broken_into(&stage.player, TENTH), Some(Some(_))), "a player leans in");
    assert_eq!(broken_into(&stage.rolled(120.0), TENTH), None, "a film held a rolling ball");
    assert_eq!(broken_into(&stage.rolled(80.0), TENTH), Some(None), "it goes on");
}

#[test]
fn a_rest_before_a_gap_is_told_behind_it() {
    let stage = stage();
    let gap = Duration::from_secs(2);
    assert!(matches!(broken_into(&stage.rolled(300.0), gap), Some(Some(_))));
    assert!(matches!(broken_into(&stage.player, gap), Some(Some(_))));
    assert_eq!(broken_into(&stage.rolled(80.0), gap), Some(None), "it lies so still");
}

#[test]
fn a_ball_that_drops_from_a_pockets_edge_while_the_others_lie_still_is_gone() {
    let (stage, mut film) = (stage(), Film::begin());
    let pocket = stage.scene.table.pockets()[0];
    let inward = pocket.centre.direction_to(stage.scene.table.centre_spot());
    let edge = pocket.centre.moved(inward, pocket.radius_mm + 4.0);
    // Six frames a second, as a network's camera may send them.
    for sixth in 0..12 {
        let picture = if sixth < 3 { stage.lying_at(edge) } else { stage.without.clone() };
        film.see(&frame(&picture, sixth), Duration::from_millis(170 * sixth));
    }
    let balls = stage.scene.balls.len();
    assert_eq!(film.rests.iter().map(|rest| rest.1).collect::<Vec<_>>(), [balls - 1]);
    // One that hangs there is a ball like any other.
    film.show(&stage.whole, 10);
    film.show(&stage.lying_at(edge), 10);
    assert_eq!(film.rests.last().map(|rest| rest.1), Some(balls));
}

#[test]
fn a_player_over_the_table_is_no_rest_and_an_unchanged_layout_no_second_one() {
    let (stage, mut film) = (stage(), Film::begin());
    film.show(&stage.whole, 8);
    let states = film.show(&stage.player, 20);
    assert!(states[8..].iter().all(|s| *s == TableState::Obstructed), "{states:?}");
    film.show(&stage.whole, 10);
    assert_eq!(film.rests.len(), 1, "the layout is what it was");
    film.show(&stage.player, 10);
    film.show(&stage.without, 10);
    let balls: Vec<usize> = film.rests.iter().map(|rest| rest.1).collect();
    assert_eq!(balls, [stage.scene.balls.len(), stage.scene.balls.len() - 1]);
}

#[test]
fn a_ball_moved_by_hand_is_a_change_and_a_little_noise_is_none() {
    let (stage, mut film) = (stage(), Film::begin());
    film.show(&stage.whole, 30);
    assert_eq!(film.rests.len(), 1);
    film.show(&stage.rolled(12.0), 10);
    assert_eq!(film.rests.len(), 2, "12 mm are a change");
}

#[test]
fn balls_are_seen_to_roll_behind_a_stroke_and_not_where_hands_move_them() {
    let (stage, mut film) = (stage(), Film::begin());
    film.show(&stage.whole, 10);
    assert_eq!(film.rolled, [None], "nothing was seen before");
    film.show(&stage.player, 10);
    film.show(&stage.rolled(170.0), 10);
    assert_eq!(film.rolled[1..], [Some(false)], "a hand put it there");
    for tenth in 1..10 {
        film.show(&stage.rolled(170.0 - 14.0 * f64::from(tenth)), 1);
    }
    film.show(&stage.rolled(30.0), 10);
    assert_eq!(film.rolled[2..], [Some(true)], "it rolled there");
    film.show(&stage.without, 10);
    assert_eq!(film.rolled[3..], [Some(false)], "it was there, and is gone");
}

#[test]
fn lights_that_dim_go_out_and_come_back_are_no_rests() {
    let (stage, mut film) = (stage(), Film::begin());
    film.show(&stage.whole, 10);
    for step in 0..20 {
        let part = f64::from(step) / 20.0;
        let gain = 1.0 - 0.5 * part;
        film.show(
            &lit(&stage.whole, [gain * (1.0 + 0.1 * part), gain, gain * (1.0 - 0.1 * part)]),
            1,
        );
    }
    let dark = film.show(&lit(&stage.whole, [0.02; 3]), 10);
    assert!(dark.iter().all(|state| *state == TableState::Dark), "{dark:?}");
    let back = film.show(&lit(&stage.whole, [0.95, 1.0, 1.05]), 15);
    assert_eq!(film.rests.len(), 1);
    assert_eq!(back.last(), Some(&TableState::Resting));
    film.show(&stage.without, 10);
    assert_eq!(film.rests.len(), 2, "and the next change is seen");
}

#[test]
fn a_bumped_camera_is_noticed_and_calibrated_again_the_same_way_round() {
    let (stage, mut film) = (stage(), Film::begin());
    film.show(&stage.whole, 10);
    let push = (2.4, -1.8);
    let states = film.show(&shifted(&stage.whole, push), 20);
    assert!(states.contains(&TableState::Bumped), "{states:?}");
    assert_eq!(states.last(), Some(&TableState::Resting));
    assert_eq!(film.recalibrated.len(), 1);
    let new = &film.recalibrated[0];
    for (was, is) in stage.calibration.nose_corners_px.iter().zip(&new.nose_corners_px) {
        let expected = PixelPoint::new(was.x_px + push.0, was.y_px + push.1);
        assert!(expected.distance_px(*is) < 1.0, "{expected:?} {is:?}");
    }
    assert_eq!(new.camera.lens, stage.calibration.camera.lens);
    assert_eq!(new.foot, stage.calibration.foot);
    assert_eq!(film.rests.len(), 1, "the balls lie where they lay");
    let look = (0..10)
        .find_map(|_| {
            let at = film.now + TENTH;
            film.see(&frame(&shifted(&stage.without, push), at.as_millis() as u64), at).rest
        })
        .expect("a ball fewer is a change");
    for ball in &stage.scene.balls[..stage.scene.balls.len() - 1] {
        let off_mm = look.layout.balls.iter().map(|seen| {
            let place = DiamondPoint { x: seen.x, y: seen.y }.on_table(&look.layout.table);
            place.distance_mm(ball.place)
        });
        let off_mm = off_mm.fold(f64::MAX, f64::min);
        assert!(off_mm < 8.0, "ball {} is {off_mm} mm off", ball.number);
    }
}

#[test]
fn a_camera_knocked_far_aside_finds_the_table_again() {
    let (stage, mut film) = (stage(), Film::begin());
    film.show(&stage.whole, 10);
    let push = (13.0, 7.0);
    let states = film.show(&shifted(&stage.whole, push), 20);
    assert_eq!(states.last(), Some(&TableState::Resting), "{states:?}");
    let new = film.recalibrated.last().expect("it was calibrated again");
    for (was, is) in stage.calibration.nose_corners_px.iter().zip(&new.nose_corners_px) {
        let expected = PixelPoint::new(was.x_px + push.0, was.y_px + push.1);
        assert!(expected.distance_px(*is) < 2.0, "{expected:?} {is:?}");
    }
    assert_eq!(film.rests.len(), 1, "the balls lie where they lay");
}

/// A frame whose rails and noses seem to lie farther to the one side or, in the next, to the other.
fn with_unsteady_noses(of: &RgbImage, number: u64) -> RgbImage {
    let Calibration { camera, table, .. } = &stage().calibration;
    let pushed = shifted(of, (if (number / 100).is_multiple_of(2) { 0.65 } else { -0.65 }, 0.0));
    let mut mixed = frame(of, number);
    for (x, y, pixel) in mixed.enumerate_pixels_mut() {
        let at = camera.table_from_picture(PixelPoint::new(f64::from(x), f64::from(y)), 0.0);
        let inside = |along: f64, length: f64| (4.0..length - 4.0).contains(&along);
        if !at.is_some_and(|at| inside(at.x_mm, table.length_mm) && inside(at.y_mm, table.width_mm))
        {
            *pixel = *pushed.get_pixel(x, y);
        }
    }
    mixed
}

#[test]
fn noses_that_are_hard_to_see_do_not_keep_a_rest_from_being_told() {
    let (stage, mut film) = (stage(), Film::begin());
    for (picture, rests) in [(&stage.whole, 1), (&stage.without, 2), (&stage.whole, 3)] {
        let states = film.show_as(with_unsteady_noses, picture, 15);
        assert_eq!(film.rests.len(), rests, "{states:?}");
    }
    assert!(film.recalibrated.is_empty());
}

#[test]
fn noise_in_the_dark_is_no_movement_wherever_the_camera_looks() {
    let (stage, mut film) = (stage(), Film::begin());
    let states = film.show_as(noisy_in_the_dark, &stage.whole, 10);
    assert_eq!(states.last(), Some(&TableState::Resting), "{states:?}");
    let pushed = shifted(&stage.whole, (9.0, 6.0));
    let states = film.show_as(noisy_in_the_dark, &pushed, 25);
    assert_eq!(states.last(), Some(&TableState::Resting), "{states:?}");
    assert!(!film.recalibrated.is_empty());
    assert_eq!(film.rests.len(), 1, "the balls lie where they lay: {states:?} {:?}", film.rests);
}

#[test]
fn what_compression_does_to_a_film_is_no_movement_and_a_moved_ball_is_one() {
    let (stage, mut film) = (stage(), Film::begin());
    let states = film.show_as(compressed, &stage.whole, 10);
    assert_eq!(states.last(), Some(&TableState::Resting), "{states:?}");
    let states = film.show_as(compressed, &stage.rolled(15.0), 10);
    assert_eq!(states.last(), Some(&TableState::Resting), "{states:?}");
    assert_eq!(film.rests.len(), 2);
}

/// A picture with a line worn into the cloth, so many pixels wide.
fn worn(stage: &Stage, of: &RgbImage, width_px: f64) -> RgbImage {
    let TablePoint { x_mm, y_mm } = stage.scene.table.head_spot();
    let ends = [(x_mm, y_mm), (x_mm + 500.0, y_mm + 60.0)];
    lined(stage, of, (ends, width_px), |cloth| cloth.map(|value| 0.4 * value + 120.0))
}

/// A picture with a line over it from place to place on the table, in millimetres and pixels.
fn lined(
    stage: &Stage,
    of: &RgbImage,
    (ends_mm, width_px): ([(f64, f64); 2], f64),
    colour: impl Fn([f64; 3]) -> [f64; 3],
) -> RgbImage {
    let [from, to] = ends_mm.map(|(x_mm, y_mm)| {
        stage.scene.camera.project(TablePoint::new(x_mm, y_mm).at_height(0.0)).unwrap()
    });
    let (dx, dy) = (to.x_px - from.x_px, to.y_px - from.y_px);
    let length_px = dx.hypot(dy);
    picture(of, |x, y| {
        let (x_px, y_px) = (x - from.x_px, y - from.y_px);
        let along = (x_px * dx + y_px * dy) / length_px;
        let off_px = (y_px * dx - x_px * dy) / length_px;
        let on = (0.0..=length_px).contains(&along) && off_px.abs() < width_px / 2.0;
        if on { colour(at(of, x, y)) } else { at(of, x, y) }
    })
}

#[test]
fn a_thin_thing_drawn_away_over_a_rail_is_gone_though_little_else_changes() {
    let (stage, mut film) = (stage(), Film::begin());
    film.show(&stage.whole, 10);
    let rolled = stage.rolled(170.0);
    // A rack of nearly the cloth's brightness, all but gone.
    let (l, w) = (stage.scene.table.length_mm, stage.scene.table.width_mm);
    let bar = |of: &RgbImage, side: f64| {
        let ends = [(l - 115.0, w / 2.0), (l + 60.0, w / 2.0 + side)];
        lined(stage, of, (ends, 3.0), |cloth| [cloth[0] * 1.2, cloth[1] * 0.92, cloth[2] * 0.8])
    };
    let states = film.show(&bar(&bar(&rolled, 90.0), -90.0), 4);
    assert_eq!(states.last(), Some(&TableState::Obstructed), "{states:?}");
    let states = film.show(&rolled, 15);
    assert_eq!(states.last(), Some(&TableState::Resting), "{states:?}");
    assert_eq!(film.rests.len(), 2);
}

#[test]
fn a_thin_line_worn_into_the_cloth_is_in_nobodys_way() {
    let (stage, mut film) = (stage(), Film::begin());
    for by_mm in [0.0, 50.0] {
        film.now += Duration::from_secs(6);
        let states = film.show(&worn(stage, &stage.rolled(by_mm), 2.0), 10);
        assert!(!states.contains(&TableState::Obstructed), "{states:?}");
    }
    assert_eq!(film.rests.len(), 2);
}

#[test]
fn a_worn_line_on_the_cloth_is_in_nobodys_way_for_long() {
    let (stage, mut film) = (stage(), Film::begin());
    for step in 0..8 {
        film.now += Duration::from_secs(6);
        let rolled = stage.rolled(50.0 * f64::from(step % 3));
        let states = film.show(&worn(stage, &rolled, 6.0), 10);
        assert!(step > 1 || states.contains(&TableState::Obstructed), "at first: {states:?}");
    }
    assert!(!film.rests.is_empty(), "the table is not obstructed for ever");
    film.now += Duration::from_secs(6);
    let states = film.show(&worn(stage, &stage.player, 6.0), 10);
    assert!(!states.contains(&TableState::Resting), "a player still is: {states:?}");
}

#[test]
fn repeated_and_missing_frames_neither_make_nor_hide_a_rest() {
    let (stage, mut film) = (stage(), Film::begin());
    // One frame a hundred times at one time is one frame.
    let first = frame(&stage.whole, 1);
    for _ in 0..100 {
        assert_eq!(film.see(&first, TENTH).rest, None);
    }
    // A camera that hangs for half a second while a ball rolls.
    for tenth in 2..7 {
        film.see(&first, TENTH * tenth);
    }
    film.show(&stage.rolled(60.0), 1);
    assert_eq!(film.rests, []);
    // Two frames a second, the rest lost.
    for half in 0..5 {
        let at = film.now + Duration::from_millis(500);
        film.see(&frame(&stage.rolled(60.0), half), at);
    }
    assert_eq!(film.rests.len(), 1);
}
