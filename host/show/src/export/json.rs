//! A table as one JSON object, `trundle-export` version 1, its keys in the order of the columns.

use super::table::{Cell, Head, Table, instant};
use serde::ser::{Serialize, SerializeMap, Serializer};

#[derive(serde::Serialize)]
struct ExportV1<'a> {
    format: &'static str,
    version: u32,
    software: &'static str,
    table: &'static str,
    rows: Vec<RowV1<'a>>,
}

/// One row as an object.
pub struct RowV1<'a> {
    heads: &'a [Head],
    cells: &'a [Cell],
}

/// The object as one line, without a line end. Same table, same bytes.
pub fn write(table: &Table) -> String {
    let value = ExportV1 {
        format: "trundle-export",
        version: 1,
        software: env!("CARGO_PKG_VERSION"),
        table: table.name,
        rows: rows(table).collect(),
    };
    serde_json::to_string(&value).expect("plain cells always serialise")
}

/// The rows as objects, from the top.
pub fn rows(table: &Table) -> impl Iterator<Item = RowV1<'_>> {
    table.rows.iter().map(|cells| RowV1 { heads: &table.heads, cells })
}

impl Serialize for RowV1<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.heads.len()))?;
        for (head, cell) in self.heads.iter().zip(self.cells) {
            map.serialize_entry(head.name, cell)?;
        }
        map.end()
    }
}

impl Serialize for Cell {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Cell::Empty => serializer.serialize_none(),
            Cell::Text(text) => serializer.serialize_str(text),
            Cell::Words(words) => serializer.collect_seq(words),
            Cell::Number(number) => serializer.serialize_f64(*number),
            Cell::Whole(number) => serializer.serialize_i64(*number),
            Cell::Truth(truth) => serializer.serialize_bool(*truth),
            Cell::Time(utc_us) => serializer.serialize_str(&instant(*utc_us)),
        }
    }
}
