//! Tractors, tyres, tapes, people and rigs: add, look up, list, edit, use, remove.

use super::Register;
use super::changes::{Action, note};
use crate::shell::clock::wall_rfc3339;
use crate::shell::exit::{self, Trouble};
use rusqlite::types::{Value as Stored, ValueRef};
use rusqlite::{Connection, OptionalExtension as _, Row};
use trundle_core::rig::{Entry, FieldKind, NAME_MAX, Snapshot, Thing, Value, clean};

/// An entry and its key in the register.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Key of its row.
    pub id: i64,
    /// The entry as saved.
    pub entry: Entry,
}

/// A value as SQLite keeps it; nothing for one that was not given.
fn stored(given: Option<&Value>) -> Stored {
    match given {
        Some(Value::Number(number)) => Stored::Real(*number),
        Some(Value::Text(text)) => Stored::Text(text.clone()),
        None => Stored::Null,
    }
}

impl Register {
    /// Everything of one kind that is not in the bin, by name.
    ///
    /// # Errors
    /// The register's.
    pub fn list(&self, thing: Thing) -> Result<Vec<Named>, Trouble> {
        let sql = format!("{} WHERE t.binned_utc IS NULL ORDER BY t.name", select(thing));
        let ask = || -> rusqlite::Result<Vec<Named>> {
            let mut asked = self.db.prepare(&sql)?;
            asked.query_map([], |row| named(thing, row))?.collect()
        };
        ask().map_err(|e| self.trouble(&e))
    }

    /// One by its name, whatever the case of its letters.
    ///
    /// # Errors
    /// Exit code 2 when there is none of that name, with the names that there are.
    pub fn get(&self, thing: Thing, name: &str) -> Result<Named, Trouble> {
        let found = find(&self.db, thing, name).map_err(|e| self.trouble(&e))?;
        found.ok_or_else(|| self.none_of(thing, name))
    }

    fn none_of(&self, thing: Thing, name: &str) -> Trouble {
        let word = thing.word();
        let names: Vec<String> = self
            .list(thing)
            .map(|all| all.into_iter().take(10).map(|one| one.entry.name).collect())
            .unwrap_or_default();
        let there = if names.is_empty() {
            format!("There is none yet: add one with `trundle {word} add NAME`.")
        } else {
            format!("There is: {}. See all with `trundle {word} list`.", names.join("; "))
        };
        let name = crate::shell::out::scrub(name, NAME_MAX);
        Trouble::new(
            exit::USAGE,
            format!("There is no {word} named \"{name}\"."),
            "Nothing was done.",
            there,
        )
    }

    /// Write a new one down.
    ///
    /// # Errors
    /// Exit code 2 when the name is taken or a link names nothing.
    pub fn add(&self, thing: Thing, entry: &Entry) -> Result<i64, Trouble> {
        self.at_once(|db| self.add_in(db, thing, entry, wall_rfc3339(), None))
    }

    pub(super) fn add_in(
        &self,
        db: &Connection,
        thing: Thing,
        entry: &Entry,
        at_utc: String,
        batch: Option<i64>,
    ) -> Result<i64, Trouble> {
        checked(thing, entry)?;
        self.free(db, thing, &entry.name, None)?;
        db.execute(&format!("INSERT INTO {} (name) VALUES (?1)", thing.word()), [&entry.name])
            .map_err(|e| self.trouble(&e))?;
        let id = db.last_insert_rowid();
        self.store(db, thing, id, entry)?;
        note(db, &at_utc, batch, (thing, id), Action::Add, None).map_err(|e| self.trouble(&e))?;
        Ok(id)
    }

