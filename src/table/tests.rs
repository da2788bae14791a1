//! The table's coordinates, rack, spots and pockets, held to what they mean.

use super::*;
use proptest::prelude::*;

fn any_table() -> impl Strategy<Value = TableSize> {
    (1800.0..2900.0_f64, 1.85..2.15_f64, 50.0..60.0_f64)
        .prop_map(|(length, ratio, ball)| TableSize::new(length, length / ratio, ball).unwrap())
}

proptest! {
    #[test]
    fn diamonds_and_millimetres_go_there_and_back(
        table in any_table(),
        x in -1.0..9.0_f64,
        y in -1.0..5.0_f64,
    ) {
        let place = DiamondPoint { x, y };
        let back = DiamondPoint::from_table(place.on_table(&table), &table);
        prop_assert!((back.x - x).abs() < 1e-12 && (back.y - y).abs() < 1e-12);
        let point = TablePoint::new(300.0 * x, 300.0 * y);
        let again = DiamondPoint::from_table(point, &table).on_table(&table);
        prop_assert!(again.distance_mm(point) < 1e-9);
    }

    #[test]
    fn a_diamond_is_an_eighth_of_the_length_and_a_quarter_of_the_width(table in any_table()) {
        let corner = DiamondPoint { x: 8.0, y: 4.0 }.on_table(&table);
        prop_assert!(corner.distance_mm(table.corners()[2]) < 1e-9);
        let spot = DiamondPoint { x: 6.0, y: 2.0 }.on_table(&table);
        prop_assert!(spot.distance_mm(table.foot_spot()) < 1e-9);
    }

    #[test]
    fn turning_twice_changes_nothing(
        table in any_table(),
        x_mm in -100.0..3000.0_f64,
        y_mm in -100.0..1600.0_f64,
    ) {
        let point = TablePoint::new(x_mm, y_mm);
        let turned = point.turned(&table);
        prop_assert!(turned.turned(&table).distance_mm(point) < 1e-9);
        // The centre spot stays, and every place keeps its distance from it.
        let centre = table.centre_spot();
        prop_assert!((turned.distance_mm(centre) - point.distance_mm(centre)).abs() < 1e-9);
        prop_assert!(table.head_spot().turned(&table).distance_mm(table.foot_spot()) < 1e-9);
    }

    #[test]
    fn racked_balls_touch_and_none_overlap(table in any_table()) {
        let rack = Rack::on(&table);
        let places = rack.places();
        let mut contacts = 0;
        for (i, a) in places.iter().enumerate() {
            for b in &places[..i] {
                let gap_mm = a.distance_mm(*b) - table.ball_diameter_mm;
                prop_assert!(gap_mm > -1e-9, "overlap of {} mm", -gap_mm);
                contacts += usize::from(gap_mm < 1e-9);
            }
        }
        // Three to each small triangle side: 3 · (1 + 2 + 3 + 4).
        prop_assert_eq!(contacts, 30);
        prop_assert!(places[0].distance_mm(table.foot_spot()) < 1e-9);
        prop_assert!(rack.continuing().iter().all(|place| place.x_mm > places[0].x_mm));
        prop_assert_eq!(rack.continuing().len(), 14);
    }

    #[test]
    fn the_rack_lies_between_foot_spot_and_foot_rail_and_is_symmetric(table in any_table()) {
        let rack = Rack::on(&table);
        let radius_mm = table.ball_radius_mm();
        for place in rack.places() {
            prop_assert!(place.x_mm + radius_mm < table.length_mm);
            prop_assert!(place.y_mm > radius_mm && place.y_mm + radius_mm < table.width_mm);
            let mirrored = TablePoint::new(place.x_mm, table.width_mm - place.y_mm);
            let twin = rack.places().iter().any(|other| other.distance_mm(mirrored) < 1e-9);
            prop_assert!(twin, "{:?} has no twin", place);
        }
    }

    #[test]
    fn a_ball_is_in_the_rack_while_it_reaches_into_the_outline(
        table in any_table(),
        along in 0.0..1.0_f64,
        over_mm in 0.01..20.0_f64,
    ) {
        let rack = Rack::on(&table);
        for place in rack.places() {
            prop_assert!(rack.holds_part_of(*place));
        }
        // Behind the last row: its outline runs a radius behind the centres, and a ball reaches
        // in from a radius further.
        let (first, last) = (rack.places()[10], rack.places()[14]);
        let y_mm = first.y_mm + along * (last.y_mm - first.y_mm);
        let edge_mm = first.x_mm + table.ball_diameter_mm;
        prop_assert!(rack.holds_part_of(TablePoint::new(edge_mm - over_mm, y_mm)));
        prop_assert!(!rack.holds_part_of(TablePoint::new(edge_mm + over_mm, y_mm)));
        prop_assert!(!rack.holds_part_of(table.head_spot()));
        prop_assert!(!rack.holds_part_of(table.centre_spot()));
    }

    #[test]
    fn pockets_and_sights_are_the_same_after_a_turn(table in any_table()) {
        let pockets = table.pockets();
        for pocket in pockets {
            let turned = pocket.centre.turned(&table);
            let twin = pockets.iter().any(|p| p.centre.distance_mm(turned) < 1e-9
                && p.kind == pocket.kind && (p.radius_mm - pocket.radius_mm).abs() < 1e-9);
            prop_assert!(twin, "{:?} has no twin", pocket);
        }
        let sights = table.sights();
        prop_assert_eq!(sights.len(), 18);
        for sight in &sights {
            let turned = sight.turned(&table);
            prop_assert!(sights.iter().any(|s| s.distance_mm(turned) < 1e-9));
            let inside = (0.0..=table.length_mm).contains(&sight.x_mm)
                && (0.0..=table.width_mm).contains(&sight.y_mm);
            prop_assert!(!inside, "a sight on the cloth: {:?}", sight);
        }
    }

    #[test]
    fn a_size_is_read_as_it_is_written(length in 1100.0..3900.0_f64) {
        let (length, width) = ((length * 10.0).round() / 10.0, (length * 5.0).round() / 10.0);
        let table: TableSize = format!("{length}x{width}").parse().unwrap();
        prop_assert!((table.length_mm - length).abs() < 1e-9);
        prop_assert!((table.width_mm - width).abs() < 1e-9);
        let again: TableSize = table.to_string().parse().unwrap();
        prop_assert!((again.length_mm - length).abs() < 0.06);
    }
}

