//! `trundle`: arguments to command to exit code.

use clap::Parser;
use std::process::ExitCode;
use trundle::cli::args::{Args, Command};
use trundle::cli::{course, demo, drive, import, mount, ports, work};
use trundle::shell::out;

fn main() -> ExitCode {
    let done = match Args::parse().command {
        Command::Demo(args) => demo::run(&args),
        Command::Ports(args) => ports::run(&args),
        Command::Drive(args) => drive::run(&args),
        Command::Course(args) => course::run(&args),
        Command::Work(args) => work::run(&args),
        Command::Mount(args) => mount::run(&args),
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
