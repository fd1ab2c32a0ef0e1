//! `trundle-record`, version 1: what was signed off, as one JSON object that never changes.
//!
//! The schema stands in `host/schemas/trundle-record-1.schema.json`. Fields are only ever added.
//! A record holds a whole visit: a measured course, and what else was measured as its parts
//! ([`super::part_v1`]); either may be missing, not both.
//! The worked result stands inside as the very bytes that `trundle work --json` gives
//! ([`super::work_v1`]), so that working the capture again can be compared byte by byte.
//!
//! The identity of a record is made of its day and its content ([`RecordV1::seal`]): a record
//! whose content was changed no longer fits its name. Contents follow ISO/IEC 17025:2017, 7.8.2
//! and 7.8.4, without claiming accreditation.

use super::document::to_text;
use super::part_v1::PartV1;
use super::work_v1::{ChannelV1, FigureV1, WorkV1};
use crate::rig::Snapshot;
use crate::rig::conditions::Conditions;
use crate::units::hex;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use sha2::{Digest, Sha256};

/// The word in the `format` field.
pub const FORMAT: &str = "trundle-record";
/// The version that is written.
pub const VERSION: u32 = 1;
/// Hexadecimal digits of the content in an identity: with 10,000 records a chance of 1 in 20,000
/// that any two of them share it; the register refuses the second.
const ID_DIGITS: usize = 10;

/// One job that was signed off.
///
/// [`RecordV1::course`] has everything of the course together: all of it is there, or nothing.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct RecordV1 {
    /// Format word, always [`FORMAT`].
    pub format: String,
    /// Format version, always [`VERSION`].
    pub version: u32,
    /// `YYYYMMDD-` and the first digits of the content's digest; see [`RecordV1::seal`].
    pub id: String,
    /// When it was signed off, RFC 3339, UTC.
    pub issued_utc: String,
    /// Version of the program that signed it off.
    pub software: String,
    /// The capture came from the simulator: nothing was measured.
    pub practice: bool,
    /// The record that this one takes the place of.
    pub amends: Option<AmendsV1>,
    /// The rig and all that it names, as they stood.
    pub rig: Snapshot,
    /// Where it was, in words.
    pub place: Option<String>,
    /// The conditions it was measured under, as far as they were said.
    pub conditions: Conditions,
    /// Keys of what the customer stated and nobody checked, such as `rig.tyres.inflation`.
    pub stated_by_customer: Vec<String>,
    /// How the course was worked; left out, as all of the course, when none is in the record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub method: Option<MethodV1>,
    /// The log of the course.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capture: Option<CaptureV1>,
    /// The sensor whose value the implement goes by: `wheel` or `radar`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub channel: Option<String>,
    /// Value found in the terminal before.
    pub as_found: Option<f64>,
    /// Value to enter, impulses per 100 m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_enter: Option<i64>,
    /// Value left in the terminal, as it was read there after entering.
    pub as_left: Option<f64>,
    /// Why it was signed off although it is flagged.
    pub accepted_because: Option<String>,
    /// What speaks against the date and time it was signed off at; left out when nothing does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock: Option<String>,
    /// Opinion or remark of the operator.
    pub remark: Option<String>,
    /// The result of the course, byte for byte as `trundle work --json` gave it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub work: Option<Box<RawValue>>,
    /// What else was measured on the visit, each kind once; left out when it was the course alone.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<PartV1>,
}

/// What a record holds of a course.
#[derive(Clone, Copy, Debug)]
pub struct CourseOf<'a> {
    /// How it was worked.
    pub method: &'a MethodV1,
    /// The log behind it.
    pub capture: &'a CaptureV1,
    /// The sensor that was signed off.
    pub channel: &'a str,
    /// Value to enter, impulses per 100 m.
    pub to_enter: i64,
    /// The result as it stands in the record.
    pub work: &'a RawValue,
}

/// The record that is amended, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct AmendsV1 {
    /// The identity of the record.
    pub id: String,
    /// What was wrong or has changed.
    pub reason: String,
}

/// How it was worked; enough to do it again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MethodV1 {
    /// Name of the method, `measured-course`.
    pub name: String,
    /// Version of the method, which changes when values of the same capture would.
    pub version: u32,
    /// The course given at sign-off, as TOML; without one the capture's own is used.
    pub course_toml: Option<String>,
    /// Rate the implement was set to, litres per hectare.
    pub rate_l_per_ha: Option<f64>,
    /// Impulses of one turn of the wheel.
    pub impulses_per_turn: Option<f64>,
    /// Rolling circumference by the tyre's data, metres.
    pub circumference_m: Option<f64>,
}

/// The log behind a record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CaptureV1 {
    /// Name of the file that was signed off.
    pub name: String,
    /// SHA-256 (FIPS 180-4), hexadecimal: also its name among the kept captures.
    pub sha256: String,
    /// Length of the file, bytes.
    pub bytes: u64,
    /// When it began, RFC 3339, UTC; empty when the capture does not show.
    pub started_utc: String,
}

