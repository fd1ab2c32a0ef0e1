//! What goes wrong at the ports: each with its exit code (README), a message of what happened,
//! what it means and what to do, nothing else on stdout, and nothing lost.

use crate::support::tractor::Tractor;
use crate::support::{Finished, Program, TempDir, codes, json, trundle};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use trundle_sim::Scenario;
use trundle_sim::pty::Pty;

/// A tractor that stands for as long as any of these tests lasts.
fn standing() -> Tractor {
    let scenario = Scenario { rest_s: 3600.0, ..Scenario::named("no-button").unwrap() };
    Tractor::start(&scenario, 1, 1.0, None)
}

/// Words for people come before a refusal; it begins behind the last empty line or progress line.
#[track_caller]
fn assert_refused(finished: &Finished, code: i32, words: &[&str]) {
    let Finished { code: found, stdout, stderr } = finished;
    assert_eq!(*found, Some(code), "{stderr}");
    assert_eq!(stdout, "", "stdout is kept for the result");
    let message = stderr.rsplit("Looking for the ports ...\n").next().unwrap();
    let lines = message.lines().filter(|line| !line.trim().is_empty()).count();
    assert!(lines >= 3, "what, what it means, what to do: {message}");
    for word in words {
        assert!(message.contains(word), "{word:?} is missing: {message}");
    }
    assert!(!stderr.contains("panicked"), "{stderr}");
}

fn drive(board: &str, receiver: &str, capture: &str) -> Finished {
    trundle(&drive_args(board, receiver, capture))
}

fn drive_args<'a>(board: &'a str, receiver: &'a str, capture: &'a str) -> [&'a str; 10] {
    let ports = ["drive", "--board", board, "--receiver", receiver];
    let rest = ["--length", "100 m", "--capture", capture, "--json"];
    std::array::from_fn(|n| if n < 5 { ports[n] } else { rest[n - 5] })
}

#[test]
fn swapped_ports_and_one_port_twice_are_refused() {
    let (tractor, folder) = (standing(), TempDir::new());
    let (board, receiver, capture) = (tractor.board(), tractor.receiver(), folder.file("c"));
    let swapped = drive(&receiver, &board, &capture);
    assert_refused(&swapped, 2, &["swapped", "Swap the two names"]);
    let twice = drive(&board, &board, &capture);
    assert_refused(&twice, 2, &["both as counter board and as satellite receiver"]);
    assert!(!Path::new(&capture).exists());
}

#[test]
fn a_console_is_no_counter_board() {
    let (tractor, folder) = (standing(), TempDir::new());
    let console = Pty::open().unwrap();
    let path = console.path().display().to_string();
    let done = Arc::new(AtomicBool::new(false));
    let halt = Arc::clone(&done);
    let talker = std::thread::spawn(move || {
        while !halt.load(Ordering::Relaxed) {
            console.send(b"Welcome to the weather station.\r\nlogin: ").unwrap();
            std::thread::sleep(std::time::Duration::from_millis(20));
        }
    });
    let finished = drive(&path, &tractor.receiver(), &folder.file("c"));
    done.store(true, Ordering::Relaxed);
    talker.join().unwrap();
    assert_refused(&finished, 3, &["is not a counter board", "text"]);
    assert!(!Path::new(&folder.file("c")).exists());
}

#[test]
fn a_port_that_another_program_holds_is_called_taken() {
    let (tractor, folder) = (standing(), TempDir::new());
    let (board, receiver) = (tractor.board(), tractor.receiver());
    let held = serialport::new(&board, 115_200).open().unwrap();
    let finished = drive(&board, &receiver, &folder.file("c"));
    drop(held);
    assert_refused(&finished, 4, &["taken", "Close the other program"]);
    assert!(!Path::new(&folder.file("c")).exists());
}

