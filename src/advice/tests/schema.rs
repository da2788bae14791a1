//! The published schema against the types it was made from, and an advice against the schema.

use super::*;
use crate::advice::{ADVICE_SCHEMA, Advice, Asked, Bound, advise};
use crate::layout::{faults, is_published};
use serde_json::Value;
use std::time::Duration;

fn generated() -> String {
    serde_json::to_string_pretty(&schemars::schema_for!(Advice)).unwrap() + "\n"
}

#[test]
fn the_file_says_what_the_types_say() {
    is_published(
        "src/advice/advice.schema.json",
        ADVICE_SCHEMA,
        &generated(),
        "advice::tests::schema",
    );
}

fn told(layout: &Layout) -> Value {
    let bound = Bound { positions: Some(20), ..Bound::within(Duration::from_secs(20)) };
    let asked = Asked { player: Level::Club.prior(), seed: 3, bound };
    serde_json::to_value(advise(layout, &Physics::default(), &asked).unwrap()).unwrap()
}

#[test]
fn an_advice_fits_the_schema() {
    let schema: Value = serde_json::from_str(ADVICE_SCHEMA).unwrap();
    let closing = told(&layout(&[(1555.0, 795.0), (1985.0, 840.0)]));
    assert!(closing["break_shot"]["choices"].as_array().is_some_and(|all| all.len() > 1));
    let trouble = told(&layout(&super::trouble::CLUSTERED));
    assert!(trouble["trouble"]["clusters"].as_array().is_some_and(|all| !all.is_empty()));
    for document in [closing, trouble] {
        assert_eq!(faults(&schema, &schema, &document, ""), Vec::<String>::new());
    }
}
