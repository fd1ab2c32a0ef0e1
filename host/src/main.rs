//! `trundle`: arguments to command to exit code.

use clap::{CommandFactory as _, FromArgMatches as _};
use clap_complete::CompleteEnv;
use std::process::ExitCode;
use trundle::commands::args::Args;
use trundle::commands::tongue::in_tongue;
use trundle::commands::{self, handbook};
use trundle::shell::{exit, out, tongue};
use trundle::stations;
use trundle::store::place;
use trundle::store::settings::Settings;
use trundle_show::tongue::Tongue;

fn main() -> ExitCode {
    // A shell that asks for completions gets them, and nothing else is done.
    CompleteEnv::with_factory(Args::command).var(handbook::ASKED_BY).complete();
    // What is wrong with the settings is said by what needs them.
    tongue::speak(Settings::read().unwrap_or_default().language);
    if let Some(asked) = tongue::asked(std::env::args_os()) {
        tongue::hold(asked);
    }
    let command = in_tongue(Args::command(), tongue::in_force());
    let args = command.try_get_matches().and_then(|found| Args::from_arg_matches(&found));
    let args = match args {
        Ok(args) => args,
        Err(error) => return not_understood(&error),
    };
    if let Some(folder) = args.data {
        place::name(folder);
    }
    let done = match args.command {
        Some(command) => commands::run(command),
        None => stations::open::run(&args.open),
    };
    let code = done.unwrap_or_else(|trouble| {
        out::notice(&trouble.to_string());
        trouble.code
    });
    out::flush();
    ExitCode::from(code)
}

/// Help and version in the language in force; what was typed wrongly may hold anything.
fn not_understood(error: &clap::Error) -> ExitCode {
    if error.use_stderr() {
        out::notice(error.render().to_string().trim_end());
    } else {
        let shown = error.render();
        match tongue::in_force() {
            // Who reads it has gone: that is no error.
            Tongue::English => drop(error.print()),
            other => out::say_raw(&other.help(&shown.to_string())),
        }
    }
    ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(exit::USAGE))
}
