//! Options for the conditions of a job, made from their fields.

use crate::shell::exit::{self, Trouble};
use clap::{Arg, ArgMatches, Command};
use trundle_core::rig::conditions::{CONDITIONS, Conditions, note, option, read};
use trundle_core::rig::{Field, FieldKind, Value};

/// What was typed for the conditions, each as it was typed.
#[derive(Clone, Debug, Default)]
pub struct ConditionArgs {
    typed: Vec<(&'static Field, String)>,
}

impl ConditionArgs {
    /// As values; `means`: what a wrong one means.
    ///
    /// # Errors
    /// Exit code 2 with what may be typed.
    pub fn said(&self, means: &'static str) -> Result<Conditions, Trouble> {
        let value = |field: &Field, typed: &str| -> Result<(String, Value), Trouble> {
            Ok((field.key.to_owned(), Self::each(field, means, read(field, typed))?))
        };
        self.typed.iter().map(|(field, typed)| value(field, typed)).collect()
    }

    /// As the notes that keep them in a capture.
    ///
    /// # Errors
    /// Exit code 2 with what may be typed.
    pub fn notes(&self) -> Result<Vec<String>, Trouble> {
        let means = "Nothing was recorded.";
        let note = |(field, typed): &(&'static Field, String)| {
            Self::each(field, means, note(field, typed))
        };
        self.typed.iter().map(note).collect()
    }

    /// As options again, for another command.
    pub fn options(&self) -> impl Iterator<Item = String> {
        self.typed.iter().flat_map(|(field, typed)| [format!("--{}", option(field)), typed.clone()])
    }

    fn each<T>(
        field: &Field,
        means: &'static str,
        read: Result<T, trundle_core::rig::FieldFault>,
    ) -> Result<T, Trouble> {
        read.map_err(|fault| {
            let next = format!("Give --{} again, or leave it out.", option(field));
            Trouble::new(exit::USAGE, format!("{fault}."), means, next)
        })
    }
}

impl clap::FromArgMatches for ConditionArgs {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let typed = |field: &'static Field| Some((field, matches.get_one(field.key).cloned()?));
        Ok(Self { typed: CONDITIONS.iter().filter_map(typed).collect() })
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}

impl clap::Args for ConditionArgs {
    fn augment_args(mut command: Command) -> Command {
        for field in CONDITIONS {
            let arg = Arg::new(field.key).long(option(field)).allow_hyphen_values(true);
            command = command.arg(match field.kind {
                FieldKind::Measure(measure) => {
                    arg.value_name("VALUE").help(format!("{}: {}", field.about, measure.wanted()))
                }
                FieldKind::Word(_) => arg.value_name("ON|OFF").help(field.about),
                _ => arg.value_name("TEXT").help(field.about),
            });
        }
        command.mut_arg("inflation_kpa", |arg| {
            arg.conflicts_with_all(["inflation_front_kpa", "inflation_rear_kpa"])
        })
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}
