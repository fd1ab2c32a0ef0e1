//! A register made anew from the rows of another: of a backup, or of one that is damaged.
//!
//! Only cells are taken, from real tables, into tables of our own. Triggers, views and whatever
//! else the other file's schema holds stay there.

use super::beside::Beside;
use super::cell::Cell;
use super::found::{Found, READ, names, unlike as unlike_in};
use super::records::insert;
use super::scan::{self, Table};
use super::{Fault, Tried, VERSION, migrate, migrate_to, version};
use crate::shell::exit::{self, Trouble};
use rusqlite::{Connection, ErrorCode, OptionalExtension as _, ToSql, params_from_iter};
use std::collections::BTreeSet;
use std::path::Path;
use trundle_core::result::record_v1::{RecordFault, RecordV1};
use trundle_core::rig::{FieldKind, Thing};
use trundle_protocol::crc::crc32c;

/// A column of our own schema.
struct Column {
    name: String,
    /// A row cannot be without it.
    needed: bool,
    key: bool,
}

/// Is this a register that this program knows? Nothing of it is changed.
///
/// # Errors
/// Exit code 5: of a later version, or none.
pub(in crate::store) fn known(from: &Connection, path: &Path) -> Tried<()> {
    let refused = |what: &str, next: &str| {
        let what = format!("{} {what}.", path.display());
        Err(Fault::Said(Trouble::new(exit::INPUT, what, NOTHING, next)))
    };
    match version(from)? {
        0 => refused("holds no register", OTHER),
        found if found > VERSION => refused(
            "was written by a later version of this program",
            "Use the later version, or another backup.",
        ),
        _ => Ok(()),
    }
}

const NOTHING: &str = "Nothing was taken from it, and nothing was changed.";
const OTHER: &str = "Use another backup.";

/// Take all rows of `from` into `to`, which is empty. Gives what could not be taken, or not as it
/// stood, in words. What stands beside a record's text is drawn from the text.
///
/// # Errors
/// Exit code 5 when a table, or a column without which its rows are nothing, is not there; what
/// has nothing to do with damage of `from`.
pub(in crate::store) fn rows(
    from: &Connection,
    to: &Connection,
    path: &Path,
) -> Tried<Vec<String>> {
    migrate_to(to, version(from)?)?;
    let named = |sql: &str| -> rusqlite::Result<Vec<(String, String)>> {
        to.prepare(sql)?.query_map((), |row| Ok((row.get(0)?, row.get(1)?)))?.collect()
    };
    let triggers = named("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")?;
    let tables = named(
        "SELECT name, sql FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' \
         ORDER BY rowid",
    )?;
    to.pragma_update(None, "foreign_keys", false)?;
    let begun = to.unchecked_transaction()?;
    for (name, _) in &triggers {
        begun.execute_batch(&format!("DROP TRIGGER {name}"))?;
    }
    let mut said = Vec::new();
    for (table, _) in &tables {
        table_rows(from, &begun, table, path, &mut said)?;
    }
    tie_up(&begun, &mut said)?;
    for (_, sql) in &triggers {
        begun.execute_batch(sql)?;
    }
    begun.commit()?;
    migrate(to)?;
    Ok(said)
}

fn table_rows(
    from: &Connection,
    to: &Connection,
    table: &str,
    path: &Path,
    said: &mut Vec<String>,
) -> Tried<()> {
    let ours = columns(to, table)?;
    let theirs = scan::columns(from, table)?;
    let holds = |column: &&Column| theirs.contains(&column.name);
    // Of a record, the text gives the rest.
    let needed = |column: &&Column| {
        if table == "record" { column.key || column.name == "json" } else { column.needed }
    };
    if let Some(missing) = ours.iter().filter(needed).find(|column| !holds(column)) {
        let what = format!(
            "{} has no table {table} with the column {} in it, as this program writes it.",
            path.display(),
            missing.name
        );
        Err(Trouble::new(exit::INPUT, what, NOTHING, OTHER))?;
    }
    let missing: Vec<&str> =
        ours.iter().filter(|one| !holds(one)).map(|one| one.name.as_str()).collect();
    if !missing.is_empty() {
        said.push(format!("the table {table} has no column {}", missing.join(", ")));
    }
    let taken: Vec<&str> = ours.iter().filter(holds).map(|one| one.name.as_str()).collect();
    let key = ours.iter().find(|column| column.key).map_or("rowid", |column| &column.name);
    let marks = vec!["?"; taken.len()].join(", ");
    let sql = format!("INSERT INTO {table} ({}) VALUES ({marks})", taken.join(", "));
    let mut put = to.prepare(&sql)?;
    let mut refused = Vec::new();
    let mut there = BTreeSet::new();
    let damage = Table { name: table, key, columns: &taken }.walk(from, |number, cells| {
        there.insert(number);
        let cell = |name: &str| taken.iter().position(|one| *one == name).map(|at| &cells[at]);
        let result = match table {
            "record" => record(to, number, &cell, &mut refused),
            _ => Ok(false),
        };
        let done = result.and_then(|done| {
            if done { Ok(()) } else { put.execute(params_from_iter(&cells)).map(drop) }
        });
        match done {
            Err(error) if error.sqlite_error_code() == Some(ErrorCode::ConstraintViolation) => {
                let named = cell("id").and_then(|id| id.text().map(str::to_owned));
                let named = cell("name").and_then(Cell::text).map(str::to_owned).or(named);
                let named = named.unwrap_or_else(|| format!("number {number}"));
                refused.push(format!("{table} {named} is damaged and was left out: {error}"));
                Ok(())
            }
            other => other,
        }
    })?;
    said.append(&mut refused);
    if let Some(damage) = damage {
        said.push(format!("{damage}; its rows there were left out"));
        if table == "record" {
            let lost = |number: &i64| !there.contains(number);
            let lost = names(from)?.into_iter().filter(|(number, _)| lost(number));
            said.extend(lost.map(|(_, id)| format!("record {id} cannot be read")));
        }
    }
    Ok(())
}

