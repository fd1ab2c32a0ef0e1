//! Signed-off records: saved, listed, searched, never changed.

use super::beside::{Beside, COLUMNS};
use super::cell::Cell;
use super::found::{Found, amended};
use super::{Register, Tried};
use crate::packed::plain;
use crate::shell::exit::{self, Trouble};
use crate::shell::out;
use crate::store::captures;
use rusqlite::Connection;
use std::path::PathBuf;
use trundle_core::result::part_v1::{PartV1, title};
use trundle_core::result::record_v1::{CaptureV1, RecordV1};
use trundle_core::result::records_v1::RecordRow;

/// So many listed records are held against their texts; in a longer list, checksums must do.
const CLOSELY: usize = 200;

/// Which records are wanted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Those of this rig.
    pub rig: Option<String>,
    /// Those with all of these words somewhere.
    pub words: Vec<String>,
    /// Without so many, the newest.
    pub skip: usize,
    /// At most so many, the newest of the others.
    pub most: Option<usize>,
}

impl Wanted {
    /// What may be any record is always wanted.
    fn has(&self, one: &Found) -> bool {
        let rig = self.rig.as_ref().is_none_or(|rig| one.beside.is_of(rig));
        one.doubted || (rig && self.words.iter().all(|word| one.beside.has(&word.to_lowercase())))
    }
}

/// A record that was kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// Identity of the record.
    pub id: String,
    /// Where its captures are, in their order in the record.
    pub captures: Vec<PathBuf>,
}

impl Register {
    /// Keep a record and its captures, given in their order in the record. When this returns, all
    /// are on the disk.
    ///
    /// The captures go first, under the names of their digests: a record is never there without
    /// them.
    ///
    /// # Errors
    /// Exit code 2 when the record is there already or names no record to amend, 6 when it cannot
    /// be written.
    pub fn keep(&self, record: &RecordV1, rig: i64, files: &[PathBuf]) -> Result<Kept, Trouble> {
        let wanted: Vec<&CaptureV1> = record.captures().collect();
        if wanted.len() != files.len() {
            return Err(Trouble::internal("a record and its captures do not go together"));
        }
        let keep = |(file, capture): (&PathBuf, _)| captures::keep(&self.place, file, capture);
        let kept = files.iter().zip(wanted).map(keep).collect::<Result<_, _>>()?;
        Beside::of(record).map_err(|e| Trouble::internal(e.to_string()))?;
        self.ask(|| {
            let begun = self.db.unchecked_transaction()?;
            self.may_amend(record)?;
            insert(&begun, record, Some(rig), None)?;
            Ok(begun.commit()?)
        })?;
        Ok(Kept { id: record.id.clone(), captures: kept })
    }

    fn may_amend(&self, record: &RecordV1) -> Result<(), Trouble> {
        let Some(amends) = &record.amends else { return Ok(()) };
        let all = self.ask(|| self.all_found())?;
        if !all.iter().any(|one| one.beside.id() == amends.id) {
            return Err(none(&amends.id));
        }
        match amended(&all).get(&amends.id) {
            None => Ok(()),
            Some(newer) => Err(Trouble::new(
                exit::USAGE,
                format!("Record {} was amended already, by {newer}.", amends.id),
                "Nothing was signed off.",
                format!("Amend the newer one: `trundle record amend {newer}`."),
            )),
        }
    }

    /// Records, the newest first. Each is checked as far as that is quick: its text and what
    /// stands beside it, its captures by their lengths. What is damaged beyond telling which it is
    /// comes first, whatever is wanted.
    ///
    /// # Errors
    /// The register's.
    pub fn records(&self, wanted: &Wanted) -> Result<Vec<RecordRow>, Trouble> {
        self.listed(wanted).map(|(rows, _)| rows)
    }

    /// The same, and how many older ones are wanted but for their number.
    ///
    /// # Errors
    /// The register's.
    pub fn listed(&self, wanted: &Wanted) -> Result<(Vec<RecordRow>, usize), Trouble> {
        self.ask(|| self.listed_of(&mut self.all_found()?, wanted))
    }

    /// The record that takes the place of this one, and others beside it: all of it in one look at
    /// the register, since there may be many records.
    ///
    /// # Errors
    /// The register's.
    pub fn around(
        &self,
        id: &str,
        wanted: &Wanted,
    ) -> Result<(Option<String>, Vec<RecordRow>), Trouble> {
        self.ask(|| {
            let mut all = self.all_found()?;
            let newer = amended(&all).remove(id);
            Ok((newer, self.listed_of(&mut all, wanted)?.0))
        })
    }

