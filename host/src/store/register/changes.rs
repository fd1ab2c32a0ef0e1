//! What was done, and taking it back: the last change first.

use super::Register;
use super::things::{Named, by_id};
use crate::shell::clock::wall_rfc3339;
use crate::shell::exit::{self, Trouble};
use rusqlite::{Connection, OptionalExtension as _, params};
use trundle_core::rig::{Entry, Snapshot, Thing};

/// What was done to a thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Action {
    Add,
    Edit,
    Remove,
    Return,
    Use,
}

impl Action {
    const ALL: [Self; 5] = [Self::Add, Self::Edit, Self::Remove, Self::Return, Self::Use];

    const fn word(self) -> &'static str {
        match self {
            Self::Add => "add",
            Self::Edit => "edit",
            Self::Remove => "remove",
            Self::Return => "return",
            Self::Use => "use",
        }
    }
}

/// A change that was undone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// When it was made, RFC 3339.
    pub at_utc: String,
    /// `add`, `edit`, `remove`, `return` or `use`.
    pub action: &'static str,
    /// The kind of thing.
    pub thing: Thing,
    /// Its name after the undo, or before it when it is deleted.
    pub name: String,
}

/// Note a change. Changes of one `batch` are undone together; without one it stands alone.
pub(super) fn note(
    db: &Connection,
    at_utc: &str,
    batch: Option<i64>,
    (thing, id): (Thing, i64),
    action: Action,
    before: Option<String>,
) -> rusqlite::Result<()> {
    let batch = batch.map_or_else(|| next_batch(db), Ok)?;
    db.execute(
        "INSERT INTO change (at_utc, batch, thing, thing_id, action, before) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        params![at_utc, batch, thing.word(), id, action.word(), before],
    )?;
    Ok(())
}

pub(super) fn next_batch(db: &Connection) -> rusqlite::Result<i64> {
    db.query_row("SELECT coalesce(max(batch), 0) + 1 FROM change", [], |row| row.get(0))
}

struct Noted {
    id: i64,
    at_utc: String,
    thing: Thing,
    thing_id: i64,
    action: Action,
    before: Option<String>,
}

impl Register {
    /// Undo the last change that was not undone yet; with `dry`, only say which.
    ///
    /// # Errors
    /// Exit code 2 when there is nothing, or when later changes stand in the way.
    pub fn undo(&self, dry: bool) -> Result<Vec<Change>, Trouble> {
        self.tried(dry, |db| {
            let last = self.last_batch(db)?;
            if last.is_empty() {
                return Err(Trouble::new(
                    exit::USAGE,
                    "There is no change to undo.",
                    "Nothing was done.",
                    "Records are never undone: amend one with `trundle record amend`.",
                ));
            }
            let mut done = Vec::new();
            for noted in &last {
                let held = by_id(db, noted.thing, noted.thing_id).map_err(|e| self.trouble(&e))?;
                let mut name = held.as_ref().map_or(String::new(), |held| held.entry.name.clone());
                if let Some(held) = held {
                    self.take_back(db, noted, &held)?;
                    let now =
                        by_id(db, noted.thing, noted.thing_id).map_err(|e| self.trouble(&e))?;
                    name = now.map_or(name, |now| now.entry.name);
                }
                done.push(Change {
                    at_utc: noted.at_utc.clone(),
                    action: noted.action.word(),
                    thing: noted.thing,
                    name,
                });
            }
            Ok(done)
        })
    }

    fn last_batch(&self, db: &Connection) -> Result<Vec<Noted>, Trouble> {
        let sql = "SELECT id, at_utc, thing, thing_id, action, before FROM change \
                   WHERE undone = 0 AND batch = (SELECT max(batch) FROM change WHERE undone = 0) \
                   ORDER BY id DESC";
        let ask = || -> rusqlite::Result<Vec<Option<Noted>>> {
            let mut asked = db.prepare(sql)?;
            let rows = asked.query_map([], |row| {
                let (thing, action): (String, String) = (row.get(2)?, row.get(4)?);
                let action = Action::ALL.into_iter().find(|a| a.word() == action);
                let noted = Thing::named(&thing).zip(action);
                Ok(match noted {
                    Some((thing, action)) => Some(Noted {
                        id: row.get(0)?,
                        at_utc: row.get(1)?,
                        thing,
                        thing_id: row.get(3)?,
                        action,
                        before: row.get(5)?,
                    }),
                    None => None,
                })
            })?;
            rows.collect()
        };
        Ok(ask().map_err(|e| self.trouble(&e))?.into_iter().flatten().collect())
    }

    fn take_back(&self, db: &Connection, noted: &Noted, held: &Named) -> Result<(), Trouble> {
        let failed = |e: rusqlite::Error| self.trouble(&e);
        let (thing, id) = (noted.thing, noted.thing_id);
        match noted.action {
            Action::Add | Action::Return => self.bin_in(db, thing, held)?,
            Action::Remove => self.unbin_in(db, thing, held)?,
            Action::Use => {
                let before = noted.before.as_deref().and_then(|id| id.parse::<i64>().ok());
                if let Some(before) = before {
                    db.execute("UPDATE active_rig SET rig = ?1", [before]).map_err(failed)?;
                }
            }
            Action::Edit => {
                let text = noted.before.as_deref().unwrap_or_default();
                let before: Entry = serde_json::from_str(text)
                    .map_err(|e| Trouble::internal(format!("change {}: {e}", noted.id)))?;
                self.store(db, thing, id, &before)?;
            }
        }
        db.execute("UPDATE change SET undone = 1 WHERE id = ?1", [noted.id]).map_err(failed)?;
        Ok(())
    }

    /// Take a rig over from another laptop: what is not here yet is added; what is here under the
    /// same name is set to what the file says. One undo takes all of it
    /// back. With `dry`, only say what would be done.
    ///
    /// # Errors
    /// The register's.
    pub fn take_over(
        &self,
        rig: &Snapshot,
        dry: bool,
    ) -> Result<Vec<(Thing, String, bool)>, Trouble> {
        self.tried(dry, |db| {
            let at_utc = wall_rfc3339();
            let batch = next_batch(db).map_err(|e| self.trouble(&e))?;
            let mut done: Vec<(Thing, String, bool)> = Vec::new();
            // The rig names the others, so it comes last.
            let mut parts = rig.parts();
            parts.rotate_left(1);
            for (_, thing, entry) in parts {
                let Some(entry) = entry else { continue };
                let same = |one: &(Thing, String, bool)| one.0 == thing && one.1 == entry.name;
                if done.iter().any(same) {
                    continue;
                }
                let found =
                    super::things::find(db, thing, &entry.name).map_err(|e| self.trouble(&e))?;
                let known = found.is_some();
                match found {
                    None => {
                        self.add_in(db, thing, entry, at_utc.clone(), Some(batch))?;
                    }
                    Some(held) if held.entry == *entry => {}
                    Some(held) => {
                        let change = (&held.entry, entry);
                        self.replace_in(db, thing, held.id, change, at_utc.clone(), Some(batch))?;
                    }
                }
                done.push((thing, entry.name.clone(), known));
            }
            Ok(done)
        })
    }
}

/// The time at which a thing went to the bin.
pub(super) fn binned_utc(
    db: &Connection,
    thing: Thing,
    id: i64,
) -> rusqlite::Result<Option<String>> {
    let sql = format!("SELECT binned_utc FROM {} WHERE id = ?1", thing.word());
    Ok(db.query_row(&sql, [id], |row| row.get(0)).optional()?.flatten())
}
