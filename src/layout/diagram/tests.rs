//! What a diagram has to show, read back from the SVG itself.

use super::*;
use crate::layout::{Ball, BallKind};
use crate::table::{DiamondPoint, FootEnd, Rack, TablePoint, TableSize};
use proptest::prelude::*;
use roxmltree::{Document, Node};

fn ball(number: Option<u8>, place: DiamondPoint) -> Ball {
    Ball {
        kind: if number == Some(0) { BallKind::Cue } else { BallKind::Object },
        number,
        x: place.x,
        y: place.y,
        sigma_mm: 0.4,
        confidence: 1.0,
        number_confidence: if number.is_some() { 0.95 } else { 0.0 },
    }
}

fn layout(balls: Vec<Ball>) -> Layout {
    Layout::of(TableSize::NINE_FOOT, FootEnd::Seen, balls)
}

fn full_rack() -> Layout {
    let table = TableSize::EIGHT_FOOT;
    let mut balls: Vec<Ball> = (1..=15)
        .zip(Rack::on(&table).places())
        .map(|(number, place)| ball(Some(number), DiamondPoint::from_table(*place, &table)))
        .collect();
    balls.push(ball(Some(0), DiamondPoint { x: 1.5, y: 2.2 }));
    Layout { table, balls, ..layout(vec![]) }
}

fn number(node: &Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name).unwrap_or_else(|| panic!("no {name}")).parse().unwrap()
}

/// Centre and radius of the first disc of every ball drawn.
fn discs(svg: &str, class: &str) -> Vec<[f64; 3]> {
    let document = Document::parse(svg).unwrap();
    let is_ball = |node: &Node<'_, '_>| {
        node.attribute("class").is_some_and(|c| c.split(' ').any(|word| word == class))
    };
    let groups = document.descendants().filter(|node| node.has_tag_name("g")).filter(is_ball);
    let first = groups.map(|g| g.children().find(|c| c.has_tag_name("circle")).unwrap());
    first.map(|c| ["cx", "cy", "r"].map(|name| number(&c, name))).collect()
}

fn words(svg: &str, tag: &str) -> String {
    let document = Document::parse(svg).unwrap();
    document.descendants().find(|n| n.has_tag_name(tag)).unwrap().text().unwrap().into()
}

#[test]
fn touching_balls_touch() {
    let balls = discs(&svg(&full_rack()), "ball");
    assert_eq!(balls.len(), 16);
    let mut contacts = 0;
    for (i, [ax, ay, ar]) in balls.iter().enumerate() {
        for [bx, by, br] in &balls[..i] {
            let gap = (ax - bx).hypot(ay - by) - ar - br;
            assert!(gap > -0.03, "balls overlap by {gap}");
            contacts += usize::from(gap < 0.03);
        }
    }
    assert_eq!(contacts, 30, "contacts of a full rack");
}

#[test]
fn kinds_are_told_by_shape() {
    let at = |x| DiamondPoint { x, y: 2.0 };
    let kinds = [Some(0), Some(8), Some(9), None];
    let balls = (1_u8..).zip(kinds).map(|(x, n)| ball(n, at(f64::from(x)))).collect();
    let svg = svg(&layout(balls));
    for class in ["cue", "solid", "striped", "unread"] {
        assert_eq!(discs(&svg, class).len(), 1, "{class}");
    }
    // Without its colours and places no two kinds are drawn alike.
    let document = Document::parse(&svg).unwrap();
    let shape = |class: &str| {
        let is = |n: &Node<'_, '_>| n.attribute("class") == Some(&format!("ball {class}"));
        let group = document.descendants().find(is).unwrap();
        // What a part is, and for a path which turns it takes.
        let part = |node: Node<'_, '_>| {
            let path = node.attribute("d").unwrap_or_default();
            let turns: String = path.chars().filter(char::is_ascii_alphabetic).collect();
            format!("{} {turns}", node.tag_name().name())
        };
        group.children().filter(Node::is_element).map(part).collect::<Vec<_>>()
    };
    let shapes = ["cue", "solid", "striped", "unread"].map(shape);
    for (i, one) in shapes.iter().enumerate() {
        assert!(!shapes[..i].contains(one), "{one:?} twice");
    }
}

#[test]
fn doubt_is_shown() {
    let mut unsure = layout(vec![ball(Some(3), DiamondPoint { x: 3.0, y: 1.0 })]);
    let certain = svg(&unsure);
    assert!(!certain.contains("class=\"halo\"") && !certain.contains("stroke-dasharray=\"70"));
    unsure.balls[0].sigma_mm = 7.5;
    unsure.obstructed = true;
    unsure.foot = FootEnd::Open;
    let text = svg(&unsure);
    let document = Document::parse(&text).unwrap();
    let halo = document.descendants().find(|n| n.attribute("class") == Some("halo")).unwrap();
    // Nine feet are 2540 units: a unit is a millimetre.
    assert!((number(&halo, "r") - (57.15 / 2.0 + 15.0)).abs() < 0.01);
    assert!(text.contains("stroke-dasharray=\"70"), "no barred border");
    let said = words(&text, "desc");
    for part in ["not known", "hidden", "give or take 8 mm"] {
        assert!(said.contains(part), "'{part}' is missing in: {said}");
    }
}

