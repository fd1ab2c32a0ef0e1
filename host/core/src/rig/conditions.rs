//! Conditions of a job: what a value holds for, said once, before driving.
//!
//! Each is said as an option, or in a note such as `gear: C2`. Either way a note in the capture
//! keeps it, and the last note of a kind counts. What was not said is absent.

use super::field::FieldKind::{self, Measure, Text, Word};
use super::field::{Field, FieldFault, NAME_MAX, Value, clean};
use super::fields::field;
use crate::units::typed::Measure::{Pressure, Temperature};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Inflation of all tyres, kilopascal; what was measured axle by axle is said instead of it.
const ALL_TYRES: &str = "inflation_kpa";
/// Inflation of one axle's tyres, kilopascal.
const AXLES: [&str; 2] = ["inflation_front_kpa", "inflation_rear_kpa"];
const SWITCHED: FieldKind = Word(&["on", "off"]);

/// All that can be said, in the order of paper. Keys end in their unit.
pub const CONDITIONS: &[Field] = &[
    field("surface", "Ground", "The ground, like \"dry stubble\" or \"asphalt\"", Text),
    field(ALL_TYRES, "Inflation", "Inflation as measured, all tyres", Measure(Pressure)),
    field(
        AXLES[0],
        "Inflation, front",
        "Inflation of the front axle as measured",
        Measure(Pressure),
    ),
    field(AXLES[1], "Inflation, rear", "Inflation of the rear axle as measured", Measure(Pressure)),
    field("load", "Load", "What is carried, like \"tank half full\" or \"2000 kg\"", Text),
    field("gear", "Gear", "The gear driven in", Text),
    field("four_wheel_drive", "Four-wheel drive", "Four-wheel drive: on or off", SWITCHED),
    field("differential_lock", "Differential lock", "Differential lock: on or off", SWITCHED),
    field("implement", "Implement", "The implement, as the customer calls it", Text),
    field("terminal", "Terminal", "The terminal, as the customer calls it", Text),
    field("temperature_c", "Air", "Temperature of the air", Measure(Temperature)),
];

/// What was said, by the keys of [`CONDITIONS`].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Conditions {
    said: BTreeMap<String, Value>,
}

/// The word of a condition in options and files: its key without the unit.
#[must_use]
pub fn option(field: &Field) -> String {
    let bare = field.key.trim_end_matches("_kpa").trim_end_matches("_c");
    bare.replace('_', "-")
}

/// The condition that a word means: its label, option or key, however they are spelled.
#[must_use]
pub fn named(word: &str) -> Option<&'static Field> {
    let plain = |word: &str| {
        let letters = word.chars().filter(char::is_ascii_alphanumeric);
        letters.map(|c| c.to_ascii_lowercase()).collect::<String>()
    };
    // Longer than any of them.
    let asked = if word.len() > NAME_MAX { return None } else { plain(word) };
    let names = |field: &Field| [plain(field.label), plain(&option(field)), plain(field.key)];
    CONDITIONS.iter().find(|field| names(field).contains(&asked))
}

/// Read what was typed for a condition.
///
/// # Errors
/// [`FieldFault`] with what may be typed.
pub fn read(field: &Field, typed: &str) -> Result<Value, FieldFault> {
    match field.kind {
        // A line on paper, as names are.
        Text => clean(field.label, typed, NAME_MAX).map(Value::Text),
        _ => field.read(typed),
    }
}

/// The note that keeps a condition in a capture, in the words in which it was typed.
///
/// # Errors
/// [`FieldFault`] with what may be typed.
pub fn note(field: &Field, typed: &str) -> Result<String, FieldFault> {
    read(field, typed)?;
    let typed: Vec<&str> = typed.split_whitespace().collect();
    Ok(format!("{}: {}", field.label, typed.join(" ")))
}

/// The condition that a note says, with its value or why it cannot be; `None` for a plain note.
#[must_use]
pub fn in_note(note: &str) -> Option<(&'static Field, Result<Value, FieldFault>)> {
    let (word, typed) = note.split_once(':')?;
    let field = named(word)?;
    Some((field, read(field, typed)))
}

