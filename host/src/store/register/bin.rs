//! The bin: what was removed and can come back, until it is emptied.

use super::Register;
use super::changes::{Action, note};
use super::things::{Named, find, named, select};
use crate::shell::clock::wall_rfc3339;
use crate::shell::exit::{self, Trouble};
use rusqlite::{Connection, OptionalExtension as _, params};
use trundle_core::rig::{FieldKind, Thing};

/// Something in the bin.
#[derive(Clone, Debug, PartialEq)]
pub struct Binned {
    /// What kind it is.
    pub thing: Thing,
    /// The thing and its key.
    pub named: Named,
    /// Since when, RFC 3339.
    pub since_utc: String,
}

/// What emptying the bin did, or would do.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Emptied {
    /// What was deleted for good.
    pub gone: Vec<(Thing, String)>,
    /// Kept, because a record or a rig still names it.
    pub kept: Vec<(Thing, String)>,
}

impl Register {
    /// Put one into the bin; with `dry`, only find out whether it could go.
    ///
    /// # Errors
    /// Exit code 2 when there is none of that name, or when it is in use.
    pub fn remove(&self, thing: Thing, name: &str, dry: bool) -> Result<(), Trouble> {
        let held = self.get(thing, name)?;
        self.tried(dry, |db| {
            self.bin_in(db, thing, &held)?;
            note(db, &wall_rfc3339(), None, (thing, held.id), Action::Remove, None)
                .map_err(|e| self.trouble(&e))
        })
    }

    pub(super) fn bin_in(
        &self,
        db: &Connection,
        thing: Thing,
        held: &Named,
    ) -> Result<(), Trouble> {
        if let Some(user) = self.used_by(db, thing, held.id)? {
            return Err(Trouble::new(
                exit::USAGE,
                format!("The rig \"{user}\" names the {} \"{}\".", thing.word(), held.entry.name),
                "It was not removed.",
                format!("Change that rig first: `trundle rig edit \"{user}\"`."),
            ));
        }
        if thing == Thing::Rig && self.is_active_among_others(db, held.id)? {
            return Err(Trouble::new(
                exit::USAGE,
                format!("The rig \"{}\" is the active one.", held.entry.name),
                "It was not removed: one rig is always active.",
                "Choose another one first with `trundle rig use NAME`.",
            ));
        }
        let sql = format!("UPDATE {} SET binned_utc = ?1 WHERE id = ?2", thing.word());
        db.execute(&sql, params![wall_rfc3339(), held.id]).map_err(|e| self.trouble(&e))?;
        Ok(())
    }

    fn is_active_among_others(&self, db: &Connection, id: i64) -> Result<bool, Trouble> {
        let sql = "SELECT EXISTS (SELECT 1 FROM active_rig WHERE rig = ?1) AND \
                   EXISTS (SELECT 1 FROM rig WHERE binned_utc IS NULL AND id <> ?1)";
        db.query_row(sql, [id], |row| row.get(0)).map_err(|e| self.trouble(&e))
    }

    /// A rig, not in the bin, that names this.
    fn used_by(&self, db: &Connection, thing: Thing, id: i64) -> Result<Option<String>, Trouble> {
        for field in Thing::Rig.fields() {
            if field.kind != FieldKind::Link(thing) {
                continue;
            }
            let sql =
                format!("SELECT name FROM rig WHERE {} = ?1 AND binned_utc IS NULL", field.key);
            let found: Option<String> = db
                .query_row(&sql, [id], |row| row.get(0))
                .optional()
                .map_err(|e| self.trouble(&e))?;
            if found.is_some() {
                return Ok(found);
            }
        }
        Ok(None)
    }

