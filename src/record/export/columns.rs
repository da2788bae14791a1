//! Tables of the record as Apache Parquet, for notebooks: columns with their types, in groups of rows.
//!
//! In: the cells of each row, in the order of the table's schema. Out: the file, written group by group,
//! so that memory is bounded however long the record is. `docs/parquet.md` tells what each column holds;
//! the schemas here are the Parquet format's own notation. Levels of lists: Melnik et al., Proc. VLDB 3
//! (2010) 330.

use super::{
    ExportError,
    rows::{AttemptRow, RestLine, ShotRow},
};
use crate::layout::BallKind;
use jiff::Timestamp;
use parquet::{
    basic::Compression,
    data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int32Type, Int64Type},
    file::{
        properties::WriterProperties,
        writer::{SerializedColumnWriter, SerializedFileWriter},
    },
    schema::{parser::parse_message_type, types::ColumnDescPtr},
};
use std::{io::Write, sync::Arc};

/// Rows of a group: some ten megabytes while it is written.
const GROUP: usize = 16_384;

/// The rests, each with its balls.
pub const RESTS: &str = "message rests {
  required int64 rest;
  required int64 at (TIMESTAMP(MILLIS,true));
  required binary camera (STRING);
  optional int32 attempt;
  optional int32 run;
  required int64 unseen_ms;
  required binary frame_sha256 (STRING);
  required double table_length_mm;
  required double table_width_mm;
  required double ball_diameter_mm;
  required binary foot (STRING);
  required boolean obstructed;
  required group balls (LIST) {
    repeated group list {
      required group element {
        required binary kind (STRING);
        optional int32 number;
        required double x;
        required double y;
        required double sigma_mm;
        required double confidence;
        required double number_confidence;
      }
    }
  }
}";

/// The shots, each with what its rests tell of it.
pub const SHOTS: &str = "message shots {
  required binary camera (STRING);
  required int32 attempt;
  required int32 rack;
  required int32 shot;
  optional int64 at (TIMESTAMP(MILLIS,true));
  optional int64 rest_before;
  required int64 rest;
  required int32 shots;
  required int32 potted;
  required int32 run;
  required int32 place;
  required boolean is_break;
  optional binary ended (STRING);
  optional binary pocket (STRING);
  optional double cut_deg;
  optional double to_ball_mm;
  optional double to_pocket_mm;
  optional boolean aim_sure;
  optional double cue_way_mm;
  optional boolean at_rail;
}";

/// The attempts.
pub const ATTEMPTS: &str = "message attempts {
  required binary camera (STRING);
  required int32 attempt;
  optional int64 began (TIMESTAMP(MILLIS,true));
  optional int64 over (TIMESTAMP(MILLIS,true));
  required int32 run;
  optional binary cause (STRING);
  required int32 racks;
  required int32 shots;
  required boolean start_seen;
  required boolean sure;
  required int64 began_rest;
  optional int64 over_rest;
}";

/// The values of a column.
enum Cells {
    Text(Vec<ByteArray>),
    Int(Vec<i32>),
    Long(Vec<i64>),
    Real(Vec<f64>),
    Flag(Vec<bool>),
}

/// A column of the group under way: values, and for each place whether there is one.
struct Column {
    cells: Cells,
    defined: Vec<i16>,
    repeated: Vec<i16>,
    of: ColumnDescPtr,
}

/// A table under way.
pub struct Columns<W: Write + Send> {
    writer: SerializedFileWriter<W>,
    columns: Vec<Column>,
    rows: usize,
}

/// A row under way: its cells come in the schema's order.
pub struct Cell<'a> {
    columns: &'a mut [Column],
    next: usize,
    /// Levels of what is written: whether it goes on with a list, and how deep it lies in one.
    repeated: i16,
    depth: i16,
}

impl Column {
    fn new(of: ColumnDescPtr) -> Self {
        use parquet::basic::Type;
        let cells = match of.physical_type() {
            Type::BOOLEAN => Cells::Flag(Vec::new()),
            Type::INT32 => Cells::Int(Vec::new()),
            Type::INT64 => Cells::Long(Vec::new()),
            Type::DOUBLE => Cells::Real(Vec::new()),
            _ => Cells::Text(Vec::new()),
        };
        Self { cells, defined: Vec::new(), repeated: Vec::new(), of }
    }

