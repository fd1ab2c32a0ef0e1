//! A value as it lies in the file, read whatever became of it.

use rusqlite::types::{ToSqlOutput, ValueRef};
use rusqlite::{Row, ToSql};

/// Text need not be text in Unicode, nor of the column's kind: one flipped bit makes it neither.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::store) enum Cell {
    Null,
    Integer(i64),
    Real(f64),
    Text(Vec<u8>),
    Blob(Vec<u8>),
}

impl Cell {
    /// The value at this place of a row.
    pub fn at(row: &Row<'_>, at: usize) -> rusqlite::Result<Self> {
        Ok(match row.get_ref(at)? {
            ValueRef::Null => Self::Null,
            ValueRef::Integer(number) => Self::Integer(number),
            ValueRef::Real(number) => Self::Real(number),
            ValueRef::Text(bytes) => Self::Text(bytes.to_owned()),
            ValueRef::Blob(bytes) => Self::Blob(bytes.to_owned()),
        })
    }

    /// The text, if it is one.
    pub fn text(&self) -> Option<&str> {
        match self {
            Self::Text(bytes) => std::str::from_utf8(bytes).ok(),
            _ => None,
        }
    }

    /// The whole number, if it is one.
    pub const fn integer(&self) -> Option<i64> {
        match self {
            Self::Integer(number) => Some(*number),
            _ => None,
        }
    }

    /// The number, if it is one.
    pub const fn real(&self) -> Option<f64> {
        match self {
            Self::Real(number) => Some(*number),
            _ => None,
        }
    }

    /// Append kind, length and bytes: no two values are spelled the same.
    pub fn spelled(&self, to: &mut Vec<u8>) {
        let number;
        let (kind, value): (u8, &[u8]) = match self {
            Self::Null => (0, &[]),
            Self::Integer(integer) => {
                number = integer.to_le_bytes();
                (1, &number)
            }
            Self::Real(real) => {
                number = real.to_bits().to_le_bytes();
                (2, &number)
            }
            Self::Text(text) => (3, text),
            Self::Blob(blob) => (4, blob),
        };
        to.push(kind);
        to.extend((value.len() as u64).to_le_bytes());
        to.extend(value);
    }

    /// For people: whatever can be read of it.
    pub fn readable(&self) -> String {
        match self {
            Self::Text(bytes) | Self::Blob(bytes) => String::from_utf8_lossy(bytes).into_owned(),
            Self::Integer(number) => number.to_string(),
            Self::Real(number) => number.to_string(),
            Self::Null => String::new(),
        }
    }
}

impl ToSql for Cell {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match self {
            Self::Null => ValueRef::Null,
            Self::Integer(number) => ValueRef::Integer(*number),
            Self::Real(number) => ValueRef::Real(*number),
            Self::Text(bytes) => ValueRef::Text(bytes),
            Self::Blob(bytes) => ValueRef::Blob(bytes),
        }))
    }
}

/// A text for people, with a mark in place of what cannot be read.
pub(super) fn readable(row: &Row<'_>, at: usize) -> rusqlite::Result<String> {
    Ok(Cell::at(row, at)?.readable())
}