#[test]
fn numbers_no_layout_should_hold_do_no_harm() {
    let mut odd = layout(vec![
        ball(Some(1), DiamondPoint { x: f64::NAN, y: 1.0 }),
        ball(Some(2), DiamondPoint { x: 1e300, y: f64::NEG_INFINITY }),
        ball(Some(77), DiamondPoint { x: 4.0, y: 2.0 }),
    ]);
    odd.balls[2].sigma_mm = f64::NAN;
    let svg = svg(&odd);
    assert_eq!(discs(&svg, "ball").len(), 1);
    assert_eq!(discs(&svg, "unread").len(), 1);
    let document = Document::parse(&svg).unwrap();
    for node in document.descendants() {
        for attribute in node.attributes() {
            let value = attribute.value();
            assert!(!value.contains("NaN") && !value.contains("inf"), "{value}");
        }
    }
    assert!(png(&odd, 200).is_ok());
}

#[test]
fn ways_are_drawn_from_ball_to_end_and_explained() {
    let layout = layout(vec![
        ball(Some(0), DiamondPoint { x: 2.0, y: 2.0 }),
        ball(Some(9), DiamondPoint { x: 6.0, y: 1.0 }),
    ]);
    let way = |ball: usize, x: f64, end| {
        let from = layout.balls.get(ball).map(|ball| layout.centre_of(ball));
        let from = from.unwrap_or(TablePoint::new(100.0, 100.0));
        Way { ball, points: vec![from, TablePoint::new(x, 300.0)], end }
    };
    let ways =
        [way(0, 1500.0, WayEnd::Rests), way(1, 2500.0, WayEnd::Drops), way(7, 10.0, WayEnd::Rests)];
    let text = svg_with_plan(&layout, &Plan { ways: &ways, ..Plan::default() });
    let document = Document::parse(&text).unwrap();
    let drawn = |class: &str| {
        let is = |n: &Node<'_, '_>| n.attribute("class") == Some(class);
        document.descendants().filter(is).filter_map(|n| n.attribute("d")).collect::<Vec<_>>()
    };
    // One way each, and its sample in the legend; the ball that is not there has none.
    assert_eq!((drawn("way cue").len(), drawn("way object").len()), (2, 2));
    assert!(drawn("way cue").iter().any(|d| d.starts_with("M635 635L1500 970")));
    let said = words(&text, "desc");
    for part in ["Cue ball comes to rest at 4.72, 0.94.", "Ball 9 (striped) drops at 7.87, 0.94."] {
        assert!(said.contains(part), "'{part}' is missing in: {said}");
    }
    // Without ways nothing of this is there.
    assert!(!svg(&layout).contains("class=\"way"));
    let high = |svg: &str| number(&Document::parse(svg).unwrap().root_element(), "height");
    assert!((high(&text) - high(&svg(&layout)) - look::FOOTER).abs() < 0.01);
}

#[test]
fn meeting_and_landing_are_drawn_to_scale_and_explained() {
    let layout = layout(vec![ball(Some(0), DiamondPoint { x: 2.0, y: 2.0 })]);
    let at = TablePoint::new(1270.0, 635.0);
    let area = Area { at, sigma_mm: [100.0, 40.0], direction_rad: 0.5 };
    let plan = Plan { meetings: &[at], landing: Some(area), ..Plan::default() };
    let text = svg_with_plan(&layout, &plan);
    let document = Document::parse(&text).unwrap();
    let of_class = |class: &str| {
        let is = |n: &Node<'_, '_>| n.attribute("class") == Some(class);
        document.descendants().filter(is).collect::<Vec<_>>()
    };
    // One on the table, one in the legend.
    let (landings, meetings) = (of_class("landing"), of_class("meeting"));
    assert_eq!((landings.len(), meetings.len()), (2, 2));
    assert_eq!(
        ["cx", "cy", "rx", "ry"].map(|n| number(&landings[0], n)),
        [1270.0, 635.0, 200.0, 80.0]
    );
    assert_eq!(["cx", "cy"].map(|name| number(&meetings[0], name)), [1270.0, 635.0]);
    let said = words(&text, "desc");
    assert!(said.contains("86 of 100 within 200 by 80 mm"), "{said}");
    let lies = [at, TablePoint::new(900.0, 300.0)];
    let text = svg_with_plan(&layout, &Plan { lies: &lies, ..Plan::default() });
    assert_eq!(text.matches("class=\"landing\"").count(), 3);
}