    /// Change one: fields with a value are set, fields with `None` are emptied, the name too.
    ///
    /// # Errors
    /// Exit code 2 when there is none, the new name is taken or a link names nothing.
    pub fn edit(
        &self,
        thing: Thing,
        name: &str,
        new_name: Option<&str>,
        changes: &[(&str, Option<Value>)],
    ) -> Result<Entry, Trouble> {
        let Named { id, entry: before } = self.get(thing, name)?;
        let mut after = before.clone();
        if let Some(new) = new_name {
            new.clone_into(&mut after.name);
        }
        for (key, value) in changes {
            match value {
                Some(value) => after.values.insert((*key).to_owned(), value.clone()),
                None => after.values.remove(*key),
            };
        }
        self.at_once(|db| {
            self.replace_in(db, thing, id, (&before, &after), wall_rfc3339(), None)?;
            Ok(after.clone())
        })
    }

    pub(super) fn replace_in(
        &self,
        db: &Connection,
        thing: Thing,
        id: i64,
        (before, after): (&Entry, &Entry),
        at_utc: String,
        batch: Option<i64>,
    ) -> Result<(), Trouble> {
        checked(thing, after)?;
        self.free(db, thing, &after.name, Some(id))?;
        self.store(db, thing, id, after)?;
        let before = serde_json::to_string(before)
            .expect("plain tables of text and numbers always serialise");
        note(db, &at_utc, batch, (thing, id), Action::Edit, Some(before))
            .map_err(|e| self.trouble(&e))
    }

    /// Is the name free among what is not in the bin?
    fn free(
        &self,
        db: &Connection,
        thing: Thing,
        name: &str,
        but: Option<i64>,
    ) -> Result<(), Trouble> {
        let found = find(db, thing, name).map_err(|e| self.trouble(&e))?;
        match found {
            Some(found) if Some(found.id) != but => Err(Trouble::new(
                exit::USAGE,
                format!("There is a {} named \"{}\" already.", thing.word(), found.entry.name),
                "Nothing was changed.",
                format!(
                    "Choose another name, or change that one with `trundle {} edit`.",
                    thing.word()
                ),
            )),
            _ => Ok(()),
        }
    }

    /// Write name and all fields.
    pub(super) fn store(
        &self,
        db: &Connection,
        thing: Thing,
        id: i64,
        entry: &Entry,
    ) -> Result<(), Trouble> {
        let mut sets = vec!["name = ?1".to_owned()];
        let mut values = vec![Stored::Text(entry.name.clone())];
        for field in thing.fields() {
            let given = entry.values.get(field.key);
            let value = match (field.kind, given) {
                (FieldKind::Link(to), Some(Value::Text(name))) => {
                    let found = find(db, to, name).map_err(|e| self.trouble(&e))?;
                    Stored::Integer(found.ok_or_else(|| self.none_of(to, name))?.id)
                }
                (_, given) => stored(given),
            };
            values.push(value);
            sets.push(format!("{} = ?{}", field.key, values.len()));
        }
        values.push(Stored::Integer(id));
        let sql =
            format!("UPDATE {} SET {} WHERE id = ?{}", thing.word(), sets.join(", "), values.len());
        db.execute(&sql, rusqlite::params_from_iter(values)).map_err(|e| self.trouble(&e))?;
        Ok(())
    }

    /// The rig in use.
    ///
    /// # Errors
    /// The register's.
    pub fn active(&self) -> Result<Option<Named>, Trouble> {
        let sql = format!("{} WHERE t.id = (SELECT rig FROM active_rig)", select(Thing::Rig));
        self.db
            .query_row(&sql, [], |row| named(Thing::Rig, row))
            .optional()
            .map_err(|e| self.trouble(&e))
    }

    /// Use this rig from now on.
    ///
    /// # Errors
    /// Exit code 2 when there is none of that name.
    pub fn use_rig(&self, name: &str) -> Result<Named, Trouble> {
        let rig = self.get(Thing::Rig, name)?;
        let before = self.active()?;
        if before.as_ref().is_some_and(|before| before.id == rig.id) {
            return Ok(rig);
        }
        self.at_once(|db| {
            db.execute("UPDATE active_rig SET rig = ?1", [rig.id]).map_err(|e| self.trouble(&e))?;
            let before = before.map(|before| before.id.to_string());
            note(db, &wall_rfc3339(), None, (Thing::Rig, rig.id), Action::Use, before)
                .map_err(|e| self.trouble(&e))
        })?;
        Ok(rig)
    }

