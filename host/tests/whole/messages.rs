//! What goes wrong at the command line: each with its exit code (README), a message of what
//! happened, what it means and what to do, nothing else on stdout, and nothing lost.

use crate::support::{Finished, Program, TempDir, codes, in_tree, json, trundle};

/// A sound capture to be ill-treated.
const GOOD: &str = "logs/simulated-rtk.capture";

fn good() -> Vec<u8> {
    std::fs::read(in_tree(GOOD)).unwrap()
}

/// A refusal: this code, three lines or more on stderr, these words among them, nothing on stdout.
#[track_caller]
fn assert_refused(finished: &Finished, code: i32, words: &[&str]) {
    let Finished { code: found, stdout, stderr } = finished;
    assert_eq!(*found, Some(code), "{stderr}");
    assert_eq!(stdout, "", "stdout is kept for the result");
    let lines = stderr.lines().filter(|line| !line.trim().is_empty()).count();
    assert!(lines >= 3, "what, what it means, what to do: {stderr}");
    for word in words {
        assert!(stderr.contains(word), "{word:?} is missing: {stderr}");
    }
    assert!(!stderr.contains("panicked") && !stderr.contains("RUST_BACKTRACE"), "{stderr}");
}

/// Work a file of these bytes; whatever comes of it, the file stays as it was.
fn work(bytes: &[u8], more: &[&str]) -> Finished {
    let folder = TempDir::new();
    let path = folder.write("given.capture", bytes);
    let finished = trundle(&[&["work", &path, "--json"], more].concat());
    assert!(std::fs::read(&path).unwrap() == bytes, "the input was changed");
    let files = std::fs::read_dir(folder.path()).unwrap().count();
    assert_eq!(files, 1, "something was left beside the input");
    finished
}

/// The result of one.
fn worked(bytes: &[u8], more: &[&str]) -> (serde_json::Value, Finished) {
    let finished = work(bytes, more);
    assert!(matches!(finished.code, Some(0 | 1)), "{finished:?}");
    (json(&finished.stdout), finished)
}

#[test]
fn what_is_not_a_capture_is_refused() {
    assert_refused(&work(b"", &[]), 5, &["is empty"]);
    assert_refused(&work(b"counts,utc\n1,2\n", &[]), 5, &["is not a capture", "trundle import"]);
    assert_refused(&work(&[0; 100_000], &[]), 5, &["is not a capture"]);
    let page = std::fs::read(in_tree("README.md")).unwrap();
    assert_refused(&work(&page, &[]), 5, &["is not a capture"]);
    let folder = TempDir::new();
    let none = trundle(&["work", &folder.file("none.capture"), "--json"]);
    assert_refused(&none, 5, &["there is no such file"]);
    let itself = folder.path().display().to_string();
    assert_refused(&trundle(&["work", &itself, "--json"]), 5, &["folder"]);
}

#[test]
fn a_damaged_or_cut_capture_gives_a_flagged_result_and_stays_as_it_is() {
    let (clean, _) = worked(&good(), &[]);
    let enter = |result: &serde_json::Value| result["channels"]["wheel"]["value_to_enter"].as_i64();
    let figure = enter(&clean).expect("the good capture has a figure");
    let mut damaged = good();
    let length = damaged.len();
    for at in (1..20).map(|n| n * length / 20) {
        damaged[at] ^= 0x55;
    }
    let (result, _) = worked(&damaged, &[]);
    assert!(codes(&result).contains(&"CAPTURE_DAMAGED".to_owned()), "{result}");
    assert_eq!(result["state"], "flagged");
    // Counts are absolute, so that what is left gives the same figure or none.
    assert!(enter(&result).is_none_or(|other| (other - figure).abs() <= 4), "{result}");
    for share in [3, 5, 9] {
        let (result, _) = worked(&good()[..length * share / 10], &[]);
        assert!(codes(&result).contains(&"CAPTURE_CUT".to_owned()), "{result}");
        assert_eq!(result["state"], "flagged");
    }
}