#[test]
fn a_second_drive_finds_the_ports_taken_and_leaves_the_first_in_peace() {
    let (tractor, folder) = (standing(), TempDir::new());
    let (board, receiver, first) = (tractor.board(), tractor.receiver(), folder.file("first"));
    let mut driving = Program::start(&drive_args(&board, &receiver, &first), &[]);
    assert!(driving.until("recording", |p| p.said("Recording to ") > 0), "{}", driving.stderr());
    let second = drive(&board, &receiver, &folder.file("second"));
    assert_refused(&second, 4, &["taken", "Close the other program"]);
    assert!(!Path::new(&folder.file("second")).exists());
    driving.types("q");
    let first_done = driving.finish();
    let again = trundle(&["work", &first, "--json"]);
    assert_eq!(again.stdout, first_done.stdout);
    assert!(!first_done.stderr.contains("is disconnected"), "{}", first_done.stderr);
}

#[test]
fn a_capture_that_exists_is_never_touched() {
    let (tractor, folder) = (standing(), TempDir::new());
    let capture = folder.write("kept", b"evidence of another day");
    let finished = drive(&tractor.board(), &tractor.receiver(), &capture);
    assert_eq!(finished.code, Some(2), "{}", finished.stderr);
    assert_eq!(finished.stdout, "");
    assert!(finished.stderr.contains("exists already"), "{}", finished.stderr);
    assert!(finished.stderr.contains("another name"), "{}", finished.stderr);
    assert_eq!(std::fs::read(&capture).unwrap(), b"evidence of another day");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "something was left behind");
}

#[test]
fn a_standard_input_that_is_closed_at_once_ends_the_job_in_order() {
    let (tractor, folder) = (standing(), TempDir::new());
    let capture = folder.file("c");
    let finished = drive(&tractor.board(), &tractor.receiver(), &capture);
    assert_eq!(finished.code, Some(1), "{}", finished.stderr);
    let result = json(&finished.stdout);
    assert_eq!(result["state"], "flagged");
    assert!(codes(&result).contains(&"NO_PASS".to_owned()), "{result}");
    assert!(!codes(&result).contains(&"CAPTURE_CUT".to_owned()), "{result}");
    assert_eq!(trundle(&["work", &capture, "--json"]).stdout, finished.stdout);
}

#[test]
fn a_job_whose_reader_goes_away_closes_its_capture() {
    let (tractor, folder) = (standing(), TempDir::new());
    let (board, receiver, capture) = (tractor.board(), tractor.receiver(), folder.file("c"));
    let args = drive_args(&board, &receiver, &capture);
    let mut command = Command::new(env!("CARGO_BIN_EXE_trundle"));
    // Without --json, so that words for people go to the pipe that is closed.
    command.args(&args[..9]).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    drop(child.stdout.take());
    let stdin = child.stdin.take();
    let ended = child.wait_with_output().unwrap();
    drop(stdin);
    let stderr = String::from_utf8_lossy(&ended.stderr).into_owned();
    assert_eq!((ended.status.code(), stderr.as_str()), (Some(0), ""));
    let worked = trundle(&["work", &capture, "--json"]);
    assert!(!codes(&json(&worked.stdout)).contains(&"CAPTURE_CUT".to_owned()), "{}", worked.stdout);
}

#[test]
fn a_job_that_is_interrupted_closes_its_capture_and_says_so_by_its_code() {
    let (tractor, folder) = (standing(), TempDir::new());
    let (board, receiver, capture) = (tractor.board(), tractor.receiver(), folder.file("c"));
    for (signal, code) in [("INT", 130), ("TERM", 143)] {
        let capture = format!("{capture}.{signal}");
        let mut program = Program::start(&drive_args(&board, &receiver, &capture), &[]);
        let began = program.until("recording", |p| p.said("Recording to ") > 0);
        assert!(began, "{}", program.stderr());
        let pid = program.id().to_string();
        let sent = Command::new("kill").args(["-s", signal, &pid]).status().unwrap();
        assert!(sent.success());
        let finished = program.finish();
        let result = json(&finished.stdout);
        assert!(!codes(&result).contains(&"CAPTURE_CUT".to_owned()), "{result}");
        assert_eq!(trundle(&["work", &capture, "--json"]).stdout, finished.stdout);
        assert_eq!(finished.code, Some(code), "{signal}: {}", finished.stderr);
    }
}
