//! The form of a thing: its fields as options of the command, choices from the register.

use super::{KINDS, entries, path};
use crate::shell::exit::Trouble;
use crate::stations::form::{Of, Sent};
use crate::stations::house::House;
use crate::web::stations::value;
use trundle_core::rig::{Entry, Field as Known, FieldKind, Thing};
use trundle_core::units::typed::Measure;
use trundle_show::reading::Reading;
use trundle_show::stations::form::{Form, Kind, button};
use trundle_show::stations::rig::{antenna, shown};
use trundle_show::words::stations as words;
use trundle_show::words::stations_rig as rig_words;

/// Name of the button that asks for another thing in a choice.
pub const ALSO: &str = "also";

/// A key as an option.
pub fn option(field: &Known) -> String {
    field.key.replace('_', "-")
}

/// The command that adds one, with all of its fields.
pub fn add(thing: Thing) -> Of {
    let mut options = vec![("name".to_owned(), words::NAME.to_owned())];
    options.extend(thing.fields().iter().map(|field| (option(field), field.label.to_owned())));
    Of { command: vec![thing.word(), "add"], options }
}

/// The form of a thing with what was typed. `drawn`: a rig whose antenna is drawn beside its
/// fields.
///
/// # Errors
/// The register's, for the choices.
pub fn form(
    house: &House,
    thing: Thing,
    typed: &dyn Fn(&str) -> String,
    drawn: &Entry,
) -> Result<Form, Trouble> {
    let mut form = house.form(&add(thing), &path(thing), words::SAVE, typed);
    for (field, known) in form.fields.iter_mut().skip(1).zip(thing.fields()) {
        field.kind = kind(house, known, field.kind.clone())?;
        if let FieldKind::Link(to) = known.kind {
            let more = button(ALSO, &field.name, &rig_words::add_new(to));
            form.below.push((field.name.clone(), more));
        }
    }
    if thing == Thing::Rig {
        form.above.push(("antenna-right".to_owned(), antenna(drawn, &house.reading())));
    }
    Ok(form)
}

fn kind(house: &House, known: &Known, otherwise: Kind) -> Result<Kind, Trouble> {
    Ok(match known.kind {
        FieldKind::Link(to) => {
            let all = entries(house, to)?;
            Kind::Choice(all.into_iter().map(|one| (one.name.clone(), one.name)).collect())
        }
        // The keys for figures have no letters for the unit, and some no minus.
        FieldKind::Measure(measure) if measure != Measure::Number => Kind::Text,
        _ => otherwise,
    })
}

/// What is saved, as it is typed: by the name of the field.
pub fn saved(thing: Thing, entry: &Entry, reading: &Reading, name: &str) -> String {
    if name == "name" {
        return entry.name.clone();
    }
    let field = thing.fields().iter().find(|field| option(field) == name);
    field.map(|field| shown(field, entry, reading)).unwrap_or_default()
}

/// The antenna as it was typed, for its drawing: what cannot be read is not drawn.
pub fn drawn(sent: &Sent) -> Entry {
    let mut entry = Entry::default();
    for field in Thing::Rig.fields() {
        if let (FieldKind::Measure(_), Ok(read)) =
            (field.kind, field.read(value(sent, &option(field))))
        {
            entry.values.insert(field.key.to_owned(), read);
        }
    }
    entry
}

/// The field of a rig with this name, and the kind of thing that it names.
pub fn link(name: &str) -> Option<(&'static Known, Thing)> {
    let field = Thing::Rig.fields().iter().find(|field| option(field) == name)?;
    match field.kind {
        FieldKind::Link(to) => Some((field, to)),
        _ => None,
    }
}

/// The kind of a path's last part.
pub fn named(word: &str) -> Option<Thing> {
    KINDS.into_iter().find(|thing| thing.word() == word)
}

/// A form that is one button: what it does, and to which.
pub fn deed(house: &House, thing: Thing, deed: &str, name: &str, words: &str) -> Form {
    let hidden = [("deed", deed), ("of", name)].map(|(key, of)| (key.to_owned(), of.to_owned()));
    Form {
        action: path(thing),
        hidden: hidden.to_vec(),
        button: words.to_owned(),
        key: house.key(&path(thing)),
        ..Form::default()
    }
}
