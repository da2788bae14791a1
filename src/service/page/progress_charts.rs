//! The charts of the progress page, each with its figures in a table: how far runs go, runs over time,
//! misses by place in the rack and rack by rack.

use super::{
    chart::{Axis, Chart, Scale, round_marks},
    messages::say,
    words,
};
use crate::study::{
    BALLS_A_RACK, Ending, Estimate, Period, PlaceRate, Progress, Reached, Record, percent, rounded,
};
use maud::{Markup, html};

/// Chances that are written beside the curve, and what lies below when that would be too many.
const ONE_IN: [f64; 7] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0];
const CROWDED: f64 = 1e-3;
/// Up to so many attempts each is drawn.
const EACH_DRAWN: usize = 400;

/// A chart with its words and its figures.
fn section(id: &str, heading: &str, drawing: &Markup, caption: &Markup, table: &Markup) -> Markup {
    html! {
        section aria-labelledby={ (id) "-heading" } {
            h2 id={ (id) "-heading" } { (heading) }
            figure {
                (drawing)
                figcaption { (caption) }
            }
            details { summary { (say!("figures")) } (table) }
        }
    }
}

/// The survival curve, the goal beside it.
pub(super) fn how_far(progress: &Progress) -> Markup {
    let curve = &progress.survival;
    let chance = progress
        .prospect
        .as_ref()
        .and_then(|prospect| Some((prospect.goal.balls, prospect.chance.as_ref()?.of_an_attempt)));
    let last = curve.reached.last().map_or(curve.seen_to, |at| at.ball).max(BALLS_A_RACK);
    let to = chance.map_or(last, |(balls, _)| balls.max(last));
    let least = curve.reached.iter().map(|at| at.chance).rfind(|chance| *chance > 0.0);
    let least = chance.map_or(1.0, |(_, chance)| chance.value).min(least.unwrap_or(0.1));
    let bottom = (least / 2.0).clamp(1e-4, 0.05);
    let rack = BALLS_A_RACK * to.div_ceil(BALLS_A_RACK * 7).max(1);
    let racks = (0..=to / rack).map(|k| k * rack).map(|at| (f64::from(at), at.to_string()));
    let chances: &[f64] = if bottom < CROWDED { &[1.0, 1e1, 1e2, 1e3, 1e4] } else { &ONE_IN };
    let chances = chances.iter().map(|one_in| 1.0 / one_in).filter(|step| *step >= bottom);
    let chart = Chart {
        title: say!("charts-far"),
        told: told_curve(progress),
        x: Axis {
            name: say!("charts-balls-racks"),
            ends: (0.0, f64::from(to) * 1.03),
            scale: Scale::Even,
            marks: racks.collect(),
        },
        y: Axis {
            name: say!("charts-chance"),
            ends: (bottom, 1.0),
            scale: Scale::Factors,
            marks: chances.map(|step| (step, mark_of_chance(step))).collect(),
        },
    };
    let stairs = |of: fn(&Reached) -> f64| {
        let mut points = vec![(0.0, 1.0)];
        for at in &curve.reached {
            let before = points[points.len() - 1].1;
            points.extend([(f64::from(at.ball), before), (f64::from(at.ball), of(at))]);
        }
        points
    };
    let band = stairs(|at| at.high).into_iter().chain(stairs(|at| at.low).into_iter().rev());
    let marks = html! {
        path.band d={ (chart.line(band)) "Z" } {}
        path.curve d=(chart.line(stairs(|at| at.chance))) {}
        @if let Some((balls, chance)) = chance {
            (goal_mark(&chart, balls, chance))
        }
    };
    let caption = html! {
        (say!("charts-far-caption"))
        @if chance.is_some() { " " (say!("charts-far-goal")) }
    };
    section("far", &chart.title, &chart.around("far", &marks), &caption, &curve_table(progress))
}

fn goal_mark(chart: &Chart, balls: u32, chance: Estimate) -> Markup {
    let (x, y) = (chart.x(f64::from(balls)), chart.y(chance.value));
    html! {
        line.whisker x1=(x) y1=(chart.y(chance.low)) x2=(x) y2=(chart.y(chance.high)) {}
        circle.aim cx=(x) cy=(y) r="11" {}
        circle.aim-dot cx=(x) cy=(y) r="3.5" {}
    }
}

fn mark_of_chance(chance: f64) -> String {
    if chance >= 1.0 {
        say!("charts-all")
    } else {
        say!("charts-one-in", attempts = (1.0 / chance).round())
    }
}

