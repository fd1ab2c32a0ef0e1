//! Records as they lie in the register: believed where their checksum holds, else drawn anew from
//! their texts, else named as damaged.

use super::beside::{Beside, COLUMNS};
use super::cell::Cell;
use super::scan::{Table, is_damage};
use super::things::typed;
use super::{Fault, Register, Tried};
use rusqlite::{Connection, OptionalExtension as _, ToSql};
use std::collections::{BTreeMap, BTreeSet};
use trundle_core::result::record_v1::{RecordFault, RecordV1};
use trundle_protocol::crc::crc32c;

/// The text of one record by its key.
const TEXT: &str = "SELECT json FROM record NOT INDEXED WHERE number = ?1";
/// What is said of a record whose text is not what its checksum asks for.
const NOT_WRITTEN: &str = "its text is not what was written";
/// What stands in place of a name that cannot be read.
const NAMELESS: &str = "unreadable";
/// All that is read of a record but its text.
pub(super) const READ: [&str; COLUMNS.len() + 2] = {
    let mut all = ["rig"; COLUMNS.len() + 2];
    let mut at = 0;
    while at < COLUMNS.len() {
        all[at] = COLUMNS[at];
        at += 1;
    }
    all[COLUMNS.len() + 1] = "crc";
    all
};

/// One record.
#[derive(Clone, Debug)]
pub(super) struct Found {
    /// Its key.
    pub number: i64,
    /// What stands beside its text; from the text itself where that is all that can be believed.
    pub beside: Beside,
    /// Key of its rig, where that can be believed.
    pub rig: Option<i64>,
    /// CRC-32C that its text must have.
    pub text_sum: Option<u32>,
    /// What is wrong with it, as far as that was looked for.
    pub damage: Option<String>,
    /// Neither text nor columns can be believed: it may be any record.
    pub doubted: bool,
}

impl Found {
    /// From the cells of [`READ`].
    pub fn of(number: i64, mut cells: Vec<Cell>) -> Self {
        let seal = cells.pop().and_then(|cell| cell.integer());
        let rig = cells.pop().unwrap_or(Cell::Null);
        let beside = Beside(cells);
        let [a, b, c, d, text @ ..] = seal.unwrap_or_default().to_be_bytes();
        let holds = seal.is_some() && beside.sum(&rig) == u32::from_be_bytes([a, b, c, d]);
        Self {
            number,
            beside,
            rig: rig.integer().filter(|_| holds),
            text_sum: holds.then(|| u32::from_be_bytes(text)),
            damage: (!holds).then(|| "what stands beside its text is damaged".to_owned()),
            doubted: !holds,
        }
    }

    fn lost(number: i64, id: &str, damage: &str) -> Self {
        Self {
            number,
            beside: Beside::only(id),
            rig: None,
            text_sum: None,
            damage: Some(damage.to_owned()),
            doubted: true,
        }
    }
}

impl Register {
    /// All records, the newest first; those that cannot be told apart from any other come before.
    pub(super) fn all_found(&self) -> Tried<Vec<Found>> {
        let table = Table { name: "record", key: "number", columns: &READ };
        let mut all = Vec::new();
        let damage = table.walk(&self.db, |number, cells| {
            all.push(Found::of(number, cells));
            Ok::<_, Fault>(())
        })?;
        for one in all.iter_mut().filter(|one| one.doubted) {
            self.draw_anew(one)?;
        }
        if let Some(damage) = damage {
            all.extend(self.lost(&all, &damage)?);
        }
        let newest = |one: &Found| (one.doubted, one.beside.issued(), one.number);
        all.sort_by_cached_key(|one| std::cmp::Reverse(newest(one)));
        Ok(all)
    }

    /// One by its whole name, without looking at the others.
    pub(super) fn found_at_once(&self, id: &str) -> Option<Found> {
        self.found_where("id = ?1", id).filter(|one| !one.doubted && one.beside.id() == id)
    }

