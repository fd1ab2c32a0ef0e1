//! A whole measured course, live: physics, edges, the firmware, a serial line, the program. Its
//! counts and its figure must be those of the same course without firmware and without a line.

use serde_json::Value;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Output, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};
use trundle::capture::{Entry, ReadItem, Reader, encode};
use trundle_sim::Scenario;
use trundle_tests::simulate;

const SCENARIO: &str = "corrected";
const SEED: u64 = 3;
const PASSES: u32 = 3;
/// Simulated seconds for each second.
const PACE: u32 = 8;
/// Rest before the first pass, seconds by the clock on the wall.
const LEAD_IN_S: u32 = 12;
/// Longest wait for one thing: several times what the whole job takes.
const LIMIT: Duration = Duration::from_secs(240);
/// Channels that have a figure.
const FIGURES: [&str; 2] = ["wheel", "radar"];

/// The findings.
pub fn check(elf: &Path, programs: &Path) -> Result<Vec<String>, String> {
    let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
    let (live, capture) = drive(elf, programs, folder.path())?;
    let again = work(programs, &capture)?;
    let simulated = simulated(programs, folder.path(), &capture)?;
    let mut findings = Vec::new();
    if again != live {
        findings.push("the replay of the capture is not the live result".to_owned());
    }
    println!("{:8} {:>24} {:>24}", "", "image", "simulated board");
    for channel in FIGURES {
        for what in ["figure_to_enter", "impulses"] {
            let [ours, theirs] = [&live, &simulated].map(|result| told(result, channel, what));
            println!("{channel:8} {ours:>24} {theirs:>24}  {what}");
            if ours != theirs || ours.contains("null") || ours == "[]" {
                findings.push(format!("{channel} {what}: {ours} by the image, {theirs} simulated"));
            }
        }
    }
    if live["state"] != simulated["state"] {
        let (ours, theirs) = (&live["state"], &simulated["state"]);
        findings.push(format!("state {ours} by the image, {theirs} simulated: {}", live["flags"]));
    }
    Ok(findings)
}

/// The figure to enter, or the impulses of each pass.
fn told(result: &Value, channel: &str, what: &str) -> String {
    let channel = &result["channels"][channel];
    match what {
        "impulses" => {
            let passes = channel["passes"].as_array().map_or(&[][..], Vec::as_slice);
            let counts: Vec<String> = passes.iter().map(|p| p["impulses"].to_string()).collect();
            format!("[{}]", counts.join(" "))
        }
        name => channel[name].to_string(),
    }
}

/// A program that runs, ended when this goes.
struct Running {
    child: Child,
    stdin: Option<ChildStdin>,
    said: Receiver<String>,
    all: String,
}

impl Running {
    /// Starts it; what it says on its standard output or, with `on_error`, on the other, is heard.
    fn start(mut command: Command, on_error: bool) -> Result<Self, String> {
        command.stdin(Stdio::piped()).stdout(Stdio::piped());
        command.stderr(if on_error { Stdio::piped() } else { Stdio::inherit() });
        let mut child = command.spawn().map_err(|error| format!("{command:?}: {error}"))?;
        let (tell, said) = channel();
        let stdin = child.stdin.take();
        let lines: Box<dyn std::io::Read + Send> = if on_error {
            Box::new(child.stderr.take().ok_or("no standard error")?)
        } else {
            Box::new(child.stdout.take().ok_or("no standard output")?)
        };
        std::thread::spawn(move || {
            for line in BufReader::new(lines).lines().map_while(Result::ok) {
                if tell.send(line).is_err() {
                    return;
                }
            }
        });
        Ok(Self { child, stdin, said, all: String::new() })
    }

    /// Waits until it says this.
    fn until(&mut self, words: &str) -> Result<(), String> {
        let deadline = Instant::now() + LIMIT;
        while !self.all.contains(words) {
            let left = deadline.saturating_duration_since(Instant::now());
            let line = self.said.recv_timeout(left);
            let line = line.map_err(|_| format!("`{words}` was never said:\n{}", self.all))?;
            self.all.push_str(&line);
            self.all.push('\n');
        }
        Ok(())
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // One that has ended by itself needs no ending.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Drives the job with the image; the result and the capture.
fn drive(elf: &Path, programs: &Path, folder: &Path) -> Result<(Value, PathBuf), String> {
    let mut command = Command::new(programs.join("trundle-sim"));
    command.arg(SCENARIO).arg("--image").arg(elf).arg("--links").arg(folder).arg("--keep-open");
    for (option, value) in [
        ("--seed", SEED.to_string()),
        ("--passes", PASSES.to_string()),
        ("--pace", PACE.to_string()),
        ("--lead-in", LEAD_IN_S.to_string()),
    ] {
        command.args([option, &value]);
    }
    let mut tractor = Running::start(command, false)?;
    tractor.until("receiver ")?;
    let capture = folder.join("course.capture");
    let mut command = Command::new(programs.join("trundle"));
    command.args(["drive", "--length", "100 m", "--json", "--pace", &PACE.to_string()]);
    command.arg("--board").arg(folder.join("board"));
    command.arg("--receiver").arg(folder.join("receiver"));
    command.arg("--capture").arg(&capture);
    let mut program = Running::start(command, true)?;
    program.until("Recording to ")?;
    program.until(&format!("Pass {PASSES}: finish saved"))?;
    tractor.until("the job is done")?;
    if let Some(mut stdin) = program.stdin.take() {
        writeln!(stdin, "q").map_err(|error| error.to_string())?;
    }
    let mut text = String::new();
    let mut stdout = program.child.stdout.take().ok_or("no standard output")?;
    stdout.read_to_string(&mut text).map_err(|error| error.to_string())?;
    let result = serde_json::from_str(&text).map_err(|e| format!("{e}: {text}{}", program.all))?;
    Ok((result, capture))
}

/// What `trundle work` makes of a capture.
fn work(programs: &Path, capture: &Path) -> Result<Value, String> {
    let mut command = Command::new(programs.join("trundle"));
    let Output { stdout, stderr, .. } =
        command.arg("work").arg(capture).arg("--json").output().map_err(|e| e.to_string())?;
    serde_json::from_slice(&stdout)
        .map_err(|e| format!("{e}: {}", String::from_utf8_lossy(&stderr)))
}

/// The result of the same job without image, line and clock, with the course of that capture.
fn simulated(programs: &Path, folder: &Path, of: &Path) -> Result<Value, String> {
    let mut scenario = Scenario::named(SCENARIO).ok_or("no such scenario")?;
    scenario.passes = PASSES;
    scenario.lead_in_s = f64::from(LEAD_IN_S * PACE);
    let course = course_of(of)?;
    let (records, truth) = simulate(&scenario, SEED, Some(&course));
    println!(
        "{:8} {:.2} wheel, {:.2} radar",
        "truth", truth.wheel_impulses_per_100m, truth.radar_impulses_per_100m
    );
    let mut bytes = Vec::new();
    records.iter().for_each(|record| encode(record, &mut bytes));
    let capture = folder.join("simulated.capture");
    std::fs::write(&capture, bytes).map_err(|error| error.to_string())?;
    work(programs, &capture)
}

fn course_of(capture: &Path) -> Result<String, String> {
    let mut reader = Reader::new();
    reader.push(&std::fs::read(capture).map_err(|error| error.to_string())?);
    while let Some(item) = reader.take() {
        if let ReadItem::Record(record) = item
            && let Entry::Course(text) = record.entry
        {
            return Ok(text);
        }
    }
    Err("the capture has no course".to_owned())
}