    fn listed_of(&self, all: &mut [Found], wanted: &Wanted) -> Tried<(Vec<RecordRow>, usize)> {
        let amended = amended(all);
        let mut chosen: Vec<&mut Found> = all.iter_mut().filter(|one| wanted.has(one)).collect();
        chosen.drain(..wanted.skip.min(chosen.len()));
        let more = chosen.len().saturating_sub(wanted.most.unwrap_or(usize::MAX));
        chosen.truncate(chosen.len() - more);
        let closely = chosen.len() <= CLOSELY;
        self.look_at_texts(chosen.iter_mut().map(|one| &mut **one), closely)?;
        let row = |one: &mut Found| {
            let row = if one.doubted { one.beside.doubted() } else { one.beside.row() };
            let amended_by = amended.get(&row.id).cloned();
            let damage = one.damage.take().or_else(|| self.capture_damage(&one.beside));
            RecordRow { amended_by, damage, ..row }
        };
        Ok((chosen.into_iter().map(row).collect(), more))
    }

    fn capture_damage(&self, beside: &Beside) -> Option<String> {
        beside.captures().into_iter().find_map(|(part, digest, bytes)| {
            let its = match part {
                None => "its capture".to_owned(),
                Some(word) => format!("its capture of the {}", title(&word)),
            };
            match plain::length(&captures::path(&self.place, &digest)) {
                Ok(Some(found)) if i64::try_from(found) == Ok(bytes) => None,
                Ok(Some(found)) => Some(format!("{its} has {found} bytes, not {bytes}")),
                Ok(None) => Some(format!("{its} has not all of its {bytes} bytes: it was cut")),
                Err(e) => Some(format!("{its} cannot be read: {e}")),
            }
        })
    }

    /// How many records there are.
    ///
    /// # Errors
    /// The register's.
    pub fn record_count(&self) -> Result<usize, Trouble> {
        Ok(self.ask(|| self.all_found())?.len())
    }

    /// One record by its identity, or by the beginning of it where that is enough. It is its text
    /// that is given; where something else stands beside it, that is said.
    ///
    /// # Errors
    /// Exit code 2 when there is none or more than one, 5 when it is damaged.
    pub fn record(&self, id: &str) -> Result<RecordV1, Trouble> {
        let one = self.look_up(id)?;
        let name = one.beside.id();
        let text = self.ask(|| self.document(one.number))?;
        let record = text.map_err(|fault| match &one.damage {
            Some(damage) if one.doubted => damaged(&name, damage),
            _ => damaged(&name, &fault),
        })?;
        let held = self.ask(|| self.held_against_text(&one))?;
        if let Err(fault) = held {
            out::notice(&format!(
                "Record {}: {fault}. The record itself is as it was signed off.",
                record.id
            ));
        }
        Ok(record)
    }

    /// The same for a record on which something is built: what stands beside its text must be what
    /// the text says.
    ///
    /// # Errors
    /// As [`Self::record`].
    pub fn whole_record(&self, id: &str) -> Result<RecordV1, Trouble> {
        let mut one = self.look_up(id)?;
        let fault = match self.whole(&mut one)? {
            Ok(record) => return Ok(record),
            Err(fault) => fault,
        };
        let id = one.beside.id();
        if self.ask(|| self.document(one.number))?.is_err() {
            return Err(damaged(&id, &fault));
        }
        Err(Trouble::new(
            exit::INPUT,
            format!("Record {}: {fault}.", out::scrub(&id, 40)),
            "The record itself is as it was signed off; what lists and searches go by was changed, \
             so nothing is built on it.",
            "Make a backup and restore it into another folder: that draws it from the text anew.",
        ))
    }

    fn whole(&self, one: &mut Found) -> Result<Result<RecordV1, String>, Trouble> {
        self.ask(|| {
            self.look_at_texts(std::iter::once(&mut *one), false)?;
            self.held_against_text(one)
        })
    }

    fn look_up(&self, id: &str) -> Result<Found, Trouble> {
        let id = id.trim().to_lowercase();
        if let Some(found) = self.found_at_once(&id) {
            return Ok(found);
        }
        let mut all = self.ask(|| self.all_found())?;
        all.retain(|one| one.beside.id().to_lowercase().starts_with(&id));
        match all.as_slice() {
            [] => Err(none(&id)),
            [one] => Ok(one.clone()),
            [first, second, ..] => match all.iter().find(|one| one.beside.id() == id) {
                Some(one) => Ok(one.clone()),
                None => Err(Trouble::new(
                    exit::USAGE,
                    format!("More than one record begins with \"{}\".", out::scrub(&id, 40)),
                    "None was chosen.",
                    format!("Give more of it: {} or {}.", first.beside.id(), second.beside.id()),
                )),
            },
        }
    }

