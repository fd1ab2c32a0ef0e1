//! Rigs: which tractor on which tyres, with which receiver where, and whose.
//!
//! A rig ties the other things together by their names. What can be written down about each is a
//! table of fields ([`Thing::fields`]); options, register, files and paper all go by that table.

pub mod conditions;
mod field;
mod fields;
mod file;
mod snapshot;
pub mod tape;

pub use field::{Field, FieldFault, FieldKind, NAME_MAX, TEXT_MAX, Value, clean, steers};
pub use fields::Thing;
pub use file::{RIG_FILE_VERSION, RigFileFault, from_toml, to_toml};
pub use snapshot::{ANTENNA_UNCERTAINTY_M, Snapshot};

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One tractor, tyre set, tape, person or rig.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Its name, unique among its kind without regard to upper and lower case.
    pub name: String,
    /// What is known, by the keys of its fields.
    #[serde(flatten)]
    pub values: BTreeMap<String, Value>,
}

impl Entry {
    /// A number of it.
    #[must_use]
    pub fn number(&self, key: &str) -> Option<f64> {
        match self.values.get(key) {
            Some(Value::Number(number)) => Some(*number),
            _ => None,
        }
    }

    /// A text of it.
    #[must_use]
    pub fn text(&self, key: &str) -> Option<&str> {
        match self.values.get(key) {
            Some(Value::Text(text)) => Some(text),
            _ => None,
        }
    }

    /// Check everything against the fields of `thing`, as for a foreign file.
    ///
    /// # Errors
    /// The first [`FieldFault`].
    pub fn check(&self, thing: Thing) -> Result<(), FieldFault> {
        clean("name", &self.name, NAME_MAX)?;
        for (key, value) in &self.values {
            let field = thing.field(key).ok_or_else(|| FieldFault::Unfit {
                label: thing.word(),
                what: format!("{:?} is not known", key.chars().take(40).collect::<String>()),
            })?;
            field.check(value)?;
        }
        Ok(())
    }
}
