//! `trundle-verify`, version 1: records worked anew, as one JSON object.
//!
//! The schema stands in `host/schemas/trundle-verify-1.schema.json`. Fields are only ever added.

use super::sign_off::Verified;
use serde::Serialize;

/// What came of one record.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// Its identity.
    pub id: String,
    /// How it compares; `None` when it could not be worked.
    pub found: Option<Verified>,
    /// Why it could not.
    pub trouble: Option<String>,
}

impl Verdict {
    /// The same figure comes out again.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        matches!(self.found, Some(Verified::Same | Verified::SameFigure { .. }))
    }

    /// `same bytes`, `same figure`, `other figure` or `damaged`.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match &self.found {
            Some(Verified::Same) => "same bytes",
            Some(Verified::SameFigure { .. }) => "same figure",
            Some(Verified::Differs { .. }) => "other figure",
            None => "damaged",
        }
    }
}

#[derive(Serialize)]
struct VerifyV1<'a> {
    format: &'static str,
    version: u32,
    sound: bool,
    records: Vec<RowV1<'a>>,
    register: &'a [String],
}

#[derive(Serialize)]
struct RowV1<'a> {
    id: &'a str,
    outcome: &'static str,
    figure_signed_off: Option<i64>,
    figure_now: Option<i64>,
    trouble: Option<&'a str>,
}

/// The object as one line of JSON, without a line end. `register` is what SQLite complains of.
#[must_use]
pub fn to_json(verdicts: &[Verdict], register: &[String]) -> String {
    let row = |one: &'_ Verdict| {
        let figures = match one.found {
            Some(Verified::Differs { then, now }) => (Some(then), now),
            _ => (None, None),
        };
        (figures, one.word())
    };
    let rows = verdicts.iter().map(|one| {
        let ((figure_signed_off, figure_now), outcome) = row(one);
        RowV1 {
            id: &one.id,
            outcome,
            figure_signed_off,
            figure_now,
            trouble: one.trouble.as_deref(),
        }
    });
    let value = VerifyV1 {
        format: "trundle-verify",
        version: 1,
        sound: register.is_empty() && verdicts.iter().all(Verdict::is_sound),
        records: rows.collect(),
        register,
    };
    serde_json::to_string(&value).expect("plain structs of text and numbers always serialise")
}
