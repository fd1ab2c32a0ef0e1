//! What the tests of the built program share: folders that go away, programs that are waited for
//! by what they say, and what every result owes.
//!
//! Nothing here waits for a time: it waits for something to be said or done, and a wait that
//! lasts longer than [`LIMIT`] fails with what was said so far.
#![allow(dead_code, reason = "each test program uses its own part")]

#[cfg(unix)]
pub mod job;
#[cfg(target_os = "linux")]
mod session;
#[cfg(unix)]
pub mod tractor;

use serde_json::Value;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use trundle_core::capture::{Entry, Piece, Reader, Record};

/// Longest wait for one thing, by the wall clock: far more than a loaded machine needs.
pub const LIMIT: Duration = Duration::from_secs(600);
/// Pause between two looks.
const LOOK: Duration = Duration::from_millis(5);
/// Where another build of the program is, for what takes long with the one that tests are built of.
const PROGRAM: &str = "TRUNDLE_PROGRAM";

/// A folder that goes away with this.
pub struct TempDir(PathBuf);

impl TempDir {
    pub fn new() -> Self {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = format!("trundle-test-{}-{number}", std::process::id());
        let path = std::env::temp_dir().join(name);
        // One left behind by an earlier process of the same number.
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    pub fn path(&self) -> &Path {
        &self.0
    }

    /// Path of a file in it, as an argument.
    pub fn file(&self, name: &str) -> String {
        self.0.join(name).display().to_string()
    }

    /// Write a file into it; gives its path.
    pub fn write(&self, name: &str, bytes: &[u8]) -> String {
        std::fs::write(self.0.join(name), bytes).unwrap();
        self.file(name)
    }
}

impl Drop for TempDir {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// A file of the project, by its path from the top.
pub fn in_tree(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(path)
}

/// What a program left behind.
#[derive(Debug)]
pub struct Finished {
    /// Its exit code; `None` when a signal ended it.
    pub code: Option<i32>,
    pub stdout: String,
    pub stderr: String,
}

/// What one of a program's outputs has given so far.
#[derive(Clone, Default)]
struct Heard(Arc<Mutex<Vec<u8>>>);

impl Heard {
    fn listen(mut from: impl Read + Send + 'static) -> (Self, JoinHandle<()>) {
        let heard = Self::default();
        let into = heard.clone();
        let thread = std::thread::spawn(move || {
            let mut buffer = [0; 4096];
            while let Ok(count @ 1..) = from.read(&mut buffer) {
                into.0.lock().unwrap().extend_from_slice(&buffer[..count]);
            }
        });
        (heard, thread)
    }

    fn text(&self) -> String {
        String::from_utf8_lossy(&self.0.lock().unwrap()).into_owned()
    }
}

/// The built program, running. One that is dropped halfway is ended.
pub struct Program {
    child: Child,
    stdin: Option<ChildStdin>,
    out: Heard,
    err: Heard,
    listeners: Vec<JoinHandle<()>>,
}

impl Program {
    /// Start it with these arguments and variables; its standard input stays open.
    pub fn start(args: &[&str], variables: &[(&str, &str)]) -> Self {
        Self::start_in(Path::new("."), args, variables)
    }

    /// The same in another folder: what is written beside the program lands there.
    pub fn start_in(folder: &Path, args: &[&str], variables: &[(&str, &str)]) -> Self {
        #[cfg(target_os = "linux")]
        session::own_session();
        let built = std::env::var_os(PROGRAM);
        let built = built.unwrap_or_else(|| env!("CARGO_BIN_EXE_trundle").into());
        let mut command = Command::new(built);
        // Rigs and settings of whoever runs the tests are no part of them.
        command
            .args(args)
            .current_dir(folder)
            .env("TRUNDLE_DATA", "/nonexistent")
            .env("TRUNDLE_SETTINGS", "/nonexistent")
            .envs(variables.iter().copied());
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().unwrap();
        let (out, out_thread) = Heard::listen(child.stdout.take().unwrap());
        let (err, err_thread) = Heard::listen(child.stderr.take().unwrap());
        let stdin = child.stdin.take();
        Self { child, stdin, out, err, listeners: vec![out_thread, err_thread] }
    }

    /// Type a line.
    pub fn types(&mut self, line: &str) {
        let stdin = self.stdin.as_mut().unwrap();
        stdin.write_all(format!("{line}\n").as_bytes()).unwrap();
    }

    /// Send these bytes, and no more. One that does not read them to their end says why.
    pub fn takes(&mut self, bytes: &[u8]) {
        let _ = self.stdin.take().unwrap().write_all(bytes);
    }

    /// Nothing more will be typed.
    pub fn close_stdin(&mut self) {
        self.stdin = None;
    }

    /// What it has said on stderr so far.
    pub fn stderr(&self) -> String {
        self.err.text()
    }

    /// What it has said on stdout so far.
    pub fn stdout(&self) -> String {
        self.out.text()
    }

    /// How often it has said this on stderr.
    pub fn said(&self, words: &str) -> usize {
        self.err.text().matches(words).count()
    }

    /// Its process number.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// It has ended.
    pub fn ended(&mut self) -> bool {
        self.child.try_wait().unwrap().is_some()
    }