    /// The last sound record of a rig for one sensor that no other record takes the place of. What
    /// is passed over for damage is said: it may hold the newer value.
    ///
    /// # Errors
    /// The register's.
    pub fn latest(&self, rig: &str, channel: &str) -> Result<Option<RecordV1>, Trouble> {
        let all = self.ask(|| self.all_found())?;
        let amended = amended(&all);
        for mut one in all {
            let id = one.beside.id();
            let wanted = one.beside.is_of(rig)
                && one.beside.is_measured(channel)
                && !amended.contains_key(&id);
            if !wanted && !one.doubted {
                continue;
            }
            let damage = match self.whole(&mut one)? {
                Ok(record) => match self.capture_damage(&one.beside) {
                    None => return Ok(Some(record)),
                    Some(damage) => damage,
                },
                Err(fault) => fault,
            };
            out::notice(&format!(
                "Record {} was passed over: {damage}. It may hold the newer value of this rig; \
                 look at it in the last backup, restored into another folder.",
                out::scrub(&id, 40)
            ));
        }
        Ok(None)
    }

    /// The record that takes the place of this one.
    ///
    /// # Errors
    /// The register's.
    pub fn amended_by(&self, id: &str) -> Result<Option<String>, Trouble> {
        Ok(amended(&self.ask(|| self.all_found())?).remove(id))
    }

    /// The rig in the register that a record belongs to.
    ///
    /// # Errors
    /// The register's.
    pub fn rig_of(&self, id: &str) -> Result<Option<i64>, Trouble> {
        Ok(self.look_up(id)?.rig)
    }

    /// The saved capture of a record's course, checked against its digest; `None` when it has no
    /// course.
    ///
    /// # Errors
    /// Exit code 5 when it is missing or damaged.
    pub fn capture_of(&self, record: &RecordV1) -> Result<Option<PathBuf>, Trouble> {
        let what = format!("The capture of record {}", record.id);
        record.capture.as_ref().map(|capture| self.saved(&what, capture)).transpose()
    }

    /// The saved capture of one of its parts, checked against its digest.
    ///
    /// # Errors
    /// As [`Self::capture_of`].
    pub fn capture_of_part(&self, record: &RecordV1, part: &PartV1) -> Result<PathBuf, Trouble> {
        let what = format!("The {} capture of record {}", part.method.title(), record.id);
        self.saved(&what, &part.capture)
    }

    fn saved(&self, what: &str, capture: &CaptureV1) -> Result<PathBuf, Trouble> {
        let path = captures::path(&self.place, &capture.sha256);
        let next = FROM_BACKUP;
        let means = "The record itself is as it was signed off, but cannot be recalculated.";
        if !path.exists() {
            return Err(Trouble::new(exit::INPUT, format!("{what} is missing."), means, next));
        }
        let why = match plain::name(&path) {
            Ok(found) if found.sha256 == capture.sha256 => return Ok(path),
            Ok(_) => format!("{}.", path.display()),
            // That nothing of it can be read is damage too.
            Err(trouble) if trouble.code == exit::INPUT => trouble.what,
            Err(trouble) => return Err(trouble),
        };
        let what = format!("{what} is damaged: {why}");
        Err(Trouble::new(exit::INPUT, what, means, next))
    }
}

/// Write one record's row, with what stands beside its text; under this key, or the next one.
///
/// # Errors
/// SQLite's; a record whose result holds no value is a conversion failure.
pub fn insert(
    db: &Connection,
    record: &RecordV1,
    rig: Option<i64>,
    number: Option<i64>,
) -> rusqlite::Result<()> {
    let beside = Beside::of(record)
        .map_err(|fault| rusqlite::Error::ToSqlConversionFailure(Box::new(fault)))?;
    let json = record.to_json();
    let key = |key: Option<i64>| key.map_or(Cell::Null, Cell::Integer);
    let (rig, number) = (key(rig), key(number));
    let seal = Cell::Integer(beside.seal(&rig, json.as_bytes()));
    let text = Cell::Text(json.into_bytes());
    let values: Vec<&Cell> = beside.0.iter().chain([&rig, &seal, &text, &number]).collect();
    let places = vec!["?"; values.len()].join(", ");
    let columns = COLUMNS.join(", ");
    let sql = format!("INSERT INTO record ({columns}, rig, crc, json, number) VALUES ({places})");
    db.execute(&sql, rusqlite::params_from_iter(values)).map(drop)
}

/// What to do about a record that cannot be relied on: a backup is never restored over a register.
pub const FROM_BACKUP: &str = "Restore the last backup into another folder and use the record \
                               there: trundle --data FOLDER restore FILE.";

fn none(id: &str) -> Trouble {
    let id = out::scrub(id, 40);
    let what = format!("There is no record {id}.");
    Trouble::new(exit::USAGE, what, "Nothing was done.", "See all with `trundle record list`.")
}

fn damaged(id: &str, fault: &dyn std::fmt::Display) -> Trouble {
    Trouble::new(
        exit::INPUT,
        format!("Record {} is damaged: {fault}.", out::scrub(id, 40)),
        "It is not what was signed off and must not be relied on. Every other record is untouched.",
        FROM_BACKUP,
    )
}