fn told_curve(progress: &Progress) -> String {
    let curve = &progress.survival;
    let at = |balls: u32| {
        let (chance, low, high) = curve.chance_of(balls)?;
        let (chance, low, high) = (percent(chance), percent(low), percent(high));
        Some(say!("charts-far-told-one", balls = balls, chance = chance, low = low, high = high))
    };
    let told: Vec<String> = [7, 14, 28, 42, 56, 84].into_iter().filter_map(at).collect();
    say!("charts-far-told", chances = told.join("; "))
}

fn curve_table(progress: &Progress) -> Markup {
    let curve = &progress.survival;
    let every = curve.reached.len().div_ceil(40).max(1);
    html! {
        table {
            (words::heads([
                say!("charts-ball"),
                say!("charts-came-to"),
                say!("charts-ended"),
                say!("chance"),
                say!("interval"),
            ]))
            tbody {
                @for at in curve.reached.iter().step_by(every) {
                    tr {
                        th scope="row" { (at.ball) }
                        td { (at.at_risk) }
                        td { (at.missed) }
                        td { (percent(at.chance)) }
                        td { (words::range(at.low, at.high)) }
                    }
                }
            }
        }
    }
}

/// Runs in their order, or by months where there are many.
pub(super) fn over_time(record: &Record, progress: &Progress) -> Markup {
    let each = record.runs.len() <= EACH_DRAWN;
    let high = progress.high_run.map_or(1, |high| high.balls).max(5);
    let balls = round_marks(f64::from(high), 5);
    let top = balls.last().copied().unwrap_or(1.0);
    let count = if each { record.runs.len() } else { progress.over_time.len() };
    let x = if each {
        let marks = round_marks(count as f64, 6).into_iter().filter(|at| *at <= count as f64);
        marks.map(|at| (at, rounded_whole(at))).collect()
    } else {
        let every = count.div_ceil(4).max(1);
        let starts = progress.over_time.iter().enumerate().step_by(every);
        starts
            .map(|(at, period)| (at as f64 + 1.0, period.from.strftime("%Y-%m").to_string()))
            .collect()
    };
    let chart = Chart {
        title: say!("charts-time"),
        told: told_time(progress),
        x: Axis {
            name: if each { say!("charts-attempts") } else { say!("charts-months") },
            ends: (0.0, count as f64 + 1.0),
            scale: Scale::Even,
            marks: x,
        },
        y: Axis {
            name: say!("charts-balls"),
            ends: (0.0, top),
            scale: Scale::Even,
            marks: balls.iter().map(|at| (*at, rounded_whole(*at))).collect(),
        },
    };
    let marks = html! {
        @if each {
            @for (at, run) in (1_u32..).zip(&record.runs) {
                @let (x, y) = (chart.x(f64::from(at)), chart.y(f64::from(run.balls)));
                line.stem x1=(x) y1=(chart.y(0.0)) x2=(x) y2=(y) {}
                @if run.ending == Ending::Missed { circle.run cx=(x) cy=(y) r="3.5" {} }
                @else { circle.stopped cx=(x) cy=(y) r="4.5" {} }
            }
        } @else {
            @for (at, period) in (1_u32..).zip(&progress.over_time) {
                @let x = chart.x(f64::from(at));
                line.stem x1=(x) y1=(chart.y(0.0)) x2=(x) y2=(chart.y(f64::from(period.highest))) {}
                circle.run cx=(x) cy=(chart.y(period.mean)) r="3.5" {}
            }
        }
    };
    let caption = html! {
        @if each { (say!("charts-each-run")) }
        @else { (say!("charts-each-month")) }
    };
    section("time", &chart.title, &chart.around("time", &marks), &caption, &time_table(progress))
}

fn rounded_whole(value: f64) -> String {
    format!("{}", value.round())
}

fn told_time(progress: &Progress) -> String {
    let parts =
        |period: &Period| (period.from.to_string(), format!("{:.1}", period.mean), period.highest);
    let first = progress.over_time.first().map(parts);
    let first =
        first.map(|(from, mean, run)| say!("charts-first", from = from, mean = mean, run = run));
    let last = progress.over_time.last().map(parts);
    let last =
        last.map(|(from, mean, run)| say!("charts-last", from = from, mean = mean, run = run));
    first.into_iter().chain(last).map(|told| told + " ").collect()
}

