//! What is in the way and what is not, by parts and by made-up beds.

use super::*;

/// Green cloth as it usually looks, and how a cell of it looks whose light was multiplied so.
fn is_unusual_under(light: [f32; 3]) -> bool {
    is_unusual(light.map(f32::ln), [0.0; 3], true)
}

/// A thing of some cells that lie so far inside the noses, where the bed's look is known.
fn thing(cells: usize, inside_mm: impl Fn(usize) -> f64) -> Part {
    let mut part = Part::default();
    for cell in 0..cells {
        part.add(inside_mm(cell), true);
        // Broad: most of its cells have others around.
        part.core += usize::from(cell % 4 > 0);
    }
    part
}

/// The logarithmic colour of red cloth, and as much less as its own shadows are.
const RED_CLOTH: [f32; 3] = [4.84, 3.64, 3.78];
const ITS_SHADE: [f32; 3] = [-0.71, -0.15, -0.23];

/// Cloth with something of other colours; a nose lies at y = 0.
fn bed(difference: impl Fn(TablePoint) -> [f32; 3]) -> BedView {
    let (columns, rows) = (140, 100);
    let place = |index: usize| cell_place((index % columns) as f64, (index / columns) as f64);
    let places: Vec<TablePoint> = (0..columns * rows).map(place).collect();
    let cell = |at: &TablePoint| Cell { inside_mm: at.y_mm, beyond_rim_mm: 500.0 };
    BedView {
        columns,
        rows,
        difference: places.iter().map(|at| difference(*at)).collect(),
        cells: places.iter().map(cell).collect(),
        noise: 0.02,
        cloth: RED_CLOTH,
        cloth_part: 1.0,
    }
}

#[test]
fn who_leans_over_a_rail_is_in_the_way_only_where_a_ball_can_lie() {
    let leans = |deepest_mm: f64| {
        thing(500, |cell| if cell < 80 { deepest_mm * cell as f64 / 79.0 } else { -100.0 })
    };
    assert!(!leans(14.0).obstructs());
    assert!(leans(60.0).obstructs());
}

#[test]
fn a_rail_looks_lighter_beside_a_shadow_and_a_white_sleeve_lighter_still() {
    let rail = [-1.0, -0.2, -0.4];
    let seen = |light: f32| is_unusual(rail.map(|usual| usual + light), rail, false);
    assert!(!seen(0.28));
    assert!(seen(0.9));
}

#[test]
fn a_cushions_deep_shadow_is_no_other_hue_and_what_is_lighter_in_any_colour_is() {
    let seen = |light: [f32; 3]| is_odd_in_hue(light.map(f32::ln));
    // Blue cloth whose red, the least of its colours, a veil keeps up.
    assert!(!seen([0.95, 0.55, 0.54]));
    assert!(!seen([0.6, 0.5, 0.5]));
    // A cue of wood and a grey sleeve on blue cloth, a black one on green.
    assert!(seen([3.0, 1.1, 0.7]));
    assert!(seen([1.2, 0.6, 0.4]));
    assert!(seen([0.64, 0.15, 0.26]));
}

#[test]
fn a_cushions_shadow_is_in_nobodys_way_and_a_dark_thing_that_comes_in_over_it_is() {
    let along = |from_mm: f64, to_mm: f64, lighter: usize| {
        let part = thing(800, |cell| from_mm + (to_mm - from_mm) * (cell % 20) as f64 / 19.0);
        Part { lighter, ..part }
    };
    assert!(!along(0.0, 40.0, 0).obstructs());
    assert!(!along(2.0, 50.0, 0).obstructs(), "a lamp hangs low");
    assert!(along(0.0, 70.0, 0).obstructs(), "no shadow of a cushion reaches so far");
    assert!(along(-40.0, 40.0, 0).obstructs(), "a sleeve");
    assert!(along(0.0, 40.0, 30).obstructs(), "something with a colour of its own");
}

#[test]
fn a_line_drawn_from_nose_to_nose_is_in_nobodys_way_and_a_cue_over_the_rail_is() {
    const LIGHT: [f32; 3] = [0.5, 0.1, 0.2];
    let table = TableSize::NINE_FOOT;
    let in_the_way = |runs: &dyn Fn(TablePoint) -> bool| {
        let view = bed(|at| if runs(at) { LIGHT } else { [0.0; 3] });
        Odd::beside(&view, (&[], &table), &SteadyBed::default()).obstruction().is_some()
    };
    let line = |at: TablePoint| (at.x_mm - 200.0).abs() < 5.0;
    assert!(!in_the_way(&|at| line(at) && at.y_mm > 0.0));
    assert!(in_the_way(&line), "it goes on over the rail");
    let aslant = |at: TablePoint| (at.x_mm - 100.0 - 0.5 * at.y_mm).abs() < 5.0;
    assert!(in_the_way(&|at| aslant(at) && at.y_mm > 0.0), "no line is drawn so");
    let broad = |at: TablePoint| (at.x_mm - 200.0).abs() < 11.0;
    assert!(in_the_way(&|at| broad(at) && at.y_mm > 0.0), "no line is as broad");
}

