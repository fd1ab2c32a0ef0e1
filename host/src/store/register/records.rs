//! Signed-off records: saved, listed, searched, never changed.

use super::Register;
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use crate::store::captures;
use rusqlite::types::FromSql;
use rusqlite::{OptionalExtension as _, Row, params};
use std::path::{Path, PathBuf};
use trundle_core::result::record_v1::{RecordFault, RecordV1};
use trundle_core::result::records_v1::RecordRow;
use trundle_core::result::work_v1::ChannelV1;

/// Which records are wanted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Those of this rig.
    pub rig: Option<String>,
    /// Those with all of these words somewhere.
    pub words: Vec<String>,
    /// At most so many, the newest.
    pub most: Option<usize>,
}

/// A record that was kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// Identity of the record.
    pub id: String,
    /// Where its capture is.
    pub capture: PathBuf,
}

impl Register {
    /// Keep a record and its capture. When this returns, both are on the disk.
    ///
    /// The capture goes first, under the name of its digest: a record is never there without it.
    ///
    /// # Errors
    /// Exit code 2 when the record is there already or names no record to amend, 6 when it cannot
    /// be written.
    pub fn keep(&self, record: &RecordV1, rig: i64, capture: &Path) -> Result<Kept, Trouble> {
        let kept = captures::keep(&self.place, capture, &record.capture)?;
        let worked = record.worked().map_err(|e| Trouble::internal(e.to_string()))?;
        let value = worked.channels.get(&record.channel).and_then(ChannelV1::best);
        let value = value.ok_or_else(|| Trouble::internal("a record without its value"))?;
        let json = record.to_json();
        self.at_once(false, |_| {
            self.may_amend(record)?;
            self.db.execute(
                "INSERT INTO record (id, issued_utc, rig, rig_name, channel, to_enter, value, \
                 expanded_uncertainty, state, practice, amends, capture_sha256, capture_bytes, \
                 words, crc, json) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, \
                 ?13, ?14, ?15, ?16)",
                params![
                    record.id,
                    record.issued_utc,
                    rig,
                    record.rig.rig.name,
                    record.channel,
                    record.to_enter,
                    value.impulses_per_100m,
                    value.expanded_uncertainty,
                    worked.state,
                    record.practice,
                    record.amends.as_ref().map(|amends| &amends.id),
                    record.capture.sha256,
                    i64::try_from(record.capture.bytes).unwrap_or(i64::MAX),
                    words(record),
                    checksum(&json),
                    json,
                ],
            )?;
            Ok(())
        })?;
        Ok(Kept { id: record.id.clone(), capture: kept })
    }

    fn may_amend(&self, record: &RecordV1) -> Result<(), Trouble> {
        let Some(amends) = &record.amends else { return Ok(()) };
        let Some(old) = self.list_records(&Wanted::default(), Some(&amends.id))?.pop() else {
            return Err(none(&amends.id));
        };
        match old.amended_by {
            None => Ok(()),
            Some(newer) => Err(Trouble::new(
                exit::USAGE,
                format!("Record {} was amended already, by {newer}.", old.id),
                "Nothing was signed off.",
                format!("Amend the newer one: `trundle record amend {newer}`."),
            )),
        }
    }

    /// Records, the newest first. Each is checked as far as that is quick: its text by a checksum,
    /// its capture by its length. Whether it is what was signed off is shown where it is shown.
    ///
    /// # Errors
    /// The register's.
    pub fn records(&self, wanted: &Wanted) -> Result<Vec<RecordRow>, Trouble> {
        self.list_records(wanted, None)
    }

