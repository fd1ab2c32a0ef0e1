//! Kill -9 at random moments of signing off: every record that was said to be kept is there, whole.
//!
//! `sign-kill TRUNDLE CAPTURE [TIMES] [SEED]`. Each time the capture is another one (a note more),
//! so that copy and register are written anew. Prints the seed and what was found; exit code 1
//! when anything acknowledged was lost or anything kept is not whole.
#![allow(clippy::print_stdout, clippy::print_stderr, clippy::unwrap_used)]

use std::collections::BTreeSet;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};
use trundle::store::place::DataFolder;
use trundle::store::register::{Register, Wanted};
use trundle_core::capture::{Entry, HostMark, HostMarkAction, Record, encode};

/// Runs that are let through to learn how long one takes.
const MEASURED: usize = 3;
/// Of the moments, some lie after the end: those must be acknowledged and whole too.
const BEYOND: f64 = 1.2;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().collect();
    let [_, trundle, capture, rest @ ..] = args.as_slice() else {
        eprintln!("sign-kill TRUNDLE CAPTURE [TIMES] [SEED]");
        return ExitCode::from(2);
    };
    let number = |at: usize, default: u64| rest.get(at).map_or(default, |n| n.parse().unwrap());
    let (times, seed) = (number(0, 500), number(1, 1));
    println!("seed {seed}, {times} kills");
    let folder = tempfile::tempdir().unwrap();
    let place = DataFolder::at(&folder.path().join("data"));
    let add = ["rig", "add", "Rig of the kills"];
    assert!(program(trundle, &place).args(add).status().unwrap().success());
    let bytes = std::fs::read(capture).unwrap();
    let mut took = Duration::ZERO;
    let mut acknowledged = BTreeSet::new();
    let (mut killed, mut unseen) = (0, 0);
    for run in 0..MEASURED as u64 + times {
        let file = another(&bytes, run, folder.path());
        let began = Instant::now();
        let mut child = program(trundle, &place)
            .args(["sign", &file.display().to_string()])
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        if run < MEASURED as u64 {
            assert!(child.wait().unwrap().success());
            took = took.max(began.elapsed());
        } else {
            std::thread::sleep(took.mul_f64(moment(seed, run) * BEYOND));
            child.kill().unwrap();
            killed += u32::from(child.wait().unwrap().code().is_none());
        }
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        let said = said.split("Signed off as record ").nth(1);
        if let Some((id, _)) = said.and_then(|said| said.split_once('.')) {
            acknowledged.insert(id.to_owned());
        }
        std::fs::remove_file(file).unwrap();
        let kept = look(&place, &acknowledged);
        unseen = kept.saturating_sub(acknowledged.len());
    }
    let kept = look(&place, &acknowledged);
    let verified = program(trundle, &place).args(["record", "verify", "--all", "--json"]).output();
    let sound = verified.unwrap().status.success();
    println!(
        "{} runs, {killed} ended by the kill; {} acknowledged, {kept} kept ({unseen} more than \
         were acknowledged); all whole and worked anew: {sound}",
        MEASURED as u64 + times,
        acknowledged.len(),
    );
    if sound { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// A share of the time, other for each run: steps of the golden ratio reach every moment evenly,
/// and the machine adds its own chance.
fn moment(seed: u64, run: u64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    ((seed as f64) * std::f64::consts::SQRT_2 + run as f64 * GOLDEN).fract()
}

fn program(trundle: &str, place: &DataFolder) -> Command {
    let mut command = Command::new(trundle);
    command.arg("--data").arg(place.folder());
    command
}

/// Every acknowledged record is kept and nothing kept is damaged; tells how many there are.
fn look(place: &DataFolder, acknowledged: &BTreeSet<String>) -> usize {
    let kept = Register::read(place).unwrap().records(&Wanted::default()).unwrap();
    for one in &kept {
        assert_eq!(one.damage, None, "{}", one.id);
    }
    let ids: BTreeSet<String> = kept.iter().map(|one| one.id.clone()).collect();
    let lost: Vec<&String> = acknowledged.difference(&ids).collect();
    assert!(lost.is_empty(), "acknowledged and lost: {lost:?}");
    kept.len()
}

/// The capture with one note more before its end.
fn another(bytes: &[u8], run: u64, folder: &Path) -> PathBuf {
    let encoded = |record: &Record| {
        let mut out = Vec::new();
        encode(record, &mut out);
        out
    };
    let end = encoded(&Record { host_ns: 0, entry: Entry::End }).len();
    let (body, tail) = bytes.split_at(bytes.len() - end);
    let text = format!("run {run}");
    let mark = HostMark { key: 1_000_000 + run, action: HostMarkAction::Note, text };
    let note = encoded(&Record { host_ns: u64::MAX / 2, entry: Entry::HostMark(mark) });
    let path = folder.join(format!("{run}.capture"));
    std::fs::write(&path, [body, &note, tail].concat()).unwrap();
    path
}