#[test]
fn a_length_that_is_ten_times_wrong_gives_no_figure() {
    for length in ["10 m", "1000 m"] {
        let (result, finished) = worked(&good(), &["--length", length]);
        assert_eq!(finished.code, Some(1), "{length}");
        let codes = codes(&result);
        assert!(codes.contains(&"COURSE_LENGTH_SUSPECT".to_owned()), "{length}: {codes:?}");
        for channel in result["channels"].as_object().unwrap().values() {
            assert!(channel["value_to_enter"].is_null(), "{length}: {channel}");
        }
        let flags = result["flags"].as_array().unwrap();
        let suspect = flags.iter().find(|flag| flag["code"] == "COURSE_LENGTH_SUSPECT").unwrap();
        for part in ["what", "means", "next"] {
            assert!(!suspect[part].as_str().unwrap().is_empty(), "{suspect}");
        }
        let human = trundle(&["work", &in_tree(GOOD).display().to_string(), "--length", length]);
        let first = human.stdout.lines().next().unwrap();
        assert!(first.contains("NO VALUE TO ENTER"), "{first}");
    }
}

#[test]
fn a_course_that_cannot_be_used_is_named_before_anything_is_worked() {
    let folder = TempDir::new();
    let course = |name: &str, text: &str| folder.write(name, text.as_bytes());
    let cases = [
        (course("kind.toml", "[course]\nnominal_m = \"long\"\n"), 2, "nominal_m"),
        (course("empty.toml", ""), 2, "course"),
        (course("not.toml", "nominal = = 3"), 2, "course file"),
        (course("class.toml", "[course]\nnominal_m = 100.0\n[tape]\nclass = \"IX\"\n"), 2, "IX"),
        (folder.file("missing.toml"), 5, "missing.toml"),
    ];
    for (path, code, word) in &cases {
        assert_refused(&work(&good(), &["--course", path]), *code, &[word]);
        assert_refused(&drive_nowhere(&folder, &["--course", path]), *code, &[word]);
    }
    // Values that no course can have are refused where a drive would be in vain.
    for text in ["nominal_m = -100.0", "nominal_m = 0.0", "nominal_m = nan"] {
        let path = course("value.toml", &format!("[course]\n{text}\n"));
        assert_refused(&drive_nowhere(&folder, &["--course", &path]), 2, &[]);
        let finished = work(&good(), &["--course", &path]);
        match finished.code {
            Some(1) => {
                let wheel = &json(&finished.stdout)["channels"]["wheel"];
                assert!(wheel["tape"].is_null() && wheel["combined"].is_null(), "{text}: {wheel}");
            }
            _ => assert_refused(&finished, 2, &[]),
        }
    }
    for length in ["long", "1,005 m", "-3 m", "0 m", "100 furlongs"] {
        let option = format!("--length={length}");
        assert_refused(&work(&good(), &[&option]), 2, &["100 m"]);
        assert_refused(&drive_nowhere(&folder, &[&option]), 2, &["100 m"]);
    }
}

#[test]
fn a_key_of_the_course_file_that_is_not_known_is_told() {
    let folder = TempDir::new();
    let text = b"[course]\nnominal_m = 100.0\nnominel_m = 3.0\n[tap]\nclass = \"I\"\n";
    let path = folder.write("typo.toml", text);
    let (_, finished) = worked(&good(), &["--course", &path]);
    assert!(finished.stderr.contains("[course] nominel_m"), "{}", finished.stderr);
    assert!(finished.stderr.contains("[tap]"), "{}", finished.stderr);
}

/// A job that cannot begin, because what is asked is wrong before any port is opened.
fn drive_nowhere(folder: &TempDir, more: &[&str]) -> Finished {
    let (board, capture) = (folder.file("no-board"), folder.file("new.capture"));
    let start = ["drive", "--board", &board, "--no-receiver", "--capture", &capture, "--json"];
    let finished = trundle(&[&start[..], more].concat());
    assert!(!std::path::Path::new(&capture).exists(), "a capture of nothing was left behind");
    finished
}

#[test]
fn a_port_that_is_not_there_is_named() {
    let folder = TempDir::new();
    assert_refused(&drive_nowhere(&folder, &[]), 3, &["no-board", "no such port"]);
}

