//! Pipes and devices where files should be: refused at once, by what they are, in every command
//! that opens a file.

use crate::support::{Finished, TempDir, in_tree, trundle_in};
use std::path::{Path, PathBuf};
use std::process::Command;

/// A pipe that nobody writes to: who opens it to read waits for ever.
fn pipe(path: &Path) {
    assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
}

struct Desk(TempDir);

impl Desk {
    /// A data folder with one record.
    fn new() -> Self {
        let desk = Self(TempDir::new());
        desk.done(&["tractor", "add", "Old one"]);
        desk.done(&["rig", "add", "Ours", "--tractor", "Old one", "--source", "wheel"]);
        desk.done(&["sign", &capture(), "--because", "a test"]);
        desk
    }

    fn run(&self, args: &[&str]) -> Finished {
        trundle_in(args, &[("TRUNDLE_DATA", &self.0.file("data"))])
    }

    fn done(&self, args: &[&str]) {
        let Finished { code, stdout, stderr } = self.run(args);
        assert_eq!(code, Some(0), "{args:?}: {stdout}{stderr}");
    }

    /// The capture that was saved with the record.
    fn kept(&self) -> PathBuf {
        let mut all = self.0.path().join("data/captures").read_dir().unwrap();
        all.next().unwrap().unwrap().path()
    }
}

fn capture() -> String {
    in_tree("logs/simulated-rtk.capture").display().to_string()
}

#[test]
fn a_pipe_or_a_device_is_refused_by_what_it_is_in_every_command() {
    let desk = Desk::new();
    let out = desk.0.file("out");
    let (text, capture) = (desk.0.write("text", b"x"), capture());
    let fifo = desk.0.file("fifo");
    pipe(Path::new(&fifo));
    for (odd, what) in [(fifo.as_str(), "pipe"), ("/dev/zero", "device"), ("/dev/tty", "device")] {
        for args in [
            &["work", odd][..],
            &["slip", odd],
            &["check", odd],
            &["speeds", odd],
            &["pto", odd],
            &["mount", odd],
            &["bus", odd],
            &["proof", odd],
            &["sign", odd],
            &["export", "slip", odd, "--format", "csv"],
            &["work", &capture, "--course", odd],
            &["proof", &capture, "--course", odd],
            &["sign", &capture, "--because", "a test", "--course", odd],
            &["course", odd],
            &["rig", "import", odd],
            &["pack", odd],
            &["unpack", odd],
            &["import", "--nmea", odd, "--counts", &text, "--out", &out],
            &["import", "--nmea", &text, "--counts", odd, "--out", &out],
            &["import", "--nmea", &text, "--bus", odd, "--out", &out],
            &["import", "--nmea", &text, "--counts", &text, "--marks", odd, "--out", &out],
            &["import", "--nmea", &text, "--counts", &text, "--course", odd, "--out", &out],
            &["work", &capture, "--report", odd],
            &["record", "history", "--practice", "--report", odd],
        ] {
            let end = desk.run(args);
            assert!(matches!(end.code, Some(5 | 6)), "{args:?}: {end:?}");
            assert!(end.stderr.contains(what), "{args:?}: {}", end.stderr);
        }
        let settings = trundle_in(&["where"], &[("TRUNDLE_SETTINGS", odd), ("TRUNDLE_DATA", "")]);
        assert!(settings.stderr.contains(what), "{}", settings.stderr);
        assert_eq!(settings.code, Some(5), "{}", settings.stderr);
        let restored = desk.run(&["--data", &desk.0.file("new"), "restore", odd]);
        assert!(restored.code == Some(5) && restored.stderr.contains(what), "{restored:?}");
    }
    assert!(!Path::new(&out).exists());
}

#[test]
fn a_pipe_in_the_place_of_a_kept_capture_is_named_and_everything_else_works() {
    let desk = Desk::new();
    let kept = desk.kept();
    std::fs::remove_file(&kept).unwrap();
    pipe(&kept);
    let verified = desk.run(&["record", "verify", "--all"]);
    assert!(verified.code == Some(5) && verified.stdout.contains("pipe"), "{verified:?}");
    let backed_up = desk.run(&["backup", &desk.0.file("day")]);
    assert_eq!(backed_up.code, Some(1), "{backed_up:?}");
    assert!(backed_up.stdout.contains("pipe"), "{}", backed_up.stdout);
    assert_eq!(desk.run(&["record", "list"]).code, Some(1));
    let id: String = desk.run(&["record", "list", "--json"]).stdout;
    let id = crate::support::json(&id)["records"][0]["id"].as_str().unwrap().to_owned();
    desk.done(&["record", "show", &id]);
    let amended = desk.run(&["record", "amend", &id, "--reason", "a test", "--dry-run"]);
    assert!(amended.code == Some(5) && amended.stderr.contains("pipe"), "{}", amended.stderr);
    // Signed again, the capture is saved again in the place of the pipe.
    desk.done(&["sign", &capture(), "--because", "once more"]);
    desk.done(&["record", "verify", "--all"]);
}