/// What the table `[conditions]` of a course file says, each as it would be typed.
///
/// # Errors
/// [`FieldFault`]: a key that is not known, or a value that cannot be.
pub fn in_course(course_toml: &str) -> Result<Vec<(&'static Field, String)>, FieldFault> {
    // A file that is no TOML is refused where the course is read.
    let file: toml::Table = course_toml.parse().unwrap_or_default();
    let Some(table) = file.get("conditions") else { return Ok(Vec::new()) };
    let unfit = |what: String| FieldFault::Unfit { label: "[conditions]", what };
    let table = table.as_table().ok_or_else(|| unfit("it is no table".to_owned()))?;
    let said = |(key, value): (&String, &toml::Value)| {
        let strange = || unfit(format!("{:?} is not known", brief(key)));
        let field = named(key).ok_or_else(strange)?;
        let typed = match value {
            toml::Value::String(text) => text.clone(),
            toml::Value::Boolean(on) if field.kind == SWITCHED => {
                if *on { "on" } else { "off" }.to_owned()
            }
            toml::Value::Integer(number) => number.to_string(),
            toml::Value::Float(number) => number.to_string(),
            _ => return Err(unfit(format!("{:?} is no text", brief(key)))),
        };
        read(field, &typed).map(|_| (field, typed))
    };
    table.iter().map(said).collect()
}

fn brief(text: &str) -> String {
    text.chars().take(40).collect()
}

impl Conditions {
    /// What the notes of a capture say. One that cannot be is a plain note.
    #[must_use]
    pub fn of_notes<'a>(notes: impl IntoIterator<Item = &'a str>) -> Self {
        let said = notes.into_iter().filter_map(in_note);
        said.filter_map(|(field, value)| Some((field.key.to_owned(), value.ok()?))).collect()
    }

    /// These, and of `earlier` what they leave open.
    #[must_use]
    pub fn over(self, earlier: Self) -> Self {
        earlier.said.into_iter().chain(self.said).collect()
    }

    /// Was nothing said?
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.said.is_empty()
    }

    /// A text that was said.
    #[must_use]
    pub fn text(&self, key: &str) -> Option<&str> {
        match self.said.get(key) {
            Some(Value::Text(text)) => Some(text),
            _ => None,
        }
    }

    /// A number that was said.
    #[must_use]
    pub fn number(&self, key: &str) -> Option<f64> {
        match self.said.get(key) {
            Some(Value::Number(number)) => Some(*number),
            _ => None,
        }
    }

    /// What was said of a condition, as people read it.
    #[must_use]
    pub fn shown(&self, field: &Field) -> Option<String> {
        self.said.get(field.key).map(|value| field.show(value))
    }

    /// The conditions to list on paper: all but the inflation of all tyres where it was said by
    /// axle, and that of the axles where it was not.
    pub fn listed(&self) -> impl Iterator<Item = &'static Field> {
        let by_axle = AXLES.iter().any(|key| self.said.contains_key(*key));
        let all = self.said.contains_key(ALL_TYRES);
        CONDITIONS.iter().filter(move |field| match field.key {
            ALL_TYRES => all || !by_axle,
            key => by_axle || !AXLES.contains(&key),
        })
    }
}