    fn list_records(&self, wanted: &Wanted, id: Option<&str>) -> Result<Vec<RecordRow>, Trouble> {
        let mut sql = "SELECT r.id, r.issued_utc, r.rig_name, r.channel, r.to_enter, \
                       r.expanded_uncertainty, r.state, r.practice, r.amends, \
                       (SELECT n.id FROM record n WHERE n.amends = r.id), \
                       r.json, r.capture_sha256, r.capture_bytes, r.crc FROM record r"
            .to_owned();
        let values = narrowed(wanted, id, &mut sql);
        sql.push_str(" ORDER BY r.issued_utc DESC, r.number DESC");
        if let Some(most) = wanted.most {
            sql.push_str(&format!(" LIMIT {most}"));
        }
        let values = rusqlite::params_from_iter(values);
        self.ask(|| Ok(self.all(&sql, values, |row| self.listed(row))?))
    }

    fn listed(&self, row: &Row<'_>) -> rusqlite::Result<RecordRow> {
        let (id, json): (String, String) = (row.get(0)?, row.get(10)?);
        let (digest, bytes): (String, i64) = (row.get(11)?, row.get(12)?);
        let capture = captures::path(&self.place, &digest);
        let kept: i64 = row.get(13)?;
        let decayed =
            || (checksum(&json) != kept).then(|| "its text is not what was written".to_owned());
        let whole = || match std::fs::metadata(&capture) {
            Ok(found) if i64::try_from(found.len()) == Ok(bytes) => None,
            Ok(found) => Some(format!("its capture has {} bytes, not {bytes}", found.len())),
            Err(e) => Some(format!("its capture cannot be read: {e}")),
        };
        Ok(RecordRow {
            id,
            issued_utc: row.get(1)?,
            rig: row.get(2)?,
            channel: row.get(3)?,
            to_enter: row.get(4)?,
            expanded_uncertainty: row.get(5)?,
            state: row.get(6)?,
            practice: row.get(7)?,
            amends: row.get(8)?,
            amended_by: row.get(9)?,
            damage: decayed().or_else(whole),
        })
    }

    /// How many records there are.
    ///
    /// # Errors
    /// The register's.
    pub fn record_count(&self, wanted: &Wanted) -> Result<usize, Trouble> {
        let mut sql = "SELECT count(*) FROM record r".to_owned();
        let values = rusqlite::params_from_iter(narrowed(wanted, None, &mut sql));
        let count: i64 = self.ask(|| Ok(self.db.query_row(&sql, values, |row| row.get(0))?))?;
        Ok(usize::try_from(count).unwrap_or(0))
    }

    /// One record by its identity, or by the beginning of it where that is enough.
    ///
    /// # Errors
    /// Exit code 2 when there is none or more than one, 5 when it is damaged.
    pub fn record(&self, id: &str) -> Result<RecordV1, Trouble> {
        let id = id.trim().to_lowercase();
        let sql = "SELECT id, json FROM record WHERE substr(id, 1, length(?1)) = ?1 \
                   ORDER BY id LIMIT 3";
        let read = |row: &Row<'_>| Ok((row.get(0)?, row.get(1)?));
        let found: Vec<(String, String)> = self.ask(|| Ok(self.all(sql, [&id], read)?))?;
        match found.as_slice() {
            [] => Err(none(&id)),
            [one, ..] if found.len() == 1 || one.0 == id => {
                RecordV1::from_json(&one.1).map_err(|fault| damaged(&one.0, &fault))
            }
            several => Err(Trouble::new(
                exit::USAGE,
                format!("More than one record begins with \"{id}\"."),
                "None was chosen.",
                format!("Give more of it: {} or {}.", several[0].0, several[1].0),
            )),
        }
    }

    /// The last sound record of a rig for one sensor that no other record takes the place of.
    ///
    /// # Errors
    /// The register's.
    pub fn latest(&self, rig: &str, channel: &str) -> Result<Option<RecordV1>, Trouble> {
        let wanted = Wanted { rig: Some(rig.to_owned()), ..Wanted::default() };
        let listed = self.records(&wanted)?.into_iter().find(|one| {
            one.channel == channel
                && one.amended_by.is_none()
                && !one.practice
                && one.damage.is_none()
        });
        listed.map(|one| self.record(&one.id)).transpose()
    }

