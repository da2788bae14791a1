//! What one wants to look at: the balls furthest off, and everything that went wrong.

use super::compare::Comparison;
use super::trial::Trial;
use stillcloth::table::TablePoint;

/// The `worst` balls, and all that were missed, false or misnamed cue balls, a line each.
pub fn list(trials: &[Trial], worst: usize) -> String {
    let mut text = String::new();
    let read: Vec<(&str, &Comparison)> = trials
        .iter()
        .filter_map(|trial| Some((trial.frame.as_str(), trial.read.as_ref()?)))
        .collect();
    let mut found: Vec<_> = read
        .iter()
        .flat_map(|(frame, read)| read.found.iter().map(move |ball| (*frame, ball)))
        .collect();
    found.sort_by(|a, b| b.1.error_mm.total_cmp(&a.1.error_mm));
    for (frame, ball) in found.iter().take(worst) {
        text += &format!(
            "off {:.2} mm, sigma {:.2} mm: {frame}: {} at {}\n",
            ball.error_mm,
            ball.sigma_mm,
            name(Some(ball.number)),
            place(ball.at)
        );
    }
    for (frame, read) in &read {
        for ball in &read.missed {
            text += &format!("missed: {frame}: {} at {}\n", name(ball.number), place(ball.at));
        }
        for ball in &read.false_balls {
            text += &format!("false: {frame}: {} at {}\n", name(ball.number), place(ball.at));
        }
        if !read.cue_right {
            text += &format!("cue ball wrong: {frame}\n");
        }
        for ball in read.found.iter().filter(|ball| ball.read_as != Some(ball.number)) {
            let (is, read_as) = (name(Some(ball.number)), name(ball.read_as));
            text += &format!("misnamed: {frame}: {is} read as {read_as}\n");
        }
        if !read.obstructed_right {
            text += &format!("obstruction wrong: {frame}\n");
        }
        if !read.size_right {
            text += &format!("table size wrong: {frame}: {}\n", read.size.name());
        }
    }
    text
}

fn name(number: Option<u8>) -> String {
    match number {
        None => "a ball without a number".into(),
        Some(0) => "the cue ball".into(),
        Some(number) => format!("ball {number}"),
    }
}

/// Millimetres in the true table frame.
fn place(at: TablePoint) -> String {
    format!("({:.0}, {:.0}) mm", at.x_mm, at.y_mm)
}