    /// A rig with everything that it names.
    ///
    /// # Errors
    /// The register's.
    pub fn snapshot(&self, rig: &Entry) -> Result<Snapshot, Trouble> {
        let mut whole = Snapshot { rig: rig.clone(), ..Snapshot::default() };
        for (key, thing, name) in Snapshot::links(rig) {
            let held = find_any(&self.db, thing, name).map_err(|e| self.trouble(&e))?;
            if let Some(part) = whole.linked(key) {
                *part = held.map(|held| held.entry);
            }
        }
        Ok(whole)
    }

    /// The rig that a command is about: the one named, else the active one.
    ///
    /// # Errors
    /// Exit code 2 when there is none.
    pub fn rig(&self, name: Option<&str>) -> Result<(i64, Snapshot), Trouble> {
        let rig = match name {
            Some(name) => self.get(Thing::Rig, name)?,
            None => self.active()?.ok_or_else(|| {
                Trouble::new(
                    exit::USAGE,
                    "There is no rig yet.",
                    "A record says on which tractor and tyres it was measured.",
                    "Add one with `trundle rig add NAME`; its --help shows what can be saved.",
                )
            })?,
        };
        Ok((rig.id, self.snapshot(&rig.entry)?))
    }
}

fn checked(thing: Thing, entry: &Entry) -> Result<(), Trouble> {
    clean("Name", &entry.name, NAME_MAX).map(drop).and_then(|()| entry.check(thing)).map_err(
        |fault| {
            let next = format!("`trundle {} add --help` shows what can be saved.", thing.word());
            Trouble::new(exit::USAGE, format!("{fault}."), "Nothing was changed.", next)
        },
    )
}

/// All columns of a thing, links by the names of what they point to.
pub(super) fn select(thing: Thing) -> String {
    let columns = thing.fields().iter().map(|field| match field.kind {
        FieldKind::Link(to) => {
            format!("(SELECT name FROM {} WHERE id = t.{})", to.word(), field.key)
        }
        _ => format!("t.{}", field.key),
    });
    let columns: Vec<String> = columns.collect();
    format!("SELECT t.id, t.name, {} FROM {} t", columns.join(", "), thing.word())
}

pub(super) fn named(thing: Thing, row: &Row<'_>) -> rusqlite::Result<Named> {
    let mut entry = Entry { name: row.get(1)?, ..Entry::default() };
    for (at, field) in thing.fields().iter().enumerate() {
        let value = match row.get_ref(at + 2)? {
            ValueRef::Real(number) => Value::Number(number),
            ValueRef::Text(text) => Value::Text(String::from_utf8_lossy(text).into_owned()),
            _ => continue,
        };
        entry.values.insert(field.key.to_owned(), value);
    }
    Ok(Named { id: row.get(0)?, entry })
}

pub(super) fn find(db: &Connection, thing: Thing, name: &str) -> rusqlite::Result<Option<Named>> {
    let sql = format!("{} WHERE t.name = ?1 AND t.binned_utc IS NULL", select(thing));
    db.query_row(&sql, [name.trim()], |row| named(thing, row)).optional()
}

/// As [`find`], from the bin too when it is nowhere else: a rig may name what was thrown away.
fn find_any(db: &Connection, thing: Thing, name: &str) -> rusqlite::Result<Option<Named>> {
    let sql =
        format!("{} WHERE t.name = ?1 ORDER BY t.binned_utc IS NOT NULL, t.id DESC", select(thing));
    db.query_row(&sql, [name.trim()], |row| named(thing, row)).optional()
}

pub(super) fn by_id(db: &Connection, thing: Thing, id: i64) -> rusqlite::Result<Option<Named>> {
    let sql = format!("{} WHERE t.id = ?1", select(thing));
    db.query_row(&sql, [id], |row| named(thing, row)).optional()
}