#[test]
fn a_spot_stuck_to_the_cloth_is_in_nobodys_way_and_as_much_of_something_elsewhere_is() {
    let spot = |cells: usize, on_spot: bool| Part { on_spot, ..thing(cells, |_| 600.0) };
    assert!(!spot(60, true).obstructs());
    assert!(spot(60, false).obstructs());
    assert!(spot(200, true).obstructs(), "a hand over the spot");
}

#[test]
fn a_shadow_may_take_the_light_of_one_lamp_and_a_thing_is_known_by_its_own_colour() {
    // A ball's shadow from the whiter of two lamps leaves the redder one's light.
    assert!(!is_unusual_under([0.89, 0.69, 0.72]));
    assert!(!is_unusual_under([0.6, 0.6, 0.6]));
    // A hand, a cue of wood, a dark sleeve.
    assert!(is_unusual_under([3.0, 0.9, 1.3]));
    assert!(is_unusual_under([1.6, 0.8, 0.7]));
    assert!(is_unusual_under([0.8, 0.25, 0.45]));
    // What takes as much of the light and adds some of its own.
    assert!(is_unusual_under([1.1, 0.8, 0.85]));
    // Cloth beside two balls whose shadows pass for the cloth's light, and what is lighter still.
    assert!(!is_unusual_under([1.21, 1.25, 1.21]));
    assert!(is_unusual_under([1.4, 1.4, 1.4]));
}

#[test]
fn a_sleeve_touches_its_own_end_and_not_a_ball_a_little_before_it() {
    const SLEEVE: [f32; 3] = [-0.3, 0.1, 0.2];
    let table = TableSize::NINE_FOOT;
    // Of another hue than the cloth, no lighter.
    let (middle_mm, end_mm) = (250.0, 200.0);
    let on_sleeve = |at: TablePoint| (at.x_mm - middle_mm).abs() < 30.0 && at.y_mm < end_mm;
    let view = bed(|at| if on_sleeve(at) { SLEEVE } else { [0.0; 3] });
    let touched = |from_end_mm: f64| {
        let ball = TablePoint::new(middle_mm, end_mm + from_end_mm);
        let odd = Odd::beside(&view, (&[ball], &table), &SteadyBed::default());
        odd.obstruction().expect("a sleeve is in the way").touches(&view, ball, &table)
    };
    assert!(touched(-10.0));
    assert!(!touched(50.0));
}

#[test]
fn an_arm_whose_skin_looks_like_the_cloth_shows_over_the_rail() {
    let table = TableSize::NINE_FOOT;
    let rail = |at: TablePoint| if at.y_mm < -25.0 { [0.6, 0.2, -0.1] } else { [0.0; 3] };
    let mut steady = SteadyBed::default();
    steady.learn(&bed(rail), &[], table.ball_radius_mm());
    let arm = bed(|at| {
        let over = (at.x_mm - 250.0).abs() < 40.0 && at.y_mm < -25.0;
        if over { [-0.8, -0.9, -0.4] } else { rail(at) }
    });
    let near = |view: &BedView, x_mm: f64, y_mm: f64| {
        let over = over_rails(view, &table, &steady);
        over.is_some_and(|thing| thing.is_near(view, TablePoint::new(x_mm, y_mm)))
    };
    assert!(near(&arm, 260.0, 150.0));
    assert!(!near(&arm, 480.0, 320.0), "too far for an arm's end");
    assert!(!near(&bed(rail), 260.0, 150.0));
}

#[test]
fn a_cushions_shadow_may_get_less_when_a_lamp_is_switched_and_a_thing_in_it_has_light_of_its_own() {
    let shade = [-0.89, -0.24, -0.32];
    assert!(!is_unusual([-0.60, -0.18, -0.24], shade, true));
    assert!(!is_unusual([-0.1, -0.03, -0.05], shade, true));
    assert!(is_unusual([-0.60, -0.18, 0.1], shade, true));
    assert!(is_unusual([-0.9, -0.7, -0.9], shade, true), "a dark sleeve");
}

#[test]
fn the_shadow_of_a_rack_on_red_cloth_is_in_nobodys_way_and_a_dark_sleeve_is() {
    let table = TableSize::NINE_FOOT;
    let mut steady = SteadyBed::default();
    steady.learn(&bed(|_| [0.0; 3]), &[], table.ball_radius_mm());
    let in_the_way = |thing: [f32; 3]| {
        let beside = |at: TablePoint| at.distance_mm(TablePoint::new(200.0, 150.0)) < 25.0;
        let view = bed(|at| if beside(at) { thing } else { [0.0; 3] });
        Odd::beside(&view, (&[], &table), &steady).obstruction().is_some()
    };
    assert!(!in_the_way(ITS_SHADE));
    assert!(in_the_way([-0.71, -0.71, -0.15]), "a blue sleeve");
    assert!(in_the_way([-1.4, -0.3, -0.4]), "a black one");
}
