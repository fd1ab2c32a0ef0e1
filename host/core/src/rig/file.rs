//! A rig as a TOML file, to be handed to another laptop.
//!
//! ```toml
//! format = "trundle-rig"
//! version = 1
//! [rig]
//! name = "Big one, wide tyres"
//! tractor = "Big one"
//! source = "radar"
//! antenna_right = -0.12   # metres
//! [tractor]
//! name = "Big one"
//! ```
//!
//! Numbers are in the units of the register: metres, kilopascal, kilogram, percent.

use super::{FieldFault, Snapshot};
use serde::{Deserialize, Serialize};

/// The word in the `format` field.
const FORMAT: &str = "trundle-rig";
/// The version written; older ones are read, newer ones refused.
pub const RIG_FILE_VERSION: u32 = 1;

/// Why a rig file cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RigFileFault {
    /// Not TOML, or not of this kind.
    #[error("the file is not a rig file: {0}")]
    Toml(String),
    /// Of a later version.
    #[error(
        "the file is of version {0}, which this program does not know; use the program that wrote \
         it, or a newer one"
    )]
    Newer(u32),
    /// A value that is not taken.
    #[error("[{table}] {fault}")]
    Field {
        /// The table in the file.
        table: &'static str,
        /// What is wrong with it.
        fault: FieldFault,
    },
    /// The rig names something that the file does not hold, or under another name.
    #[error("[rig] {key} is {name:?}, but the file holds no such {key}")]
    Missing {
        /// Key of the linking field.
        key: &'static str,
        /// The name that was given.
        name: String,
    },
}

#[derive(Serialize, Deserialize)]
struct File {
    format: String,
    version: u32,
    #[serde(flatten)]
    rig: Snapshot,
}

/// The text of the file.
#[must_use]
pub fn to_toml(rig: &Snapshot) -> String {
    let file = File { format: FORMAT.to_owned(), version: RIG_FILE_VERSION, rig: rig.clone() };
    toml::to_string(&file).expect("plain tables of text and numbers always serialise")
}

/// Read it, every value checked.
///
/// # Errors
/// [`RigFileFault`].
pub fn from_toml(text: &str) -> Result<Snapshot, RigFileFault> {
    // The version first: a later one may look different in everything else.
    let table: toml::Table =
        text.parse().map_err(|e: toml::de::Error| RigFileFault::Toml(e.message().to_owned()))?;
    match table.get("format").and_then(toml::Value::as_str) {
        Some(FORMAT) => {}
        _ => return Err(RigFileFault::Toml(format!("it does not say format = \"{FORMAT}\""))),
    }
    if let Some(version) = table.get("version").and_then(toml::Value::as_integer)
        && version > i64::from(RIG_FILE_VERSION)
    {
        return Err(RigFileFault::Newer(u32::try_from(version).unwrap_or(u32::MAX)));
    }
    let snapshot =
        toml::from_str::<File>(text).map_err(|e| RigFileFault::Toml(e.message().to_owned()))?.rig;
    for (table, thing, entry) in snapshot.parts() {
        let Some(entry) = entry else { continue };
        entry.check(thing).map_err(|fault| RigFileFault::Field { table, fault })?;
    }
    for (key, _, name) in Snapshot::links(&snapshot.rig) {
        let held = snapshot.parts().into_iter().find(|part| part.0 == key).and_then(|part| part.2);
        if held.is_none_or(|held| held.name != name) {
            return Err(RigFileFault::Missing { key, name: name.to_owned() });
        }
    }
    Ok(snapshot)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::{Entry, Thing, Value};
    use super::*;

    fn rig() -> Snapshot {
        let text = |text: &str| Value::Text(text.to_owned());
        let named = |name: &str| Entry { name: name.to_owned(), ..Entry::default() };
        let mut rig = named("Big one, wide tyres");
        rig.values.insert("tractor".to_owned(), text("Big one"));
        rig.values.insert("antenna_right".to_owned(), Value::Number(-0.12));
        rig.values.insert("source".to_owned(), text("radar"));
        Snapshot { rig, tractor: Some(named("Big one")), ..Snapshot::default() }
    }

    #[test]
    fn a_rig_comes_back_as_it_went() {
        assert_eq!(from_toml(&to_toml(&rig())).unwrap(), rig());
    }

    #[test]
    fn foreign_files_are_refused_with_the_reason() {
        let good = to_toml(&rig());
        for (from, to, said) in [
            ("trundle-rig", "something", "format"),
            ("version = 1", "version = 2", "version 2"),
            ("-0.12", "\"far\"", "offset"),
            ("\"radar\"", "\"sonar\"", "wheel, radar, satellite"),
            ("antenna_right", "antenna_wrong", "not known"),
            ("tractor = \"Big one\"", "tractor = \"Small one\"", "no such tractor"),
            ("Big one, wide tyres", "Big\\u001b[2J", "control"),
        ] {
            let fault = from_toml(&good.replace(from, to)).unwrap_err().to_string();
            assert!(fault.contains(said), "{from} -> {to}: {fault}");
        }
    }

    #[test]
    fn every_thing_has_fields_of_its_own() {
        for thing in Thing::ALL {
            let mut keys: Vec<&str> = thing.fields().iter().map(|field| field.key).collect();
            keys.sort_unstable();
            keys.dedup();
            assert_eq!(keys.len(), thing.fields().len());
            assert!(!keys.contains(&"name") && !keys.contains(&"id"));
            assert_eq!(Thing::named(thing.word()), Some(thing));
        }
    }
}
