//! A table as Apache Parquet, for engines that read it as it is: doubles, 64-bit whole numbers,
//! UTF-8, instants as TIMESTAMP of microseconds adjusted to UTC, words as LIST, empty cells as
//! null. Not compressed: a year of records is smaller than one capture.

use parquet::basic::{LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::column::writer::{ColumnWriter, ColumnWriterImpl};
use parquet::data_type::{ByteArray, DataType};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::{Type, TypePtr};
use std::sync::Arc;
use trundle_show::export::{Cell, CellKind, Head, Table};

/// Rows of one group: a reader holds a column of so many at once.
const GROUP_ROWS: usize = 65_536;
/// Definition levels: of an empty cell or list, and of one that is there.
const NONE: i16 = 0;
const SOME: i16 = 1;
/// Repetition levels: of the first word of a row, and of those that follow.
const FIRST: i16 = 0;
const NEXT: i16 = 1;

/// The file. Same table, same bytes.
pub fn write(table: &Table) -> Vec<u8> {
    try_write(table).expect("columns of the types that the same list describes, kept in memory")
}

fn try_write(table: &Table) -> Result<Vec<u8>, ParquetError> {
    let about = |key: &str, value: &str| KeyValue::new(key.to_owned(), value.to_owned());
    let properties = WriterProperties::builder()
        .set_created_by(concat!("trundle ", env!("CARGO_PKG_VERSION")).to_owned())
        .set_key_value_metadata(Some(vec![
            about("format", "trundle-export"),
            about("version", "1"),
            about("table", table.name),
        ]))
        .build();
    let fields = table.heads.iter().map(field).collect::<Result<Vec<_>, _>>()?;
    let schema = Type::group_type_builder(table.name).with_fields(fields).build()?;
    let mut file = SerializedFileWriter::new(Vec::new(), Arc::new(schema), Arc::new(properties))?;
    for rows in table.rows.chunks(GROUP_ROWS) {
        let mut group = file.next_row_group()?;
        let mut at = 0;
        while let Some(mut column) = group.next_column()? {
            put(column.untyped(), rows, at)?;
            column.close()?;
            at += 1;
        }
        group.close()?;
    }
    file.into_inner()
}

fn field(head: &Head) -> Result<TypePtr, ParquetError> {
    let plain = |name: &str, physical, logical, repetition| {
        Type::primitive_type_builder(name, physical)
            .with_logical_type(logical)
            .with_repetition(repetition)
            .build()
            .map(Arc::new)
    };
    let optional = |physical, logical| plain(head.name, physical, logical, Repetition::OPTIONAL);
    match head.kind {
        CellKind::Text => optional(Physical::BYTE_ARRAY, Some(LogicalType::String)),
        CellKind::Number => optional(Physical::DOUBLE, None),
        CellKind::Whole => optional(Physical::INT64, Some(LogicalType::integer(64, true))),
        CellKind::Truth => optional(Physical::BOOLEAN, None),
        CellKind::Time => {
            optional(Physical::INT64, Some(LogicalType::timestamp(true, TimeUnit::MICROS)))
        }
        // The three levels that the standard asks for, with its names.
        CellKind::Words => {
            let text = Some(LogicalType::String);
            let element = plain("element", Physical::BYTE_ARRAY, text, Repetition::REQUIRED)?;
            let list = Type::group_type_builder("list")
                .with_repetition(Repetition::REPEATED)
                .with_fields(vec![element])
                .build()?;
            Type::group_type_builder(head.name)
                .with_repetition(Repetition::REQUIRED)
                .with_logical_type(Some(LogicalType::List))
                .with_fields(vec![Arc::new(list)])
                .build()
                .map(Arc::new)
        }
    }
}

/// One column of a group of rows. The writer's type is that of the column's kind.
fn put(writer: &mut ColumnWriter<'_>, rows: &[Vec<Cell>], at: usize) -> Result<(), ParquetError> {
    match writer {
        ColumnWriter::DoubleColumnWriter(writer) => plain(writer, rows, at, |cell| match cell {
            Cell::Number(number) => Some(*number),
            _ => None,
        }),
        ColumnWriter::Int64ColumnWriter(writer) => plain(writer, rows, at, |cell| match cell {
            Cell::Whole(number) | Cell::Time(number) => Some(*number),
            _ => None,
        }),
        ColumnWriter::BoolColumnWriter(writer) => plain(writer, rows, at, |cell| match cell {
            Cell::Truth(truth) => Some(*truth),
            _ => None,
        }),
        ColumnWriter::ByteArrayColumnWriter(writer) => {
            if rows.first().is_some_and(|row| matches!(row[at], Cell::Words(_))) {
                return words(writer, rows, at);
            }
            plain(writer, rows, at, |cell| match cell {
                Cell::Text(text) => Some(ByteArray::from(text.as_str())),
                _ => None,
            })
        }
        _ => Err(ParquetError::General("a column of a type that is never described".to_owned())),
    }
}

fn plain<T: DataType>(
    writer: &mut ColumnWriterImpl<'_, T>,
    rows: &[Vec<Cell>],
    at: usize,
    get: impl Fn(&Cell) -> Option<T::T>,
) -> Result<(), ParquetError> {
    let cells: Vec<Option<T::T>> = rows.iter().map(|row| get(&row[at])).collect();
    let levels: Vec<i16> =
        cells.iter().map(|cell| if cell.is_some() { SOME } else { NONE }).collect();
    let values: Vec<T::T> = cells.into_iter().flatten().collect();
    writer.write_batch(&values, Some(&levels), None)?;
    Ok(())
}

fn words(
    writer: &mut ColumnWriterImpl<'_, ::parquet::data_type::ByteArrayType>,
    rows: &[Vec<Cell>],
    at: usize,
) -> Result<(), ParquetError> {
    let (mut values, mut there, mut repeats) = (Vec::new(), Vec::new(), Vec::new());
    for row in rows {
        let list: &[String] = if let Cell::Words(list) = &row[at] { list } else { &[] };
        if list.is_empty() {
            there.push(NONE);
            repeats.push(FIRST);
        }
        for (n, word) in list.iter().enumerate() {
            values.push(ByteArray::from(word.as_str()));
            there.push(SOME);
            repeats.push(if n == 0 { FIRST } else { NEXT });
        }
    }
    writer.write_batch(&values, Some(&there), Some(&repeats))?;
    Ok(())
}
