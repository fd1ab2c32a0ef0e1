//! What stands beside a record's text: drawn from it, for lists and searches, and never believed
//! against it.

use super::cell::Cell;
use trundle_core::result::as_left;
use trundle_core::result::part_v1::PartV1;
use trundle_core::result::record_v1::{CaptureV1, RecordFault, RecordV1};
use trundle_core::result::records_v1::{DAMAGED, RecordRow};
use trundle_core::rig::conditions::CONDITIONS;
use trundle_protocol::crc::crc32c;
use trundle_show::tongue::stays_as_typed;

/// The columns, without the record's own key, the rig's key, checksum and text.
pub(super) const COLUMNS: [&str; 14] = [
    "id",
    "issued_utc",
    "rig_name",
    "channel",
    "to_enter",
    "value",
    "expanded_uncertainty",
    "state",
    "practice",
    "amends",
    "capture_sha256",
    "capture_bytes",
    "parts",
    "words",
];
const ID: usize = 0;
const ISSUED: usize = 1;
const RIG: usize = 2;
const CHANNEL: usize = 3;
const TO_ENTER: usize = 4;
const UNCERTAINTY: usize = 6;
const STATE: usize = 7;
const PRACTICE: usize = 8;
const AMENDS: usize = 9;
const DIGEST: usize = 10;
const BYTES: usize = 11;
const PARTS: usize = 12;
const WORDS: usize = 13;
/// Word of the part that measures the value left in the terminal.
const PROOF: &str = "proof";

/// The values of [`COLUMNS`] of one record.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Beside(pub Vec<Cell>);

impl Beside {
    /// As the record asks for.
    ///
    /// # Errors
    /// [`RecordFault`] when a result cannot be read, or that of its course holds no value.
    pub fn of(record: &RecordV1) -> Result<Self, RecordFault> {
        let worked = record.worked()?;
        let none = || RecordFault::Unreadable("it holds no value".to_owned());
        let value =
            worked.as_ref().map(|work| record.best_of(work).ok_or_else(none)).transpose()?;
        record.parts.iter().try_for_each(|part| part.read().map(drop))?;
        let real = |value: Option<f64>| value.map_or(Cell::Null, Cell::Real);
        let capture = record.capture.as_ref();
        Ok(Self(vec![
            text(&record.id),
            text(&record.issued_utc),
            text(&record.rig.rig.name),
            record.channel.as_deref().map_or(Cell::Null, text),
            record.to_enter.map_or(Cell::Null, Cell::Integer),
            real(value.map(|value| value.impulses_per_100m)),
            real(value.map(|value| value.expanded_uncertainty)),
            text(record.state(worked.as_ref())),
            Cell::Integer(i64::from(record.practice)),
            record.amends.as_ref().map_or(Cell::Null, |amends| text(&amends.id)),
            capture.map_or(Cell::Null, |capture| text(&capture.sha256)),
            capture.map_or(Cell::Null, |capture| Cell::Integer(length(capture))),
            text(&parts(record)),
            text(&words(record)),
        ]))
    }

    /// Of a record of which nothing but its name is known.
    pub fn only(id: &str) -> Self {
        let mut cells = vec![Cell::Null; COLUMNS.len()];
        cells[ID] = Cell::Text(id.as_bytes().to_owned());
        Self(cells)
    }

    /// CRC-32C of these columns and the key of the rig.
    pub fn sum(&self, rig: &Cell) -> u32 {
        let mut bytes = Vec::new();
        for cell in std::iter::once(rig).chain(&self.0) {
            cell.spelled(&mut bytes);
        }
        crc32c(&bytes)
    }

    /// The checksum of a record: that of its columns in the upper half, of its text in the lower.
    pub fn seal(&self, rig: &Cell, text: &[u8]) -> i64 {
        i64::from(self.sum(rig)) << 32 | i64::from(crc32c(text))
    }