    /// What is in the bin, last removed first.
    ///
    /// # Errors
    /// The register's.
    pub fn bin(&self) -> Result<Vec<Binned>, Trouble> {
        let mut all = Vec::new();
        for thing in Thing::ALL {
            let sql = format!("{} WHERE t.binned_utc IS NOT NULL", select(thing));
            let ask = || -> rusqlite::Result<Vec<Named>> {
                let mut asked = self.db.prepare(&sql)?;
                asked.query_map([], |row| named(thing, row))?.collect()
            };
            for named in ask().map_err(|e| self.trouble(&e))? {
                let since = super::changes::binned_utc(&self.db, thing, named.id)
                    .map_err(|e| self.trouble(&e))?;
                all.push(Binned { thing, named, since_utc: since.unwrap_or_default() });
            }
        }
        all.sort_by(|a, b| b.since_utc.cmp(&a.since_utc));
        Ok(all)
    }

    /// Take one out of the bin again.
    ///
    /// # Errors
    /// Exit code 2 when it is not there, or its name was given to another one.
    pub fn take_out(&self, thing: Thing, name: &str) -> Result<(), Trouble> {
        let same = |one: &Binned| {
            one.thing == thing && one.named.entry.name.eq_ignore_ascii_case(name.trim())
        };
        let found = self.bin()?.into_iter().find(same).ok_or_else(|| {
            let word = thing.word();
            let name = crate::shell::out::scrub(name, 80);
            let what = format!("The bin holds no {word} named \"{name}\".");
            Trouble::new(
                exit::USAGE,
                what,
                "Nothing was done.",
                "See what it holds: `trundle bin`.",
            )
        })?;
        self.at_once(|db| {
            self.unbin_in(db, thing, &found.named)?;
            note(db, &wall_rfc3339(), None, (thing, found.named.id), Action::Return, None)
                .map_err(|e| self.trouble(&e))
        })
    }

    pub(super) fn unbin_in(
        &self,
        db: &Connection,
        thing: Thing,
        held: &Named,
    ) -> Result<(), Trouble> {
        let taken = find(db, thing, &held.entry.name).map_err(|e| self.trouble(&e))?;
        if taken.is_some_and(|taken| taken.id != held.id) {
            return Err(Trouble::new(
                exit::USAGE,
                format!("Another {} is named \"{}\" by now.", thing.word(), held.entry.name),
                "It stayed in the bin.",
                format!(
                    "Give the other one a new name: `trundle {} edit NAME --name NEW`.",
                    thing.word()
                ),
            ));
        }
        let sql = format!("UPDATE {} SET binned_utc = NULL WHERE id = ?1", thing.word());
        db.execute(&sql, [held.id]).map_err(|e| self.trouble(&e))?;
        Ok(())
    }

    /// Empty the bin for good; with `dry`, only say what would go. What a record or a rig names
    /// is saved.
    ///
    /// # Errors
    /// The register's.
    pub fn empty_bin(&self, dry: bool) -> Result<Emptied, Trouble> {
        let mut done = Emptied::default();
        self.tried(dry, |db| {
            // Rigs go first: what only they named may go after them.
            for one in self.bin()?.into_iter().rev().filter(|one| one.thing == Thing::Rig) {
                self.empty_one(db, &one, &mut done)?;
            }
            for one in self.bin()?.into_iter().filter(|one| one.thing != Thing::Rig) {
                self.empty_one(db, &one, &mut done)?;
            }
            Ok(())
        })?;
        Ok(done)
    }

    fn empty_one(&self, db: &Connection, one: &Binned, done: &mut Emptied) -> Result<(), Trouble> {
        let (thing, id) = (one.thing, one.named.id);
        let what = (thing, one.named.entry.name.clone());
        let sql = format!("DELETE FROM {} WHERE id = ?1", thing.word());
        match db.execute(&sql, [id]) {
            Ok(_) => {
                let sql = "DELETE FROM change WHERE thing = ?1 AND thing_id = ?2";
                db.execute(sql, params![thing.word(), id]).map_err(|e| self.trouble(&e))?;
                done.gone.push(what);
            }
            Err(e) if e.sqlite_error_code() == Some(rusqlite::ErrorCode::ConstraintViolation) => {
                done.kept.push(what);
            }
            Err(e) => return Err(self.trouble(&e)),
        }
        Ok(())
    }
}