    /// Wait until `done` or the program has ended; tells whether it was done.
    pub fn until(&mut self, what: &str, mut done: impl FnMut(&Self) -> bool) -> bool {
        let started = Instant::now();
        loop {
            if done(self) {
                return true;
            }
            if self.ended() {
                return done(self);
            }
            let said = self.err.text();
            assert!(
                started.elapsed() < LIMIT,
                "{what}: not within {LIMIT:?}; said so far:\n{said}"
            );
            std::thread::sleep(LOOK);
        }
    }

    /// Wait for its end.
    pub fn finish(mut self) -> Finished {
        self.until("the end of the program", |_| false);
        let code = self.child.wait().unwrap().code();
        for listener in self.listeners.drain(..) {
            listener.join().unwrap();
        }
        Finished { code, stdout: self.out.text(), stderr: self.err.text() }
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        // Errors mean that it has ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Run the built program to its end, with nothing to read on its standard input.
pub fn trundle(args: &[&str]) -> Finished {
    trundle_in(args, &[])
}

/// The same under other variables.
pub fn trundle_in(args: &[&str], variables: &[(&str, &str)]) -> Finished {
    let mut program = Program::start(args, variables);
    program.close_stdin();
    program.finish()
}

/// Time zones and locales that must change nothing: half a day away, and a comma for a point.
pub const ELSEWHERE: [(&str, &str); 3] =
    [("TZ", "Pacific/Auckland"), ("LC_ALL", "de_DE.UTF-8"), ("LANG", "de_DE.UTF-8")];

/// The only thing on a standard output that is to hold one JSON object.
pub fn json(stdout: &str) -> Value {
    assert!(stdout.ends_with('\n') && stdout.lines().count() == 1, "not one line: {stdout:?}");
    serde_json::from_str(stdout).unwrap_or_else(|e| panic!("{e}: {stdout:?}"))
}

/// The codes of all findings of a result.
pub fn codes(result: &Value) -> Vec<String> {
    let flags = result["flags"].as_array().unwrap();
    flags.iter().map(|flag| flag["code"].as_str().unwrap().to_owned()).collect()
}

/// The findings about one pass.
pub fn codes_of_pass(result: &Value, number: u64) -> Vec<String> {
    let flags = result["flags"].as_array().unwrap();
    let mine = flags.iter().filter(|flag| flag["pass"] == number);
    mine.map(|flag| flag["code"].as_str().unwrap().to_owned()).collect()
}

/// State of a pass of the wheel.
pub fn state_of_pass(result: &Value, number: u64) -> String {
    let passes = result["channels"]["wheel"]["passes"].as_array().unwrap();
    let pass = passes.iter().find(|pass| pass["number"] == number);
    let pass = pass.unwrap_or_else(|| panic!("pass {number} is missing: {passes:?}"));
    pass["state"].as_str().unwrap().to_owned()
}

/// The best figure of a channel and the half-width of its interval of 95 %.
pub fn best(result: &Value, channel: &str) -> Option<(f64, f64)> {
    let channel = &result["channels"][channel];
    let figure = ["combined", "satellite", "tape"]
        .iter()
        .map(|way| &channel[way])
        .find(|figure| figure.is_object())?;
    let number = |key: &str| figure[key].as_f64().unwrap();
    Some((number("impulses_per_100m"), number("expanded_uncertainty")))
}

/// What every result owes: a figure to enter is right within its own interval, and a result
/// without one, or with anything amiss, says so in its state, its flags and the exit code.
pub fn assert_honest(result: &Value, code: Option<i32>, wheel: f64, radar: f64) {
    for (channel, truth) in [("wheel", wheel), ("radar", radar)] {
        let Some(enter) = result["channels"][channel]["value_to_enter"].as_i64() else { continue };
        let (_, half_width) = best(result, channel).expect("a figure to enter has its interval");
        let off = enter as f64 - truth;
        let flags = codes(result);
        // Half an impulse is what rounding to a whole number may add.
        assert!(
            off.abs() <= half_width + 0.5,
            "{channel}: {enter} to enter, truly {truth:.1}: off by {off:.1}, interval \
             ±{half_width:.1}, flags {flags:?}"
        );
    }
    let entered = result["channels"]["wheel"]["value_to_enter"].is_i64();
    match result["state"].as_str().unwrap() {
        "valid" => assert!(entered && code == Some(0), "valid: {code:?}, {result}"),
        "flagged" => {
            assert_eq!(code, Some(1), "{result}");
            assert!(!codes(result).is_empty(), "flagged without a flag: {result}");
        }
        other => panic!("state {other}"),
    }
}

/// All entries of a sound capture.
pub fn entries(capture: &str) -> Vec<Record> {
    let mut reader = Reader::default();
    reader.push(&std::fs::read(capture).unwrap());
    let mut records = Vec::new();
    while let Some(piece) = reader.take() {
        records.push(match piece {
            Piece::Bytes { host_ns, role, bytes } => {
                Record { host_ns, entry: Entry::Bytes(role, bytes.to_vec()) }
            }
            Piece::Record(record) => *record,
            Piece::Damage(damage) => panic!("{damage:?}"),
        });
    }
    records
}

/// The texts of what was given at the host: notes, and reasons.
pub fn notes(records: &[Record]) -> Vec<&str> {
    let note = |record| match record {
        &Record { entry: Entry::HostMark(ref mark), .. } => Some(mark.text.as_str()),
        _ => None,
    };
    records.iter().filter_map(note).collect()
}
