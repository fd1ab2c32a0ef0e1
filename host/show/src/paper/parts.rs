//! What was measured beside the course, in words, and what the proof drive says of the value left.

use super::Sheet;
use crate::phrases::plain::{line, sentence_case};
use crate::phrases::proof::{outcome, ratio_words};
use trundle_core::result::as_left;
use trundle_core::result::part_v1::PartV1;

/// A part of the visit in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct PartShown {
    /// Its word.
    pub word: &'static str,
    /// The part by name.
    pub title: &'static str,
    /// What it is and its value, a line each.
    pub lines: Vec<(&'static str, String)>,
    /// What speaks against it, in a sentence.
    pub against: Option<String>,
}

impl PartShown {
    fn of(part: &PartV1) -> Self {
        let (word, title) = (part.method.word(), part.method.title());
        match part.read() {
            Ok(read) => Self {
                word,
                title,
                lines: read.lines.iter().map(|one| (one.what, line(&one.to_string()))).collect(),
                against: part.flag.as_deref().map(|why| format!("The {title}: {}.", line(why))),
            },
            Err(fault) => Self {
                word,
                title,
                lines: Vec::new(),
                against: Some(format!(
                    "The {title} cannot be shown: {}.",
                    line(&fault.to_string())
                )),
            },
        }
    }
}

impl Sheet<'_> {
    /// Everything that was measured beside the course.
    pub fn parts(&self) -> Vec<PartShown> {
        self.record.parts.iter().map(PartShown::of).collect()
    }

    /// Where the value typed as left and the proof drive contradict each other, in a sentence.
    pub(super) fn contradicted(&self) -> Option<String> {
        let part = self.record.part("proof")?;
        let words = as_left::contradicted(part, self.record.as_left)?;
        Some(format!("{}.", line(&sentence_case(&words))))
    }

    /// What the proof drive found of the value left, in few words, and the ratio of shown over true
    /// where it was measured; `None` without a proof drive.
    pub fn as_left_measured(&self) -> Option<(String, Option<String>)> {
        let state = as_left::measured(self.record)?;
        let read = self.record.part("proof")?.read().ok()?;
        let ratio = read.line("shown_over_true").and_then(|shown| shown.value);
        let ratio = ratio.map(|(value, half)| ratio_words(value, half));
        Some((outcome(state), ratio))
    }
}
