//! The settings file, written: single settings change, and whatever else stands there stays.

use super::settings::{Settings, VARIABLE, path};
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use std::path::Path;
use toml_edit::DocumentMut;

/// What can be set, in the order in which it is shown.
pub const KEYS: [&str; 10] = [
    "data",
    "captures",
    "board",
    "receiver",
    RECEIVER_SPEED,
    "speed_unit",
    "pressure_unit",
    "length_unit",
    "time",
    "language",
];
/// The one that is a number.
const RECEIVER_SPEED: &str = "receiver_speed";

/// What the file says for each of [`KEYS`], as it is typed; empty where it says nothing. Of a file
/// that does not say what it may, what can be made out.
#[must_use]
pub fn typed() -> Vec<(&'static str, String)> {
    let text = path().and_then(|path| files::read_text(&path).ok()).unwrap_or_default();
    let file: DocumentMut = text.parse().unwrap_or_default();
    let value = |key| match file.get(key) {
        Some(item) => item.as_str().map_or_else(
            || item.as_integer().map_or_else(String::new, |number| number.to_string()),
            str::to_owned,
        ),
        None => String::new(),
    };
    KEYS.iter().map(|key| (*key, value(key))).collect()
}

/// Why a setting is not taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotSet {
    /// It is the value of this key, in these words.
    Value(&'static str, String),
    /// It is the file.
    File(Trouble),
}

/// Write these values into the file, an empty one as none. Whatever else stands there stays as it
/// is, remarks too. The file is made where there is none.
///
/// # Errors
/// [`NotSet`]; the file is untouched then.
pub fn write(values: &[(&'static str, String)]) -> Result<(), NotSet> {
    let path = path().ok_or_else(|| {
        let what = "There is no home folder to save settings in.";
        let next = format!("Name a file with {VARIABLE}.");
        NotSet::File(Trouble::new(exit::STORAGE, what, "Nothing was changed.", next))
    })?;
    write_to(&path, values)
}

fn write_to(path: &Path, values: &[(&'static str, String)]) -> Result<(), NotSet> {
    let text =
        if path.exists() { files::read_text(path).map_err(NotSet::File)? } else { String::new() };
    let text = changed(&text, values).map_err(|fault| match fault {
        Fault::Value(key, words) => NotSet::Value(key, words),
        Fault::Whole(words) => {
            let what = format!("{}: {words}.", path.display());
            let next = "Correct the file by hand first, then save again.";
            NotSet::File(Trouble::new(exit::USAGE, what, "Nothing was changed.", next))
        }
    })?;
    if let Some(folder) = path.parent() {
        super::place::make_private(folder).map_err(NotSet::File)?;
    }
    files::replace_text(path, &text).map_err(NotSet::File)
}

enum Fault {
    Value(&'static str, String),
    Whole(String),
}

/// The text with these values.
fn changed(text: &str, values: &[(&'static str, String)]) -> Result<String, Fault> {
    let said =
        |words: &str| words.lines().next().unwrap_or_default().trim_end_matches('.').to_owned();
    let mut file: DocumentMut =
        text.parse().map_err(|fault: toml_edit::TomlError| Fault::Whole(said(fault.message())))?;
    for (key, typed) in values {
        let typed = typed.trim();
        if typed.is_empty() {
            file.remove(key);
            continue;
        }
        let value = if *key == RECEIVER_SPEED {
            let number = typed.parse::<u32>().map_err(|_| {
                Fault::Value(key, format!("\"{typed}\" is no speed in baud, such as 38400."))
            })?;
            toml_edit::Value::from(i64::from(number))
        } else {
            toml_edit::Value::from(typed)
        };
        // Alone it shows whether this value is at fault.
        let alone = format!("{key} = {value}\n");
        toml::from_str::<Settings>(&alone)
            .map_err(|fault| Fault::Value(key, none_fits(typed, &said(fault.message()))))?;
        put(&mut file, key, value);
    }
    let text = file.to_string();
    toml::from_str::<Settings>(&text).map_err(|fault| Fault::Whole(said(fault.message())))?;
    Ok(text)
}

/// A value that is none of those there are, in our words; `said` are the reader's, which name them.
fn none_fits(typed: &str, said: &str) -> String {
    match said.split_once("expected ") {
        Some((_, choices)) => {
            let choices = choices.trim_start_matches("one of ").replace('`', "");
            trundle_show::words::stations_misread::none_of(typed, &choices)
        }
        None => said.to_owned(),
    }
}

/// Put a value in its place, with the remark that stands behind the old one.
fn put(file: &mut DocumentMut, key: &str, mut value: toml_edit::Value) {
    if let Some(old) = file.get(key).and_then(toml_edit::Item::as_value) {
        *value.decor_mut() = old.decor().clone();
    }
    file[key] = toml_edit::Item::Value(value);
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn ours(text: &str, values: &[(&'static str, &str)]) -> Result<String, String> {
        let values: Vec<_> =
            values.iter().map(|(key, value)| (*key, (*value).to_owned())).collect();
        changed(text, &values).map_err(|fault| match fault {
            Fault::Value(key, words) => format!("{key}: {words}"),
            Fault::Whole(words) => words,
        })
    }

    #[test]
    fn what_else_stands_in_the_file_stays() {
        let text = "# mine\nboard = \"/dev/a\"  # the grey one\n\nreceiver_speed = 38400\n";
        let new = [("board", "C:\\b \"x\""), ("receiver_speed", ""), ("speed_unit", "mph")];
        let changed = ours(text, &new).unwrap();
        assert!(changed.contains("# mine\n") && changed.contains("# the grey one\n"), "{changed}");
        assert!(!changed.contains("38400"), "{changed}");
        let read: Settings = toml::from_str(&changed).unwrap();
        assert_eq!(read.board.as_deref(), Some("C:\\b \"x\""));
        assert_eq!(read.reading().speed, trundle_show::reading::SpeedUnit::Mph);
        assert_eq!(ours(text, &[("board", "/dev/a")]).unwrap(), text);
    }

    #[test]
    fn a_choice_that_is_none_is_told_with_those_there_are() {
        let refused = ours("", &[("time", "--data=/")]).unwrap_err();
        assert_eq!(refused, "time: \"--data=/\" is none of the choices: local or utc.");
        let refused = ours("", &[("pressure_unit", "kg")]).unwrap_err();
        assert!(refused.ends_with("none of the choices: bar or psi."), "{refused}");
    }

    #[test]
    fn what_it_cannot_say_is_refused_beside_its_key() {
        for (key, value) in [
            ("receiver_speed", "fast"),
            ("receiver_speed", "-1"),
            ("speed_unit", "knots"),
            ("time", "noon"),
        ] {
            let fault = ours("", &[(key, value)]).unwrap_err();
            assert!(fault.starts_with(&format!("{key}: ")), "{fault}");
        }
        assert!(ours("board = ", &[]).is_err());
        let unknown = ours("colour = \"red\"\n", &[("board", "x")]).unwrap_err();
        assert!(unknown.contains("colour"), "{unknown}");
    }
}
