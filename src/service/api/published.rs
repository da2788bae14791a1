//! Schemas that are published beside the API's own: here they are only pointed at, by name.

use utoipa::openapi::{
    ArrayBuilder, OneOfBuilder, Ref, RefOr, Schema, schema::ObjectBuilder, schema::Type,
};

pub(super) fn published(name: &str) -> RefOr<Schema> {
    RefOr::Ref(Ref::from_schema_name(name))
}

/// One of these, or null.
pub(super) fn one_or_none(name: &str) -> RefOr<Schema> {
    let nothing = ObjectBuilder::new().schema_type(Type::Null);
    RefOr::T(OneOfBuilder::new().item(nothing).item(published(name)).build().into())
}

pub(super) fn list_of(name: &str) -> RefOr<Schema> {
    RefOr::T(ArrayBuilder::new().items(published(name)).build().into())
}

pub(super) fn layout() -> RefOr<Schema> {
    published("Layout")
}

pub(super) fn maybe_layout() -> RefOr<Schema> {
    one_or_none("Layout")
}
