//! Data out: tables that other programs read as they are.
//!
//! A kind of row is described once, as a list of columns ([`Column`]: name with unit, what it is,
//! and how it is had from the data). CSV, JSON and Parquet are all made from that one list, so that
//! they cannot drift apart; GeoJSON takes its properties from it too. Nothing is rounded: a number
//! is the same double in every format. Pure: data in, bytes out; the caller writes them.
//!
//! Columns are only ever added. The JSON is described by
//! `host/schemas/trundle-export-1.schema.json`.

mod csv;
mod format;
mod geojson;
mod gpx;
mod json;
pub mod passes;
pub mod records;
pub mod slip;
pub mod speeds;
mod table;
mod track;

pub use format::{ExportRefusal, Format};
pub use gpx::NAMESPACE;
pub use table::{Cell, CellKind, Column, Head, Table};
pub use track::Track;

/// What goes out: a table, and where its rows lie on the ground, if they lie anywhere.
#[derive(Clone, Debug, PartialEq)]
pub struct Export {
    /// The rows.
    pub table: Table,
    /// The way of each row, in the order of the rows; `None` where rows have no coordinates.
    pub tracks: Option<Vec<Track>>,
}
