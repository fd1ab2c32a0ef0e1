//! `trundle doctor`: is everything in order for a day's work?

use crate::ports::open;
use crate::ports::probe::probe_all;
use crate::recorder::capture_file;
use crate::shell::exit::{FLAGGED, OK, Trouble};
use crate::shell::{clock, files, out};
use crate::store::place::DataFolder;
use crate::store::register::{Register, Wanted};
use serde::Serialize;
use std::io::Write as _;
use std::path::Path;
use trundle_core::wire::clock_offset::MADE_UTC_NS;

/// Look at everything that a day's work needs, and say what to see to.
#[derive(Debug, clap::Args)]
pub struct DoctorArgs {
    /// Do not open the serial ports.
    #[arg(long)]
    pub no_ports: bool,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
}

#[derive(Serialize)]
struct Doctor<'a> {
    format: &'static str,
    version: u32,
    software: &'static str,
    in_order: bool,
    points: &'a [Point],
}

/// One thing looked at.
#[derive(Serialize)]
struct Point {
    what: &'static str,
    in_order: bool,
    found: String,
    next: String,
}

impl Point {
    fn fine(what: &'static str, found: impl Into<String>) -> Self {
        Self { what, in_order: true, found: found.into(), next: String::new() }
    }

    fn look(what: &'static str, found: impl Into<String>, next: impl Into<String>) -> Self {
        Self { what, in_order: false, found: found.into(), next: next.into() }
    }

    fn trouble(what: &'static str, trouble: &Trouble) -> Self {
        Self::look(what, format!("{} {}", trouble.what, trouble.means), trouble.next.clone())
    }
}

/// Run it; gives the exit code: 1 when something is to be seen to.
///
/// # Errors
/// None of its own: what is wrong is the answer.
pub fn run(args: &DoctorArgs) -> Result<u8, Trouble> {
    let mut points = vec![time()];
    match DataFolder::in_force() {
        Ok(place) => {
            points.push(folder(&place));
            points.extend(kept(&place));
        }
        Err(trouble) => points.push(Point::trouble("folder for records", &trouble)),
    }
    points.push(room());
    if !args.no_ports {
        points.extend(serial(args.json));
    }
    let in_order = points.iter().all(|point| point.in_order);
    if args.json {
        let software = env!("CARGO_PKG_VERSION");
        let format = "trundle-doctor";
        let all = Doctor { format, version: 1, software, in_order, points: &points };
        let text = serde_json::to_string(&all);
        out::say(&text.map_err(|e| Trouble::internal(e.to_string()))?);
    } else {
        for point in &points {
            let word = if point.in_order { "in order" } else { "SEE TO  " };
            out::say(&format!("{word}  {}: {}", point.what, out::scrub(&point.found, 400)));
            if !point.in_order {
                out::say(&format!("          {}", out::scrub(&point.next, 400)));
            }
        }
    }
    Ok(if in_order { OK } else { FLAGGED })
}

fn time() -> Point {
    let now = clock::wall_rfc3339();
    if clock::wall_utc_ns() >= MADE_UTC_NS {
        return Point::fine("clock", format!("{now} UTC"));
    }
    let found = format!("{now} UTC, which is before this program was made");
    Point::look("clock", found, "Set the computer's date and time: records carry them.")
}

fn folder(place: &DataFolder) -> Point {
    let what = "folder for records";
    if !place.folder().exists() {
        let found = format!("{} will be made with the first rig", place.folder().display());
        return Point::fine(what, found);
    }
    let written = files::beside(&place.register()).and_then(|trial| {
        let mut file = std::fs::OpenOptions::new().write(true).open(&trial)?;
        file.write_all(b"trial").and_then(|()| file.sync_all())
    });
    match written {
        Ok(()) => Point::fine(what, format!("{} can be written", place.folder().display())),
        Err(error) => {
            let found = format!("{} cannot be written: {error}", place.folder().display());
            Point::look(what, found, "Name another folder with --data.")
        }
    }
}

/// The register and what is in it.
fn kept(place: &DataFolder) -> Vec<Point> {
    let register = match Register::read(place) {
        Ok(register) => register,
        Err(trouble) => return vec![Point::trouble("register", &trouble)],
    };
    let sound = match register.complaints() {
        Ok(complaints) if complaints.is_empty() => Point::fine("register", "sound"),
        Ok(complaints) => {
            let next = "Keep the file, and restore the last backup with `trundle restore`.";
            Point::look("register", complaints.join("; "), next)
        }
        Err(trouble) => Point::trouble("register", &trouble),
    };
    let rig = match register.active() {
        Ok(Some(rig)) => Point::fine("active rig", rig.entry.name),
        Ok(None) => {
            let next = "Add one with `trundle rig add NAME`, or go on: only signing off needs it.";
            Point::look("active rig", "none", next)
        }
        Err(trouble) => Point::trouble("active rig", &trouble),
    };
    let records = match register.records(&Wanted::default()) {
        Ok(all) => {
            let damaged = all.iter().filter(|one| one.damage.is_some()).count();
            let found = format!("{} records, {damaged} damaged", all.len());
            if damaged == 0 {
                Point::fine("records", found)
            } else {
                let next = "See which with `trundle record list --all`, and restore a backup.";
                Point::look("records", found, next)
            }
        }
        Err(trouble) => Point::trouble("records", &trouble),
    };
    vec![sound, rig, records]
}

fn room() -> Point {
    match capture_file::try_room(Path::new("trial.capture")) {
        Ok(()) => Point::fine("room for captures", "this folder takes one"),
        Err(trouble) => Point::trouble("room for captures", &trouble),
    }
}

fn serial(json: bool) -> Vec<Point> {
    let listed = open::list();
    if listed.is_empty() {
        let next = "Plug counter board and receiver in; some need a driver.";
        return vec![Point::look("ports", "the system lists none", next)];
    }
    if !json {
        out::notice(&format!("Looking at {} port(s), some seconds each ...", listed.len()));
    }
    let wanted: Vec<_> = listed.iter().map(|port| (port.path.clone(), None)).collect();
    let probes = probe_all(&wanted);
    let point = |probe: &crate::ports::probe::Probe| {
        let (role, why, next) = probe.words();
        let found = format!("{}: {role}, {why}", probe.path);
        if next.is_empty() { Point::fine("port", found) } else { Point::look("port", found, next) }
    };
    probes.iter().map(point).collect()
}