/// Why stored bytes are no sound record.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RecordFault {
    /// Not JSON of this kind.
    #[error("the record cannot be read: {0}")]
    Unreadable(String),
    /// Written by a later version.
    #[error(
        "the record is of version {0}, which this program does not know; use the program that \
         wrote it, or a newer one"
    )]
    Newer(u32),
    /// The content does not fit its identity.
    #[error("the content of record {found} is not what was signed off: it would be {expected}")]
    Changed {
        /// As it stands in the record.
        found: String,
        /// As the content asks for.
        expected: String,
    },
}

impl RecordV1 {
    /// Give the record its identity, from its day and everything else in it.
    #[must_use]
    pub fn seal(mut self) -> Self {
        self.id = self.identity();
        self
    }

    /// The identity that the content asks for.
    #[must_use]
    pub fn identity(&self) -> String {
        let bare = Self { id: String::new(), ..self.clone() };
        let hex = hex(&Sha256::digest(bare.to_json().as_bytes()));
        let day: String = self.issued_utc.chars().filter(char::is_ascii_digit).take(8).collect();
        format!("{day}-{}", &hex[..ID_DIGITS])
    }

    /// The object as one line of JSON, without a line end. Same record, same bytes.
    #[must_use]
    pub fn to_json(&self) -> String {
        to_text(self)
    }

    /// Read a stored record, and check that its content fits its identity.
    ///
    /// # Errors
    /// [`RecordFault`].
    pub fn from_json(text: &str) -> Result<Self, RecordFault> {
        #[derive(Deserialize)]
        struct Head {
            format: String,
            version: u32,
        }
        let unreadable = |e: serde_json::Error| RecordFault::Unreadable(e.to_string());
        let head: Head = serde_json::from_str(text).map_err(unreadable)?;
        if head.format != FORMAT {
            let what = format!("its format is {:?}", head.format);
            return Err(RecordFault::Unreadable(what));
        }
        if head.version > VERSION {
            return Err(RecordFault::Newer(head.version));
        }
        let record: Self = serde_json::from_str(text).map_err(unreadable)?;
        record.whole()?;
        let expected = record.identity();
        if record.id == expected {
            Ok(record)
        } else {
            Err(RecordFault::Changed { found: record.id, expected })
        }
    }

    /// Everything of the course, where the record holds one.
    #[must_use]
    pub fn course(&self) -> Option<CourseOf<'_>> {
        Some(CourseOf {
            method: self.method.as_ref()?,
            capture: self.capture.as_ref()?,
            channel: self.channel.as_deref()?,
            to_enter: self.to_enter?,
            work: self.work.as_deref()?,
        })
    }

    /// The logs behind it: that of the course first, then those of the parts.
    pub fn captures(&self) -> impl Iterator<Item = &CaptureV1> {
        self.capture.iter().chain(self.parts.iter().map(|part| &part.capture))
    }

    /// The part of this kind, by its word.
    #[must_use]
    pub fn part(&self, word: &str) -> Option<&PartV1> {
        self.parts.iter().find(|part| part.method.word() == word)
    }

    /// The worked result of the course; `None` when there is no course.
    ///
    /// # Errors
    /// [`RecordFault::Unreadable`] when a field is missing.
    pub fn worked(&self) -> Result<Option<WorkV1>, RecordFault> {
        let read = |work: &RawValue| serde_json::from_str(work.get());
        let fault = |e| RecordFault::Unreadable(format!("its result: {e}"));
        self.work.as_deref().map(read).transpose().map_err(fault)
    }

    /// Values of the sensor that was signed off.
    #[must_use]
    pub fn channel_of<'a>(&self, work: &'a WorkV1) -> Option<&'a ChannelV1> {
        work.channels.get(self.channel.as_deref()?)
    }

    /// The value that was signed off, with its uncertainty.
    #[must_use]
    pub fn best_of<'a>(&self, work: &'a WorkV1) -> Option<&'a FigureV1> {
        self.channel_of(work)?.best()
    }

    /// The state of its course where that is not `valid`, else `flagged` when a part is.
    #[must_use]
    pub fn state<'a>(&self, work: Option<&'a WorkV1>) -> &'a str {
        match work {
            Some(work) if work.state != "valid" => &work.state,
            _ if self.parts.iter().any(|part| part.flag.is_some()) => "flagged",
            _ => "valid",
        }
    }

    /// All of a course or nothing, at least one thing, and no part twice.
    fn whole(&self) -> Result<(), RecordFault> {
        let there = [
            self.method.is_some(),
            self.capture.is_some(),
            self.channel.is_some(),
            self.to_enter.is_some(),
            self.work.is_some(),
        ];
        let fault = |why: &str| Err(RecordFault::Unreadable(why.to_owned()));
        if there.contains(&true) && there.contains(&false) {
            return fault("something of its course is missing");
        }
        if there.contains(&false) && self.parts.is_empty() {
            return fault("it holds neither a course nor a part");
        }
        let mut words: Vec<&str> = self.parts.iter().map(|part| part.method.word()).collect();
        words.sort_unstable();
        if words.windows(2).any(|two| two[0] == two[1]) {
            return fault("it holds a part twice");
        }
        Ok(())
    }
}
