//! Layouts with a ball too many or too few, one sentence each.

use super::tables::*;
use stillcloth::{
    layout::BallKind,
    score::{Cause, follow},
};

#[test]
fn of_sixteen_balls_the_one_beside_the_rack_with_the_least_sure_number_is_the_cue_ball() {
    let mut seen = rests(&[opening(), broken(14), without(broken(14), 1)]);
    let cue = seen[0].layout.balls.last_mut().unwrap();
    (cue.kind, cue.number, cue.number_confidence) = (BallKind::Object, Some(13), 0.54);
    let story = follow(&seen, &[]);
    assert_eq!((runs(&story), asked(&story)), (vec![(2, None)], vec![]));
}

#[test]
fn a_break_of_a_rack_that_lacked_a_ball_for_the_camera_begins_an_attempt_that_goes_on() {
    let mut lacking = opening();
    lacking.objects.remove(9);
    // A break that leaves the balls about the foot.
    let mut about_foot = with_cue(broken(14), 700.0, 400.0);
    for (_, place) in &mut about_foot.objects {
        place.x_mm = 1650.0 + 0.35 * place.x_mm;
    }
    let last = with_cue(without(about_foot.clone(), 2), 900.0, 260.0);
    let after = [about_foot.clone(), without(about_foot, 1), last];
    let over = moved(broken(14));
    let mut cleared = over.clone();
    cleared.objects.truncate(1);
    let before = [opening(), broken(14), over, cleared, lacking];
    let story = story(&[&before[..], &after[..]].concat());
    let begun = story.attempts.last().unwrap();
    assert_eq!((begun.run, begun.over), (3, None));
}

#[test]
fn a_doubtful_ball_behind_a_stroke_is_none_if_the_player_plays_on_and_it_is_gone() {
    let pot = |balls, x_mm| with_cue(without(broken(14), balls), x_mm, 260.0);
    let mut shadow = pot(2, 700.0);
    shadow.objects.push((0, stillcloth::table::TablePoint::new(2300.0, 1100.0)));
    let read = |after: &[Lying]| {
        let tables = [&[opening(), broken(14), pot(1, 600.0), shadow.clone()], after].concat();
        let mut seen = rests(&tables);
        let ball = seen[3].layout.balls.iter_mut().find(|ball| ball.number == Some(0)).unwrap();
        (ball.number, ball.number_confidence, ball.confidence) = (None, 0.0, 0.93);
        runs(&follow(&seen, &[]))
    };
    assert_eq!(read(&[]), [(2, Some(Cause::Miss))], "of two readings the likelier");
    assert_eq!(read(&[pot(3, 800.0)]), [(4, None)], "few play on behind a miss");
    assert_eq!(read(&[opening()])[0], (2, Some(Cause::Miss)));
}
