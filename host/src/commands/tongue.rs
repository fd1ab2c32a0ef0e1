//! `--help` in another language.

use clap::builder::StyledStr;
use clap::{Arg, Command};
use trundle_show::tongue::Tongue;

/// The command, and all below it, with its texts in this language.
#[must_use]
pub fn in_tongue(command: Command, tongue: Tongue) -> Command {
    if tongue == Tongue::English {
        return command;
    }
    let said = |text: Option<&StyledStr>| text.map(|text| said(tongue, text));
    let (about, long) = (said(command.get_about()), said(command.get_long_about()));
    let (before, after) = (said(command.get_before_help()), said(command.get_after_help()));
    let after_long = said(command.get_after_long_help());
    let mut own = command.mut_args(|arg| arg_in_tongue(arg, tongue));
    own = about.into_iter().fold(own, Command::about);
    own = long.into_iter().fold(own, Command::long_about);
    own = before.into_iter().fold(own, Command::before_help);
    own = after.into_iter().fold(own, Command::after_help);
    own = after_long.into_iter().fold(own, Command::after_long_help);
    own.mut_subcommands(|below| in_tongue(below, tongue))
}

fn arg_in_tongue(arg: Arg, tongue: Tongue) -> Arg {
    let choice = choice(&arg, tongue);
    let with = |text: &StyledStr| {
        let said = said(tongue, text);
        if choice.is_empty() { said } else { format!("{said} {choice}") }
    };
    let (help, long) = (arg.get_help().map(with), arg.get_long_help().map(with));
    let heading = arg.get_help_heading().map(|text| tongue.as_typed(text).into_owned());
    let mut own = help.into_iter().fold(arg, Arg::help);
    own = long.into_iter().fold(own, Arg::long_help);
    if !choice.is_empty() {
        own = own.hide_default_value(true).hide_possible_values(true);
    }
    heading.into_iter().fold(own, Arg::help_heading)
}

/// What the parser says of values: the one that is taken if none is given, and those there are.
/// They are to be typed, so they stay.
fn choice(arg: &Arg, tongue: Tongue) -> String {
    if !arg.get_action().takes_values() || arg.is_hide_possible_values_set() {
        return String::new();
    }
    let defaults = arg.get_default_values().iter().map(|value| value.to_string_lossy());
    let (defaults, possible) = (defaults.collect::<Vec<_>>(), arg.get_possible_values());
    let names = possible.iter().filter(|one| !one.is_hide_set()).map(|one| {
        let about = one.get_help().map(|text| said(tongue, text));
        about.map_or_else(|| one.get_name().to_owned(), |it| format!("{} ({it})", one.get_name()))
    });
    let part = |word: &str, values: Vec<_>| match values[..] {
        [] => None,
        _ => Some(format!("[{}: {}]", tongue.as_typed(word), values.join(", "))),
    };
    let defaults = part("default", defaults.iter().map(ToString::to_string).collect());
    let possible = part("possible values", names.collect());
    defaults.into_iter().chain(possible).collect::<Vec<String>>().join(" ")
}

/// Paragraph by paragraph.
fn said(tongue: Tongue, text: &StyledStr) -> String {
    let text = text.to_string();
    let paragraphs = text.split('\n').map(|paragraph| tongue.as_typed(paragraph));
    paragraphs.collect::<Vec<_>>().join("\n")
}
