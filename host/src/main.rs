//! `trundle`: arguments to command to exit code.

use clap::Parser;
use std::process::ExitCode;
use trundle::cli::args::{Args, Command};
use trundle::cli::{
    check, course, demo, drive, export, import, mount, ports, pto, slip, speeds, work,
};
use trundle::shell::out;

fn main() -> ExitCode {
    let done = match Args::parse().command {
        Command::Demo(args) => demo::run(&args),
        Command::Ports(args) => ports::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Drive(args) => drive::run(&args),
        Command::Course(args) => course::run(&args),
        Command::Work(args) => work::run(&args),
        Command::Slip(args) => slip::run(&args),
        Command::Speeds(args) => speeds::run(&args),
        Command::Pto(args) => pto::run(&args),
        Command::Mount(args) => mount::run(&args),
        Command::Export(args) => export::run(&args),
        Command::Import(args) => import::run(&args),
    };
    match done {
        Ok(code) => ExitCode::from(code),
        Err(trouble) => {
            out::tell(&trouble.to_string());
            ExitCode::from(trouble.code)
        }
    }
}