    /// Names of the columns that are otherwise in `other`.
    pub fn unlike(&self, other: &Self) -> Vec<&'static str> {
        let both = self.0.iter().zip(&other.0).zip(COLUMNS);
        both.filter(|((a, b), _)| a != b).map(|(_, name)| name).collect()
    }

    /// The same, but for what a search looks in: how a value is spelled there may change from one
    /// version of the program to the next.
    pub fn unlike_in_values(&self, other: &Self) -> Vec<&'static str> {
        let mut unlike = self.unlike(other);
        unlike.retain(|name| *name != COLUMNS[WORDS]);
        unlike
    }

    fn readable(&self, at: usize) -> String {
        self.0.get(at).map(Cell::readable).unwrap_or_default()
    }

    fn number(&self, at: usize) -> i64 {
        self.0.get(at).and_then(Cell::integer).unwrap_or(0)
    }

    pub fn id(&self) -> String {
        self.readable(ID)
    }

    pub fn issued(&self) -> String {
        self.readable(ISSUED)
    }

    pub fn is_of(&self, rig: &str) -> bool {
        self.readable(RIG).eq_ignore_ascii_case(rig)
    }

    pub fn is_measured(&self, channel: &str) -> bool {
        self.readable(CHANNEL) == channel && self.number(PRACTICE) == 0
    }

    /// Has it this word, in lower case, somewhere?
    pub fn has(&self, word: &str) -> bool {
        match self.0.get(WORDS) {
            Some(Cell::Text(words)) => String::from_utf8_lossy(words).contains(word),
            _ => false,
        }
    }

    pub fn amends(&self) -> Option<String> {
        self.0.get(AMENDS).filter(|cell| **cell != Cell::Null).map(Cell::readable)
    }

    /// Digests and lengths of its captures, each with the word of its part; none for its course.
    pub fn captures(&self) -> Vec<(Option<String>, String, i64)> {
        let course = self.0.get(DIGEST).filter(|cell| **cell != Cell::Null);
        let course = course.map(|digest| (None, digest.readable(), self.number(BYTES)));
        let column = self.readable(PARTS);
        let parts = part_captures(&column);
        let parts = parts.map(|(word, digest, bytes)| (Some(word), digest, bytes));
        course.into_iter().chain(parts).collect()
    }

    /// As a line of a list.
    pub fn row(&self) -> RecordRow {
        RecordRow {
            id: self.id(),
            issued_utc: self.issued(),
            rig: self.rig(),
            channel: self.readable(CHANNEL),
            to_enter: self.0.get(TO_ENTER).and_then(Cell::integer),
            expanded_uncertainty: self.0.get(UNCERTAINTY).and_then(Cell::real),
            parts: part_captures(&self.readable(PARTS)).map(|part| part.0).collect(),
            as_left_measured: as_left_measured(&self.readable(PARTS)),
            state: self.readable(STATE),
            practice: self.number(PRACTICE) != 0,
            amends: self.amends(),
            amended_by: None,
            damage: None,
        }
    }

    /// As a line of a list where nothing of it can be believed: no value, no state.
    pub fn doubted(&self) -> RecordRow {
        let doubted = Self::only(&self.id()).row();
        RecordRow { state: DAMAGED.to_owned(), rig: self.rig(), ..doubted }
    }

    /// Name of the rig, which somebody typed.
    fn rig(&self) -> String {
        let name = self.readable(RIG);
        stays_as_typed(&name);
        name
    }
}

fn text(text: &str) -> Cell {
    Cell::Text(text.as_bytes().to_owned())
}

fn length(capture: &CaptureV1) -> i64 {
    i64::try_from(capture.bytes).unwrap_or(i64::MAX)
}

/// The parts as they stand in their column; the proof drive with what it found.
fn parts(record: &RecordV1) -> String {
    let line = |part: &PartV1| {
        let (word, capture) = (part.method.word(), &part.capture);
        let found = if word == PROOF { as_left::measured(record) } else { None };
        let found = found.map_or_else(String::new, |found| format!(" {found}"));
        format!("{word} {} {}{found}\n", capture.sha256, length(capture))
    };
    record.parts.iter().map(line).collect()
}

/// What the proof drive found, from that column.
fn as_left_measured(column: &str) -> Option<String> {
    let mut proofs = column.lines().filter_map(|line| line.strip_prefix(PROOF)?.strip_prefix(' '));
    proofs.next()?.split(' ').nth(2).map(str::to_owned)
}

/// Word of the part, digest and length of its capture, from that column.
pub(in crate::store) fn part_captures(column: &str) -> impl Iterator<Item = (String, String, i64)> {
    column.lines().filter_map(|line| {
        let mut fields = line.split(' ').map(str::to_owned);
        let (word, digest) = (fields.next()?, fields.next()?);
        Some((word, digest, fields.next()?.parse().ok()?))
    })
}

/// What a search looks in: names, places, remarks, values, parts, identity.
fn words(record: &RecordV1) -> String {
    let mut words = vec![record.id.clone()];
    words.extend(record.channel.clone());
    words.extend(record.to_enter.map(|value| value.to_string()));
    words.extend(record.parts.iter().map(|part| part.method.title().to_owned()));
    for (_, thing, entry) in record.rig.parts() {
        let Some(entry) = entry else { continue };
        words.push(entry.name.clone());
        let shown = entry
            .values
            .iter()
            .filter_map(|(key, value)| thing.field(key).map(|field| field.show(value)));
        words.extend(shown);
    }
    words.extend(CONDITIONS.iter().filter_map(|field| record.conditions.shown(field)));
    words.extend([&record.place, &record.remark].into_iter().flatten().cloned());
    words.extend(record.amends.iter().map(|amends| amends.reason.clone()));
    words.join("\n").to_lowercase()
}
