//! The form of a course: the fields of a course file, and what was typed into them. What was not
//! touched stays in the file as it is, whatever unit it was shown in.

use crate::stations::form::Sent;
use crate::stations::house::House;
use crate::store::register::Register;
use crate::web::stations::value;
use trundle_core::course::typed::{COURSE_FIELDS, CourseField, Kind, Value, put, table};
use trundle_core::rig;
use trundle_show::reading::Reading;
use trundle_show::stations::Markup;
use trundle_show::stations::course::shown;
use trundle_show::stations::form::{self, Field, button};
use trundle_show::stations::parts;
use trundle_show::words::station::Station;
use trundle_show::words::stations_course as words;

/// Name of the field with a tape of the register.
pub const CHOSEN: &str = "tape";
/// The first field of the tape.
const FIRST_OF_TAPE: &str = "class";

/// The fields with what was typed, and what is wrong with it.
#[derive(Clone, Debug)]
pub struct Typed {
    /// In the order of the form.
    pub fields: Vec<Field>,
    reading: Reading,
}

impl Typed {
    /// As the text of a course file says.
    pub fn of_text(house: &House, text: &str) -> Self {
        let mut typed = Self::of(house, &|field| saved(house, text, field));
        let chosen = house.job().typed(Station::Course, CHOSEN);
        let chosen = if text.is_empty() && chosen.is_empty() { rigs_tape(house) } else { chosen };
        typed.set(CHOSEN, chosen);
        typed
    }

    /// As a form sent it. A field that the form did not have stays as it is saved.
    pub fn of_sent(house: &House, text: &str, sent: &Sent) -> Self {
        let had = |key: &str| sent.iter().any(|(name, _)| name == key);
        let mut typed = Self::of(house, &|field| {
            if had(field.key) {
                value(sent, field.key).to_owned()
            } else {
                saved(house, text, field)
            }
        });
        typed.set(CHOSEN, value(sent, CHOSEN).to_owned());
        typed
    }

    fn of(house: &House, typed: &dyn Fn(&CourseField) -> String) -> Self {
        let mut fields = Vec::new();
        for one in COURSE_FIELDS {
            if one.key == FIRST_OF_TAPE {
                fields.push(chooser(house));
            }
            let mut field = Field::text(one.key, one.label, &typed(one));
            field.hint = format!("{}: {}", one.about, one.wanted());
            field.needed = one.key == COURSE_FIELDS[0].key;
            field.kind = match one.kind {
                Kind::Word(words) => form::Kind::Choice(
                    words.iter().map(|word| ((*word).to_owned(), (*word).to_owned())).collect(),
                ),
                // The keys for figures have no letters for the unit.
                _ => form::Kind::Text,
            };
            fields.push(field);
        }
        Self { fields, reading: house.reading() }
    }

    /// What is typed in a field.
    pub fn value(&self, name: &str) -> String {
        let field = self.fields.iter().find(|field| field.name == name);
        field.map(|field| field.value.trim().to_owned()).unwrap_or_default()
    }

    fn set(&mut self, name: &str, value: String) {
        if let Some(field) = self.fields.iter_mut().find(|field| field.name == name) {
            field.value = value;
        }
    }

    /// What is wrong with a field.
    pub fn fault(&mut self, name: &str, words: &str) {
        if let Some(field) = self.fields.iter_mut().find(|field| field.name == name) {
            words.clone_into(&mut field.fault);
        }
    }

    /// All that is wrong.
    pub fn faults(&self) -> Vec<String> {
        let faults = self.fields.iter().map(|field| field.fault.clone());
        faults.filter(|fault| !fault.is_empty()).collect()
    }

    /// A value of a saved tape into its field; empty where it is not known.
    pub fn put(&mut self, key: &str, known: Option<&rig::Value>) {
        let Some(field) = COURSE_FIELDS.iter().find(|field| field.key == key) else { return };
        let value = match known {
            Some(rig::Value::Number(number)) => Value::Float(*number),
            Some(rig::Value::Text(text)) => Value::String(text.clone()),
            None => return self.set(key, String::new()),
        };
        self.set(key, shown(field, &value, &self.reading));
    }

    /// The course file that this makes out of the saved one; nothing where nothing is typed.
    ///
    /// # Errors
    /// The same with what is wrong beside each field.
    pub fn text(&self, saved_text: &str) -> Result<String, Self> {
        let mut wrong = self.clone();
        let mut changes = Vec::new();
        // A file that cannot be read is replaced as a whole.
        let file = table(saved_text).unwrap_or_default();
        let base = if table(saved_text).is_ok() { saved_text } else { "" };
        for field in COURSE_FIELDS {
            let typed = self.value(field.key);
            let held = field.in_file(&file);
            let same =
                held.as_ref().map(|held| shown(field, held, &self.reading)).unwrap_or_default();
            if same.trim() == typed {
                continue;
            }
            if typed.is_empty() {
                changes.push((field, None));
                continue;
            }
            match field.read(&typed) {
                Ok(value) => changes.push((field, Some(value))),
                Err(words) => wrong.fault(field.key, &words),
            }
        }
        if !wrong.faults().is_empty() {
            return Err(wrong);
        }
        put(base, &changes).map_err(|fault| {
            wrong.fault(COURSE_FIELDS[0].key, &fault.to_string());
            wrong
        })
    }

    /// Where what is saved differs from what was typed: label, saved, typed.
    pub fn differs(&self, house: &House, text: &str) -> Vec<[String; 3]> {
        let row = |field: &CourseField| {
            let (saved, typed) = (saved(house, text, field), self.value(field.key));
            (saved.trim() != typed).then(|| [field.label.to_owned(), saved, typed])
        };
        COURSE_FIELDS.iter().filter_map(row).collect()
    }
}

/// A value of a course file as it is typed; empty where it says nothing.
fn saved(house: &House, text: &str, field: &CourseField) -> String {
    let value = table(text).ok().and_then(|table| field.in_file(&table));
    value.map(|value| shown(field, &value, &house.reading())).unwrap_or_default()
}

/// The tapes of the register; none where it cannot be read, which its own station says.
fn chooser(house: &House) -> Field {
    let all = Register::read(&house.place).and_then(|register| register.list(rig::Thing::Tape));
    let choice = |name: String| (name.clone(), name);
    let all = all.unwrap_or_default().into_iter().map(|named| choice(named.entry.name));
    let mut field = Field::text(CHOSEN, words::CHOOSE, "");
    words::CHOOSE_HINT.clone_into(&mut field.hint);
    field.kind = form::Kind::Choice(all.collect());
    field
}

/// The tape of the rig in use.
fn rigs_tape(house: &House) -> String {
    let rig = Register::read(&house.place).and_then(|register| register.active());
    let rig = rig.ok().flatten();
    rig.and_then(|rig| rig.entry.text("tape").map(str::to_owned)).unwrap_or_default()
}

/// Headings between the fields.
pub fn headings() -> Vec<(String, Markup)> {
    vec![(CHOSEN.to_owned(), parts::heading(words::TAPE))]
}

/// The button beside the choice of a tape.
pub fn buttons() -> Vec<(String, Markup)> {
    vec![(CHOSEN.to_owned(), button("do", "tape", words::TAKE))]
}
