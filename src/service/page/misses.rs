//! Misses by what the shots were, on the progress page: a row of marks for each kind, and the figures.

use super::{
    chart::{Row, rows},
    messages::say,
    words,
};
use crate::study::{By, MissTable, Misses, percent};
use maud::{Markup, html};

/// Where the scale of all of them ends at the least.
const LEAST_END: f64 = 0.1;

pub(super) fn section(misses: &Misses) -> Markup {
    let most = misses.tables.iter().flat_map(|table| &table.kinds);
    // One scale for all, so that they can be compared; what few shots leave open may run out of it.
    let most = most.map(|of| of.rate.chance.value).fold(LEAST_END, f64::max);
    let end = (1.5 * most).min(1.0);
    html! {
        section aria-labelledby="misses" {
            h2 #misses { (say!("misses-heading")) }
            p.said { (misses.in_words()) }
            div.charts {
                @for table in &misses.tables { (by(table, end)) }
            }
        }
    }
}

const fn id(by: By) -> &'static str {
    match by {
        By::Cut => "cut",
        By::CutSide => "side",
        By::ToBall => "to-ball",
        By::ToPocket => "to-pocket",
        By::CueBall => "cue-ball",
        By::After => "after",
        By::Session => "session",
    }
}

fn by(table: &MissTable, end: f64) -> Markup {
    let (id, heading) = (id(table.by), table.by.heading());
    let told = |of: &crate::study::MissesOf| {
        let (missed, faced) = (of.rate.tally.missed, of.rate.tally.faced);
        say!("misses-told", kind = &of.kind, missed = missed, faced = faced)
    };
    let told: Vec<String> = table.kinds.iter().map(told).collect();
    let marks = table.kinds.iter().map(|of| Row { name: &of.kind, chance: of.rate.chance });
    html! {
        @if !table.kinds.is_empty() {
            section aria-labelledby={ (id) "-heading" } {
                h3 id={ (id) "-heading" } { (heading) }
                (rows(id, &say!("misses-by", heading = heading), &(told.join("; ") + "."), end, marks))
                details {
                    summary { (say!("figures")) }
                    table {
                        (words::heads([
                            heading.into(),
                            say!("misses-shots"),
                            say!("missed"),
                            say!("chance"),
                            say!("interval"),
                        ]))
                        tbody {
                            @for of in &table.kinds {
                                @let chance = of.rate.chance;
                                tr {
                                    th scope="row" { (of.kind) }
                                    td { (of.rate.tally.faced) }
                                    td { (of.rate.tally.missed) }
                                    td { (percent(chance.value)) }
                                    td { (words::range(chance.low, chance.high)) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