/// In the order in which they were said: the last of a kind counts, and the inflation of all tyres
/// replaces that of the axles, and the other way round.
impl FromIterator<(String, Value)> for Conditions {
    fn from_iter<I: IntoIterator<Item = (String, Value)>>(said: I) -> Self {
        let mut out = BTreeMap::new();
        for (key, value) in said {
            if key == ALL_TYRES {
                AXLES.iter().for_each(|axle| drop(out.remove(*axle)));
            } else if AXLES.contains(&key.as_str()) {
                out.remove(ALL_TYRES);
            }
            out.insert(key, value);
        }
        Self { said: out }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_condition_is_known_by_its_label_its_option_and_its_key() {
        for field in CONDITIONS {
            for word in [field.label, &option(field), field.key, &field.label.to_uppercase()] {
                assert_eq!(named(word), Some(field), "{word}");
            }
        }
        for word in ["", "rig", "note", "wet grass", "other board", &"gear".repeat(40)] {
            assert_eq!(named(word), None, "{word}");
        }
    }

    #[test]
    fn notes_say_conditions_and_the_last_of_a_kind_counts() {
        let notes = [
            "rig: Big one",
            "gear: C1",
            "Gear: C2",
            "four-wheel drive: ON",
            "inflation: 1.2 bar",
            "wet by the hedge: look",
            "air: dusty",
        ];
        let said = Conditions::of_notes(notes);
        assert_eq!((said.text("gear"), said.text("four_wheel_drive")), (Some("C2"), Some("on")));
        assert_eq!(said.number("inflation_kpa"), Some(120.0));
        assert_eq!(said.shown(named("air").unwrap()), None, "what cannot be is a plain note");
        let json = serde_json::to_string(&said).unwrap();
        let wanted = r#"{"four_wheel_drive":"on","gear":"C2","inflation_kpa":120.0}"#;
        assert_eq!(json, wanted, "what was not said is absent");
        assert_eq!(serde_json::from_str::<Conditions>(&json).unwrap(), said);
    }

    #[test]
    fn a_course_file_may_say_conditions() {
        let file = "[course]\nnominal_m = 100.0\n[conditions]\nground = \"dry stubble\"\n\
                    inflation_rear = \"1.1 bar\"\nfour_wheel_drive = true\ngear = 3\n";
        let said: Vec<_> = in_course(file).unwrap();
        let said: Vec<_> = said.iter().map(|(field, typed)| (field.key, &**typed)).collect();
        let wanted = [
            ("four_wheel_drive", "on"),
            ("gear", "3"),
            ("surface", "dry stubble"),
            ("inflation_rear_kpa", "1.1 bar"),
        ];
        assert_eq!(said, wanted);
        let parsed = crate::course::file::parse(file).unwrap();
        assert!(parsed.unknown.is_empty(), "{:?}", parsed.unknown);
        for (wrong, says) in [
            ("[conditions]\ngaer = \"C2\"", "\"gaer\" is not known"),
            ("[conditions]\ninflation = 0", "bar"),
            ("[conditions]\ngear = []", "no text"),
            ("conditions = 1", "no table"),
        ] {
            let fault = in_course(wrong).unwrap_err().to_string();
            assert!(fault.contains(says), "{fault}");
        }
        assert_eq!(in_course("[course]").unwrap(), []);
    }

    #[test]
    fn inflation_is_of_all_tyres_or_by_axle() {
        let all = Conditions::of_notes(["inflation: 1.2 bar"]);
        let rear = Conditions::of_notes(["inflation rear: 90 kPa"]);
        let both = Conditions::of_notes(["inflation, front: 1.4 bar", "inflation, rear: 1.1 bar"]);
        let keys = |said: &Conditions| said.said.keys().cloned().collect::<Vec<_>>();
        assert_eq!(keys(&all.clone().over(both.clone())), [ALL_TYRES]);
        assert_eq!(keys(&both.clone().over(all.clone())), AXLES);
        let mended = rear.over(both);
        assert_eq!(mended.number(AXLES[0]), Some(140.0));
        assert_eq!(mended.number(AXLES[1]), Some(90.0));
        let rows = |said: &Conditions| said.listed().map(|field| field.key).collect::<Vec<_>>();
        assert!(!rows(&mended).contains(&ALL_TYRES) && rows(&mended).contains(&AXLES[0]));
        assert!(rows(&all).contains(&ALL_TYRES) && !rows(&all).contains(&AXLES[0]));
    }

    #[test]
    fn what_cannot_be_is_refused_with_what_can() {
        for (word, typed, says) in [
            ("inflation", "0", "bar"),
            ("inflation", "2000 kPa", "bar"),
            ("inflation rear", "1.2", "bar"),
            ("four-wheel drive", "perhaps", "on, off"),
            ("gear", "", "empty"),
            ("implement", "drill\u{1b}[2J", "control characters"),
            ("terminal", "\u{202e}left", "control characters"),
            ("load", &"x".repeat(1_000_000), "1000000 characters; at most 80"),
        ] {
            let field = named(word).unwrap();
            let fault = note(field, typed).unwrap_err().to_string();
            assert!(fault.starts_with(field.label) && fault.contains(says), "{fault}");
            assert!(fault.len() < 200, "{} characters of error", fault.len());
        }
        assert_eq!(note(named("inflation").unwrap(), " 1.2   bar ").unwrap(), "Inflation: 1.2 bar");
    }
}
