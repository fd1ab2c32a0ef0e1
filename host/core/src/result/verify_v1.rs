//! `trundle-verify`, version 1: records recalculated, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-verify-1.schema.json`. Fields are only ever added.

use super::document::{list, objects, to_text};
use super::part_of::PartVerified;
use super::sign_off::Verified;

/// What came of one record.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct VerifiedRecord {
    /// The identity of the record.
    pub id: String,
    /// How its course compares; `None` when it has none or it could not be worked.
    pub found: Option<Verified>,
    /// Why the record or its course could not.
    pub trouble: Option<String>,
    /// What came of its parts.
    pub parts: Vec<VerifiedPart>,
}

/// What came of one part of a record.
#[derive(Clone, Debug, PartialEq)]
pub struct VerifiedPart {
    /// Its word.
    pub word: &'static str,
    /// How it compares, or why that could not be found out.
    pub found: Result<PartVerified, String>,
}

/// Outcomes in words, the best first.
const OUTCOMES: [&str; 4] = ["same bytes", "same value", "other value", "damaged"];

impl VerifiedRecord {
    /// The same values come out again.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.worst() <= 1
    }

    /// Something of it could not be read or worked.
    #[must_use]
    pub fn is_damaged(&self) -> bool {
        self.worst() == 3
    }

    /// `same bytes`, `same value`, `other value` or `damaged`: the worst of course and parts.
    #[must_use]
    pub fn word(&self) -> &'static str {
        OUTCOMES[self.worst()]
    }

    fn worst(&self) -> usize {
        let course = match (&self.found, &self.trouble) {
            (_, Some(_)) => 3,
            (Some(Verified::Differs { .. }), _) => 2,
            (Some(Verified::SameFigure { .. }), _) => 1,
            (Some(Verified::Same), _) => 0,
            (None, None) if self.parts.is_empty() => 3,
            (None, None) => 0,
        };
        self.parts.iter().map(VerifiedPart::rank).fold(course, usize::max)
    }
}

impl VerifiedPart {
    /// In one word, as of a record.
    #[must_use]
    pub fn outcome(&self) -> &'static str {
        OUTCOMES[self.rank()]
    }

    const fn rank(&self) -> usize {
        match &self.found {
            Ok(PartVerified::Same) => 0,
            Ok(PartVerified::SameValues { .. }) => 1,
            Ok(PartVerified::Differs { .. }) => 2,
            Err(_) => 3,
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
        parts = list(&one.parts, part_v1),
    }

    part_v1(one: &VerifiedPart) {
        part = one.word,
        outcome = one.outcome(),
        trouble = one.found.as_ref().err(),
    }
}
