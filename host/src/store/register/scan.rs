//! Rows of a table, read whatever became of the file: a damaged page costs its own rows.

use super::cell::Cell;
use rusqlite::{Connection, ErrorCode, OptionalExtension as _, Params, Statement, ffi};
use std::collections::BTreeSet;

/// Keys tried one by one where no readable row says how far a damaged place goes.
const TRIED: i64 = 10_000;

/// What is to be read. The names are the program's own.
pub(in crate::store) struct Table<'a> {
    pub name: &'a str,
    /// The column of its keys, whole numbers.
    pub key: &'a str,
    pub columns: &'a [&'a str],
}

impl Table<'_> {
    /// Read these columns of every row that can be read, each given on with its key; gives why
    /// others cannot.
    ///
    /// # Errors
    /// What has nothing to do with damage, and those of `each`.
    pub fn walk<E: From<rusqlite::Error>>(
        &self,
        db: &Connection,
        mut each: impl FnMut(i64, Vec<Cell>) -> Result<(), E>,
    ) -> Result<Option<String>, E> {
        let there = columns(db, self.name)?;
        if there.is_empty() {
            return Ok(Some(format!("the table {} is not there", self.name)));
        }
        // In place of a column that is not there stands nothing.
        let taken = |column: &&str| {
            if there.contains(*column) { format!("t.{column}") } else { "NULL".to_owned() }
        };
        let columns: Vec<String> = self.columns.iter().map(taken).collect();
        let (key, columns) = (self.key, columns.join(", "));
        let sql = format!("SELECT t.{key}, {columns} FROM main.{} t NOT INDEXED ", self.name);
        let mut seen = BTreeSet::new();
        let all = self.part(db, &format!("{sql} ORDER BY 1"), (), &mut seen, &mut each)?;
        let Some(damage) = all else { return Ok(None) };
        let last = seen.last().copied().unwrap_or(0);
        // From the other end up to the damage, where this fails too.
        let behind = format!("{sql} WHERE t.{key} > ?1 ORDER BY 1 DESC");
        self.part(db, &behind, [last], &mut seen, &mut each)?;
        let (from, to) = (last.saturating_add(1), last.saturating_add(TRIED));
        let next = seen.range(from..).next().map_or(to, |next| to.min(*next));
        // Where even this cannot be asked, nothing can be looked for.
        if let Ok(mut asked) = db.prepare(&format!("{sql} WHERE t.{key} = ?1")) {
            for key in from..next {
                self.rows(&mut asked, [key], &mut seen, &mut each)?;
            }
        }
        Ok(Some(format!("part of the table {} cannot be read: {damage}", self.name)))
    }

    /// Read on until the end or the damage, which is given back.
    fn part<E: From<rusqlite::Error>>(
        &self,
        db: &Connection,
        sql: &str,
        values: impl Params,
        seen: &mut BTreeSet<i64>,
        each: &mut impl FnMut(i64, Vec<Cell>) -> Result<(), E>,
    ) -> Result<Option<rusqlite::Error>, E> {
        let mut asked = match db.prepare(sql) {
            Ok(asked) => asked,
            Err(error) => return damage(error),
        };
        self.rows(&mut asked, values, seen, each)
    }

    fn rows<E: From<rusqlite::Error>>(
        &self,
        asked: &mut Statement<'_>,
        values: impl Params,
        seen: &mut BTreeSet<i64>,
        each: &mut impl FnMut(i64, Vec<Cell>) -> Result<(), E>,
    ) -> Result<Option<rusqlite::Error>, E> {
        let mut answer = asked.query(values)?;
        loop {
            let row = match answer.next() {
                Ok(Some(row)) => row,
                Ok(None) => return Ok(None),
                Err(error) => return damage(error),
            };
            let Some(key) = Cell::at(row, 0)?.integer() else { continue };
            let cells: rusqlite::Result<_> =
                (1..=self.columns.len()).map(|at| Cell::at(row, at)).collect();
            // Pages in a circle show a row again.
            if seen.insert(key) {
                each(key, cells?)?;
            }
        }
    }
}

fn damage<E: From<rusqlite::Error>>(error: rusqlite::Error) -> Result<Option<rusqlite::Error>, E> {
    if is_damage(&error) { Ok(Some(error)) } else { Err(error.into()) }
}

/// The columns of a real table that hold what was written into them, none that are made up. A view
/// has none, nor has what is not there.
pub(in crate::store) fn columns(
    db: &Connection,
    table: &str,
) -> rusqlite::Result<BTreeSet<String>> {
    let real = "SELECT 1 FROM main.sqlite_schema WHERE name = ?1 AND type = 'table' \
                AND rootpage > 0";
    if db.query_row(real, [table], |_| Ok(())).optional()?.is_none() {
        return Ok(BTreeSet::new());
    }
    let mut asked = db.prepare("SELECT name FROM pragma_table_xinfo(?1) WHERE hidden = 0")?;
    asked.query_map([table], |row| Ok(Cell::at(row, 0)?.readable()))?.collect()
}

/// Is it what is read that is damaged, and not something around it?
pub(in crate::store) fn is_damage(error: &rusqlite::Error) -> bool {
    // A disk that does not take what is written says nothing of what was read.
    let reads = matches!(error, rusqlite::Error::SqliteFailure(fault, _)
        if [ffi::SQLITE_IOERR_READ, ffi::SQLITE_IOERR_SHORT_READ, ffi::SQLITE_IOERR_CORRUPTFS]
            .contains(&fault.extended_code));
    error.sqlite_error_code().is_none_or(|code| {
        reads
            || matches!(
                code,
                ErrorCode::DatabaseCorrupt
                | ErrorCode::TooBig
                | ErrorCode::TypeMismatch
                // A column that is not there.
                | ErrorCode::Unknown
            )
    })
}
