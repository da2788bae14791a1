//! The published JSON Schema of a layout, `layout.schema.json`, generated from the types.
//!
//! The file is what other programs rely on, so it stands in the repository; a test fails when file
//! and types differ. Draft 2020-12.

/// The schema as published.
pub const LAYOUT_SCHEMA: &str = include_str!("layout.schema.json");

#[cfg(test)]
pub(crate) mod tests;
