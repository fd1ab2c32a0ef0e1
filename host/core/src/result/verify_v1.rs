//! `trundle-verify`, version 1: records recalculated, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-verify-1.schema.json`. Fields are only ever added.

use super::document::{list, objects, to_text};
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
    to_text(&verify_v1(verdicts, register))
}

objects! {
    verify_v1(verdicts: &[VerifiedRecord], register: &[String]) {
        format = "trundle-verify",
        version = 1,
        sound = register.is_empty() && verdicts.iter().all(VerifiedRecord::is_sound),
        records = list(verdicts, row_v1),
        register = register,
    }

    row_v1(one: &VerifiedRecord) {
        id = &one.id,
        outcome = one.word(),
        value_signed_off = match one.found {
            Some(Verified::Differs { then, .. }) => Some(then),
            _ => None,
        },
        value_now = match one.found {
            Some(Verified::Differs { now, .. }) => now,
            _ => None,
        },
        trouble = &one.trouble,
    }
}
