//! What of texts for people is not in the tables of a second language, and how it reads in it.
//!
//! `cargo run -p trundle-sweeps --bin tongue-left -- [--tables FOLDER] [--say] FILE...`
//!
//! Files that end in `.html` or `.svg` are pages, in `.json` what fills them, all others lines for
//! a terminal. With `--tables` the tables are read from that folder, so that nothing need be built
//! while they are written. Code 1 where something is left.

#![allow(clippy::print_stdout)]

use std::collections::BTreeMap;
use std::path::Path;
use std::process::ExitCode;
use trundle_show::tongue::{Kind, faults, tried};

fn main() -> Result<ExitCode, Box<dyn std::error::Error>> {
    let (mut files, mut tables, mut say) = (Vec::new(), None, false);
    let mut args = std::env::args().skip(1);
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--tables" => tables = Some(topics(&args.next().ok_or("--tables FOLDER")?)?),
            "--say" => say = true,
            _ => files.push(arg),
        }
    }
    if tables.is_none() {
        for fault in faults() {
            println!("fault: {}: {}", fault.english, fault.why);
        }
    }
    let mut left: BTreeMap<String, (usize, String)> = BTreeMap::new();
    for file in files {
        let end = Path::new(&file).extension().unwrap_or_default().to_string_lossy().into_owned();
        let kind = match end.as_str() {
            "html" | "svg" => Kind::Markup,
            "json" => Kind::Json,
            _ => Kind::Lines,
        };
        let said = tried(tables.as_deref(), kind, &std::fs::read_to_string(&file)?);
        if say {
            println!("== {file}\n{}", said.text);
        }
        for one in said.left {
            left.entry(one).or_insert_with(|| (0, file.clone())).0 += 1;
        }
    }
    for (words, (times, file)) in &left {
        println!("{times:4} {words:?}   {file}");
    }
    Ok(ExitCode::from(u8::from(!left.is_empty())))
}

/// The tables of a folder; they live as long as the program.
fn topics(folder: &str) -> Result<Vec<&'static str>, std::io::Error> {
    let mut all = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        all.push(&*Box::leak(std::fs::read_to_string(entry?.path())?.into_boxed_str()));
    }
    Ok(all)
}
