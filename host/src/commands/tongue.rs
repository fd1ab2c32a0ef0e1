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
    let help = arg.get_help().map(|text| said(tongue, text));
    let long = arg.get_long_help().map(|text| said(tongue, text));
    let heading = arg.get_help_heading().map(|text| tongue.as_typed(text).into_owned());
    let mut own = help.into_iter().fold(arg, Arg::help);
    own = long.into_iter().fold(own, Arg::long_help);
    heading.into_iter().fold(own, Arg::help_heading)
}

/// Paragraph by paragraph.
fn said(tongue: Tongue, text: &StyledStr) -> String {
    let text = text.to_string();
    let paragraphs = text.split('\n').map(|paragraph| tongue.as_typed(paragraph));
    paragraphs.collect::<Vec<_>>().join("\n")
}
