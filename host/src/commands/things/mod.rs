//! `trundle tractor`, `tyres`, `tape`, `person` and `rig`: what is known about them.
//!
//! One set of commands for all; options come from the fields of each thing.

mod values;

pub use values::{Kept, Person, Rig, Tape, Tractor, Tyres};

use crate::shell::exit::{self, OK, Trouble};
use crate::shell::{files, out};
use crate::store::place::DataFolder;
use crate::store::register::Register;
use std::path::PathBuf;
use trundle_core::result::register_v1;
use trundle_core::rig::{Entry, Thing, Value, from_toml, to_toml};
use trundle_show::text::register as register_text;
use values::Values;

/// What to do with a thing.
#[derive(Debug, clap::Subcommand)]
pub enum Verb<K: Kept> {
    /// Add a new one.
    Add {
        /// What one is called.
        #[arg(help = K::THING.name_about())]
        name: String,
        /// What is known about it.
        #[command(flatten)]
        values: Values<K>,
    },
    /// List all of them by name.
    List {
        /// Print one JSON object and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// Everything that is known about one.
    Show {
        /// Its name; for a rig, the active one if not given.
        name: Option<String>,
        /// Print one JSON object and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// Change what is known, or its name.
    Edit(Edit<K>),
    /// Put one into the bin; `trundle undo` brings it back.
    Remove {
        /// Name of the thing.
        name: String,
        /// Only say what would be done.
        #[arg(long)]
        dry_run: bool,
    },
}

/// What to do with a rig.
#[derive(Debug, clap::Subcommand)]
pub enum RigVerb {
    /// As for every other thing.
    #[command(flatten)]
    Common(Verb<Rig>),
    /// Use this rig from now on; the one before is no longer active.
    Use {
        /// Name of the thing.
        #[arg(add = super::handbook::rigs())]
        name: String,
    },
    /// Write a rig and all that it names into a file, for another laptop.
    Export {
        /// Its name; the active one if not given.
        #[arg(add = super::handbook::rigs())]
        name: Option<String>,
        /// The file; to stdout if not given.
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
    },
    /// Take a rig over from such a file.
    Import {
        /// The file to read or write.
        file: PathBuf,
        /// Only say what would be done.
        #[arg(long)]
        dry_run: bool,
    },
}

/// What is to be changed.
#[derive(Debug, clap::Args)]
pub struct Edit<K: Kept> {
    /// Name of the thing.
    name: String,
    /// New name of the thing.
    #[arg(long = "name", value_name = "NAME")]
    new_name: Option<String>,
    /// Options whose value is to be cleared, such as "wear,ballast".
    #[arg(long, value_name = "OPTION", value_delimiter = ',')]
    forget: Vec<String>,
    #[command(flatten)]
    values: Values<K>,
}

/// Do it; gives the exit code.
///
/// # Errors
/// [`Trouble`]: names and values (2), the register (4, 5, 6).
pub fn run<K: Kept>(verb: &Verb<K>) -> Result<u8, Trouble> {
    let place = DataFolder::in_force()?;
    let thing = K::THING;
    let word = thing.word();
    match verb {
        Verb::Add { name, values } => {
            let name = name.trim().to_owned();
            let values = values.given()?.into_iter().map(|(key, value)| (key.to_owned(), value));
            let entry = Entry { name, values: values.collect() };
            let register = Register::write(&place)?;
            register.add(thing, &entry)?;
            let active = active(&register, thing)?.as_ref() == Some(&entry.name);
            let now = if active { " It is the active rig." } else { "" };
            out::say(&format!("The {word} \"{}\" is saved.{now}", shown(&entry.name)));
        }
        Verb::List { json } => {
            let register = Register::read(&place)?;
            let named = register.list(thing)?.into_iter();
            let entries: Vec<_> = named.map(|named| named.entry).collect();
            let active = active(&register, thing)?;
            let active = active.as_deref();
            let object = || register_v1::to_json(thing, &entries, active);
            out::say_either(*json, object, || register_text::list(thing, &entries, active));
        }
        Verb::Show { name, json } => {
            show(&Register::read(&place)?, thing, name.as_deref(), *json)?;
        }
        Verb::Edit(edit) => {
            let changes = changes(thing, edit)?;
            let new_name = edit.new_name.as_deref().map(str::trim);
            let after = Register::write(&place)?.edit(thing, &edit.name, new_name, &changes)?;
            out::say_text(&register_text::entry(thing, &after));
        }
        Verb::Remove { name, dry_run } => {
            let register = Register::write(&place)?;
            let held = register.get(thing, name)?.entry.name;
            register.remove(thing, name, *dry_run)?;
            let name = shown(&held);
            out::say(&if *dry_run {
                format!("The {word} \"{name}\" would go to the bin.")
            } else {
                format!("The {word} \"{name}\" is in the bin. Undo that with `trundle undo`.")
            });
        }
    }
    Ok(OK)
}

/// Do it with a rig; gives the exit code.
///
/// # Errors
/// [`Trouble`], as [`run`]; the file (4, 5, 6).
pub fn run_rig(verb: &RigVerb) -> Result<u8, Trouble> {
    let place = DataFolder::in_force()?;
    match verb {
        RigVerb::Common(verb) => return run(verb),
        RigVerb::Use { name } => {
            let rig = Register::write(&place)?.use_rig(name)?;
            out::say(&format!("The active rig is \"{}\".", shown(&rig.entry.name)));
        }
        RigVerb::Export { name, to } => {
            let (_, rig) = Register::read(&place)?.rig(name.as_deref())?;
            let text = to_toml(&rig);
            match to {
                None => out::say_raw(&text),
                Some(path) => {
                    files::replace_text(path, &text)?;
                    out::notice(&format!("The rig is in {}", path.display()));
                }
            }
        }
        RigVerb::Import { file, dry_run } => {
            let rig = from_toml(&files::read_text(file)?).map_err(|fault| {
                Trouble::new(
                    exit::INPUT,
                    format!("{}: {fault}.", file.display()),
                    "Nothing of it was taken over.",
                    "Have it exported again with `trundle rig export`.",
                )
            })?;
            for (thing, name, known) in Register::write(&place)?.take_over(&rig, *dry_run)? {
                let done = match (known, dry_run) {
                    (true, false) => "set to what the file says",
                    (false, false) => "added",
                    (true, true) => "would be set to what the file says",
                    (false, true) => "would be added",
                };
                out::say(&format!("{} \"{}\": {done}", thing.word(), shown(&name)));
            }
        }
    }
    Ok(OK)
}

fn shown(name: &str) -> String {
    out::scrub(name, trundle_core::rig::NAME_MAX)
}

/// Name of the active rig; none of any other kind.
fn active(register: &Register, thing: Thing) -> Result<Option<String>, Trouble> {
    let active = if thing == Thing::Rig { register.active()? } else { None };
    Ok(active.map(|rig| rig.entry.name))
}

fn show(register: &Register, thing: Thing, name: Option<&str>, json: bool) -> Result<(), Trouble> {
    let entry = match (name, thing) {
        (Some(name), _) => register.get(thing, name)?.entry,
        (None, Thing::Rig) => register.rig(None)?.1.rig,
        (None, _) => {
            let what = format!("Which {}?", thing.noun());
            let next = format!("Give a name; see all with `trundle {} list`.", thing.word());
            return Err(Trouble::new(exit::USAGE, what, "Nothing was shown.", next));
        }
    };
    let active = active(register, thing)?;
    let object = || register_v1::to_json(thing, std::slice::from_ref(&entry), active.as_deref());
    out::say_either(json, object, || register_text::entry(thing, &entry));
    if !json && active.as_ref() == Some(&entry.name) {
        out::say("It is the active rig.");
    }
    Ok(())
}

type Changes = Vec<(&'static str, Option<Value>)>;

fn changes<K: Kept>(thing: Thing, edit: &Edit<K>) -> Result<Changes, Trouble> {
    let given = edit.values.given()?;
    let mut changes: Changes = given.into_iter().map(|(key, value)| (key, Some(value))).collect();
    for word in &edit.forget {
        let key = word.trim().trim_start_matches("--").replace('-', "_");
        let Some(field) = thing.field(&key) else {
            let what = format!("\"{}\" is no kind of thing that is saved.", shown(word));
            let next = format!("`trundle {} edit --help` shows what can be.", thing.word());
            return Err(Trouble::new(exit::USAGE, what, "Nothing was changed.", next));
        };
        changes.push((field.key, None));
    }
    if changes.is_empty() && edit.new_name.is_none() {
        let next = format!("`trundle {} edit --help` shows what can be changed.", thing.word());
        let what = "No change was asked for.";
        return Err(Trouble::new(exit::USAGE, what, "Nothing was changed.", next));
    }
    Ok(changes)
}
