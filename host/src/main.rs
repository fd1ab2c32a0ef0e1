//! `trundle`: arguments to command to exit code.

use clap::{CommandFactory as _, Parser as _};
use clap_complete::CompleteEnv;
use std::process::ExitCode;
use trundle::commands::args::Args;
use trundle::commands::{self, handbook};
use trundle::shell::{exit, out};
use trundle::stations;
use trundle::store::place;

fn main() -> ExitCode {
    // A shell that asks for completions gets them, and nothing else is done.
    CompleteEnv::with_factory(Args::command).var(handbook::ASKED_BY).complete();
    let args = match Args::try_parse() {
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

/// Help and version as they are; what was typed wrongly may hold anything.
fn not_understood(error: &clap::Error) -> ExitCode {
    if error.use_stderr() {
        out::notice(error.render().to_string().trim_end());
    } else {
        // Who reads it has gone: that is no error.
        let _ = error.print();
    }
    ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(exit::USAGE))
}
