//! Forms made of a command's own options: what a form is given becomes the command as it would be
//! typed, read by the same reader, refused in the same words.

pub use super::misread::Misread;
use super::misread::misread;
use crate::commands::args::Args;
use clap::{Arg, Command, CommandFactory as _, Parser as _};
use std::sync::LazyLock;
use trundle_show::stations::form::{Field, Kind};

/// What a browser sent of a form.
pub type Sent = [(String, String)];

/// A form over a command.
pub struct Of {
    /// The command's words.
    pub command: Vec<&'static str>,
    /// Its options on the form, in order: the option's name, or that of an argument without a
    /// dash; and the label.
    pub options: Vec<(String, String)>,
}

impl Of {
    /// A form over these options of a command.
    #[must_use]
    pub fn new(command: &[&'static str], options: &[(&str, &str)]) -> Self {
        let owned = |(name, label): &(&str, &str)| ((*name).to_owned(), (*label).to_owned());
        Self { command: command.to_vec(), options: options.iter().map(owned).collect() }
    }

    /// Its fields with what was typed, where anything was.
    #[must_use]
    pub fn fields(&self, typed: &dyn Fn(&str) -> String) -> Vec<Field> {
        let command = described(&self.command);
        let field = |(name, label): &(String, String)| {
            let arg = command.and_then(|command| argument(command, name));
            field(name, label, typed(name), arg)
        };
        self.options.iter().map(field).collect()
    }

    /// The command as it would be typed, without the name of the program: empty fields are left
    /// out.
    #[must_use]
    pub fn argv(&self, sent: &Sent) -> Vec<String> {
        let command = described(&self.command);
        let mut argv: Vec<String> = self.command.iter().map(|word| (*word).to_owned()).collect();
        let mut plain = Vec::new();
        for (name, _) in &self.options {
            let value = crate::web::stations::value(sent, name).trim();
            if value.is_empty() {
                continue;
            }
            let Some(arg) = command.and_then(|command| argument(command, name)) else {
                continue;
            };
            if arg.is_positional() {
                plain.push(value.to_owned());
            } else if arg.get_action().takes_values() {
                argv.push(format!("--{name}={value}"));
            } else {
                argv.push(format!("--{name}"));
            }
        }
        if !plain.is_empty() {
            argv.push("--".to_owned());
            argv.append(&mut plain);
        }
        argv
    }
}

/// The command of these words, with all that can be said of its options.
fn described(words: &[&str]) -> Option<&'static Command> {
    /// All commands, made once: that takes milliseconds.
    static COMMANDS: LazyLock<Command> = LazyLock::new(|| {
        let mut command = Args::command();
        command.build();
        command
    });
    words.iter().try_fold(&*COMMANDS, |command, word| command.find_subcommand(word))
}

fn argument<'a>(command: &'a Command, name: &str) -> Option<&'a Arg> {
    command.get_arguments().find(|arg| match arg.get_long() {
        Some(long) => long == name,
        None => arg.get_id() == name,
    })
}

fn field(name: &str, label: &str, value: String, arg: Option<&Arg>) -> Field {
    let mut field = Field::text(name, label, &value);
    let Some(arg) = arg else { return field };
    field.explain(&arg.get_help().map(ToString::to_string).unwrap_or_default());
    field.needed = arg.is_required_set();
    let choices = arg.get_possible_values();
    field.kind = if !arg.get_action().takes_values() {
        Kind::Tick
    } else if !choices.is_empty() {
        let choice = |choice: &clap::builder::PossibleValue| {
            (choice.get_name().to_owned(), choice.get_name().to_owned())
        };
        Kind::Choice(choices.iter().map(choice).collect())
    } else {
        match arg.get_value_names().and_then(|names| names.first()).map(|name| name.as_str()) {
            Some("YYYY-MM-DD") => Kind::Date,
            Some("VALUE" | "N" | "METRES" | "PERCENT" | "RPM" | "L/HA" | "LENGTH" | "OFFSET") => {
                Kind::Number
            }
            _ => Kind::Text,
        }
    };
    field
}

/// Read a command as the command line reads it.
///
/// # Errors
/// [`Misread`].
pub fn read(argv: &[String]) -> Result<crate::commands::args::Command, Misread> {
    let typed = std::iter::once("trundle".to_owned()).chain(argv.iter().cloned());
    let wrong = |words: &str| Misread { option: None, words: words.to_owned() };
    match Args::try_parse_from(typed) {
        Ok(args) => args.command.ok_or_else(|| wrong("There is no command.")),
        Err(error) => Err(misread(&error)),
    }
}

/// A command as a person would type it.
#[must_use]
pub fn shown(argv: &[String]) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./:=,+%@".contains(c);
    let word = |word: &String| match word.split_once('=') {
        _ if !word.is_empty() && word.chars().all(plain) => word.clone(),
        Some((option, value)) if option.starts_with("--") => format!("{option}=\"{value}\""),
        _ => format!("\"{word}\""),
    };
    std::iter::once("trundle".to_owned()).chain(argv.iter().map(word)).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn sent(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect()
    }

    #[test]
    fn a_form_is_the_command_that_would_be_typed_and_no_other() {
        let form = Of::new(
            &["tractor", "add"],
            &[("name", "Name"), ("serial", "Serial number"), ("note", "Note")],
        );
        let sent = sent(&[
            ("serial", " -0007 "),
            ("name", "--dry-run"),
            ("note", ""),
            ("data", "/elsewhere"),
        ]);
        let argv = form.argv(&sent);
        assert_eq!(argv, ["tractor", "add", "--serial=-0007", "--", "--dry-run"]);
        assert!(read(&argv).is_ok());
        assert_eq!(shown(&argv), "trundle tractor add --serial=-0007 -- --dry-run");
        let fields = form.fields(&|name| name.to_uppercase());
        assert_eq!(fields[1].hint, "As on its plate");
        assert_eq!((fields[0].value.as_str(), fields[0].needed), ("NAME", true));
    }

    #[test]
    fn what_is_wrong_is_said_of_the_option_that_is_at_fault() {
        let argv = ["pto", "--display-step=many"].map(str::to_owned);
        let wrong = read(&argv).unwrap_err();
        assert_eq!(wrong.option.as_deref(), Some("display-step"));
        assert!(
            wrong.words.contains("a number from") && !wrong.words.contains("--help"),
            "{wrong:?}"
        );
        let missing = read(&["tractor", "add"].map(str::to_owned)).unwrap_err();
        assert_eq!(missing.option.as_deref(), Some("name"));
    }
}