#[test]
fn what_is_no_option_is_wrong_usage() {
    let cases: [&[&str]; 4] = [
        &["drive", "--speed", "3"],
        &["work"],
        &["plough"],
        &["drive", "--receiver", "a", "--no-receiver"],
    ];
    for args in cases {
        assert_refused(&trundle(args), 2, &["error:", "--help"]);
    }
    // A value that an option does not take: the message names both and what it takes.
    let values: [(&[&str], &str, &str); 3] = [
        (&["work", "x.capture", "--monte-carlo", "3"], "--monte-carlo", "10000000"),
        (&["demo", "--receiver", "perfect"], "--receiver", "standalone, corrected or rtk"),
        (&["drive", "--pace", "1000"], "--pace", "0.1 to 100"),
    ];
    for (args, option, takes) in values {
        let Finished { code, stdout, stderr } = trundle(args);
        assert_eq!((code, stdout.as_str()), (Some(2), ""), "{stderr}");
        assert!(stderr.contains(option) && stderr.contains(takes), "{stderr}");
    }
}

#[test]
fn an_output_that_is_closed_ends_quietly() {
    let path = in_tree(GOOD).display().to_string();
    for more in [&[][..], &["--json"]] {
        let args = [&["work", &path], more].concat();
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_trundle"));
        command.args(args).stdin(std::process::Stdio::null());
        command.stdout(std::process::Stdio::piped()).stderr(std::process::Stdio::piped());
        let mut child = command.spawn().unwrap();
        // Closed before a byte was written, which is what `| head -1` does in the end.
        drop(child.stdout.take());
        let ended = child.wait_with_output().unwrap();
        let stderr = String::from_utf8_lossy(&ended.stderr).into_owned();
        assert_eq!((ended.status.code(), stderr.as_str()), (Some(0), ""));
    }
}

#[test]
fn an_import_that_cannot_be_made_leaves_nothing() {
    let folder = TempDir::new();
    let nmea = in_tree("tests/data/receivers/receiver-13.nmea").display().to_string();
    let counts = folder.write("counts.csv", b"board_s,wheel\nnone,some\n");
    let out = folder.file("new.capture");
    let import = |nmea: &str, counts: &str, out: &str| {
        trundle(&["import", "--nmea", nmea, "--counts", counts, "--out", out])
    };
    let none = folder.file("none.csv");
    assert_refused(&import(&nmea, &none, &out), 5, &["none.csv"]);
    assert_refused(&import(&nmea, &counts, &out), 5, &[]);
    assert_refused(&import(&nmea, &counts, &counts), 2, &["exists already"]);
    assert!(!std::path::Path::new(&out).exists());
    assert_eq!(std::fs::read(&counts).unwrap(), b"board_s,wheel\nnone,some\n");
}

#[test]
fn a_word_that_is_no_command_says_how_the_program_is_used() {
    let mut program = Program::start(&["driven"], &[]);
    program.close_stdin();
    assert_refused(&program.finish(), 2, &["Usage"]);
}

/// The formats of this release: who raises one has read `host/handbook/formats.md`.
#[test]
fn the_version_says_what_the_formats_are() {
    let short = trundle(&["-V"]);
    assert_eq!(short.stdout.trim_end(), concat!("trundle ", env!("CARGO_PKG_VERSION")));
    let long = trundle(&["--version"]);
    let lines: Vec<&str> = long.stdout.lines().collect();
    assert_eq!(lines.len(), 3, "{}", long.stdout);
    assert_eq!(lines[0], short.stdout.trim_end());
    assert!(lines[1].starts_with("commit "), "{}", long.stdout);
    let formats = "protocol 1, capture 1, packed capture 1, record 1, settings sheet 1, \
                   rig file 1, register 1";
    assert_eq!(lines[2], format!("versions of the formats: {formats}"));
}

/// Fault row: an address for the page that leads nowhere. The ports are not even looked at.
#[test]
fn an_address_that_leads_no_device_here_is_refused_before_anything_is_recorded() {
    let folder = TempDir::new();
    let capture = folder.file("j.capture");
    for address in ["127.0.0.1", "::1", "0.0.0.0", "192.0.2.1"] {
        for command in [&["drive"][..], &["slip", "--zero-slip-value", "12000"]] {
            let page = ["--page", "--lan", address, "--capture", &capture];
            let finished = trundle(&[command, &page].concat());
            assert_eq!(finished.code, Some(2), "{address}: {}", finished.stderr);
            assert!(finished.stderr.contains("Nothing was recorded."), "{}", finished.stderr);
            assert!(!std::path::Path::new(&capture).exists());
        }
    }
}
