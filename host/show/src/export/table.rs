//! Columns described once, and the table that is made of them.

use chrono::{DateTime, SecondsFormat};

/// One column of a kind of row.
#[derive(Debug)]
pub struct Column<R> {
    /// Its name, type and meaning.
    pub head: Head,
    /// How it is had from a row; `None` is an empty cell.
    pub cell: fn(&R) -> Option<Cell>,
}

/// The columns of a kind of row: above each what it is, for the schema; its name, with its unit
/// where it has one; its type, and how it is had.
macro_rules! columns {
    ($row:ty: $($(#[doc = $about:literal])+ $name:ident: $kind:ident = |$r:ident| $get:expr;)*) => {
        vec![$($crate::export::Column::<$row> {
            head: $crate::export::Head {
                name: stringify!($name),
                about: concat!($($about),+).trim_ascii_start(),
                kind: $crate::export::CellKind::$kind,
            },
            cell: |$r| {
                let get = || -> Option<_> { $get };
                get().map($crate::export::Cell::$kind)
            },
        }),*]
    };
}
pub(super) use columns;

/// Type of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CellKind {
    /// Text of any content.
    Text,
    /// A list of words.
    Words,
    /// A double.
    Number,
    /// A whole number of 64 bits.
    Whole,
    /// A truth value, yes or no.
    Truth,
    /// An instant, UTC.
    Time,
}

/// One cell of a table.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Nothing is known.
    Empty,
    /// Text of any content.
    Text(String),
    /// A list of words.
    Words(Vec<String>),
    /// A finite number.
    Number(f64),
    /// A whole number, 64 bits.
    Whole(i64),
    /// A truth value, yes or no.
    Truth(bool),
    /// Microseconds since 1970, UTC.
    Time(i64),
}

/// Name, type and meaning of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Head {
    /// Its name, with its unit where it has one.
    pub name: &'static str,
    /// What it is, in words.
    pub about: &'static str,
    /// Type of all its cells.
    pub kind: CellKind,
}

/// A whole table, its columns in order.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// The kind of row, as the JSON names it.
    pub name: &'static str,
    /// The columns, in their order.
    pub heads: Vec<Head>,
    /// The rows; each has a cell for each column, of its type or empty.
    pub rows: Vec<Vec<Cell>>,
}

impl Table {
    /// Make one of rows.
    pub fn of<R>(name: &'static str, columns: &[Column<R>], rows: &[R]) -> Self {
        // JSON has no word for a number that is not finite.
        let sound = |cell: &Cell| !matches!(cell, Cell::Number(number) if !number.is_finite());
        let cell = |row, column: &Column<R>| (column.cell)(row).filter(sound);
        let cells = |row| columns.iter().map(|c| cell(row, c).unwrap_or(Cell::Empty)).collect();
        Self {
            name,
            heads: columns.iter().map(|column| column.head).collect(),
            rows: rows.iter().map(cells).collect(),
        }
    }

    /// The cells of one column, from the top.
    pub fn column(&self, at: usize) -> impl Iterator<Item = &Cell> {
        self.rows.iter().filter_map(move |row| row.get(at))
    }
}

/// An instant as RFC 3339, UTC: milliseconds as everywhere in results, microseconds where there
/// are any.
pub(super) fn instant(utc_us: i64) -> String {
    let format = if utc_us % 1000 == 0 { SecondsFormat::Millis } else { SecondsFormat::Micros };
    DateTime::from_timestamp_micros(utc_us)
        .map_or_else(String::new, |time| time.to_rfc3339_opts(format, true))
}

/// The instant that RFC 3339 text names, microseconds since 1970; `None` when it names none.
pub(super) fn instant_us(text: &str) -> Option<i64> {
    Some(DateTime::parse_from_rfc3339(text).ok()?.timestamp_micros())
}

/// Nanoseconds since 1970 as microseconds, at the millisecond that results are written with.
pub(super) const fn millisecond_us(utc_ns: i64) -> i64 {
    utc_ns.div_euclid(1_000_000) * 1000
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn instants_come_back() {
        for text in ["2026-05-01T08:00:00.000Z", "1969-12-31T23:59:59.999Z"] {
            assert_eq!(instant_us(text).map(instant).as_deref(), Some(text));
        }
        assert_eq!(instant(1), "1970-01-01T00:00:00.000001Z");
        assert_eq!(instant_us("2026-05-01T10:00:00+02:00"), instant_us("2026-05-01T08:00:00Z"));
        assert_eq!(instant_us("yesterday"), None);
        // As results are written: the millisecond that has begun, before 1970 too.
        assert_eq!(instant(millisecond_us(-1)), trundle_core::units::rfc3339(-1));
        assert_eq!(instant(millisecond_us(1_999_999)), trundle_core::units::rfc3339(1_999_999));
    }

    #[test]
    fn what_is_no_number_is_an_empty_cell() {
        let columns = columns! { f64:
            /// A number.
            x: Number = |x| Some(*x);
        };
        let table = Table::of("t", &columns, &[1.5, f64::NAN, f64::INFINITY]);
        assert_eq!(table.rows, [[Cell::Number(1.5)], [Cell::Empty], [Cell::Empty]]);
    }
}
