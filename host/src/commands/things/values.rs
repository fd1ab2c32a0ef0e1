//! Options made from the fields of a thing.

use crate::commands::handbook;
use crate::shell::exit::{self, Trouble};
use clap::builder::PossibleValuesParser;
use clap::{Arg, ArgMatches, Command};
use std::fmt::Debug;
use std::marker::PhantomData;
use trundle_core::rig::{Field, FieldKind, Thing, Value};

/// A kind of thing, for the types of its commands.
pub trait Kept: Debug + Clone + Send + Sync + 'static {
    /// Kind of the thing.
    const THING: Thing;
}

macro_rules! kept {
    ($($name:ident),*) => {$(
        #[doc = concat!("Commands about `Thing::", stringify!($name), "`.")]
        #[derive(Clone, Copy, Debug)]
        pub struct $name;
        impl Kept for $name {
            const THING: Thing = Thing::$name;
        }
    )*};
}
kept!(Tractor, Tyres, Tape, Person, Rig);

/// What was typed for the fields of a thing.
#[derive(Clone, Debug, Default)]
pub struct Values<K> {
    typed: Vec<(&'static Field, String)>,
    of: PhantomData<K>,
}

impl<K: Kept> Values<K> {
    /// As values, each read by its field.
    ///
    /// # Errors
    /// Exit code 2 with what may be typed.
    pub fn given(&self) -> Result<Vec<(&'static str, Value)>, Trouble> {
        let read = |(field, typed): &(&'static Field, String)| {
            let value = field.read(typed).map_err(|fault| {
                let next = format!("Give --{} again.", option(field.key));
                Trouble::new(exit::USAGE, format!("{fault}."), "Nothing was changed.", next)
            })?;
            Ok((field.key, value))
        };
        self.typed.iter().map(read).collect()
    }
}

/// The option of a field.
fn option(key: &str) -> String {
    key.replace('_', "-")
}

impl<K: Kept> clap::FromArgMatches for Values<K> {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let typed = K::THING.fields().iter().filter_map(|field| {
            matches.get_one::<String>(field.key).map(|typed| (field, typed.clone()))
        });
        Ok(Self { typed: typed.collect(), of: PhantomData })
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}

impl<K: Kept> clap::Args for Values<K> {
    fn augment_args(mut command: Command) -> Command {
        for field in K::THING.fields() {
            let mut arg = Arg::new(field.key).long(option(field.key)).allow_hyphen_values(true);
            arg = match field.kind {
                FieldKind::Word(words) => arg
                    .value_name("WORD")
                    .value_parser(PossibleValuesParser::new(words.iter().copied()))
                    .ignore_case(true)
                    .help(field.about),
                FieldKind::Measure(measure) => {
                    arg.value_name("VALUE").help(format!("{}: {}", field.about, measure.wanted()))
                }
                FieldKind::Date => arg.value_name("YYYY-MM-DD").help(field.about),
                FieldKind::Link(to) => {
                    arg.value_name("NAME").help(field.about).add(handbook::things(to))
                }
                FieldKind::Text => arg.value_name("TEXT").help(field.about),
            };
            command = command.arg(arg);
        }
        command
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}