    /// One by its key or name, if that can be read.
    fn found_where(&self, condition: &str, value: impl ToSql) -> Option<Found> {
        let columns = READ.join(", ");
        let sql = format!("SELECT number, {columns} FROM record WHERE {condition}");
        let read = |row: &rusqlite::Row<'_>| {
            let cells: rusqlite::Result<_> = (1..=READ.len()).map(|at| Cell::at(row, at)).collect();
            Ok(Found::of(row.get(0)?, cells?))
        };
        // Where this fails, looking at all of them says why.
        self.db.query_row(&sql, [value], read).optional().ok().flatten()
    }

    /// What stands beside a text was changed: the text says what belongs there, if it is sound.
    fn draw_anew(&self, one: &mut Found) -> Tried<()> {
        let sound = self.document(one.number)?.and_then(|record| Beside::of(&record));
        match sound {
            Ok(beside) => {
                one.damage = Some(unlike(&beside.unlike(&one.beside)));
                one.beside = beside;
                one.doubted = false;
            }
            Err(fault) => one.damage = Some(fault.to_string()),
        }
        Ok(())
    }

    /// Records on damaged pages. Their names may stand in the index all the same.
    fn lost(&self, there: &[Found], damage: &str) -> Tried<Vec<Found>> {
        let there: BTreeSet<i64> = there.iter().map(|one| one.number).collect();
        let mut lost = Vec::new();
        for (number, id) in names(&self.db)?.into_iter().filter(|(key, _)| !there.contains(key)) {
            let found = self.found_where("number = ?1", number).filter(|found| !found.doubted);
            lost.push(found.unwrap_or_else(|| Found::lost(number, &id, damage)));
        }
        if lost.is_empty() {
            let damage = format!("{damage}; how many records that costs cannot be read either");
            lost.push(Found::lost(0, NAMELESS, &damage));
        }
        Ok(lost)
    }

    /// The text of a record, if it is what was signed off.
    pub(super) fn document(&self, number: i64) -> Tried<Result<RecordV1, RecordFault>> {
        let unreadable = |what: String| Err(RecordFault::Unreadable(what));
        let record = match self.text(number) {
            Ok(text) => text
                .text()
                .map_or_else(|| unreadable("it is no text".to_owned()), RecordV1::from_json),
            Err(error) if is_damage(&error) => unreadable(error.to_string()),
            Err(error) => return Err(error.into()),
        };
        let parts = record.iter().flat_map(|record| record.rig.parts());
        parts.filter_map(|(_, _, entry)| entry).for_each(typed);
        Ok(record)
    }

    fn text(&self, number: i64) -> rusqlite::Result<Cell> {
        self.db.query_row(TEXT, [number], |row| Cell::at(row, 0))
    }

    /// What is wrong with the texts of these, by a checksum; with `closely`, also by reading them
    /// and comparing what stands beside them.
    pub(super) fn look_at_texts<'a>(
        &self,
        all: impl Iterator<Item = &'a mut Found>,
        closely: bool,
    ) -> Tried<()> {
        let mut asked = self.db.prepare(TEXT)?;
        for one in all.filter(|one| one.damage.is_none()) {
            let sum = asked
                .query_row([one.number], |row| Ok(row.get_ref(0)?.as_bytes().map(crc32c).ok()));
            one.damage = match sum {
                Ok(sum) if sum == one.text_sum => None,
                Ok(_) => Some(NOT_WRITTEN.to_owned()),
                Err(error) if is_damage(&error) => {
                    Some(format!("its text cannot be read: {error}"))
                }
                Err(error) => return Err(error.into()),
            };
            if one.damage.is_none() && closely {
                one.damage = self.held_against_text(one)?.err();
            }
        }
        Ok(())
    }

    /// The record, if its text is sound and everything beside it is what the text says.
    pub(super) fn held_against_text(&self, one: &Found) -> Tried<Result<RecordV1, String>> {
        if let Some(damage) = &one.damage {
            return Ok(Err(damage.clone()));
        }
        let held = |record: RecordV1| {
            let drawn = Beside::of(&record).map_err(|fault| fault.to_string())?;
            let other = drawn.unlike_in_values(&one.beside);
            if other.is_empty() { Ok(record) } else { Err(unlike(&other)) }
        };
        Ok(self.document(one.number)?.map_err(|fault| fault.to_string()).and_then(held))
    }
}

/// Keys and names of records as the index of names has them, as far as that can be read.
pub(super) fn names(db: &Connection) -> rusqlite::Result<Vec<(i64, String)>> {
    let sql = "SELECT number, id FROM record INDEXED BY sqlite_autoindex_record_1 ORDER BY id";
    let mut all = Vec::new();
    let mut look = || -> rusqlite::Result<()> {
        let mut asked = db.prepare(sql)?;
        let mut answer = asked.query(())?;
        while let Some(row) = answer.next()? {
            all.push((row.get(0)?, Cell::at(row, 1)?.readable()));
        }
        Ok(())
    };
    match look() {
        Err(error) if !is_damage(&error) => Err(error),
        _ => Ok(all),
    }
}

/// The records that others take the place of, and by which.
pub(super) fn amended(all: &[Found]) -> BTreeMap<String, String> {
    all.iter().filter_map(|one| Some((one.beside.amends()?, one.beside.id()))).collect()
}

/// In words, that these columns are not as the text says.
pub(super) fn unlike(columns: &[&str]) -> String {
    if columns.is_empty() {
        return "its checksum, or the key of its rig, is not what was written".to_owned();
    }
    format!("beside its text stands something else under {}", columns.join(", "))
}