/// Write a record anew, if its text is sound; tells whether it was.
fn record<'a>(
    to: &Connection,
    number: i64,
    cell: &impl Fn(&str) -> Option<&'a Cell>,
    said: &mut Vec<String>,
) -> rusqlite::Result<bool> {
    let text = cell("json").and_then(Cell::text);
    let whole = text.map(|text| {
        let record = RecordV1::from_json(text)?;
        Ok::<_, RecordFault>((Beside::of(&record)?, record))
    });
    let cells = READ.iter().map(|name| cell(name).cloned().unwrap_or(Cell::Null)).collect();
    let found = Found::of(number, cells);
    let (drawn, record) = match whole {
        Some(Ok(whole)) => whole,
        fault => {
            let fault = match fault {
                Some(Err(fault)) => fault.to_string(),
                _ => "its text cannot be read".to_owned(),
            };
            said.push(format!("record {} is damaged: {fault}", found.beside.id()));
            return Ok(false);
        }
    };
    let asked = |sql: &str, value: &dyn ToSql| to.query_row(sql, [value], |row| row.get(0));
    // A key that is not believed may be that of any rig: the name says which it was.
    let rig: Option<i64> = match found.rig {
        Some(rig) => asked("SELECT id FROM rig WHERE id = ?1", &rig),
        None => asked(
            "SELECT id FROM rig WHERE name = ?1 ORDER BY binned_utc IS NOT NULL",
            &record.rig.rig.name,
        ),
    }
    .optional()?;
    insert(to, &record, rig, Some(number))?;
    let sealed = !found.doubted && found.text_sum == text.map(|text| crc32c(text.as_bytes()));
    let mut unlike =
        if sealed { drawn.unlike_in_values(&found.beside) } else { drawn.unlike(&found.beside) };
    unlike.extend((found.rig.is_some() && rig.is_none()).then_some("rig"));
    if !sealed || !unlike.is_empty() {
        let unlike = unlike_in(&unlike);
        said.push(format!("record {}: {unlike}; it was drawn from its text anew", record.id));
    }
    Ok(true)
}

/// Links that lead nowhere, since what they named is lost, are taken away; a rig is in use.
fn tie_up(to: &Connection, said: &mut Vec<String>) -> rusqlite::Result<()> {
    for field in Thing::Rig.fields() {
        let FieldKind::Link(thing) = field.kind else { continue };
        let (key, word) = (field.key, thing.word());
        let sql = format!(
            "UPDATE rig SET {key} = NULL \
             WHERE {key} IS NOT NULL AND {key} NOT IN (SELECT id FROM {word})"
        );
        let cut = to.execute(&sql, ())?;
        if cut > 0 {
            said.push(format!("{cut} of the rigs named a {key} that is not there"));
        }
    }
    to.execute("UPDATE record SET rig = NULL WHERE rig NOT IN (SELECT id FROM rig)", ())?;
    let lost = "DELETE FROM active_rig \
                WHERE rig NOT IN (SELECT id FROM rig WHERE binned_utc IS NULL)";
    to.execute(lost, ())?;
    let first = "INSERT INTO active_rig SELECT 1, min(id) FROM rig WHERE binned_utc IS NULL \
                 AND NOT EXISTS (SELECT 1 FROM active_rig) HAVING min(id) IS NOT NULL";
    if to.execute(first, ())? > 0 {
        said.push("which rig is the active one cannot be read: the first one is now".to_owned());
    }
    Ok(())
}

fn columns(to: &Connection, table: &str) -> rusqlite::Result<Vec<Column>> {
    let sql = "SELECT name, \"notnull\" AND dflt_value IS NULL, pk FROM pragma_table_info(?1)";
    let read = |row: &rusqlite::Row<'_>| {
        let key = row.get(2)?;
        Ok(Column { name: row.get(0)?, needed: key || row.get(1)?, key })
    };
    to.prepare(sql)?.query_map([table], read)?.collect()
}