fn time_table(progress: &Progress) -> Markup {
    html! {
        table {
            (words::heads([
                say!("charts-from"),
                say!("charts-attempts-head"),
                say!("charts-mean"),
                say!("charts-median"),
                say!("charts-high-run"),
            ]))
            tbody {
                @for period in progress.over_time.iter().rev() {
                    tr {
                        th scope="row" { (period.from) }
                        td { (period.attempts) }
                        td { (rounded(period.mean)) }
                        td { (rounded(period.median)) }
                        td { (period.highest) }
                    }
                }
            }
        }
    }
}

/// What is told of a place: for the break shot by itself, for the others with what all say.
fn told_chance(place: &PlaceRate) -> Estimate {
    place.pooled.unwrap_or(place.alone.chance)
}

/// Misses by place in the rack.
pub(super) fn by_place(progress: &Progress) -> Markup {
    let hazards = &progress.hazards;
    let most = hazards.places.iter().map(|place| told_chance(place).high).fold(0.02, f64::max);
    let parts = round_marks(100.0 * most, 5);
    let chart = Chart {
        title: say!("charts-place"),
        told: told_places(progress),
        x: Axis {
            name: say!("charts-rack-ball"),
            ends: (0.3, 14.7),
            scale: Scale::Even,
            marks: hazards
                .places
                .iter()
                .map(|p| (f64::from(p.place), p.place.to_string()))
                .collect(),
        },
        y: Axis {
            name: say!("charts-missed"),
            ends: (0.0, parts.last().copied().unwrap_or(1.0) / 100.0),
            scale: Scale::Even,
            marks: parts.iter().map(|part| (part / 100.0, format!("{part:.0} %"))).collect(),
        },
    };
    let others = hazards.others.chance.value;
    let marks = html! {
        path.level d=(chart.line([(1.5, others), (14.7, others)])) {}
        @for place in &hazards.places {
            @let (chance, x) = (told_chance(place), chart.x(f64::from(place.place)));
            line.whisker x1=(x) y1=(chart.y(chance.low)) x2=(x) y2=(chart.y(chance.high)) {}
            @if place.place == 1 {
                rect.break-shot x=(x - 8.0) y=(chart.y(chance.value) - 8.0) width="16" height="16" {}
            } @else {
                circle.run cx=(x) cy=(chart.y(chance.value)) r="6" {}
            }
        }
    };
    let caption = html! {
        (say!("charts-place-caption"))
    };
    let table = html! {
        table {
            (words::heads([
                say!("charts-ball"),
                say!("faced"),
                say!("missed"),
                say!("chance"),
                say!("interval"),
            ]))
            tbody {
                @for place in &hazards.places {
                    @let chance = told_chance(place);
                    tr {
                        th scope="row" {
                            @if place.place == 1 { (say!("charts-break-shot")) } @else { (place.place) }
                        }
                        td { (place.alone.tally.faced) }
                        td { (place.alone.tally.missed) }
                        td { (percent(chance.value)) }
                        td { (words::range(chance.low, chance.high)) }
                    }
                }
            }
        }
    };
    section(
        "place",
        &say!("charts-place-heading"),
        &chart.around("place", &marks),
        &caption,
        &table,
    )
}

fn told_places(progress: &Progress) -> String {
    let told = |estimate: Estimate| {
        let Estimate { value, low, high } = estimate;
        let (share, low, high) = (percent(value), percent(low), percent(high));
        say!("charts-share", share = share, low = low, high = high)
    };
    let hazards = &progress.hazards;
    let breaks = told(hazards.break_shot.chance);
    say!("charts-places-told", breaks = breaks, others = told(hazards.others.chance))
}

/// Misses rack by rack of the attempt.
pub(super) fn by_rack(progress: &Progress) -> Markup {
    html! {
        section aria-labelledby="racks-heading" {
            h2 #racks-heading { (say!("charts-racks")) }
            p { (told_places(progress)) }
            table {
                (words::heads([
                    say!("charts-rack"),
                    say!("faced"),
                    say!("missed"),
                    say!("chance"),
                    say!("interval"),
                ]))
                tbody {
                    @for (rack, rate) in (1_u32..).zip(&progress.hazards.racks).take(12) {
                        tr {
                            th scope="row" { (rack) }
                            td { (rate.tally.faced) }
                            td { (rate.tally.missed) }
                            td { (percent(rate.chance.value)) }
                            td { (words::range(rate.chance.low, rate.chance.high)) }
                        }
                    }
                }
            }
        }
    }
}
