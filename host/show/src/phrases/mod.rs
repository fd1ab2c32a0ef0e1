//! How values, texts and results are put into phrases: one wording for terminal, page and paper.

pub(crate) mod plain;
pub mod proof;
pub(crate) mod result;
pub(crate) mod settings;
pub mod slip;

/// What is wrong, what it means and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{what} {means} Next: {next}")]
pub struct Warning {
    /// A word for programs; never changes.
    pub code: &'static str,
    /// What happened, in a sentence.
    pub what: String,
    /// What it means for the result.
    pub means: &'static str,
    /// What to do about it.
    pub next: &'static str,
}