    fn write(&mut self, to: &mut SerializedColumnWriter<'_>) -> Result<(), ExportError> {
        let defined = (self.of.max_def_level() > 0).then_some(self.defined.as_slice());
        let repeated = (self.of.max_rep_level() > 0).then_some(self.repeated.as_slice());
        match &mut self.cells {
            Cells::Text(cells) => {
                to.typed::<ByteArrayType>().write_batch(cells, defined, repeated)?;
                cells.clear();
            }
            Cells::Int(cells) => {
                to.typed::<Int32Type>().write_batch(cells, defined, repeated)?;
                cells.clear();
            }
            Cells::Long(cells) => {
                to.typed::<Int64Type>().write_batch(cells, defined, repeated)?;
                cells.clear();
            }
            Cells::Real(cells) => {
                to.typed::<DoubleType>().write_batch(cells, defined, repeated)?;
                cells.clear();
            }
            Cells::Flag(cells) => {
                to.typed::<BoolType>().write_batch(cells, defined, repeated)?;
                cells.clear();
            }
        }
        self.defined.clear();
        self.repeated.clear();
        Ok(())
    }
}

impl<W: Write + Send> Columns<W> {
    /// A file of a schema.
    pub fn begin(schema: &str, to: W) -> Result<Self, ExportError> {
        let properties = WriterProperties::builder().set_compression(Compression::SNAPPY).build();
        let schema = Arc::new(parse_message_type(schema)?);
        let writer = SerializedFileWriter::new(to, schema, Arc::new(properties))?;
        let columns = writer.schema_descr().columns().iter().cloned().map(Column::new).collect();
        Ok(Self { writer, columns, rows: 0 })
    }

    fn row(&mut self, write: impl FnOnce(&mut Cell<'_>)) -> Result<(), ExportError> {
        write(&mut Cell { columns: &mut self.columns, next: 0, repeated: 0, depth: 0 });
        self.rows += 1;
        if self.rows == GROUP { self.group() } else { Ok(()) }
    }

    fn group(&mut self) -> Result<(), ExportError> {
        self.rows = 0;
        let mut group = self.writer.next_row_group()?;
        for column in &mut self.columns {
            let Some(mut writer) = group.next_column()? else { break };
            column.write(&mut writer)?;
            writer.close()?;
        }
        group.close()?;
        Ok(())
    }

    /// The end of the file.
    pub fn end(mut self) -> Result<(), ExportError> {
        if self.rows > 0 {
            self.group()?;
        }
        self.writer.finish()?;
        Ok(self.writer.inner_mut().flush()?)
    }

    pub fn rest(&mut self, line: &RestLine<'_>) -> Result<(), ExportError> {
        self.row(|to| {
            to.long(Some(line.rest));
            to.time(Some(line.at));
            to.text(Some(line.camera));
            to.int(line.attempt);
            to.int(line.run);
            to.long(i64::try_from(line.unseen_ms).ok().or(Some(i64::MAX)));
            to.text(Some(line.frame_sha256));
            let table = &line.layout.table;
            for mm in [table.length_mm, table.width_mm, table.ball_diameter_mm] {
                to.real(Some(mm));
            }
            to.name(&line.layout.foot);
            to.flag(Some(line.layout.obstructed));
            to.list(&line.layout.balls, |to, ball| {
                to.text(Some(if ball.kind == BallKind::Cue { "cue" } else { "object" }));
                to.int(ball.number.map(u32::from));
                let confidence = [ball.confidence, ball.number_confidence];
                for value in [ball.x, ball.y, ball.sigma_mm].into_iter().chain(confidence) {
                    to.real(Some(value));
                }
            });
        })
    }

    pub fn shot(&mut self, row: &ShotRow<'_>) -> Result<(), ExportError> {
        self.row(|to| {
            to.text(Some(row.camera));
            to.int(Some(row.attempt));
            to.int(Some(row.rack));
            to.int(Some(row.shot));
            to.time(row.at);
            to.long(row.rest_before);
            to.long(Some(row.rest));
            to.int(Some(row.shots));
            to.int(Some(row.potted));
            to.int(Some(row.run));
            to.int(Some(row.place));
            to.flag(Some(row.is_break));
            to.maybe_name(row.ended.as_ref());
            to.text(row.pocket);
            to.real(row.cut_deg);
            to.real(row.to_ball_mm);
            to.real(row.to_pocket_mm);
            to.flag(row.aim_sure);
            to.real(row.cue_way_mm);
            to.flag(row.at_rail);
        })
    }

    pub fn attempt(&mut self, row: &AttemptRow<'_>) -> Result<(), ExportError> {
        self.row(|to| {
            to.text(Some(row.camera));
            to.int(Some(row.attempt));
            to.time(row.began);
            to.time(row.over);
            to.int(Some(row.run));
            to.maybe_name(row.cause.as_ref());
            to.int(u32::try_from(row.racks).ok().or(Some(u32::MAX)));
            to.int(u32::try_from(row.shots).ok().or(Some(u32::MAX)));
            to.flag(Some(row.start_seen));
            to.flag(Some(row.sure));
            to.long(Some(row.began_rest));
            to.long(row.over_rest);
        })
    }
}

impl Cell<'_> {
    /// Notes that the next column has a value here or none, and hands it on to take the value.
    fn place(&mut self, has_value: bool) -> Option<&mut Cells> {
        let column = self.columns.get_mut(self.next)?;
        self.next += 1;
        let (repeated, depth) = (self.repeated, self.depth);
        let deepest = column.of.max_def_level();
        column.defined.push(if has_value { deepest } else { depth });
        column.repeated.push(repeated);
        has_value.then_some(&mut column.cells)
    }

