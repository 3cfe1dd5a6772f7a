//! Tables of named columns as Parquet: the only place that knows the libraries for it.
//!
//! Numbers are 64 or 32 bits wide, words are text; a missing one is null. What is read may also hold whole numbers and time stamps.

use std::fs::File;
use std::io::Write as _;
use std::path::Path;
use std::sync::Arc;

use arrow_array::builder::{Float32Builder, Float64Builder, StringBuilder};
use arrow_array::cast::AsArray;
use arrow_array::types::{
    Float32Type, Float64Type, Int32Type, Int64Type, TimestampMicrosecondType, TimestampMillisecondType,
    TimestampNanosecondType,
};
use arrow_array::{Array, ArrayRef, RecordBatch};
use arrow_schema::{DataType, Field, Schema, TimeUnit};
use parquet::arrow::ArrowWriter;
use parquet::arrow::ProjectionMask;
use parquet::arrow::arrow_reader::{ArrowReaderOptions, ParquetRecordBatchReader, ParquetRecordBatchReaderBuilder};
use parquet::basic::{Compression, ZstdLevel};
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;

use crate::error::Fault;
use crate::whole::Whole;

/// Rows that are put together before they are written: memory stays flat.
const GROUP: usize = 16_384;
/// Rows that are read at once.
const BATCH: usize = 8_192;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Numbers that keep all their digits, such as times.
    Number,
    /// Numbers to seven digits: what was measured has no more.
    Single,
    /// Words.
    Word,
}

enum Builder {
    Number(Float64Builder),
    Single(Float32Builder),
    Word(StringBuilder),
}

impl Builder {
    fn finish(&mut self) -> ArrayRef {
        match self {
            Self::Number(builder) => Arc::new(builder.finish()),
            Self::Single(builder) => Arc::new(builder.finish()),
            Self::Word(builder) => Arc::new(builder.finish()),
        }
    }
}

/// Writes a table.
pub struct Writer {
    schema: Arc<Schema>,
    builders: Vec<Builder>,
    rows: usize,
    out: ArrowWriter<Whole>,
}

impl std::fmt::Debug for Writer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Writer").field("rows", &self.rows).finish_non_exhaustive()
    }
}

/// A cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cell<'a> {
    /// A number; `None`: it is missing.
    Number(Option<f64>),
    /// A word.
    Word(&'a str),
}

impl Writer {
    /// Begins a table; `about` is kept beside it, by names.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn create(file: Whole, columns: &[(String, Kind)], about: &[(&str, String)]) -> anyhow::Result<Self> {
        let field = |(name, kind): &(String, Kind)| {
            let kind = match kind {
                Kind::Number => DataType::Float64,
                Kind::Single => DataType::Float32,
                Kind::Word => DataType::Utf8,
            };
            Field::new(name, kind, true)
        };
        let schema = Arc::new(Schema::new(columns.iter().map(field).collect::<Vec<_>>()));
        let about = about.iter().map(|(key, value)| KeyValue::new((*key).to_owned(), value.clone())).collect();
        let properties = WriterProperties::builder()
            .set_compression(Compression::ZSTD(ZstdLevel::try_new(3)?))
            .set_max_row_group_row_count(Some(GROUP))
            .set_key_value_metadata(Some(about))
            .build();
        let builders = columns.iter().map(|(_, kind)| match kind {
            Kind::Number => Builder::Number(Float64Builder::new()),
            Kind::Single => Builder::Single(Float32Builder::new()),
            Kind::Word => Builder::Word(StringBuilder::new()),
        });
        let builders = builders.collect();
        Ok(Self { out: ArrowWriter::try_new(file, schema.clone(), Some(properties))?, schema, builders, rows: 0 })
    }

    /// Takes a row, a cell for each column.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn push<'a>(&mut self, cells: impl IntoIterator<Item = Cell<'a>>) -> anyhow::Result<()> {
        for (builder, cell) in self.builders.iter_mut().zip(cells) {
            match (builder, cell) {
                (Builder::Number(builder), Cell::Number(x)) => builder.append_option(x),
                (Builder::Single(builder), Cell::Number(x)) => builder.append_option(x.map(|x| x as f32)),
                (Builder::Word(builder), Cell::Word(word)) => builder.append_value(word),
                (Builder::Number(builder), Cell::Word(_)) => builder.append_null(),
                (Builder::Single(builder), Cell::Word(_)) => builder.append_null(),
                (Builder::Word(builder), Cell::Number(_)) => builder.append_null(),
            }
        }
        self.rows += 1;
        if self.rows == GROUP { self.flush() } else { Ok(()) }
    }

    fn flush(&mut self) -> anyhow::Result<()> {
        self.rows = 0;
        let columns = self.builders.iter_mut().map(Builder::finish).collect();
        Ok(self.out.write(&RecordBatch::try_new(self.schema.clone(), columns)?)?)
    }

    /// Ends the table; the file waits for its name.
    ///
    /// # Errors
    /// The rest cannot be written.
    pub fn close(mut self) -> anyhow::Result<Whole> {
        if self.rows > 0 {
            self.flush()?;
        }
        let mut file = self.out.into_inner()?;
        // A full disk is told now, before any other file has its name.
        file.flush()?;
        Ok(file)
    }
}

