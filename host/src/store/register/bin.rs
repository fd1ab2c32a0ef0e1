//! The bin: what was removed and can come back, until it is emptied.

use super::cell::readable;
use super::changes::Action;
use super::things::Named;
use super::{Register, Tried};
use crate::shell::clock::wall_rfc3339;
use crate::shell::exit::{self, Trouble};
use rusqlite::{ErrorCode, OptionalExtension as _, params};
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
        self.at_once(dry, |batch| {
            self.bin_in(thing, &held)?;
            self.note(batch, (thing, held.id), Action::Remove, None)
        })
    }

    pub(super) fn bin_in(&self, thing: Thing, held: &Named) -> Tried<()> {
        if let Some(user) = self.used_by(thing, held.id)? {
            return Err(Trouble::new(
                exit::USAGE,
                format!("The rig \"{user}\" names the {} \"{}\".", thing.word(), held.entry.name),
                "It was not removed.",
                format!("Change that rig first: `trundle rig edit \"{user}\"`."),
            ))?;
        }
        if thing == Thing::Rig && self.is_active_among_others(held.id)? {
            return Err(Trouble::new(
                exit::USAGE,
                format!("The rig \"{}\" is the active one.", held.entry.name),
                "It was not removed: one rig is always active.",
                "Choose another one first with `trundle rig use NAME`.",
            ))?;
        }
        let sql = format!("UPDATE {} SET binned_utc = ?1 WHERE id = ?2", thing.word());
        self.db.execute(&sql, params![wall_rfc3339(), held.id])?;
        Ok(())
    }

    fn is_active_among_others(&self, id: i64) -> Tried<bool> {
        let sql = "SELECT EXISTS (SELECT 1 FROM active_rig WHERE rig = ?1) AND \
                   EXISTS (SELECT 1 FROM rig WHERE binned_utc IS NULL AND id <> ?1)";
        Ok(self.db.query_row(sql, [id], |row| row.get(0))?)
    }

    /// A rig, not in the bin, that names this.
    fn used_by(&self, thing: Thing, id: i64) -> Tried<Option<String>> {
        let links = Thing::Rig.fields().iter();
        for field in links.filter(|field| field.kind == FieldKind::Link(thing)) {
            let sql =
                format!("SELECT name FROM rig WHERE {} = ?1 AND binned_utc IS NULL", field.key);
            let found = self.db.query_row(&sql, [id], |row| readable(row, 0)).optional()?;
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
        self.ask(|| {
            let mut all = Vec::new();
            for thing in Thing::ALL {
                let sql = format!("SELECT binned_utc FROM {} WHERE id = ?1", thing.word());
                for named in self.named(thing, "WHERE t.binned_utc IS NOT NULL", ())? {
                    let since_utc = self.db.query_row(&sql, [named.id], |row| readable(row, 0))?;
                    all.push(Binned { thing, named, since_utc });
                }
            }
            all.sort_by(|a, b| b.since_utc.cmp(&a.since_utc));
            Ok(all)
        })
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
        self.at_once(false, |batch| {
            self.unbin_in(thing, &found.named)?;
            self.note(batch, (thing, found.named.id), Action::Return, None)
        })
    }

    pub(super) fn unbin_in(&self, thing: Thing, held: &Named) -> Tried<()> {
        let taken = self.find(thing, &held.entry.name)?;
        if taken.is_some_and(|taken| taken.id != held.id) {
            return Err(Trouble::new(
                exit::USAGE,
                format!("Another {} is named \"{}\" by now.", thing.word(), held.entry.name),
                "It stayed in the bin.",
                format!(
                    "Give the other one a new name: `trundle {} edit NAME --name NEW`.",
                    thing.word()
                ),
            ))?;
        }
        let sql = format!("UPDATE {} SET binned_utc = NULL WHERE id = ?1", thing.word());
        self.db.execute(&sql, [held.id])?;
        Ok(())
    }

    /// Empty the bin for good; with `dry`, only say what would go. What a record or a rig names
    /// is saved.
    ///
    /// # Errors
    /// The register's.
    pub fn empty_bin(&self, dry: bool) -> Result<Emptied, Trouble> {
        let mut done = Emptied::default();
        self.at_once(dry, |_| {
            // Rigs go first: what only they named may go after them.
            for one in self.bin()?.into_iter().rev().filter(|one| one.thing == Thing::Rig) {
                self.empty_one(one, &mut done)?;
            }
            for one in self.bin()?.into_iter().filter(|one| one.thing != Thing::Rig) {
                self.empty_one(one, &mut done)?;
            }
            Ok(())
        })?;
        Ok(done)
    }

    fn empty_one(&self, Binned { thing, named, .. }: Binned, done: &mut Emptied) -> Tried<()> {
        let what = (thing, named.entry.name);
        let sql = format!("DELETE FROM {} WHERE id = ?1", thing.word());
        match self.db.execute(&sql, [named.id]) {
            Ok(_) => {
                let sql = "DELETE FROM change WHERE thing = ?1 AND thing_id = ?2";
                self.db.execute(sql, params![thing.word(), named.id])?;
                done.gone.push(what);
            }
            Err(e) if e.sqlite_error_code() == Some(ErrorCode::ConstraintViolation) => {
                done.kept.push(what);
            }
            Err(e) => return Err(e.into()),
        }
        Ok(())
    }
}