    /// The record that takes the place of this one.
    ///
    /// # Errors
    /// The register's.
    pub fn amended_by(&self, id: &str) -> Result<Option<String>, Trouble> {
        self.one("SELECT id FROM record WHERE amends = ?1", id)
    }

    /// The rig in the register that a record belongs to.
    ///
    /// # Errors
    /// The register's.
    pub fn rig_of(&self, id: &str) -> Result<Option<i64>, Trouble> {
        Ok(self.one("SELECT rig FROM record WHERE id = ?1", id)?.flatten())
    }

    /// The one value that `sql` finds for a record.
    fn one<T: FromSql>(&self, sql: &str, id: &str) -> Result<Option<T>, Trouble> {
        self.ask(|| Ok(self.db.query_row(sql, [id], |row| row.get(0)).optional()?))
    }

    /// The saved capture of a record, checked against its digest.
    ///
    /// # Errors
    /// Exit code 5 when it is missing or damaged.
    pub fn capture_of(&self, record: &RecordV1) -> Result<PathBuf, Trouble> {
        let path = captures::path(&self.place, &record.capture.sha256);
        let next = "Restore it from a backup; every other record is untouched.";
        let means = "The record itself is as it was signed off, but cannot be recalculated.";
        if !path.exists() {
            let what = format!("The capture of record {} is missing.", record.id);
            return Err(Trouble::new(exit::INPUT, what, means, next));
        }
        if files::digest(&path)? == record.capture.sha256 {
            return Ok(path);
        }
        let what = format!("The capture of record {} is damaged: {}.", record.id, path.display());
        Err(Trouble::new(exit::INPUT, what, means, next))
    }
}

/// Narrow a question about records `r` to those that are wanted; gives the values to bind.
fn narrowed(wanted: &Wanted, id: Option<&str>, sql: &mut String) -> Vec<String> {
    let rig = wanted.rig.iter().map(|rig| ("r.rig_name = ?", rig.clone()));
    let id = id.map(|id| ("r.id = ?", id.to_owned()));
    let words = wanted.words.iter().map(|word| ("instr(r.words, ?) > 0", word.to_lowercase()));
    let (conditions, values): (Vec<&str>, Vec<String>) = rig.chain(id).chain(words).unzip();
    if !conditions.is_empty() {
        sql.push_str(&format!(" WHERE {}", conditions.join(" AND ")));
    }
    values
}

/// CRC-32C of a record's text, as in captures.
fn checksum(json: &str) -> i64 {
    i64::from(trundle_protocol::crc::crc32c(json.as_bytes()))
}

fn none(id: &str) -> Trouble {
    let id = crate::shell::out::scrub(id, 40);
    let what = format!("There is no record {id}.");
    Trouble::new(exit::USAGE, what, "Nothing was done.", "See all with `trundle record list`.")
}

fn damaged(id: &str, fault: &RecordFault) -> Trouble {
    Trouble::new(
        exit::INPUT,
        format!("Record {id} is damaged: {fault}."),
        "It is not what was signed off and must not be relied on. Every other record is untouched.",
        "Restore it from a backup with `trundle restore`.",
    )
}

/// What a search looks in: names, places, remarks, values, identity.
fn words(record: &RecordV1) -> String {
    let mut words = vec![record.id.clone(), record.channel.clone(), record.to_enter.to_string()];
    for (_, thing, entry) in record.rig.parts() {
        let Some(entry) = entry else { continue };
        words.push(entry.name.clone());
        let shown = entry
            .values
            .iter()
            .filter_map(|(key, value)| thing.field(key).map(|field| field.show(value)));
        words.extend(shown);
    }
    let texts =
        [&record.place, &record.remark, &record.conditions.surface, &record.conditions.load];
    words.extend(texts.into_iter().flatten().cloned());
    words.extend(record.amends.iter().map(|amends| amends.reason.clone()));
    words.join("\n").to_lowercase()
}
