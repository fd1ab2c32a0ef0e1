//! Tractors, tyres, tapes, people and rigs: add, look up, list, edit, use, remove.

use super::cell::readable;
use super::changes::{Action, Batch};
use super::{Register, Tried};
use crate::shell::exit::{self, Trouble};
use rusqlite::Params;
use rusqlite::types::{Value as Stored, ValueRef};
use trundle_core::rig::{Entry, FieldKind, NAME_MAX, Snapshot, Thing, Value, clean};
use trundle_show::tongue::stays_as_typed;

/// An entry and its key in the register.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Key of its row.
    pub id: i64,
    /// The entry as saved.
    pub entry: Entry,
}

impl Register {
    /// Everything of one kind that is not in the bin, by name.
    ///
    /// # Errors
    /// The register's.
    pub fn list(&self, thing: Thing) -> Result<Vec<Named>, Trouble> {
        self.ask(|| self.named(thing, "WHERE t.binned_utc IS NULL ORDER BY t.name", ()))
    }

    /// One by its name, whatever the case of its letters.
    ///
    /// # Errors
    /// Exit code 2 when there is none of that name, with the names that there are.
    pub fn get(&self, thing: Thing, name: &str) -> Result<Named, Trouble> {
        self.ask(|| self.found(thing, name))
    }

    fn found(&self, thing: Thing, name: &str) -> Tried<Named> {
        Ok(self.find(thing, name)?.ok_or_else(|| self.none_of(thing, name))?)
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
            format!("There is no {} named \"{name}\".", thing.noun()),
            "Nothing was done.",
            there,
        )
    }

    /// Write a new one down.
    ///
    /// # Errors
    /// Exit code 2 when the name is taken or a link names nothing.
    pub fn add(&self, thing: Thing, entry: &Entry) -> Result<(), Trouble> {
        self.at_once(false, |batch| self.add_in(batch, thing, entry))
    }

    pub(super) fn add_in(&self, batch: &Batch, thing: Thing, entry: &Entry) -> Tried<()> {
        checked(thing, entry)?;
        self.free(thing, &entry.name, None)?;
        let sql = format!("INSERT INTO {} (name) VALUES (?1)", thing.word());
        self.db.execute(&sql, [&entry.name])?;
        let id = self.db.last_insert_rowid();
        self.store(thing, id, entry)?;
        self.note(batch, (thing, id), Action::Add, None)
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
        self.at_once(false, |batch| self.replace_in(batch, thing, id, (&before, &after)))?;
        Ok(after)
    }

    pub(super) fn replace_in(
        &self,
        batch: &Batch,
        thing: Thing,
        id: i64,
        (before, after): (&Entry, &Entry),
    ) -> Tried<()> {
        checked(thing, after)?;
        self.free(thing, &after.name, Some(id))?;
        self.store(thing, id, after)?;
        let before = serde_json::to_string(before)
            .expect("plain tables of text and numbers always serialise");
        self.note(batch, (thing, id), Action::Edit, Some(before))
    }

    /// Is the name free among what is not in the bin?
    fn free(&self, thing: Thing, name: &str, but: Option<i64>) -> Tried<()> {
        match self.find(thing, name)? {
            Some(found) if Some(found.id) != but => Err(Trouble::new(
                exit::USAGE,
                format!("There is a {} named \"{}\" already.", thing.noun(), found.entry.name),
                "Nothing was changed.",
                format!(
                    "Choose another name, or change that one with `trundle {} edit`.",
                    thing.word()
                ),
            ))?,
            _ => Ok(()),
        }
    }

    /// Write name and all fields.
    pub(super) fn store(&self, thing: Thing, id: i64, entry: &Entry) -> Tried<()> {
        let mut sets = vec!["name = ?1".to_owned()];
        let mut values = vec![Stored::Text(entry.name.clone())];
        for field in thing.fields() {
            let given = entry.values.get(field.key);
            let value = match (field.kind, given) {
                (FieldKind::Link(to), Some(Value::Text(name))) => {
                    Stored::Integer(self.found(to, name)?.id)
                }
                (_, Some(Value::Number(number))) => Stored::Real(*number),
                (_, Some(Value::Text(text))) => Stored::Text(text.clone()),
                (_, None) => Stored::Null,
            };
            values.push(value);
            sets.push(format!("{} = ?{}", field.key, values.len()));
        }
        values.push(Stored::Integer(id));
        let sql =
            format!("UPDATE {} SET {} WHERE id = ?{}", thing.word(), sets.join(", "), values.len());
        self.db.execute(&sql, rusqlite::params_from_iter(values))?;
        Ok(())
    }

    /// The rig in use.
    ///
    /// # Errors
    /// The register's.
    pub fn active(&self) -> Result<Option<Named>, Trouble> {
        let rest = "WHERE t.id = (SELECT rig FROM active_rig)";
        self.ask(|| Ok(self.named(Thing::Rig, rest, ())?.pop()))
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
        self.at_once(false, |batch| {
            self.db.execute("UPDATE active_rig SET rig = ?1", [rig.id])?;
            let before = before.map(|before| before.id.to_string());
            self.note(batch, (Thing::Rig, rig.id), Action::Use, before)
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
            let held = self.ask(|| self.find_any(thing, name))?;
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

    /// Those of one kind that `rest` of the question finds, links by the names of what they point
    /// to.
    pub(super) fn named(&self, thing: Thing, rest: &str, values: impl Params) -> Tried<Vec<Named>> {
        let columns = thing.fields().iter().map(|field| match field.kind {
            FieldKind::Link(to) => {
                format!(", (SELECT name FROM {} WHERE id = t.{})", to.word(), field.key)
            }
            _ => format!(", t.{}", field.key),
        });
        let columns: String = columns.collect();
        let sql = format!("SELECT t.id, t.name{columns} FROM {} t {rest}", thing.word());
        Ok(self.all(&sql, values, |row| {
            let mut entry = Entry { name: readable(row, 1)?, ..Entry::default() };
            for (at, field) in thing.fields().iter().enumerate() {
                let value = match row.get_ref(at + 2)? {
                    ValueRef::Real(number) => Value::Number(number),
                    ValueRef::Text(text) => Value::Text(String::from_utf8_lossy(text).into_owned()),
                    _ => continue,
                };
                entry.values.insert(field.key.to_owned(), value);
            }
            typed(&entry);
            Ok(Named { id: row.get(0)?, entry })
        })?)
    }

    pub(super) fn find(&self, thing: Thing, name: &str) -> Tried<Option<Named>> {
        let rest = "WHERE t.name = ?1 AND t.binned_utc IS NULL";
        Ok(self.named(thing, rest, [name.trim()])?.pop())
    }

    /// As [`Self::find`], from the bin too when it is nowhere else: a rig may name what was thrown
    /// away.
    fn find_any(&self, thing: Thing, name: &str) -> Tried<Option<Named>> {
        let rest = "WHERE t.name = ?1 ORDER BY t.binned_utc IS NOT NULL, t.id DESC LIMIT 1";
        Ok(self.named(thing, rest, [name.trim()])?.pop())
    }

    pub(super) fn by_id(&self, thing: Thing, id: i64) -> Tried<Option<Named>> {
        Ok(self.named(thing, "WHERE t.id = ?1", [id])?.pop())
    }
}

/// What somebody typed is shown so in every language.
pub(super) fn typed(entry: &Entry) {
    stays_as_typed(&entry.name);
    for value in entry.values.values() {
        if let Value::Text(text) = value {
            stays_as_typed(text);
        }
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