#[test]
fn png_has_the_asked_width_and_shows_the_balls() {
    let layout = full_rack();
    let [.., [x, y, _]] = *discs(&svg(&layout), "solid") else { panic!("no solid ball") };
    for width in [360, 1600] {
        let picture = image::load_from_memory(&png(&layout, width).unwrap()).unwrap().to_rgb8();
        assert_eq!(picture.width(), width);
        let sheet = Sheet::new(&layout.table);
        let scale = f64::from(width) / sheet.size()[0];
        assert!((f64::from(picture.height()) - sheet.size()[1] * scale).abs() <= 0.5);
        let border = look::RAIL + look::MARGIN;
        let at = [(x + border) * scale, (y + border) * scale].map(|v| v as u32);
        let pixel = picture.get_pixel(at[0], at[1]).0;
        let cloth = picture.get_pixel(width / 3, picture.height() / 4).0;
        assert!(pixel != cloth, "no ball at {at:?}: {pixel:?}");
    }
    for width in [0, MOST_WIDTH_PX + 1] {
        assert!(matches!(png(&layout, width), Err(DiagramError::Width { .. })));
    }
}

#[test]
fn chips_of_a_rack_hide_neither_balls_nor_each_other() {
    let layout = full_rack();
    let sheet = Sheet::new(&layout.table);
    let balls = balls::drawn(&sheet, &layout);
    let chips = chips::place(&sheet, &balls);
    assert_eq!(chips.len(), 15);
    for (i, chip) in chips.iter().enumerate() {
        for ball in &balls {
            assert!(chip.bounds.distance(ball.at) > ball.radius, "{} hides a ball", chip.label);
        }
        for other in &chips[..i] {
            let apart = (0..2).any(|axis| {
                (chip.bounds.middle[axis] - other.bounds.middle[axis]).abs()
                    >= chip.bounds.half[axis] + other.bounds.half[axis]
            });
            assert!(apart, "{} and {} overlap", chip.label, other.label);
        }
    }
}

fn any_layout() -> impl Strategy<Value = Layout> {
    let place = (0.0..8.0_f64, 0.0..4.0_f64).prop_map(|(x, y)| DiamondPoint { x, y });
    let ball = (proptest::option::of(0..16_u8), place).prop_map(|(n, at)| ball(n, at));
    let foot = prop_oneof![Just(FootEnd::Given), Just(FootEnd::Seen), Just(FootEnd::Open)];
    let table = proptest::sample::select(TableSize::PRESETS.to_vec());
    (table, foot, any::<bool>(), proptest::collection::vec(ball, 0..17)).prop_map(
        |(table, foot, obstructed, balls)| Layout {
            table,
            foot,
            obstructed,
            rolled: None,
            lost_rolling_ms: None,
            balls,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn every_ball_is_drawn_at_its_place_and_to_scale(layout in any_layout()) {
        let mut drawn = discs(&svg(&layout), "ball");
        prop_assert_eq!(drawn.len(), layout.balls.len());
        for ball in &layout.balls {
            // A diamond is an eighth of the drawing's table; y runs up.
            let diamond = look::LENGTH / 8.0;
            let (x, y) = (ball.x * diamond, (4.0 - ball.y) * diamond);
            let near = |[cx, cy, _]: &[f64; 3]| (cx - x).hypot(cy - y) < 0.02;
            let Some(i) = drawn.iter().position(near) else {
                return Err(TestCaseError::fail(format!("no ball at {x}, {y}")));
            };
            let [.., r] = drawn.swap_remove(i);
            let diameter = 8.0 * 2.0 * r / look::LENGTH * layout.table.length_mm / 8.0;
            prop_assert!((diameter - layout.table.ball_diameter_mm).abs() < 0.03);
        }
    }

    #[test]
    fn the_order_of_the_balls_does_not_matter(layout in any_layout()) {
        let mut turned = layout.clone();
        turned.balls.reverse();
        let (one, other) = (svg(&layout), svg(&turned));
        prop_assert_eq!(discs(&one, "ball"), discs(&other, "ball"));
        let sheet = Sheet::new(&layout.table);
        let chips = |layout: &Layout| {
            let chips = chips::place(&sheet, &balls::drawn(&sheet, layout));
            chips.iter().map(|c| (c.label.clone(), c.bounds.middle)).collect::<Vec<_>>()
        };
        prop_assert_eq!(chips(&layout), chips(&turned));
    }

    #[test]
    fn the_words_name_every_ball(layout in any_layout()) {
        let said = words(&svg(&layout), "desc");
        for ball in &layout.balls {
            let place = format!("at {:.2}, {:.2}", ball.x, ball.y);
            prop_assert!(said.contains(&place), "'{}' is missing in: {}", place, said);
        }
    }
}
