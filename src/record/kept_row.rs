//! Rows that are only ever added, each with a hash over its other columns that tells whether it was
//! changed: one list of columns for reading, writing and hashing.

use super::RecordError;
use crate::digest::sha256;
use rusqlite::{Connection, Row, ToSql, params_from_iter, types::FromSql};

/// Bytes to hash; texts are preceded by their length, so that none runs into the next.
#[derive(Default, Clone)]
pub(super) struct Content(Vec<u8>);

impl Content {
    pub(super) fn number(mut self, number: i64) -> Self {
        self.0.extend(number.to_be_bytes());
        self
    }

    pub(super) fn text(mut self, text: &str) -> Self {
        self.0.extend((text.len() as u64).to_be_bytes());
        self.0.extend(text.as_bytes());
        self
    }

    pub(super) fn sha256(&self) -> String {
        sha256(&self.0)
    }
}

/// What a column can hold.
pub(super) trait Hashed {
    fn hashed(&self, content: Content) -> Content;
}

impl Hashed for i64 {
    fn hashed(&self, content: Content) -> Content {
        content.number(*self)
    }
}

impl Hashed for String {
    fn hashed(&self, content: Content) -> Content {
        content.text(self)
    }
}

impl Hashed for Option<String> {
    fn hashed(&self, content: Content) -> Content {
        self.iter().fold(content, |content, text| content.text(text))
    }
}

/// The columns of a row that is read, one after the other.
pub(super) struct Cells<'a> {
    row: &'a Row<'a>,
    next: usize,
}

impl<'a> Cells<'a> {
    pub(super) fn of(row: &'a Row<'a>) -> Self {
        Self { row, next: 0 }
    }

    pub(super) fn take<T: FromSql>(&mut self) -> rusqlite::Result<T> {
        self.next += 1;
        self.row.get(self.next - 1)
    }
}

/// Writes a row of a table.
pub(super) fn insert(
    connection: &Connection,
    (table, columns): (&str, &str),
    values: &[&dyn ToSql],
) -> rusqlite::Result<()> {
    let places: Vec<String> = (1..=values.len()).map(|at| format!("${at}")).collect();
    let sql = format!("INSERT INTO {table} ({columns}) VALUES ({})", places.join(", "));
    connection.prepare_cached(&sql)?.execute(params_from_iter(values))?;
    Ok(())
}

/// The type of a table's rows. Hashed are the columns in their order, or what is said instead.
macro_rules! kept_row {
    ($(#[$about:meta])* $name:ident in $table:literal { $($column:ident: $kind:ty),+ $(,)? }) => {
        $crate::record::kept_row::kept_row! {
            $(#[$about])* $name in $table { $($column: $kind),+ } hashed |row| {
                use $crate::record::kept_row::{Content, Hashed};
                let content = Content::default();
                $(let content = row.$column.hashed(content);)+
                content
            }
        }
    };
    (
        $(#[$about:meta])* $name:ident in $table:literal { $($column:ident: $kind:ty),+ $(,)? }
        hashed |$row:ident| $content:expr
    ) => {
        $(#[$about])*
        #[derive(Debug)]
        pub(super) struct $name {
            $(pub(super) $column: $kind,)+
            pub(super) row_sha256: String,
        }

        impl $name {
            /// In the order in which [`Self::from_row`] takes them.
            pub(super) const COLUMNS: &str = concat!($(stringify!($column), ", ",)+ "row_sha256");

            pub(super) fn from_row(row: &rusqlite::Row<'_>) -> rusqlite::Result<Self> {
                let mut cells = $crate::record::kept_row::Cells::of(row);
                Ok(Self { $($column: cells.take()?,)+ row_sha256: cells.take()? })
            }

            fn content(&self) -> $crate::record::kept_row::Content {
                let $row = self;
                $content
            }

            pub(super) fn insert(
                &mut self,
                connection: &rusqlite::Connection,
            ) -> rusqlite::Result<()> {
                self.row_sha256 = self.content().sha256();
                $crate::record::kept_row::insert(
                    connection,
                    ($table, Self::COLUMNS),
                    &[$(&self.$column,)+ &self.row_sha256],
                )
            }

            /// Whether no column has changed since the row was written.
            pub(super) fn is_as_written(&self) -> bool {
                self.content().sha256() == self.row_sha256
            }
        }
    };
}
pub(super) use kept_row;

impl RecordError {
    /// What is kept cannot be read back.
    pub(super) fn damaged(what: &'static str, id: i64, why: impl ToString) -> Self {
        Self::Damaged { what, id, why: why.to_string() }
    }
}
