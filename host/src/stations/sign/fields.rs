//! The fields of a sign-off and of an amendment: what stands in them before anything is typed, and
//! what is said beside them.

use super::of_job;
use crate::shell::files;
use crate::stations::form::{Of, Sent};
use crate::stations::house::House;
use crate::stations::job::Job;
use crate::store::register::Register;
use crate::web::stations::value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use trundle_core::result::record_v1::RecordV1;
use trundle_core::rig::Thing;
use trundle_core::rig::conditions::{CONDITIONS, named, option};
use trundle_show::stations::form::{Field, Kind};
use trundle_show::words::records as words;
use trundle_show::words::station::Station;

/// The captures that are signed off: the option, and the station that recorded it.
const CAPTURES: [(&str, Station); 5] = [
    ("capture", Station::Drive),
    ("pto", Station::Pto),
    ("mount", Station::Antenna),
    ("speeds", Station::Speeds),
    ("proof", Station::Proof),
];
/// A capture that is none of the job's.
const OTHER: &str = "other-capture";
/// How parts are calculated: what was typed for it where it was measured.
const HOW: [(&str, Station); 10] = [
    ("length", Station::Drive),
    ("display-step", Station::Pto),
    ("set-now", Station::Pto),
    ("taped-right", Station::Antenna),
    ("taped-ahead", Station::Antenna),
    ("axle-to-hitch", Station::Antenna),
    ("radar-nominal", Station::Speeds),
    ("entered", Station::Proof),
    ("old", Station::Proof),
    ("step", Station::Proof),
];
/// Before these fields a heading stands.
pub const GROUPS: [(&str, &str); 5] = [
    ("capture", words::GROUP_WHAT),
    ("as-found", words::GROUP_TERMINAL),
    ("surface", words::GROUP_CONDITIONS),
    ("course", words::GROUP_HOW),
    ("stated", words::GROUP_ELSE),
];
/// Ending of the name under which it is noted which capture was the newest when one was chosen.
const OF: &str = "-newest";

/// The fields and what is known for them.
pub struct Fields {
    job: Job,
    captures: BTreeMap<&'static str, Vec<PathBuf>>,
    rigs: Vec<String>,
    said: Vec<(String, String)>,
    course: Option<PathBuf>,
    old: Option<RecordV1>,
    /// Captures that cannot be read, and why.
    pub troubles: Vec<String>,
}

/// The options in the order of the form.
fn options(first: &[&str]) -> Vec<(String, String)> {
    let labelled = |name: &str| (name.to_owned(), words::label(name).to_owned());
    let conditions = CONDITIONS.iter().map(|field| (option(field), field.label.to_owned()));
    let front = first.iter().chain(&["pto", "mount", "speeds", "proof", "rig", "channel"]);
    let terminal = ["as-found", "as-left", "rate"];
    let all = front.chain(&terminal).map(|name| labelled(name)).chain(conditions);
    let how = HOW.iter().map(|(name, _)| labelled(name));
    let last = ["location", "stated", "because", "remark"].map(labelled);
    all.chain([labelled("course")]).chain(how).chain(last).collect()
}

/// Names of all fields.
pub fn names(of: &Of) -> impl Iterator<Item = String> + use<> {
    let names: Vec<String> = of.options.iter().map(|(name, _)| name.clone()).collect();
    names.into_iter().chain([OTHER.to_owned()])
}

/// The command for what was sent.
pub fn argv(of: &Of, sent: &Sent) -> Vec<String> {
    let other = value(sent, OTHER).trim().to_owned();
    let mut sent = sent.to_vec();
    if !other.is_empty() {
        sent.retain(|(name, _)| name != "capture");
        sent.push(("capture".to_owned(), other));
    }
    of.argv(&sent)
}

/// The captures that are chosen, as one text.
pub fn captures(typed: &dyn Fn(&str) -> String) -> String {
    let all = CAPTURES.iter().map(|(name, _)| typed(name)).chain([typed(OTHER)]);
    all.collect::<Vec<_>>().join("\n")
}

impl Fields {
    /// The form of a sign-off.
    pub fn signing() -> Of {
        Of { command: vec!["sign"], options: options(&["capture"]) }
    }

    /// The form of an amendment.
    pub fn amending() -> Of {
        Of { command: vec!["record", "amend"], options: options(&["id", "reason", "without"]) }
    }

    /// What is known; `old`: the record that is amended.
    pub fn of(house: &House, old: Option<RecordV1>) -> Self {
        let all = CAPTURES.iter().map(|(name, station)| (*name, of_job(house, *station)));
        let rigs = Register::read(&house.place).and_then(|register| register.list(Thing::Rig));
        let rigs = rigs.unwrap_or_default().into_iter().map(|rig| rig.entry.name).collect();
        let mut fields = Self {
            job: house.job(),
            captures: all.collect(),
            rigs,
            said: Vec::new(),
            course: house.course_file(),
            old,
            troubles: Vec::new(),
        };
        if fields.old.is_none() {
            fields.read(house);
        }
        fields
    }

    /// What was said in the captures that are chosen; the first that says something counts, as a
    /// course is calculated first.
    fn read(&mut self, house: &House) {
        let mut course = false;
        for (name, _) in CAPTURES {
            let file = self.before(name);
            if file.is_empty() {
                continue;
            }
            match house.read.of(Path::new(&file)) {
                Ok(noted) => {
                    course |= noted.course;
                    for (option, typed) in &noted.conditions {
                        let known = self.said.iter().any(|(other, _)| other == option);
                        if !known {
                            self.said.push((option.clone(), typed.clone()));
                        }
                    }
                }
                Err(why) => self.troubles.push(words::unread(&file, &why)),
            }
        }
        // A course that is in the capture was the one that was driven.
        if course {
            self.course = None;
        }
    }

