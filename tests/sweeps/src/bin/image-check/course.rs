//! A whole measured course, live: physics, edges, the firmware, a serial line, the program. Its
//! counts and its figure must be those of the same course without firmware and without a line.

use crate::rig::Subject;
use serde_json::Value;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;
use trundle_core::capture::{Entry, Piece, Reader, encode};
use trundle_sim::image::Image;
use trundle_sim::serve::{Pacing, Ports, serve_image};
use trundle_sim::{Scenario, Simulation};
use trundle_tests::simulate;

const SCENARIO: &str = "corrected";
const SEED: u64 = 3;
const PASSES: u32 = 2;
/// Simulated seconds for each second.
const PACES: [u32; 3] = [4, 2, 1];
/// Rest before the first pass, seconds by the clock on the wall.
const LEAD_IN_S: u32 = 10;
const CAPTURE: &str = "course.capture";
/// Longest silence of the program: several times what the whole job takes.
const LIMIT: Duration = Duration::from_secs(240);
/// Channels that have a figure.
const FIGURES: [&str; 2] = ["wheel", "radar"];

/// The findings.
pub fn check(subject: Subject<'_>) -> Result<Vec<String>, String> {
    let own = std::env::current_exe().map_err(|error| error.to_string())?;
    let programs = own.parent().ok_or("this program lies in no folder")?;
    let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
    let (mut paces, mut pace) = (PACES.into_iter(), PACES[0]);
    let mut findings = Vec::new();
    // A computer that is too slow for the pace says nothing about the image; the slowest attempt
    // is judged however it went.
    let live = loop {
        pace = paces.next().unwrap_or(pace);
        let _ = std::fs::remove_file(folder.path().join(CAPTURE));
        let live = drive(subject, programs, folder.path(), pace)?;
        if !live.starved || paces.len() == 0 {
            break live.result;
        }
        println!("the ports fell silent at pace {pace}: once more, slower");
    };
    let again = work(programs, &folder.path().join(CAPTURE))?;
    let simulated = simulated(programs, folder.path(), pace)?;
    if again != live {
        findings.push("the replay of the capture is not the live result".to_owned());
    }
    println!("{:8} {:>24} {:>24}", "", "image", "simulated board");
    for channel in FIGURES {
        for what in ["value_to_enter", "impulses"] {
            let [ours, theirs] = [&live, &simulated].map(|result| told(result, channel, what));
            println!("{channel:8} {ours:>24} {theirs:>24}  {what}");
            // The counts are the same; the clocks are not, and a value may lie between two numbers.
            let rounded = what == "value_to_enter" && next_to(&ours, &theirs);
            if ours != theirs && !rounded || ours.contains("null") || ours == "[]" {
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

/// The program, running; ended when this goes.
struct Program {
    child: Child,
    heard: Receiver<String>,
    all: String,
}

impl Program {
    fn start(mut command: Command) -> Result<Self, String> {
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().map_err(|error| format!("{command:?}: {error}"))?;
        let stderr = child.stderr.take().ok_or("no standard error")?;
        let (tell, heard) = channel();
        std::thread::spawn(move || {
            for line in BufReader::new(stderr).lines().map_while(Result::ok) {
                if tell.send(line).is_err() {
                    return;
                }
            }
        });
        Ok(Self { child, heard, all: String::new() })
    }

    /// Waits until it says this.
    fn until(&mut self, words: &str) -> Result<(), String> {
        while !self.all.contains(words) {
            let line = self.heard.recv_timeout(LIMIT);
            let line = line.map_err(|_| format!("`{words}` was never said:\n{}", self.all))?;
            self.all.push_str(&line);
            self.all.push('\n');
        }
        Ok(())
    }

    /// Ends it as a person does, and gives its result.
    fn quit(&mut self) -> Result<Value, String> {
        let mut stdin = self.child.stdin.take().ok_or("no standard input")?;
        writeln!(stdin, "q").map_err(|error| error.to_string())?;
        let mut text = String::new();
        let mut stdout = self.child.stdout.take().ok_or("no standard output")?;
        stdout.read_to_string(&mut text).map_err(|error| error.to_string())?;
        serde_json::from_str(&text).map_err(|error| format!("{error}: {text}{}", self.all))
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        // One that has ended by itself needs no ending.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// What came of a job that was driven live.
struct Live {
    result: Value,
    /// The ports fell silent on the way: the computer was too slow for the pace.
    starved: bool,
}

/// Drives the job with the image.
fn drive(subject: Subject<'_>, programs: &Path, folder: &Path, pace: u32) -> Result<Live, String> {
    let scenario = scenario(pace)?;
    let mut simulation = Simulation::new(&scenario, SEED);
    let Subject { image, harness, line } = subject;
    let mut image = Image::start(image, harness, line, &simulation.bench_start())
        .map_err(|error| error.to_string())?;
    let ports = Ports::open(Some(folder)).map_err(|error| error.to_string())?;
    let pacing = Pacing { pace: pace.into(), keep_open: true };
    let stop = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let tractor = scope.spawn(|| {
            serve_image(&mut simulation, &mut image, &ports, pacing, &stop, &mut |_, _| ())
                .map_err(|error| error.to_string())?;
            image.account(simulation.board_us()).map_err(|error| error.to_string())
        });
        let live = measure(programs, folder, pace);
        stop.store(true, Ordering::Relaxed);
        let account = tractor.join().map_err(|_| "the simulation broke down".to_owned())??;
        let (stack, busy) = (account.stack_bytes, 100.0 * account.busy_share());
        println!("pace {pace}: deepest stack {stack} bytes, processor busy {busy:.1} %");
        if account.dropped > 0 {
            return Err(format!("the image missed {} edges", account.dropped));
        }
        live
    })
}

/// The program's side of it.
fn measure(programs: &Path, folder: &Path, pace: u32) -> Result<Live, String> {
    let mut command = Command::new(programs.join("trundle"));
    command.args(["drive", "--length", "100 m", "--json", "--pace", &pace.to_string()]);
    command.arg("--board").arg(folder.join("board"));
    command.arg("--receiver").arg(folder.join("receiver"));
    command.arg("--capture").arg(folder.join(CAPTURE));
    let mut program = Program::start(command)?;
    if let Err(message) = program.until("Recording to ") {
        println!("{message}");
        return Ok(Live { result: Value::Null, starved: true });
    }
    program.until(&format!("Pass {PASSES}: end saved"))?;
    let starved = program.all.contains("No data from");
    Ok(Live { result: program.quit()?, starved })
}

fn scenario(pace: u32) -> Result<Scenario, String> {
    let mut scenario = Scenario::named(SCENARIO).ok_or("no such scenario")?;
    scenario.passes = PASSES;
    scenario.lead_in_s = f64::from(LEAD_IN_S * pace);
    Ok(scenario)
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
fn simulated(programs: &Path, folder: &Path, pace: u32) -> Result<Value, String> {
    let course = course_of(&folder.join(CAPTURE))?;
    let (records, truth) = simulate(&scenario(pace)?, SEED, Some(&course));
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
    let mut reader = Reader::default();
    reader.push(&std::fs::read(capture).map_err(|error| error.to_string())?);
    while let Some(item) = reader.take() {
        if let Piece::Record(record) = item
            && let Entry::Course(text) = record.entry
        {
            return Ok(text);
        }
    }
    Err("the capture has no course".to_owned())
}

/// Whole numbers that differ by one at the most.
fn next_to(a: &str, b: &str) -> bool {
    let number = |text: &str| text.parse::<i64>().ok();
    number(a).zip(number(b)).is_some_and(|(a, b)| (a - b).abs() <= 1)
}
