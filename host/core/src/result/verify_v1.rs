//! `trundle-verify`, version 1: records recalculated, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-verify-1.schema.json`. Fields are only ever added.

use super::document::{objects, to_text};
use super::sign_off::Verified;

/// What came of one record.
#[derive(Clone, Debug, PartialEq)]
pub struct VerifiedRecord {
    /// The identity of the record.
    pub id: String,
    /// How it compares; `None` when it could not be worked.
    pub found: Option<Verified>,
    /// Why it could not.
    pub trouble: Option<String>,
}

impl VerifiedRecord {
    /// The same value comes out again.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        matches!(self.found, Some(Verified::Same | Verified::SameFigure { .. }))
    }

    /// `same bytes`, `same value`, `other value` or `damaged`.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match &self.found {
            Some(Verified::Same) => "same bytes",
            Some(Verified::SameFigure { .. }) => "same value",
            Some(Verified::Differs { .. }) => "other value",
            None => "damaged",
        }
    }
}

/// The object as one line of JSON, without a line end. `register` is what SQLite complains of.
#[must_use]
pub fn to_json(verdicts: &[VerifiedRecord], register: &[String]) -> String {
    to_text(&VerifyV1::of((verdicts, register)))
}

objects! {
    VerifyV1<'a> of (verdicts, register): (&'a [VerifiedRecord], &'a [String]) {
        format: &'static str = "trundle-verify",
        version: u32 = 1,
        sound: bool = register.is_empty() && verdicts.iter().all(VerifiedRecord::is_sound),
        records: Vec<RowV1<'a>> = verdicts.iter().map(RowV1::of).collect(),
        register: &'a [String] = register,
    }

    RowV1<'a> of one: &'a VerifiedRecord {
        id: &'a str = &one.id,
        outcome: &'static str = one.word(),
        value_signed_off: Option<i64> = match one.found {
            Some(Verified::Differs { then, .. }) => Some(then),
            _ => None,
        },
        value_now: Option<i64> = match one.found {
            Some(Verified::Differs { now, .. }) => now,
            _ => None,
        },
        trouble: Option<&'a str> = one.trouble.as_deref(),
    }
}
