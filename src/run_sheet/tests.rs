//! A sheet holds what its attempt was, whole and uncut, and becomes picture and PDF.

use super::*;
use crate::{
    layout::{Ball, BallKind, diagram},
    score::{Over, ShotTaken},
    table::FootEnd,
};

fn layout(id: i64) -> Layout {
    let place = |k: f64| 0.5 + (id as f64 * 0.37 + k).rem_euclid(3.0);
    let ball = |kind, number, k| Ball {
        kind,
        number: Some(number),
        x: 2.0 * place(k),
        y: place(1.3 * k),
        sigma_mm: 0.4,
        confidence: 0.99,
        number_confidence: 0.9,
    };
    Layout::of(
        TableSize::NINE_FOOT,
        FootEnd::Given,
        vec![ball(BallKind::Cue, 0, 0.0), ball(BallKind::Object, (id % 15) as u8 + 1, 1.1)],
    )
}

/// A run of so many full racks and five balls, a rest every 20 s.
fn played(racks: u32) -> (Attempt, Vec<RestSeen>) {
    let mut rest = 0;
    let mut shots = Vec::new();
    let mut told = Vec::new();
    for number in 1..=racks + 1 {
        rest += 1;
        let racked_rest = Some(rest);
        let last = number > racks;
        for _ in 0..if last { 5 } else { 14 } {
            rest += 1;
            shots.push(ShotTaken { rest, rack: number, potted: 1, shots: 1 });
        }
        told.push(RackPlayed { number, racked_rest, closing_rest: (!last).then_some(rest) });
    }
    rest += 1;
    let attempt = Attempt {
        id: 12,
        began_rest: 1,
        began_unix_ms: 1_772_668_820_000,
        start_seen: true,
        run: 14 * racks + 5,
        shots,
        racks: told,
        over: Some(Over {
            cause: Cause::Miss,
            rest,
            at_unix_ms: 1_772_668_800_000 + 20_000 * rest,
        }),
        sure: true,
    };
    let rests = rests_of(&attempt).into_iter().map(|id| RestSeen {
        id,
        at_unix_ms: 1_772_668_800_000 + 20_000 * id,
        unseen_ms: 0,
        layout: layout(id),
    });
    let rests = rests.collect();
    (attempt, rests)
}

fn sheet(racks: u32) -> RunSheet {
    let (attempt, rests) = played(racks);
    let conditions = Conditions {
        camera: "table".into(),
        high_run: attempt.run,
        advice: Some("a club player".into()),
    };
    RunSheet::of(&attempt, &rests, conditions)
}

#[test]
fn each_rack_is_told_with_its_layout_times_and_score() {
    let sheet = sheet(15);
    assert_eq!(sheet.racks.len(), 16);
    let third = &sheet.racks[2];
    assert_eq!((third.balls, third.run), (14, 42));
    assert_eq!(third.closing, Some(layout(45)));
    let took = third.ended_unix_ms.unwrap() - third.began_unix_ms.unwrap();
    assert_eq!(took, 14 * 20_000);
    let last = &sheet.racks[15];
    assert_eq!((last.balls, last.run, last.closing.is_none()), (5, 215, true));
    // 16 racks are 16 racked rests and 215 balls; the miss comes behind them.
    assert_eq!(sheet.last_shot, [Some(layout(231)), Some(layout(232))]);
}

/// Where each drawing of a table begins, top to bottom, and how high it is.
fn drawings(page: &str) -> Vec<(f64, f64)> {
    let parts = page.split("<g transform=\"translate(").skip(1);
    parts
        .map(|part| {
            let place = part.split([' ', ')']).take(2).collect::<Vec<_>>();
            let scale = part.split("scale(").nth(1).unwrap().split(')').next().unwrap();
            let scale: f64 = scale.parse().unwrap();
            (place[1].parse::<f64>().unwrap() - 180.0 * scale, 1740.0 * scale)
        })
        .collect()
}

#[test]
fn a_run_of_fifteen_racks_is_on_pages_that_cut_no_drawing() {
    let drawn = pages(&sheet(15));
    let counts: Vec<usize> = drawn.iter().map(|page| drawings(page).len()).collect();
    assert_eq!(
        counts.iter().sum::<usize>(),
        17,
        "15 closing layouts and the last shot: {counts:?}"
    );
    assert_eq!(drawn.len(), 3);
    for page in &drawn {
        assert!(page.contains("viewBox=\"0 0 2100 2970\""));
        for (top, height) in drawings(page) {
            assert!(top > 140.0 && top + height < 2970.0 - 140.0, "{top} {height}");
        }
    }
    // The long one holds the same.
    assert_eq!(drawings(&long(&sheet(15))).len(), 17);
}

#[test]
fn every_sheet_becomes_a_picture_and_a_pdf() {
    for racks in [0, 1, 15] {
        let sheet = sheet(racks);
        let png = diagram::png_of(&long(&sheet), 400).unwrap();
        assert!(png.starts_with(b"\x89PNG"));
        let pdf = diagram::pdf_of(&pages(&sheet), &sheet.title(), UNITS_PER_MM).unwrap();
        let text = String::from_utf8_lossy(&pdf);
        assert!(text.contains(&format!("(Attempt 12, run {})", sheet.run)), "{racks}");
        assert_eq!(
            text.matches("/MediaBox [0 0 595.27563 841.88983]").count(),
            pages(&sheet).len()
        );
    }
}

#[test]
fn what_was_not_seen_is_said_and_not_made_up() {
    let (mut attempt, mut rests) = played(2);
    attempt.racks[0].closing_rest = None;
    attempt.racks[1].racked_rest = None;
    attempt.over = None;
    rests.retain(|rest| rest.id != 1);
    let conditions = Conditions { camera: "table".into(), high_run: 99, advice: None };
    let sheet = RunSheet::of(&attempt, &rests, conditions);
    assert_eq!(sheet.last_shot, [None, None]);
    assert_eq!((sheet.cause, sheet.ended_unix_ms), (None, None));
    let page = long(&sheet);
    assert_eq!(drawings(&page).len(), 1);
    for part in ["Going on · high run 99", "advice: none unasked", "stroke-dasharray=\"12 10\""] {
        assert!(page.contains(part), "{part} is not in {page}");
    }
}

#[test]
fn a_clock_that_was_set_back_is_told() {
    let (mut attempt, rests) = played(1);
    attempt.over = attempt.over.map(|over| Over { at_unix_ms: 0, ..over });
    let conditions = Conditions { camera: "table".into(), high_run: 19, advice: None };
    let page = long(&RunSheet::of(&attempt, &rests, conditions));
    assert!(page.contains("clock set back"), "{page}");
}