/// Reads some columns of a table.
pub struct Reader {
    file: String,
    batches: ParquetRecordBatchReader,
    about: Vec<(String, String)>,
    names: Vec<String>,
    all: Vec<String>,
    rows: u64,
}

/// A column as it was read.
#[derive(Debug, Clone, PartialEq)]
pub enum Column {
    /// Numbers; NaN where one is missing.
    Numbers(Vec<f64>),
    /// Moments, µs; `true`: of UTC, else of some wall clock.
    Moments(Vec<Option<i64>>, bool),
    /// Words.
    Words(Vec<Option<String>>),
}

impl Column {
    /// How many cells it has.
    pub fn count(&self) -> usize {
        match self {
            Self::Numbers(all) => all.len(),
            Self::Moments(all, _) => all.len(),
            Self::Words(all) => all.len(),
        }
    }
}

impl Reader {
    /// Opens a table; of `wanted` those columns are read that are there.
    ///
    /// # Errors
    /// It is no such table or cannot be read.
    pub fn open(path: &Path, wanted: &[&str]) -> anyhow::Result<Self> {
        let name = path.display().to_string();
        let cannot = |error: &dyn std::fmt::Display| {
            Fault::new(name.as_str(), format!("cannot be read as Parquet: {error}"))
                .wanted("a table in Parquet, whole")
                .mend("check that it was copied whole, and that its name tells what it is")
        };
        let file = File::open(path).map_err(|error| Fault::unreadable(name.as_str(), &error, "a table in Parquet"))?;
        // The types of the file itself, not those of whoever wrote it: a word stays a word.
        let options = ArrowReaderOptions::new().with_skip_arrow_metadata(true);
        let builder =
            ParquetRecordBatchReaderBuilder::try_new_with_options(file, options).map_err(|error| cannot(&error))?;
        let about = builder.metadata().file_metadata().key_value_metadata().into_iter().flatten();
        let about = about.filter_map(|pair| Some((pair.key.clone(), pair.value.clone()?))).collect();
        let schema = builder.schema().clone();
        let kept = |(at, field): (usize, &Arc<Field>)| wanted.contains(&field.name().as_str()).then_some(at);
        let roots: Vec<usize> = schema.fields().iter().enumerate().filter_map(kept).collect();
        let rows = u64::try_from(builder.metadata().file_metadata().num_rows()).unwrap_or(0);
        let all = schema.fields().iter().map(|field| field.name().clone()).collect();
        let names = roots.iter().map(|at| schema.field(*at).name().clone()).collect();
        let mask = ProjectionMask::roots(builder.parquet_schema(), roots);
        let batches = builder.with_projection(mask).with_batch_size(BATCH).build().map_err(|error| cannot(&error))?;
        Ok(Self { file: name, batches, about, names, all, rows })
    }

    /// What was kept beside the table under this name.
    pub fn about(&self, key: &str) -> Option<&str> {
        self.about.iter().find(|(name, _)| name == key).map(|(_, value)| value.as_str())
    }

    /// The columns that are read, in their order.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// How many rows the table has.
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// All columns of the table.
    pub fn all(&self) -> &[String] {
        &self.all
    }