#[test]
fn mouths_are_as_wide_as_the_trade_has_them() {
    for table in TableSize::PRESETS {
        let noses = table.noses();
        for pocket in table.pockets() {
            let mut tips: Vec<_> = noses.iter().flatten().copied().collect();
            let away = |tip: &TablePoint| tip.distance_mm(pocket.centre);
            tips.sort_by(|a, b| away(a).total_cmp(&away(b)));
            let mouth_mm = tips[0].distance_mm(tips[1]);
            let wanted = match pocket.kind {
                PocketKind::Corner => 114.0..127.0,
                PocketKind::Side => 124.0..135.0,
            };
            assert!(wanted.contains(&mouth_mm), "{pocket:?}: {mouth_mm} mm");
            assert!((away(&tips[0]) - away(&tips[1])).abs() < 1e-9, "{pocket:?} is askew");
        }
    }
}

#[test]
fn a_size_is_read_by_the_name_that_the_trade_has_for_it() {
    for table in TableSize::PRESETS {
        assert_eq!(table.name().parse::<TableSize>().unwrap(), table);
    }
    assert_eq!(
        ["9ft", "9", "9 FT"].map(|text| text.parse::<TableSize>().unwrap()),
        [TableSize::NINE_FOOT; 3]
    );
}

#[test]
fn no_table_has_such_a_size() {
    for text in ["", "10ft", "2540", "2540x", "x1270", "2540x2540", "0x0", "nanxnan", "1e9x5e8"] {
        let refused = text.parse::<TableSize>().unwrap_err().to_string();
        assert!(refused.contains("mm") || refused.contains("millimetres"), "'{text}': {refused}");
    }
    assert!(TableSize::new(f64::NAN, 1270.0, 57.15).is_err());
    assert!(TableSize::new(2540.0, f64::INFINITY, 57.15).is_err());
}
