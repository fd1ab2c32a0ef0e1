//! What was done, and undoing it: the last change first.

use super::cell::readable;
use super::things::Named;
use super::{Register, Tried};
use crate::shell::clock::wall_rfc3339;
use crate::shell::exit::{self, Trouble};
use rusqlite::{Connection, params};
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

/// Changes of one transaction: they are undone together.
pub(super) struct Batch {
    at_utc: String,
    number: i64,
}

impl Batch {
    pub fn next(db: &Connection) -> rusqlite::Result<Self> {
        let sql = "SELECT coalesce(max(batch), 0) + 1 FROM change";
        let number = db.query_row(sql, [], |row| row.get(0))?;
        Ok(Self { at_utc: wall_rfc3339(), number })
    }
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
        self.at_once(dry, |_| {
            let last = self.last_batch()?;
            if last.is_empty() {
                return Err(Trouble::new(
                    exit::USAGE,
                    "There is no change to undo.",
                    "Nothing was done.",
                    "Records are never undone: amend one with `trundle record amend`.",
                ))?;
            }
            let mut done = Vec::new();
            for noted in last {
                let mut name = String::new();
                if let Some(held) = self.by_id(noted.thing, noted.thing_id)? {
                    self.take_back(&noted, &held)?;
                    let now = self.by_id(noted.thing, noted.thing_id)?;
                    name = now.unwrap_or(held).entry.name;
                }
                let Noted { at_utc, thing, action, .. } = noted;
                done.push(Change { at_utc, action: action.word(), thing, name });
            }
            Ok(done)
        })
    }

    /// Note a change.
    pub(super) fn note(
        &self,
        batch: &Batch,
        (thing, id): (Thing, i64),
        action: Action,
        before: Option<String>,
    ) -> Tried<()> {
        self.db.execute(
            "INSERT INTO change (at_utc, batch, thing, thing_id, action, before) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            params![batch.at_utc, batch.number, thing.word(), id, action.word(), before],
        )?;
        Ok(())
    }

    fn last_batch(&self) -> Tried<Vec<Noted>> {
        let sql = "SELECT id, at_utc, thing, thing_id, action, before FROM change \
                   WHERE undone = 0 AND batch = (SELECT max(batch) FROM change WHERE undone = 0) \
                   ORDER BY id DESC";
        let noted = self.all(sql, (), |row| {
            let (thing, action) = (readable(row, 2)?, readable(row, 4)?);
            let action = Action::ALL.into_iter().find(|a| a.word() == action);
            let Some((thing, action)) = Thing::named(&thing).zip(action) else { return Ok(None) };
            Ok(Some(Noted {
                id: row.get(0)?,
                at_utc: readable(row, 1)?,
                thing,
                thing_id: row.get(3)?,
                action,
                before: Some(readable(row, 5)?),
            }))
        })?;
        Ok(noted.into_iter().flatten().collect())
    }

    fn take_back(&self, noted: &Noted, held: &Named) -> Tried<()> {
        let (thing, id) = (noted.thing, noted.thing_id);
        match noted.action {
            Action::Add | Action::Return => self.bin_in(thing, held)?,
            Action::Remove => self.unbin_in(thing, held)?,
            Action::Use => {
                let before = noted.before.as_deref().and_then(|id| id.parse::<i64>().ok());
                if let Some(before) = before {
                    self.db.execute("UPDATE active_rig SET rig = ?1", [before])?;
                }
            }
            Action::Edit => {
                let text = noted.before.as_deref().unwrap_or_default();
                let before: Entry =
                    serde_json::from_str(text).map_err(|e| spoilt(thing, &held.entry.name, &e))?;
                self.store(thing, id, &before)?;
            }
        }
        self.db.execute("UPDATE change SET undone = 1 WHERE id = ?1", [noted.id])?;
        Ok(())
    }

    /// Take a rig over from another laptop: what is not here yet is added; what is here under the
    /// same name is set to what the file says. One undo undoes all of it. With `dry`, only say
    /// what would be done.
    ///
    /// # Errors
    /// The register's.
    pub fn take_over(
        &self,
        rig: &Snapshot,
        dry: bool,
    ) -> Result<Vec<(Thing, String, bool)>, Trouble> {
        self.at_once(dry, |batch| {
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
                let found = self.find(thing, &entry.name)?;
                let known = found.is_some();
                match found {
                    None => self.add_in(batch, thing, entry)?,
                    Some(held) if held.entry == *entry => {}
                    Some(held) => {
                        self.replace_in(batch, thing, held.id, (&held.entry, entry))?;
                    }
                }
                done.push((thing, entry.name.clone(), known));
            }
            Ok(done)
        })
    }
}

/// What was noted for undo is damaged.
fn spoilt(thing: Thing, name: &str, error: &serde_json::Error) -> Trouble {
    let (word, name) = (thing.word(), crate::shell::out::scrub(name, trundle_core::rig::NAME_MAX));
    Trouble::new(
        exit::INPUT,
        format!("How the {word} \"{name}\" was before its last change is damaged: {error}."),
        "Nothing was undone; everything is as it was.",
        format!("Change it back by hand with `trundle {word} edit`."),
    )
}