    /// What stands in a field before anything is typed.
    pub fn before(&self, name: &str) -> String {
        let typed = |station: Station, name: &str| self.job.typed(station, name);
        if let Some((_, all)) = self.captures.iter().find(|(other, _)| **other == name) {
            let newest = newest_of(all);
            let noted = self.noted(&format!("{name}{OF}")) == Some(newest.as_str());
            return match self.noted(name) {
                _ if self.old.is_some() => String::new(),
                Some(chosen) if noted => chosen.to_owned(),
                _ => newest,
            };
        }
        if self.old.is_some() {
            return String::new();
        }
        if let Some(typed) = self.noted(name).filter(|typed| !typed.is_empty()) {
            return typed.to_owned();
        }
        if let Some((_, said)) = self.said.iter().find(|(option, _)| option == name) {
            return said.clone();
        }
        let first = |all: &[(Station, &str)]| {
            let all = all.iter().map(|(station, name)| typed(*station, name));
            all.into_iter().find(|typed| !typed.is_empty()).unwrap_or_default()
        };
        match name {
            "as-found" => first(&[
                (Station::Value, "as-found"),
                (Station::Drive, "as-found"),
                (Station::Proof, "old"),
            ]),
            "as-left" => first(&[(Station::Value, "as-left"), (Station::Proof, "entered")]),
            "rate" => first(&[(Station::Value, "rate"), (Station::Drive, "rate")]),
            "rig" => first(&[(Station::Rig, "rig")]),
            "course" => {
                self.course.as_ref().map(|path| path.display().to_string()).unwrap_or_default()
            }
            _ => self.how(name),
        }
    }

    /// What was typed for a part where it was measured; of a part that is chosen.
    fn how(&self, name: &str) -> String {
        let Some((_, station)) = HOW.iter().find(|(option, _)| *option == name) else {
            return String::new();
        };
        let part = CAPTURES.iter().find(|(_, of)| of == station);
        let chosen = part.is_some_and(|(part, _)| !self.before(part).is_empty());
        // The length of a course stands in its capture.
        if chosen && *station != Station::Drive {
            self.job.typed(*station, name)
        } else {
            String::new()
        }
    }

    fn noted(&self, name: &str) -> Option<&str> {
        self.job.typed.get(Station::Sign.word())?.get(name).map(String::as_str)
    }

    /// Which captures are the newest now, to be noted beside the choice.
    pub fn newest(&self) -> Vec<(String, String)> {
        let all = self.captures.iter();
        all.map(|(name, all)| (format!("{name}{OF}"), newest_of(all))).collect()
    }

    /// The fields made fit for the page.
    pub fn dress(&self, all: Vec<Field>) -> Vec<Field> {
        let mut out = Vec::new();
        for mut field in all {
            if field.name == "id" {
                continue;
            }
            let how = HOW.iter().any(|(name, _)| *name == field.name);
            if how && field.value.is_empty() && field.fault.is_empty() && self.old.is_none() {
                continue;
            }
            self.dress_one(&mut field);
            let other = field.name == "capture";
            out.push(field);
            if other {
                let other = Field::text(OTHER, words::FIELD_OTHER, "");
                out.push(Field { hint: words::HINT_OTHER.to_owned(), ..other });
            }
        }
        out
    }

    fn dress_one(&self, field: &mut Field) {
        if let Some((_, all)) = self.captures.iter().find(|(name, _)| **name == field.name) {
            let choice = |path: &PathBuf| (path.display().to_string(), files::name(path));
            field.kind = Kind::Choice(all.iter().map(choice).collect());
            field.needed = false;
            let hint = if all.is_empty() { words::HINT_NONE } else { words::HINT_CAPTURE };
            field.hint = hint.to_owned();
        }
        if field.name == "rig" {
            let rigs = self.rigs.iter().map(|rig| (rig.clone(), rig.clone()));
            field.kind = Kind::Choice(rigs.collect());
        }
        let said = self.said.iter().find(|(option, _)| *option == field.name);
        if let Some((_, said)) = said
            && field.value == *said
        {
            field.hint = format!("{} {}", words::SAID_BEFORE, field.hint);
        }
        if let Some(value) = self.old.as_ref().and_then(|old| in_record(old, &field.name)) {
            field.hint = format!("{} {}", words::in_record(&value), field.hint);
        }
    }
}

/// What stands in a record under an option.
fn in_record(record: &RecordV1, option: &str) -> Option<String> {
    let number = |number: Option<f64>| number.map(|number| number.to_string());
    match option {
        "rig" => Some(record.rig.rig.name.clone()),
        "channel" => record.channel.clone(),
        "as-found" => number(record.as_found),
        "as-left" => number(record.as_left),
        "location" => record.place.clone(),
        "because" => record.accepted_because.clone(),
        "remark" => record.remark.clone(),
        "rate" => number(record.method.as_ref().and_then(|method| method.rate_l_per_ha)),
        "stated" if !record.stated_by_customer.is_empty() => {
            Some(record.stated_by_customer.join(", "))
        }
        _ => named(option).and_then(|field| record.conditions.shown(field)),
    }
}

fn newest_of(all: &[PathBuf]) -> String {
    all.first().map(|path| path.display().to_string()).unwrap_or_default()
}
