//! The placing rule as the made-up player follows it, written from the rule's own table.

use stillcloth::table::{Rack, TablePoint, TableSize};

pub enum CueTo {
    Place(TablePoint),
    Hand,
}

/// Where the last ball goes (none: into the rack) and where the cue ball.
pub fn by_the_table(
    table: &TableSize,
    last: Option<TablePoint>,
    cue: TablePoint,
) -> (Option<TablePoint>, CueTo) {
    let rack = Rack::on(table);
    let on_head_spot = |at: TablePoint| at.distance_mm(table.head_spot()) < table.ball_diameter_mm;
    let cue_in = rack.holds_part_of(cue);
    let stays = CueTo::Place(cue);
    let Some(last) = last else {
        return (None, if cue_in { CueTo::Hand } else { stays });
    };
    if rack.holds_part_of(last) {
        if cue_in {
            (None, CueTo::Hand)
        } else if on_head_spot(cue) {
            (Some(table.centre_spot()), stays)
        } else {
            (Some(table.head_spot()), stays)
        }
    } else if !cue_in {
        (Some(last), stays)
    } else if on_head_spot(last) {
        (Some(last), CueTo::Place(table.centre_spot()))
    } else if last.x_mm < table.length_mm / 4.0 {
        (Some(last), CueTo::Place(table.head_spot()))
    } else {
        (Some(last), CueTo::Hand)
    }
}
