//! What can be written down about a thing: one field, its kind, and how it is read and shown.

use crate::units::typed::{Measure, MeasureFault};
use serde::{Deserialize, Serialize};

/// Longest name of a thing, characters.
pub const NAME_MAX: usize = 80;
/// Longest other text, characters.
pub const TEXT_MAX: usize = 500;

/// A value as it is stored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Value {
    /// A number in the unit of its field.
    Number(f64),
    /// Text, a word, a date, or the name of another thing.
    Text(String),
}

/// What a field takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FieldKind {
    /// Free text of any kind.
    Text,
    /// One of these words.
    Word(&'static [&'static str]),
    /// A number with a unit.
    Measure(Measure),
    /// A day, written as `YYYY-MM-DD`.
    Date,
    /// The name of another thing, in the table of this name.
    Link(super::Thing),
}

/// One field of a thing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Field {
    /// Its name in files, in the register and as an option.
    pub key: &'static str,
    /// Its name on paper and screen.
    pub label: &'static str,
    /// What it is good for, in one line.
    pub about: &'static str,
    /// The kind of its value.
    pub kind: FieldKind,
}

/// Why a value was not taken.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FieldFault {
    /// A word that is none of those known.
    #[error("{label}: {found:?} is not known; it can be {known}")]
    Word {
        /// Label of the field.
        label: &'static str,
        /// The text that was typed.
        found: String,
        /// The words that are allowed.
        known: String,
    },
    /// The text is no day.
    #[error("{label}: {found:?} is not a day; write it like 2026-04-30")]
    Date {
        /// Label of the field.
        label: &'static str,
        /// The text that was typed.
        found: String,
    },
    /// A number or unit that is not meant, or text that is empty, too long, or with characters that
    /// cannot be written down.
    #[error("{label}: {what}")]
    Unfit {
        /// Label of the field.
        label: &'static str,
        /// What is wrong with it.
        what: String,
    },
}

impl Field {
    /// Read what was typed.
    ///
    /// # Errors
    /// [`FieldFault`] with what may be typed.
    pub fn read(&self, typed: &str) -> Result<Value, FieldFault> {
        let label = self.label;
        let found = || typed.chars().take(40).collect();
        match self.kind {
            FieldKind::Measure(measure) => {
                let unfit = |e: MeasureFault| FieldFault::Unfit { label, what: e.to_string() };
                return measure.read(typed).map(Value::Number).map_err(unfit);
            }
            FieldKind::Word(words) => {
                let word = typed.trim().to_lowercase();
                let known = || words.join(", ");
                let fault = || FieldFault::Word { label, found: found(), known: known() };
                words.contains(&word.as_str()).then_some(word).ok_or_else(fault)
            }
            FieldKind::Date => {
                day(typed.trim()).ok_or_else(|| FieldFault::Date { label, found: found() })
            }
            FieldKind::Text => clean(label, typed, TEXT_MAX),
            FieldKind::Link(_) => clean(label, typed, NAME_MAX),
        }
        .map(Value::Text)
    }

    /// Is this a value that the field can have? For what comes out of a file.
    ///
    /// # Errors
    /// [`FieldFault`] as for typed values.
    pub fn check(&self, value: &Value) -> Result<(), FieldFault> {
        match (self.kind, value) {
            (FieldKind::Measure(measure), Value::Number(number)) if measure.holds(*number) => {
                Ok(())
            }
            (FieldKind::Measure(measure), _) => Err(FieldFault::Unfit {
                label: self.label,
                what: format!("{} is not {}", brief(value), measure.wanted()),
            }),
            (_, Value::Text(text)) => self.read(text).map(drop),
            (_, Value::Number(_)) => Err(FieldFault::Unfit {
                label: self.label,
                what: format!("{} is a number where text is wanted", brief(value)),
            }),
        }
    }

    /// The value as people read it.
    #[must_use]
    pub fn show(&self, value: &Value) -> String {
        match (self.kind, value) {
            (FieldKind::Measure(measure), Value::Number(number)) => measure.show(*number),
            (_, Value::Number(number)) => number.to_string(),
            (_, Value::Text(text)) => text.clone(),
        }
    }
}

fn brief(value: &Value) -> String {
    match value {
        Value::Number(number) => number.to_string(),
        Value::Text(text) => format!("{:?}", text.chars().take(40).collect::<String>()),
    }
}

/// Text without what could steer a terminal or hide in a list.
///
/// # Errors
/// [`FieldFault::Unfit`] when it is empty, too long or holds such characters.
pub fn clean(label: &'static str, typed: &str, most: usize) -> Result<String, FieldFault> {
    let fault = |what: String| FieldFault::Unfit { label, what };
    let text = typed.trim();
    if text.is_empty() {
        return Err(fault("it is empty".to_owned()));
    }
    let length = text.chars().count();
    if length > most {
        return Err(fault(format!("{length} characters; at most {most} can be saved")));
    }
    if text.chars().any(steers) {
        let what = "it holds control characters or marks that turn the writing direction";
        return Err(fault(what.to_owned()));
    }
    Ok(text.to_owned())
}

/// Characters that steer terminals, turn the writing direction or cannot be seen.
#[must_use]
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}')
        || matches!(c, '\u{2060}'..='\u{2069}' | '\u{feff}' | '\u{61c}')
}

fn day(text: &str) -> Option<String> {
    let day = chrono::NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()?;
    let again = day.format("%Y-%m-%d").to_string();
    (again == text).then_some(again)
}
