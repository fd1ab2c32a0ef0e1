//! A live command whose terminal is closed under it, by closing the master of a real
//! pseudo-terminal: it closes its capture in order, ends, and its ports are free.

use crate::support::tractor::Tractor;
use crate::support::{LIMIT, TempDir, trundle};
use std::fs::File;
use std::process::{Child, Command};
use std::time::{Duration, Instant};
use trundle_sim::Scenario;
use trundle_sim::pty::Pty;

/// Bytes of a capture that has its ports open and records.
const RECORDS: u64 = 5_000;

/// Pause between two looks.
const LOOK: Duration = Duration::from_millis(5);

fn wait(what: &str, mut so: impl FnMut() -> bool) {
    let since = Instant::now();
    while !so() {
        assert!(since.elapsed() < LIMIT, "{what}");
        std::thread::sleep(LOOK);
    }
}

/// Start it at a terminal of its own, and close that once it records.
fn closed_under(args: &[&str], capture: &str) -> Child {
    let terminal = Pty::open().unwrap();
    let end = || File::options().read(true).write(true).open(terminal.path()).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_trundle"));
    command.args(args).args(["--capture", capture]).env("TERM", "xterm");
    command.env("TRUNDLE_DATA", "/nonexistent").env("TRUNDLE_SETTINGS", "/nonexistent");
    let child = command.stdin(end()).stdout(end()).stderr(end()).spawn().unwrap();
    let mut said = Vec::new();
    wait(&format!("{args:?}: nothing is recorded"), || {
        terminal.receive(&mut said).unwrap();
        std::fs::metadata(capture).is_ok_and(|capture| capture.len() > RECORDS)
    });
    child
}

#[test]
fn a_closed_terminal_ends_every_live_command_in_order() {
    let mut scenario = Scenario::named("bus").unwrap();
    scenario.lead_in_s = 3600.0;
    let tractor = Tractor::start(&scenario, 1, 1.0, None);
    let ports = ["--board", &tractor.board(), "--receiver", &tractor.receiver()];
    let folder = TempDir::new();
    for (number, command) in [
        &["drive", "--length", "100 m"][..],
        &["drive", "--lines", "--length", "100 m"],
        &["drive", "--page", "--length", "100 m"],
        &["slip", "--zero-slip-value", "12000"],
        &["speeds"],
        &["pto"],
        &["mount"],
        &["proof", "--entered", "13000"],
        &["check"],
        &["bus", "--bus", &tractor.bus()],
    ]
    .into_iter()
    .enumerate()
    {
        let capture = folder.file(&format!("{number}.capture"));
        // The next one gets the same ports, so they are free.
        let mut child = closed_under(&[command, &ports[..]].concat(), &capture);
        wait(&format!("{command:?} hangs"), || child.try_wait().unwrap().is_some());
        let code = child.wait().unwrap().code();
        // Or that of its result, where a write saw it first.
        assert!(matches!(code, Some(0 | 1 | 6 | 143)), "{command:?}: {code:?}");
        let again = trundle(&["work", &capture, "--json"]);
        assert!(!again.stdout.contains("CAPTURE_CUT"), "{command:?}: {}", again.stdout);
    }
}
