//! How values, texts and results are put into phrases: one wording for terminal, page and paper.

pub(crate) mod plain;
pub(crate) mod result;
pub mod slip;
