//! Options for the conditions of a job, made from their fields.

use crate::shell::exit::{self, Trouble};
use clap::{Arg, ArgMatches, Command};
use trundle_core::rig::conditions::{CONDITIONS, Conditions, in_course, note, option, read};
use trundle_core::rig::{Field, FieldFault, FieldKind};

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
        let value = |(field, typed): &(&'static Field, String)| {
            let value = read(field, typed).map_err(|fault| again(field, &fault, means))?;
            Ok((field.key.to_owned(), value))
        };
        self.typed.iter().map(value).collect()
    }

    /// As the notes that keep them in a capture, after those of the course file, which they
    /// replace.
    ///
    /// # Errors
    /// Exit code 2 with what may be typed.
    pub fn notes(&self, course_toml: Option<&str>) -> Result<Vec<String>, Trouble> {
        let means = "Nothing was recorded.";
        let course = in_course_file(course_toml, means)?;
        let again_typed = |field: &Field| self.typed.iter().any(|typed| typed.0 == field);
        let course = course.into_iter().filter(|(field, _)| !again_typed(field));
        let said = course.chain(self.typed.iter().cloned());
        said.map(|(field, typed)| note(field, &typed).map_err(|fault| again(field, &fault, means)))
            .collect()
    }

    /// As options again, for another command.
    pub fn options(&self) -> impl Iterator<Item = String> {
        self.typed.iter().flat_map(|(field, typed)| [format!("--{}", option(field)), typed.clone()])
    }
}

/// The conditions of a course file, each as it would be typed; `means`: what a wrong one means.
///
/// # Errors
/// Exit code 2 with what may stand there.
pub fn in_course_file(
    course_toml: Option<&str>,
    means: &'static str,
) -> Result<Vec<(&'static Field, String)>, Trouble> {
    in_course(course_toml.unwrap_or_default()).map_err(|fault| {
        let next = "Correct it in the course file; `trundle drive --help` lists the conditions.";
        Trouble::new(exit::USAGE, format!("{fault}."), means, next)
    })
}

fn again(field: &Field, fault: &FieldFault, means: &'static str) -> Trouble {
    let next = format!("Give --{} again, or leave it out.", option(field));
    Trouble::new(exit::USAGE, format!("{fault}."), means, next)
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