    fn text(&mut self, text: Option<&str>) {
        let (Some(Cells::Text(cells)), Some(text)) = (self.place(text.is_some()), text) else {
            return;
        };
        // Most texts are the one before once more, and then share its bytes.
        let same = cells.last().filter(|last| last.data() == text.as_bytes()).cloned();
        cells.push(same.unwrap_or_else(|| ByteArray::from(text)));
    }

    /// A value with a name in JSON, by that name.
    fn name(&mut self, value: &impl serde::Serialize) {
        self.maybe_name(Some(value));
    }

    fn maybe_name(&mut self, value: Option<&impl serde::Serialize>) {
        let name = value.and_then(|value| serde_json::to_value(value).ok());
        self.text(name.as_ref().and_then(serde_json::Value::as_str));
    }

    fn int(&mut self, value: Option<u32>) {
        let value = value.map(|value| i32::try_from(value).unwrap_or(i32::MAX));
        if let (Some(Cells::Int(cells)), Some(value)) = (self.place(value.is_some()), value) {
            cells.push(value);
        }
    }

    fn long(&mut self, value: Option<i64>) {
        if let (Some(Cells::Long(cells)), Some(value)) = (self.place(value.is_some()), value) {
            cells.push(value);
        }
    }

    fn time(&mut self, at: Option<Timestamp>) {
        self.long(at.map(Timestamp::as_millisecond));
    }

    fn real(&mut self, value: Option<f64>) {
        if let (Some(Cells::Real(cells)), Some(value)) = (self.place(value.is_some()), value) {
            cells.push(value);
        }
    }

    fn flag(&mut self, value: Option<bool>) {
        if let (Some(Cells::Flag(cells)), Some(value)) = (self.place(value.is_some()), value) {
            cells.push(value);
        }
    }

    /// A list in the columns that are left.
    fn list<T>(&mut self, items: &[T], mut write: impl FnMut(&mut Self, &T)) {
        let first = self.next;
        for (at, item) in items.iter().enumerate() {
            (self.next, self.depth, self.repeated) = (first, 1, i16::from(at > 0));
            write(self, item);
        }
        if items.is_empty() {
            while self.next < self.columns.len() {
                let _none = self.place(false);
            }
        }
    }
}