    /// The next rows; `None` at the end.
    ///
    /// # Errors
    /// They cannot be read, or a column holds something else.
    pub fn batch(&mut self) -> anyhow::Result<Option<Vec<Column>>> {
        let Some(batch) = self.batches.next() else { return Ok(None) };
        let batch = batch.map_err(|error| {
            Fault::new(self.file.as_str(), format!("cannot be read on: {error}"))
                .wanted("a table in Parquet, whole")
                .mend("check that it was copied whole")
        })?;
        let column = |(name, array): (&String, &ArrayRef)| {
            column(array).ok_or_else(|| {
                Fault::new(self.file.as_str(), format!("{} in it", array.data_type()))
                    .at(format!("column {name}"))
                    .wanted("numbers, words or time stamps")
                    .mend("write the column as one of these")
                    .into()
            })
        };
        self.names.iter().zip(batch.columns()).map(column).collect::<anyhow::Result<Vec<_>>>().map(Some)
    }
}

fn column(array: &ArrayRef) -> Option<Column> {
    macro_rules! numbers {
        ($type:ty) => {{
            let array = array.as_primitive::<$type>();
            Column::Numbers(array.iter().map(|x| x.map_or(f64::NAN, |x| x as f64)).collect())
        }};
    }
    macro_rules! moments {
        ($type:ty, $zone:expr, $to_us:expr) => {{
            let array = array.as_primitive::<$type>();
            Column::Moments(array.iter().map(|x| x.map($to_us)).collect(), $zone.is_some())
        }};
    }
    Some(match array.data_type() {
        DataType::Float64 => numbers!(Float64Type),
        DataType::Float32 => numbers!(Float32Type),
        DataType::Int64 => numbers!(Int64Type),
        DataType::Int32 => numbers!(Int32Type),
        DataType::Timestamp(TimeUnit::Millisecond, zone) => {
            moments!(TimestampMillisecondType, zone, |x: i64| x * 1_000)
        }
        DataType::Timestamp(TimeUnit::Microsecond, zone) => moments!(TimestampMicrosecondType, zone, |x: i64| x),
        DataType::Timestamp(TimeUnit::Nanosecond, zone) => {
            moments!(TimestampNanosecondType, zone, |x: i64| x.div_euclid(1_000))
        }
        DataType::Utf8 => Column::Words(array.as_string::<i32>().iter().map(|x| x.map(str::to_owned)).collect()),
        DataType::LargeUtf8 => Column::Words(array.as_string::<i64>().iter().map(|x| x.map(str::to_owned)).collect()),
        DataType::Utf8View => Column::Words(array.as_string_view().iter().map(|x| x.map(str::to_owned)).collect()),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.parquet");
        let columns =
            [("t_s".to_owned(), Kind::Number), ("kw".to_owned(), Kind::Single), ("state".to_owned(), Kind::Word)];
        let mut writer =
            Writer::create(Whole::create(&path).unwrap(), &columns, &[("start", "2026-03-02T06:00Z".to_owned())])
                .unwrap();
        let rows = GROUP + 3;
        for row in 0..rows {
            let kw = (row != 1).then_some(0.5 * row as f64);
            writer.push([Cell::Number(Some(row as f64)), Cell::Number(kw), Cell::Word("idle")]).unwrap();
        }
        assert!(!path.exists());
        writer.close().unwrap().commit().unwrap();
        let mut reader = Reader::open(&path, &["state", "kw", "nothing"]).unwrap();
        assert_eq!(reader.about("start"), Some("2026-03-02T06:00Z"));
        assert_eq!(reader.names(), ["kw", "state"]);
        assert_eq!(reader.rows(), rows as u64);
        assert_eq!(reader.all(), ["t_s", "kw", "state"]);
        let (mut n, mut sum) = (0, 0.0);
        while let Some(batch) = reader.batch().unwrap() {
            let [Column::Numbers(kw), Column::Words(state)] = batch.as_slice() else { panic!("{batch:?}") };
            assert!(state.iter().all(|state| state.as_deref() == Some("idle")));
            n += kw.len();
            sum += kw.iter().filter(|x| !x.is_nan()).sum::<f64>();
        }
        assert_eq!(n, rows);
        let wanted = 0.25 * (rows * (rows - 1)) as f64 - 0.5;
        assert!((sum - wanted).abs() < 1e-6, "{sum} {wanted}");
    }

    #[test]
    fn what_is_no_table_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.parquet");
        std::fs::write(&path, "t_s,kw\n").unwrap();
        let words = Reader::open(&path, &[]).err().unwrap().to_string();
        assert!(words.contains("cannot be read as Parquet") && words.contains("to mend it"), "{words}");
    }
}
