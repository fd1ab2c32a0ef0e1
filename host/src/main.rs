//! `trundle`: arguments to command to exit code.

use clap::{CommandFactory as _, Parser as _};
use clap_complete::CompleteEnv;
use std::process::ExitCode;
use trundle::commands::args::{Args, Command};
use trundle::commands::{
    bus, check, course, demo, doctor, drive, export, guide, handbook, import, keep, mount, ports,
    proof, pto, record, sheet, sign, slip, speeds, things, work,
};
use trundle::shell::{exit, out};
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
        Command::Demo(args) => demo::run(&args),
        Command::Guide(args) => guide::run(&args),
        Command::Ports(args) => ports::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Drive(args) => drive::run(&args),
        Command::Course(args) => course::run(&args),
        Command::Work(args) => work::run(&args),
        Command::Slip(args) => slip::run(&args),
        Command::Speeds(args) => speeds::run(&args),
        Command::Bus(args) => bus::run(&args),
        Command::Pto(args) => pto::run(&args),
        Command::Proof(args) => proof::run(&args),
        Command::Mount(args) => mount::run(&args),
        Command::Rig(verb) => things::run_rig(&verb),
        Command::Tractor(verb) => things::run(&verb),
        Command::Tyres(verb) => things::run(&verb),
        Command::Tape(verb) => things::run(&verb),
        Command::Person(verb) => things::run(&verb),
        Command::Sign(args) => sign::run(&args),
        Command::Record(verb) => record::run(&verb),
        Command::Sheet(args) => sheet::run(&args),
        Command::Bin(verb) => keep::bin(&verb),
        Command::Undo(args) => keep::undo(&args),
        Command::Backup(args) => keep::backup(&args),
        Command::Restore(args) => keep::restore(&args),
        Command::Where(args) => keep::places(&args),
        Command::Doctor(args) => doctor::run(&args),
        Command::Completions(args) => handbook::completions(&args),
        Command::Manual(args) => handbook::manual(&args),
        Command::Export(args) => export::run(&args),
        Command::Import(args) => import::run(&args),
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
