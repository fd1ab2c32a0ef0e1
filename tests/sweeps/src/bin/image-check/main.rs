//! Is the board's firmware, on an emulated processor, what the simulated board is?
//!
//! `cargo run --release -p trundle-sweeps --bin image-check -- IMAGE`
//!
//! Two parts: edges at the rates that are promised and beyond; a whole measured course, live, with
//! the program itself at the other end. Needs the built image, `qemu-system-arm`, and the release
//! builds of `trundle` and `trundle-sim` beside this program; `.ci/85-image.sh` sees to all three.

#![allow(clippy::print_stdout, clippy::print_stderr)]

mod course;
mod rates;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(elf) = std::env::args_os().nth(1).map(PathBuf::from) else {
        eprintln!("image-check: give the image, an ELF file");
        return ExitCode::from(2);
    };
    match check(&elf) {
        Ok(findings) if findings.is_empty() => ExitCode::SUCCESS,
        Ok(findings) => {
            findings.iter().for_each(|finding| eprintln!("image-check: {finding}"));
            ExitCode::FAILURE
        }
        Err(message) => {
            eprintln!("image-check: {message}");
            ExitCode::FAILURE
        }
    }
}

fn check(elf: &Path) -> Result<Vec<String>, String> {
    let own = std::env::current_exe().map_err(|error| error.to_string())?;
    let programs = own.parent().ok_or("this program lies in no folder")?;
    let mut findings = course::check(elf, programs)?;
    findings.extend(rates::check(elf)?);
    Ok(findings)
}
