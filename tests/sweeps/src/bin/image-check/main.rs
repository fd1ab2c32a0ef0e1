//! Is the board's firmware, on an emulated processor, what the simulated board is?
//!
//! `cargo run --release -p trundle-sweeps --bin image-check -- [--uart] [--only PART] IMAGE`
//!
//! Needs the built image, node, `npm ci` in `firmware-sim/emulator`, and the release builds of
//! `trundle` and `trundle-sim` beside this program; `.ci/85-image.sh` sees to all of it. To be
//! started from the project's top folder.

#![allow(clippy::print_stdout, clippy::print_stderr)]

mod course;
mod inputs;
mod long;
mod rates;
mod rig;
mod signal;
mod stamps;
mod upheaval;

use rig::Subject;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use trundle_sim::image::{HARNESS, HostLine};

/// What can be checked, each by itself.
const PARTS: [(&str, Part); 7] = [
    ("course", course::check),
    ("rates", rates::check),
    ("inputs", inputs::check),
    ("signal", signal::check),
    ("upheaval", upheaval::check),
    ("long", long::check),
    (SERIAL, rates::short),
];

/// Of the build for the serial line; only when asked for by name.
const SERIAL: &str = "serial";

type Part = fn(Subject<'_>) -> Result<Vec<String>, String>;

struct Options {
    image: PathBuf,
    line: HostLine,
    only: Option<String>,
}

fn main() -> ExitCode {
    let Some(options) = options() else {
        let parts = PARTS.map(|(name, _)| name).join(", ");
        eprintln!("image-check: give the image, an ELF file; --only one of: {parts}");
        return ExitCode::from(2);
    };
    let harness = Path::new(HARNESS);
    let subject = Subject { image: &options.image, harness, line: options.line };
    let mut failed = false;
    for (name, part) in PARTS {
        if options.only.as_deref().map_or(name == SERIAL, |only| only != name) {
            continue;
        }
        let began = std::time::Instant::now();
        let findings = part(subject).unwrap_or_else(|message| vec![message]);
        println!("-- {name}: {:.0} s\n", began.elapsed().as_secs_f64());
        failed |= !findings.is_empty();
        findings.iter().for_each(|finding| eprintln!("image-check: {name}: {finding}"));
    }
    if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

fn options() -> Option<Options> {
    let mut words = std::env::args_os().skip(1);
    let mut options = Options { image: PathBuf::new(), line: HostLine::Usb, only: None };
    while let Some(word) = words.next() {
        match word.to_str() {
            Some("--uart") => options.line = HostLine::Uart,
            Some("--only") => options.only = Some(words.next()?.into_string().ok()?),
            _ => options.image = word.into(),
        }
    }
    let known = |only: &String| PARTS.iter().any(|(name, _)| name == only);
    let whole = !options.image.as_os_str().is_empty() && options.only.iter().all(known);
    whole.then_some(options)
}
